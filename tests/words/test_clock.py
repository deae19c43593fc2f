"""How moments are told: elapsed, by the recorder's clock, in UTC; what is not recorded is not guessed."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.drawing.axes import time_labels, time_step
from debrief.words.clock import ELAPSED, Clock, time_choice
from debrief.words.numbers import clock_text

EAST = timezone(timedelta(hours=5, minutes=45))
WEST = timezone(timedelta(hours=-3, minutes=-30))
EVENING = datetime(2031, 12, 31, 23, 59, 38)
STARTS = st.datetimes(datetime(1981, 1, 1), datetime(2040, 1, 1)).flatmap(
    lambda at: st.sampled_from([at, at.replace(tzinfo=UTC), at.replace(tzinfo=EAST), at.replace(tzinfo=WEST)])
)
TIMES = st.floats(0, 90000)


def test_elapsed_time_is_that_of_the_paper():
    for clock in (ELAPSED, Clock(EVENING, 100.0), Clock(None, 100.0, "utc")):
        assert clock.text(19.4) == clock_text(19.4) == "0:19.4"
        assert (clock.beside, clock.offset_s) == ("", 0.0)


def test_utc_goes_over_midnight_with_the_date():
    # By hand: 00:59:38 at 5 h 45 min east is 19:14:38 UTC on the day before.
    clock = Clock(datetime(2031, 1, 1, 0, 59, 38, tzinfo=EAST), 300.0, "utc")
    assert clock.text(0.0) == "19:14:38.0"
    assert clock.begins == "31 Dec 2030, 19:14 UTC"
    # 21:29:50 at 3 h 30 min west is ten seconds before midnight UTC.
    clock = Clock(datetime(2031, 1, 1, 21, 29, 50, tzinfo=WEST), 300.0, "utc")
    assert [clock.text(s) for s in (0.0, 9.94, 9.96, 10.0)] == [
        "00:59:50.0", "00:59:59.9", "01:00:00.0", "01:00:00.0",
    ]  # fmt: skip
    clock = Clock(datetime(2031, 1, 1, 20, 29, 50, tzinfo=WEST), 300.0, "utc")
    assert (clock.text(9.94), clock.text(10.0), clock.beside) == ("23:59:59.9", "00:00:00.0", "UTC")


def test_local_time_has_the_recorders_zone_beside_it():
    assert Clock(EVENING.replace(tzinfo=EAST), 300.0, "local").beside == "+05:45"
    assert Clock(EVENING.replace(tzinfo=WEST), 300.0, "local").beside == "-03:30"
    assert Clock(EVENING, 300.0, "local").beside == "local, zone not recorded"


def test_a_zone_that_is_not_recorded_is_not_guessed():
    clock = Clock(EVENING, 300.0, "utc")
    assert (clock.shown, clock.text(22.0)) == ("elapsed", "0:22.0")
    assert time_choice("utc", clock.why_not("utc")) == "UTC (time zone not recorded)"
    assert clock.begins == "31 Dec 2031, 23:59 local, zone not recorded"
    assert clock.other(22.0) == "00:00:00.0 local, zone not recorded"


def test_a_clock_of_utc_tells_no_local_time():
    clock = Clock(EVENING.replace(tzinfo=UTC), 300.0, "local")
    assert clock.shown == "elapsed"
    assert clock.why_not("local") == "this recording's clock is UTC"


def test_no_date_is_neither_local_time_nor_utc():
    clock = Clock(None, 300.0, "local")
    assert clock.why_not("local") == clock.why_not("utc") == "no date and time of day recorded"
    assert (clock.shown, clock.begins, clock.other(3.0)) == ("elapsed", "", "")


def test_the_other_way_stands_beside():
    assert Clock(EVENING.replace(tzinfo=UTC), 300.0).other(22.04) == "00:00:00.0 UTC"
    assert Clock(EVENING.replace(tzinfo=UTC), 300.0, "utc").other(22.04) == "0:22.0 elapsed"


def test_the_last_day_that_a_date_can_have_is_told():
    last = datetime(9999, 12, 31, 23, 59, 58, tzinfo=WEST)
    assert Clock(last, 300.0, "local").text(5.0) == "00:00:03.0"
    assert Clock(last, 300.0, "utc").shown == "elapsed"


def test_a_day_and_more_has_its_days():
    clock = Clock(EVENING, 200000.0, "local")
    assert [clock.text(s, 0) for s in (0, 22, 22 + 86400)] == [
        "day 1 23:59:38", "day 2 00:00:00", "day 3 00:00:00",
    ]  # fmt: skip


def test_bounds_are_rounded_outward():
    clock = Clock(EVENING, 300.0, "local")
    assert clock.bounds(1.234, 1.236, 2) == ("23:59:39.23", "23:59:39.24")
    assert clock.bounds(1.25, 1.25, 2) == ("23:59:39.25", "23:59:39.25")


@given(STARTS, TIMES)
def test_a_time_of_day_is_that_of_the_date_arithmetic(start, time_s):
    at = start + timedelta(seconds=time_s)
    for shown in ("local", "utc"):
        clock = Clock(start, 60.0, shown)
        if clock.shown == shown:
            true = at.astimezone(UTC) if shown == "utc" else at
            h, m, s = clock.text(time_s, 3).split(":")
            told = int(h) * 3600 + int(m) * 60 + float(s)
            second = true.hour * 3600 + true.minute * 60 + true.second + true.microsecond / 1e6
            assert min(abs(told - second), 86400 - abs(told - second)) <= 0.0006


@given(STARTS, TIMES, st.floats(0.5, 20000), st.integers(2, 12))
def test_ticks_lie_on_round_times_of_the_clock_that_is_shown(start, begin, span, count):
    for shown in ("elapsed", "local", "utc"):
        clock = Clock(start, 90000.0, shown)
        step = time_step(span, count)
        labels = time_labels(begin, begin + span, count, clock)
        assert len(labels) >= span // step
        for time_s, words in labels:
            assert begin - 1e-6 <= time_s <= begin + span + 1e-6
            away = (clock.offset_s + time_s) % step
            assert min(away, step - away) < 1e-6
            # What is written is that round time itself.
            *_, minutes, seconds = words.rpartition(" ")[2].split(":")
            written = (int(minutes) * 60 + float(seconds)) % step
            assert step >= 3600 or min(written, step - written) < 1e-6


@pytest.mark.parametrize("shown", ["elapsed", "local"])
@given(duration=st.floats(1, 400000), share=st.floats(0, 1))
def test_no_moment_is_wider_than_the_room_made_for_it(shown, duration, share):
    clock = Clock(EVENING, duration, shown)
    assert len(clock.text(share * duration)) <= len(clock.widest())
