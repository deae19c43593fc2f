"""ITT against Ng of earlier starts: what is kept, and the normal range that is made of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from debrief.history.exchange.transfer import export_jsonl, merge
from debrief.history.service.start_history import NO_HISTORY, UNNAMED, own_starts_page, starts_page
from debrief.history.storage import schema
from debrief.history.storage.store import Store
from debrief.history.usual.baseline import MIN_STARTS, usual_band
from debrief.history.usual.start_traces import rising_trace, trace_of, trace_text, usual_plane
from debrief.recording.model import Channel
from tests.history.history_making import FIRST, made_assessment, made_start

TIMES = np.arange(0.0, 80.0, 0.25)


def lit(name="one.csv", peak=742.0, *, at=FIRST, times=TIMES, outcome="completed", number=1, **identity):
    """A start whose Ng rises straight from 20 % at 22 s to 62 % at 50 s, and whose ITT is `peak` from 24 s on."""
    assessment = made_assessment(
        name, at=at, starts=(made_start(number, peak_itt_c=peak, outcome=outcome),), **identity
    )
    ng = np.clip(20.0 + (times - 22.0) * 1.5, 0.0, 62.0)
    itt = np.clip(100.0 + (times - 22.0) * (peak - 100.0) / 2.0, 100.0, peak)
    channels = {"ng": Channel("ng", "%", times, ng), "itt": Channel("itt", "degC", times, itt)}
    return replace(assessment, recording=replace(assessment.recording, channels=channels))


def many(peaks, **more):
    return [lit(f"f{i:02d}.csv", p, at=FIRST + timedelta(days=i), **more) for i, p in enumerate(peaks)]


@pytest.fixture
def store(tmp_path):
    with Store.open(str(tmp_path / "h.sqlite")) as opened:
        yield opened


def test_the_trace_has_the_itt_at_each_whole_percent_of_ng_on_the_way_up():
    trace = rising_trace(lit(peak=742.0), made_start())
    # By hand: Ng 21 % is passed at 22.667 s, where ITT is 100 + 0.667 * 321 = 314; from 24 s on it is 742.
    assert list(trace) == list(range(21, 63))
    assert trace[21] == pytest.approx(100 + 2 / 3 * 321, abs=0.1)
    assert trace[40] == pytest.approx(742)


def test_across_a_gap_nothing_is_claimed():
    times = TIMES[(TIMES < 30.0) | (TIMES > 36.0)]
    trace = rising_trace(lit(times=times), made_start())
    # Ng is 32 % at 30 s and 41 % at 36 s.
    assert not set(range(33, 42)) & set(trace)
    assert {31, 42} <= set(trace)


def test_only_a_completed_start_has_a_trace():
    assert rising_trace(lit(), made_start(outcome="aborted")) == {}
    assert rising_trace(lit(), made_start(idle_s=None)) == {}
    assert rising_trace(made_assessment(), made_start()) == {}


@given(st.dictionaries(st.integers(0, 120), st.floats(-60, 1300), max_size=60))
def test_a_kept_trace_comes_back_to_a_tenth_of_a_degree(trace):
    back = trace_of(trace_text(trace))
    assert list(back) == list(trace)
    assert all(abs(back[n] - v) <= 0.05 + 1e-9 for n, v in trace.items())


def test_the_band_holds_the_percentiles_at_each_ng(store):
    peaks = [700.0 + 5 * i for i in range(21)]  # 700 to 800: percentiles by hand are 705, 750, 795
    for flight in many(peaks):
        store.keep(flight)
    page = starts_page(lit("now.csv", 900.0, at=FIRST + timedelta(days=60)), store)
    plane = page.plane(made_start())
    assert plane.count == 21
    at = int(np.searchsorted(plane.ng_pct, 40.0))
    assert (plane.low_c[at], plane.middle_c[at], plane.high_c[at]) == pytest.approx((705, 750, 795))
    assert "middle 90 %" in plane.words
    assert "21 other completed battery starts of TG7-0042" in plane.words
    assert plane.words.endswith("The normal range is not a limit.")


@given(st.lists(st.floats(500, 900), min_size=MIN_STARTS, max_size=25))
def test_the_band_is_ordered_and_within_the_starts_that_make_it(peaks):
    flights = many(peaks)
    traces = {(str(i), 1, 1): rising_trace(f, f.starts[0]) for i, f in enumerate(flights)}
    band = replace(
        usual_band((), "peak_itt", engine="E", power="battery"), count=len(peaks), members=tuple(traces)
    )
    plane = usual_plane(band, traces)
    assert np.all(plane.low_c <= plane.middle_c)
    assert np.all(plane.middle_c <= plane.high_c)
    everything = [value for trace in traces.values() for value in trace.values()]
    assert plane.low_c.min() >= min(everything) - 1e-9
    assert plane.high_c.max() <= max(everything) + 1e-9


def test_too_few_starts_are_said_with_their_number(store):
    for flight in many([740.0] * 4):
        store.keep(flight)
    plane = starts_page(lit("now.csv", at=FIRST + timedelta(days=60)), store).plane(made_start())
    assert not plane.enough
    assert plane.words == (
        "No normal range: 4 of 15 other completed battery starts of TG7-0042 are kept in the history."
    )


def test_what_is_counted_is_true_for_a_flight_before_the_others(store):
    for flight in many([740.0] * 4):
        store.keep(flight)
    words = starts_page(lit("now.csv", at=FIRST - timedelta(days=60)), store).plane(made_start()).words
    assert "4 of 15 other completed battery starts" in words
    assert "earlier" not in words


def test_starts_kept_without_a_trace_are_counted_and_said(store):
    for flight in many([740.0] * 16):
        store.keep(flight)
    with store.engine.begin() as connection:
        connection.execute(schema.start_traces.delete())
    plane = starts_page(lit("now.csv", at=FIRST + timedelta(days=60)), store).plane(made_start())
    assert not plane.enough
    assert "16 of them without a trace: add their files again" in plane.words


def test_a_start_that_a_person_left_out_is_not_in_the_band(store):
    for flight in many([740.0] * 15 + [1000.0]):
        store.keep(flight)
    store.exclude(store.find("f15.csv"), 1, "Wrong probe fitted.")
    plane = starts_page(lit("now.csv", at=FIRST + timedelta(days=60)), store).plane(made_start())
    assert plane.count == 15
    assert plane.high_c.max() == pytest.approx(740)


def test_the_judged_start_is_never_in_its_own_band(store):
    flights = many([740.0] * 15)
    for flight in flights:
        store.keep(flight)
    assert not starts_page(flights[3], store).plane(made_start()).enough


def test_a_flight_kept_by_an_earlier_program_gets_its_traces_when_it_is_kept_again(tmp_path):
    file = str(tmp_path / "old.sqlite")
    flight = lit()
    with Store.open(file) as store:
        store.keep(flight)
        with store.engine.begin() as connection:  # as after the migration that brought the table
            connection.exec_driver_sql("DELETE FROM start_traces")
    with Store.open(file) as store:
        assert store.start_traces("TG7-0042") == {}
        assert store.keep(flight) == "renewed"
        assert len(store.start_traces("TG7-0042")) == 1
        assert store.keep(flight) == "unchanged"


def test_traces_go_with_an_export_and_an_older_export_without_them_is_taken(store, tmp_path):
    store.keep(lit())
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    with Store.open(str(tmp_path / "other.sqlite")) as other:
        merge(other, out)
        assert other.start_traces("TG7-0042") == store.start_traces("TG7-0042") != {}
    old = out.read_text().replace('"start_traces"', '"of_a_later_program"')
    out.write_text(old)
    with Store.open(str(tmp_path / "third.sqlite")) as third:
        assert merge(third, out).new == 1
        assert third.start_traces("TG7-0042") == {}


def test_a_deleted_flight_takes_its_traces_along(store):
    store.keep(lit())
    store.delete("one.csv")
    with store.engine.connect() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.start_traces)) == 0


def test_earlier_starts_are_offered_newest_first_without_the_open_recording(store):
    flights = many([741.0, 742.0, 743.0])
    for flight in flights:
        store.keep(flight)
    page = starts_page(flights[1], store)
    assert [(one.file_name, one.peak_c) for one in page.earlier] == [("f02.csv", 743.0), ("f00.csv", 741.0)]
    assert not page.earlier[0].is_there


def test_without_a_history_or_a_name_the_reason_is_said(store, debrief_home):
    assert own_starts_page(lit()).plane(made_start()).words == NO_HISTORY
    store.keep(lit())
    nameless = lit("x.csv", aircraft=None, serial=None)
    assert starts_page(nameless, store).plane(made_start()).words == UNNAMED
