"""What is usual for an engine, and that saying so never changes a finding."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.model import StarterRun
from debrief.history.measures import Kept
from debrief.history.model import Maintenance, PastStart
from debrief.history.storage.store import Store
from debrief.history.usual.baseline import (
    FROZEN_AT,
    MIN_STARTS,
    USUAL_IS_NOT_A_LIMIT,
    robust_centre,
    usual_band,
)
from debrief.history.usual.comparing import compare
from debrief.session.document import assessment_document
from tests.history.history_making import FIRST, made_assessment, made_start, series

ENGINE = "TG7-0042"
PEAKS = [
    742.0,
    735.0,
    751.0,
    748.0,
    739.0,
    744.0,
    730.0,
    755.0,
    741.0,
    746.0,
    738.0,
    749.0,
    743.0,
    736.0,
    752.0,
]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


def past(peaks, **changes) -> list[PastStart]:
    return [
        PastStart(
            **{
                "sha256": f"{index:064d}",
                "engine": 1,
                "number": 1,
                "engine_key": ENGINE,
                "at_epoch_s": 1e9 + 86_400.0 * index,
                "kind": "ground",
                "outcome": "completed",
                "power": "battery",
                "values": {"peak_itt": Kept(peak, "degC")},
                "file_name": f"{index}.csv",
                **changes,
            }
        )
        for index, peak in enumerate(peaks)
    ]


def band_of(starts, **changes):
    return usual_band(starts, "peak_itt", **{"engine": ENGINE, "power": "battery", **changes})


def judge(store: Store, peak: float, **changes):
    judged = made_assessment(
        "judged.csv", at=FIRST + timedelta(days=400), starts=[made_start(peak_itt_c=peak, **changes)]
    )
    return {one.measure: one for one in compare(judged, store)}["peak_itt"]


def test_the_band_is_the_median_and_three_robust_spreads():
    # By hand: sorted, the 8th of 15 is 743; deviations 0 1 1 2 3 4 5 5 6 7 7 8 9 12 13, their 8th is 5.
    band = band_of(past(PEAKS))
    assert (band.count, band.centre) == (15, 743.0)
    assert band.spread == pytest.approx(1.4826 * 5)
    assert (band.low, band.high) == pytest.approx((743 - 3 * 7.413, 743 + 3 * 7.413))


def test_fourteen_starts_are_not_enough_and_fifteen_are():
    short = band_of(past(PEAKS[:14]))
    assert not short.enough
    assert (short.centre, short.low, short.high) == (None, None, None)
    assert (
        short.words == "Not enough history: 14 of the 15 completed battery starts that a normal range needs."
    )
    assert band_of(past(PEAKS)).enough


def test_a_band_in_words_always_says_that_usual_is_not_a_limit():
    words = band_of(past(PEAKS)).words
    assert (
        words
        == "Normal 743 °C, range 721 to 765 °C, from 15 completed battery starts. The normal range is not a limit."
    )
    assert USUAL_IS_NOT_A_LIMIT in words


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"outcome": "hung"}, "not completed"),
        ({"outcome": "aborted"}, "not completed"),
        ({"at_epoch_s": None}, "undated"),
        ({"power": "external"}, "with another power source"),
        ({"kind": "windmilling"}, "of another kind"),
        ({"values": {}}, "not measured"),
        ({"values": {"peak_itt": Kept(1400.0, "degF")}}, "in another unit"),
    ],
)
def test_a_start_that_is_not_comparable_stays_out_with_its_reason(changes, why):
    stranger = replace(past([2000.0])[0], sha256="f" * 64, **changes)
    band = band_of([*past(PEAKS), stranger])
    assert band.count == 15
    assert dict(band.left_out) == {why: 1}


def test_an_excluded_start_stays_out_with_the_reason_that_a_person_gave():
    starts = past([*PEAKS, 900.0])
    starts[-1] = replace(starts[-1], excluded="Wrong probe fitted.")
    band = band_of(starts)
    assert (band.count, band.centre) == (15, 743.0)
    assert [(one.file_name, one.reason) for one in band.excluded] == [("15.csv", "Wrong probe fitted.")]


def test_the_judged_start_never_enters_its_own_band():
    starts = past([*PEAKS[:14], 900.0])
    judged = (starts[-1].sha256, 1, 1)
    band = band_of(starts, judged=judged)
    assert not band.enough
    assert judged not in band.members
    assert dict(band.left_out) == {"the start itself": 1}


def test_the_same_start_from_another_file_does_not_enter_its_own_band():
    starts = past(PEAKS)
    band = band_of(starts, judged=("e" * 64, 1, 1), judged_at=starts[3].at_epoch_s + 0.4)
    assert band.count == 14
    assert dict(band.left_out) == {"the start itself, from another file": 1}


def test_a_slow_drift_does_not_become_usual():
    drifting = past([740.0 + (index % 5) for index in range(FROZEN_AT)] + [850.0] * 200)
    band = band_of(drifting)
    assert band.frozen
    assert band.high < 760
    assert dict(band.left_out) == {f"after the first {FROZEN_AT}": 200}


def test_a_maintenance_action_begins_what_is_usual_anew():
    starts = past([740.0 + (index % 5) for index in range(20)] + [690.0 + (index % 5) for index in range(20)])
    action = Maintenance("a", ENGINE, starts[20].at_epoch_s - 1.0, "Nozzles changed.")
    band = band_of(starts, maintenance=[action])
    assert (band.count, band.centre, band.since) == (20, 692.0, "Nozzles changed.")
    before = band_of(starts, maintenance=[action], judged_at=starts[5].at_epoch_s + 100.0)
    assert (before.count, before.centre, before.since) == (20, 742.0, None)


def test_coarse_values_that_repeat_do_not_make_the_next_step_unusual():
    band = band_of(past([742.0] * 20))
    assert band.spread == 0.5
    assert band.low < 741.0
    assert band.high > 743.0


# Comparing


def test_a_start_far_from_usual_is_outside_and_one_near_is_not(store):
    for assessment in series(PEAKS):
        store.keep(assessment)
    hot, normal = judge(store, 790.0), judge(store, 750.0)
    assert (hot.outside, normal.outside) == (True, False)
    assert hot.deviation == pytest.approx((790 - 743) / 7.413)
    assert hot.message == (
        "Peak ITT 790 °C: outside the normal range of TG7-0042. Normal 743 °C, range 721 to 765 °C, "
        "from 15 completed battery starts. The normal range is not a limit."
    )
    assert judge(store, 700.0).outside is True  # unusually cool is unusual, too


def test_a_value_just_outside_does_not_read_equal_to_the_edge(store):
    for assessment in series(PEAKS):
        store.keep(assessment)
    edge = judge(store, 743 + 3 * 7.413 + 0.01)
    assert edge.outside
    assert "765.25 °C" in edge.message


def test_without_enough_history_nothing_is_called_usual(store):
    for assessment in series(PEAKS[:3]):
        store.keep(assessment)
    one = judge(store, 1087.0)
    assert (one.outside, one.deviation) == (None, None)
    assert "Not enough history: 3 of the 15" in one.message


def test_an_unnamed_engine_is_not_compared(store):
    for assessment in series(PEAKS):
        store.keep(assessment)
    assert compare(made_assessment("judged.csv", aircraft=None, serial=None), store) == ()


def test_an_undated_start_is_compared_with_the_latest_stretch(store):
    for assessment in series(PEAKS):
        store.keep(assessment)
    judged = made_assessment("judged.csv", at=None, starts=[made_start(peak_itt_c=790.0)])
    assert {one.measure: one.outside for one in compare(judged, store)}["peak_itt"] is True


def test_an_external_power_start_is_not_held_against_battery_starts(store):
    for assessment in series(PEAKS):
        store.keep(assessment)
    one = judge(store, 600.0, starter_runs=(StarterRun(10.0, 45.0, 35.0, 34.9, 35.1, "external"),))
    assert one.outside is None
    assert "external-power" in one.message


def test_comparing_a_kept_start_leaves_it_out_of_its_band(store):
    flights = series(PEAKS)
    for assessment in flights:
        store.keep(assessment)
    one = {one.measure: one for one in compare(flights[4], store)}["peak_itt"]
    assert one.band.count == MIN_STARTS - 1
    assert one.outside is None


def test_comparing_changes_neither_the_assessment_nor_the_history(store):
    for assessment in series(PEAKS):
        store.keep(assessment)
    judged = made_assessment("judged.csv", starts=[made_start(peak_itt_c=2000.0)])
    before, starts = assessment_document(judged), store.starts()
    compare(judged, store)
    assert assessment_document(judged) == before
    assert judged.verdict == "within"
    assert store.starts() == starts


# Laws

finite = st.floats(-1e4, 1e4)


@given(st.lists(finite, min_size=1, max_size=40), finite, st.floats(0.1, 50.0))
def test_the_robust_centre_moves_and_scales_with_its_values(values, offset, scale):
    centre, spread = robust_centre(values)
    moved = robust_centre(np.array(values) * scale + offset)
    assert moved[0] == pytest.approx(centre * scale + offset, abs=1e-6 * scale * 1e4)
    assert moved[1] == pytest.approx(spread * scale, abs=1e-6 * scale * 1e4)


@given(st.lists(finite, min_size=3, max_size=40), st.integers(0, 100))
def test_the_robust_centre_stays_among_the_good_values_whatever_under_half_of_them_do(values, seed):
    bad = (len(values) - 1) // 2
    rng = np.random.default_rng(seed)
    spoiled = np.array(values)
    spoiled[rng.permutation(len(values))[:bad]] = 1e9
    centre, _ = robust_centre(spoiled)
    assert min(values) <= centre <= max(values)


@given(st.permutations(PEAKS))
def test_the_order_of_the_values_does_not_matter(values):
    assert robust_centre(values) == robust_centre(PEAKS)


@pytest.mark.parametrize("values", [[], [1.0, float("nan")], [float("inf")]])
def test_a_centre_of_nothing_or_of_unknown_values_is_refused(values):
    with pytest.raises(ValueError, match="finite"):
        robust_centre(values)


@given(st.lists(finite, min_size=MIN_STARTS, max_size=60), st.integers(0, 59))
def test_no_value_of_the_judged_start_can_change_its_band(values, index):
    starts = past(values)
    which = starts[index % len(starts)]
    judged = (which.sha256, which.engine, which.number)
    other = [
        replace(start, values={"peak_itt": Kept(9e9, "degC")}) if start is which else start
        for start in starts
    ]
    assert band_of(starts, judged=judged) == band_of(other, judged=judged)
