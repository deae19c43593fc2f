"""A date that stands in some rows only is carried to the others, and never where dates contradict the clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.recording.clock.time_cell import NS
from debrief.recording.clock.time_column_text import read_clock
from debrief.recording.model import Recording
from debrief.recording.reader import read

Write = Callable[..., Path]


def _read(write: Write, rows: list[tuple[str, str]], header: str = "Date,Time") -> Recording:
    lines = [
        f"{header},ng (%),itt (degC)",
        *(f"{date},{time},10,{20 + i}" for i, (date, time) in enumerate(rows)),
    ]
    return read(write("\n".join(lines) + "\n"))


def test_a_date_in_the_first_row_is_carried_down_and_that_is_told(write: Write) -> None:
    recording = _read(
        write, [("2031-05-01", "10:00:00"), ("", "10:00:01"), ("", "10:00:02"), ("", "10:00:05")]
    )
    assert recording.identity.start == datetime(2031, 5, 1, 10)
    assert recording.channels["itt"].time_s.tolist() == [0, 1, 2, 5]
    assert "the date stands in 1 of 4 rows and was carried to 3 others" in recording.provenance.decisions
    assert recording.provenance.questions == ()


def test_midnight_is_counted_after_a_carried_date(write: Write) -> None:
    rows = [("01.05.2031", "23:59:58"), ("01.05.2031", "23:59:59"), ("", "00:00:00"), ("", "00:00:01")]
    recording = _read(write, rows)
    assert recording.channels["itt"].time_s.tolist() == [0, 1, 2, 3]
    note = "the date stands in 2 of 4 rows and was carried to 2 others; a day was added at midnight"
    assert note in recording.provenance.decisions
    assert not any("clock" in repair for repair in recording.provenance.repairs)


def test_a_later_date_that_agrees_with_the_clock_is_believed(write: Write) -> None:
    rows = [
        ("2031-05-01", "23:59:58"),
        ("", "23:59:59"),
        ("", "00:00:00"),
        ("2031-05-02", "00:00:01"),
        ("", "00:00:02"),
    ]
    recording = _read(write, rows)
    assert recording.channels["itt"].time_s.tolist() == [0, 1, 2, 3, 4]
    assert recording.provenance.questions == ()


def test_a_new_date_after_a_pause_begins_anew(write: Write) -> None:
    rows = [("2031-05-01", "10:00:00"), ("", "10:00:01"), ("2031-05-04", "09:00:00"), ("", "09:00:01")]
    recording = _read(write, rows)
    three_days_less_an_hour = 71 * 3600.0
    assert recording.channels["itt"].time_s[2] in (three_days_less_an_hour, 2.0)
    assert recording.provenance.questions == ()
    clock = read_clock([time for _, time in rows], [date for date, _ in rows])
    assert clock is not None
    assert ((clock.nanoseconds - clock.nanoseconds[0]) / NS).tolist() == [
        0, 1, three_days_less_an_hour, three_days_less_an_hour + 1,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("second", "why"),
    [
        ("2031-05-02", "line 4 says 2031-05-02 where the clock has come to 2031-05-01"),
        ("2031-04-30", "line 4 says 2031-04-30 where the clock has come to 2031-05-01"),
    ],
)
def test_two_dates_that_contradict_the_clock_are_asked_about_and_no_date_is_guessed(
    write: Write, second: str, why: str
) -> None:
    rows = [
        ("2031-05-01", "10:00:00"),
        ("", "10:00:01"),
        (second, "10:00:02"),
        *(("", f"10:00:0{i}") for i in range(3, 8)),
    ]
    recording = _read(write, rows)
    assert recording.identity.start is None
    assert recording.channels["itt"].time_s.tolist() == list(range(8))  # no row is lost
    assert any(why in question for question in recording.provenance.questions)
    assert not any("carried" in decision for decision in recording.provenance.decisions)


def test_a_cell_that_is_no_date_gets_none(write: Write) -> None:
    rows = [("2031-05-01", "10:00:00"), ("", "10:00:01"), ("GPS LOST", "10:00:02"), ("", "10:00:03")]
    recording = _read(write, rows)
    assert recording.channels["itt"].time_s.tolist() == [0, 1, 3]
    assert any(
        "1 of 4 rows had no readable time and was left out: line 4" in repair
        for repair in recording.provenance.repairs
    )


@pytest.mark.parametrize("mark", ["", "---", "N/A"])
def test_rows_before_the_first_date_take_it_where_the_clock_runs_on_into_it(write: Write, mark: str) -> None:
    rows = [(mark, "23:59:58"), (mark, "23:59:59"), ("2031-05-02", "00:00:00"), ("2031-05-02", "00:00:01")]
    recording = _read(write, rows)
    assert recording.identity.start == datetime(2031, 5, 1, 23, 59, 58)
    assert recording.channels["itt"].time_s.tolist() == [0, 1, 2, 3]


def test_rows_before_the_first_date_take_none_where_the_clock_was_set_to_it(write: Write) -> None:
    rows = [("", "00:00:01"), ("", "00:00:02"), *(("2031-05-02", f"14:00:0{i}") for i in range(5))]
    recording = _read(write, rows)
    assert recording.identity.start == datetime(2031, 5, 2, 14)
    assert any(
        "2 of 7 rows had no readable time and were left out: line 2, 3" in repair
        for repair in recording.provenance.repairs
    )


def test_a_date_before_the_first_time_in_one_column_is_carried_down_too(write: Write) -> None:
    rows = ["2031-05-01 23:59:59Z,10,20", "00:00:00Z,10,21", "00:00:01Z,10,22"]
    recording = read(write("\n".join(["Time,ng (%),itt (degC)", *rows]) + "\n"))
    assert recording.identity.start == datetime(2031, 5, 1, 23, 59, 59, tzinfo=UTC)
    assert recording.channels["itt"].time_s.tolist() == [0, 1, 2]


@given(
    seconds=st.lists(st.integers(1, 11 * 3600), min_size=1, max_size=30),
    stated=st.lists(st.booleans(), min_size=31, max_size=31),
)
def test_dates_left_out_anywhere_below_the_first_come_back(seconds: list[int], stated: list[bool]) -> None:
    """With steps below 12 h the clock alone tells midnight, so nothing is lost with the dates."""
    begin = datetime(2031, 12, 30, 20)
    instants = [begin + timedelta(seconds=int(s)) for s in np.cumsum([0, *seconds])]
    days = [
        f"{t:%Y-%m-%d}" if keep or i == 0 else ""
        for i, (t, keep) in enumerate(zip(instants, stated, strict=False))
    ]
    clock = read_clock([f"{t:%H:%M:%S}" for t in instants], days)
    assert clock is not None
    assert clock.questions == ()
    assert ((clock.nanoseconds - clock.nanoseconds[0]) // NS).tolist() == [
        int((t - begin).total_seconds()) for t in instants
    ]


@pytest.mark.parametrize("second", ["20310501", ""])
def test_a_date_written_as_one_number_is_a_date(write: Write, second: str) -> None:
    recording = _read(write, [("20310501", "10:00:00"), (second, "10:00:01")])
    assert recording.identity.start == datetime(2031, 5, 1, 10)
    assert recording.channels["itt"].time_s.tolist() == [0, 1]
    assert recording.provenance.questions == ()
