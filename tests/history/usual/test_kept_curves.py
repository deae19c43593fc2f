"""What is kept of a start to compare it later, and the usual start that is made of fifteen or more."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.history.exchange.transfer import export_jsonl, merge
from debrief.history.service.start_history import starts_page
from debrief.history.storage.store import Store
from debrief.history.storage.values import row_problem
from debrief.history.usual.baseline import MIN_STARTS, usual_band
from debrief.history.usual.kept_curves import KEPT, curves_of, curves_text
from debrief.history.usual.usual_start import UsualStart
from debrief.recording.model import Channel
from debrief.session.comparing.compared_start import behind_start, compared_start
from debrief.session.comparing.start_curves import INSTANTS, StartCurves, start_curves
from debrief.words.numbers import decimals_for
from tests.demo_assessing import DEMOS, assessed
from tests.history.history_making import FIRST, made_start
from tests.history.usual.test_history_start_traces import TIMES, lit, many

ROW = {"sha256": "ab" * 32, "engine": 1, "number": 1, "points": "[[20],[700]]"}


def again(assessment, start):
    """The start as it comes out of the history."""
    text = curves_text(assessment, start)
    assert text is not None
    return curves_of(text, "kept", ("ab" * 32, 1, start.number), start.ng_at_fuel_pct)


@pytest.mark.parametrize("path", [path for path in DEMOS if path.name[:2] in ("01", "02", "08", "12", "16")])
def test_what_is_kept_is_small_loses_no_extreme_and_reads_as_the_recording_does(path):
    assessment = assessed(path)
    for start in assessment.starts:
        text = curves_text(assessment, start)
        assert len(text) < 12_000
        assert row_problem("start_traces", {**ROW, "curves": text}) is None
        kept, whole = again(assessment, start), start_curves(assessment, start)
        assert dict(kept.moments) == pytest.approx(dict(whole.moments), abs=1e-3)
        assert kept.frame == pytest.approx(whole.frame, abs=1e-3)
        begin, end = whole.frame
        for name in KEPT:
            one, other = kept.piece(name, begin, end), whole.piece(name, begin, end)
            half_a_digit = 0.5 * 10.0 ** -(decimals_for(one.channel.unit) + 1)
            inside = (other.channel.time_s >= begin) & (other.channel.time_s <= end)
            recorded = other.channel.values[inside]
            assert np.nanmax(one.channel.values) >= recorded.max() - 2 * half_a_digit
            assert np.nanmin(one.channel.values) <= recorded.min() + 2 * half_a_digit
            span = recorded.max() - recorded.min()
            for time_s in np.linspace(begin + 0.1, end - 0.1, 60):
                a, b = one.value_at(float(time_s)), other.value_at(float(time_s))
                assert a == pytest.approx(b, abs=0.1 * span + 0.1)
    if path.name.startswith("02"):
        assert np.nanmax(kept.channels["itt"].values) == pytest.approx(start.peak_itt_c, abs=0.05)


def test_a_gap_is_kept_as_one_and_is_not_bridged():
    times = TIMES[(TIMES < 30.0) | (TIMES > 36.0)]
    kept = again(lit(times=times), made_start())
    piece = kept.piece("itt", *kept.frame)
    assert piece.value_at(29.75) == pytest.approx(742.0)
    for inside in (29.9, 31.0, 33.0, 35.9):
        assert piece.value_at(inside) is None
    assert piece.value_at(36.25) == pytest.approx(742.0)
    drawn = piece.envelope(*kept.frame).view(*kept.frame, 500)
    assert not drawn.connect[np.flatnonzero(drawn.time_s < 30.0)[-1]]


def test_a_start_without_ng_or_itt_is_not_kept_as_a_trace():
    assessment = lit()
    channels = {"itt": assessment.recording.channels["itt"]}
    assert (
        curves_text(replace(assessment, recording=assessment.recording.with_channels(channels)), made_start())
        is None
    )


@pytest.mark.parametrize(
    "change",
    [
        lambda kept: kept.pop("frame"),
        lambda kept: kept.update(more=1),
        lambda kept: kept.update(frame=[50.0, 10.0]),
        lambda kept: kept["moments"].update(lunch=3.0),
        lambda kept: kept["moments"].update(fuel_on=None),
        lambda kept: kept["times"][0].reverse(),
        lambda kept: kept["times"][0].pop(),
        lambda kept: kept["channels"].pop("itt"),
        lambda kept: kept["channels"].update(np=kept["channels"]["ng"]),
        lambda kept: kept["channels"]["ng"].__setitem__(1, 7),
        lambda kept: kept["channels"]["ng"].__setitem__(0, 5),
        lambda kept: kept["channels"]["ng"][2].__setitem__(3, "12"),
        lambda kept: kept["channels"]["ng"][2].__setitem__(3, 1e12),
    ],
)  # fmt: skip
def test_traces_that_cannot_be_are_refused(change):
    kept = json.loads(curves_text(lit(), made_start()))
    change(kept)
    problem = row_problem("start_traces", {**ROW, "curves": json.dumps(kept)})
    assert problem.startswith("curves is ")


# --- in the history -----------------------------------------------------------------------------------


@pytest.fixture
def store(tmp_path):
    with Store.open(str(tmp_path / "h.sqlite")) as opened:
        yield opened


def test_an_earlier_start_is_compared_without_its_file(store):
    store.keep(lit("old.csv", 741.0))
    now = lit("now.csv", 801.0, at=FIRST + timedelta(days=3))
    (earlier,) = starts_page(now, store).earlier
    assert not earlier.is_there
    both = behind_start(now, now.starts[0], earlier.curves, "fuel_on")
    assert both.other.name == "start 1 of old.csv"
    # By hand: 5 s after fuel both stand at their peaks, 801 and 741.
    assert both.reading("itt", 5.0) == pytest.approx((801.0, 741.0, 60.0))


def test_a_start_kept_before_traces_were_has_none_until_it_is_kept_again(store):
    flight = lit()
    store.keep(flight)
    with store.engine.begin() as connection:  # as after the migration that brought them
        connection.exec_driver_sql("UPDATE start_traces SET curves = NULL")
    now = lit("now.csv", at=FIRST + timedelta(days=3))
    assert starts_page(now, store).earlier[0].curves is None
    assert store.keep(flight) == "renewed"
    assert starts_page(now, store).earlier[0].curves is not None
    assert store.keep(flight) == "unchanged"


def test_the_traces_go_with_an_export_and_an_older_export_lacks_them(store, tmp_path):
    store.keep(lit())
    key = (store.find("one.csv"), 1, 1)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    with Store.open(str(tmp_path / "other.sqlite")) as other:
        merge(other, out)
        assert other.start_curves({key}) == store.start_curves({key}) != {}
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    for line in lines[1:]:
        for row in line["start_traces"]:
            del row["curves"]
    out.write_text("\n".join(json.dumps(line) for line in lines))
    with Store.open(str(tmp_path / "third.sqlite")) as third:
        assert merge(third, out).new == 1
        assert third.start_curves({key}) == {}
        assert len(third.start_traces("TG7-0042")) == 1


def test_fifteen_kept_starts_are_the_usual_start_and_fourteen_are_not(store):
    peaks = [700.0 + 2 * i for i in range(15)]  # the median is 714
    now = lit("now.csv", 780.0, at=FIRST + timedelta(days=60))
    for count, flight in enumerate(many(peaks), start=1):
        store.keep(flight)
        if count == MIN_STARTS - 1:
            few = starts_page(now, store).usual_starts[1, 1]
            both = behind_start(now, now.starts[0], few, "fuel_on")
            assert both.problem == (
                "No usual start: 14 of 15 other completed battery starts of TG7-0042 are kept in the history."
            )
    usual = starts_page(now, store).usual_starts[1, 1]
    assert usual.problem == ""
    both = behind_start(now, now.starts[0], usual, "fuel_on")
    assert both.reading("itt", 5.0) == pytest.approx((780.0, 714.0, 66.0))
    assert both.other.said == "Median of 15 starts. The normal range is not a limit."


def test_starts_without_traces_are_counted_and_said(store):
    for flight in many([740.0] * 16):
        store.keep(flight)
    with store.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE start_traces SET curves = NULL")
    usual = starts_page(lit("now.csv", at=FIRST + timedelta(days=60)), store).usual_starts[1, 1]
    assert usual.problem.endswith(
        "are kept in the history, 16 of them without traces: add their files again."
    )


# --- the median ---------------------------------------------------------------------------------------

BAND = usual_band([], "peak_itt", engine="TG7-0042", power="battery", kind="ground")


def member(number, *, offset=0.0, moved=0.0, until=40.0, light_off=11.0):
    """Ng rises 2 % a second from the starter at 0; ITT stands at 500 + `offset`; fuel at 10 s."""
    times = np.arange(-5.0, until + 1e-9, 0.5) + moved
    channels = {
        "ng": Channel("ng", "%", times, 2.0 * np.clip(times - moved, 0.0, None)),
        "itt": Channel("itt", "degC", times, np.full(times.size, 500.0 + offset)),
    }
    moments = {"starter_on": moved, "fuel_on": 10.0 + moved}
    if light_off is not None:
        moments["light_off"] = light_off + moved
    key = (f"{number:064x}", 1, 1)
    return StartCurves("m", channels, moments, (moved - 5.0, until + moved), None, key, 18.0 + offset / 10)


def usual_of(members):
    keys = tuple(one.key for one in members)
    return UsualStart(replace(BAND, count=len(keys), members=keys), {one.key: one for one in members})


def test_at_each_time_it_is_the_median_of_what_is_known_there():
    """Offsets 0 to 160: the median of 17 is 80. Two starts end early, one is wild: 15 and more count all the same."""
    members = [member(i, offset=10.0 * i, until=20.0 if i < 2 else 40.0) for i in range(17)]
    start = usual_of(members).aligned("fuel_on")
    piece = start.piece("itt", *start.frame)
    assert piece.value_at(0.0) == pytest.approx(580.0)
    assert piece.value_at(15.0) == pytest.approx(590.0)  # without the two lowest: 20 to 160
    assert start.ng_at_fuel_pct == pytest.approx(26.0)
    assert dict(start.moments) == pytest.approx({"starter_on": -10.0, "fuel_on": 0.0, "light_off": 1.0})
    assert start.piece("ng", *start.frame).value_at(3.0) == pytest.approx(26.0)


def test_where_fewer_than_fifteen_are_known_nothing_is():
    members = [member(i, until=20.0 if i < 3 else 40.0) for i in range(17)]
    start = usual_of(members).aligned("fuel_on")
    piece = start.piece("itt", *start.frame)
    assert piece.value_at(9.5) == pytest.approx(500.0)
    assert piece.value_at(12.0) is None  # three of seventeen have ended


def test_aligned_where_too_few_have_the_instant_it_says_so():
    members = [member(i, light_off=None if i < 3 else 11.0) for i in range(17)]
    both = compared_start(member(99), usual_of(members).aligned("light_off"), "light_off")
    assert both.problem == "No usual start aligned at light-off: only 14 of 15 have it."
    assert compared_start(member(99), usual_of(members).aligned("fuel_on"), "fuel_on").is_shown


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(-3000, 3000), min_size=15, max_size=15), st.sampled_from(INSTANTS))
def test_when_its_starts_were_recorded_changes_nothing(shifts, instant):
    plain = usual_of([member(i, offset=7.0 * i) for i in range(15)]).aligned(instant)
    moved = usual_of([member(i, offset=7.0 * i, moved=s) for i, s in enumerate(shifts)]).aligned(instant)
    assert dict(moved.moments) == pytest.approx(dict(plain.moments), abs=1e-6)
    for since in np.arange(-3.0, 25.0, 1.37):
        for name in ("ng", "itt"):
            one = plain.piece(name, *plain.frame).value_at(float(since))
            other = moved.piece(name, *moved.frame).value_at(float(since))
            assert other == pytest.approx(one, abs=1e-6)
