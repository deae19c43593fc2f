"""The examples of RFC 3339 (July 2002), section 5.8, and its rules for offsets and leap seconds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from debrief.recording.clock.time_cell import read_stamp
from debrief.recording.clock.time_cells import read_stamps
from debrief.recording.clock.time_column_text import read_clock, start_instant
from debrief.recording.identity import instant
from debrief.recording.reader import read

EXAMPLES = {
    # text: the instant in UTC that section 5.8 describes it as
    "1985-04-12T23:20:50.52Z": datetime(1985, 4, 12, 23, 20, 50, 520000, tzinfo=UTC),
    "1996-12-19T16:39:57-08:00": datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC),
    "1990-12-31T23:59:60Z": datetime(1991, 1, 1, 0, 0, 0, tzinfo=UTC),
    "1990-12-31T15:59:60-08:00": datetime(1991, 1, 1, 0, 0, 0, tzinfo=UTC),
    "1937-01-01T12:00:27.87+00:20": datetime(1937, 1, 1, 11, 40, 27, 870000, tzinfo=UTC),
}


@pytest.mark.parametrize("text", EXAMPLES)
def test_the_examples_of_section_5_8(text: str) -> None:
    column = read_clock([text])
    assert column is not None
    assert column.zoned
    got = start_instant(column, int(column.nanoseconds[0]))
    assert got == EXAMPLES[text]
    assert instant(text) == EXAMPLES[text]


def test_two_examples_that_name_one_instant_are_equal() -> None:
    # Section 5.8: the leap second "in Pacific Standard Time, 8 hours behind UTC" is the one given in UTC.
    column = read_clock(["1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"])
    assert column is not None
    assert column.nanoseconds[0] == column.nanoseconds[1]


def test_t_and_z_may_be_in_lower_case() -> None:
    # Section 5.6, note: "T" and "Z" may alternatively be lower case.
    assert instant("1985-04-12t23:20:50.52z") == EXAMPLES["1985-04-12T23:20:50.52Z"]


def test_a_space_may_stand_for_the_t() -> None:
    # Section 5.6, note: applications may separate date and time by a space.
    assert instant("1985-04-12 23:20:50.52Z") == EXAMPLES["1985-04-12T23:20:50.52Z"]


def test_the_unknown_local_offset_names_the_same_instant() -> None:
    # Section 4.3: -00:00 says that the time in UTC is known and the offset is not.
    assert instant("1985-04-12T23:20:50-00:00") == datetime(1985, 4, 12, 23, 20, 50, tzinfo=UTC)


def test_without_an_offset_a_time_is_local_and_stays_naive() -> None:
    # Section 4.4: an unqualified local time is not an instant.
    got = instant("1985-04-12T23:20:50")
    assert got is not None
    assert got.tzinfo is None


@pytest.mark.parametrize("digits", ["5", "52", "523", "523456", "523456789", "5234567891234"])
def test_the_second_may_have_any_number_of_digits(digits: str) -> None:
    # Section 5.6: time-secfrac = "." 1*DIGIT
    stamp = read_stamp(f"1985-04-12T23:20:50.{digits}Z")
    assert stamp is not None
    assert stamp.nanoseconds % 1_000_000_000 == int((digits + "000000000")[:9])


@pytest.mark.parametrize(
    "text", ["1985-13-12T23:20:50Z", "1985-04-31T23:20:50Z", "1985-04-12T23:60:50Z", "1985-04-12T23:20:61Z"]
)
def test_fields_outside_their_range_are_refused(text: str) -> None:
    # Section 5.7: month, day by month and year, minute and second have their restrictions.
    assert read_stamp(text) is None


@pytest.mark.parametrize("offset", ["+25:00", "-24:00", "+99:99", "+05:60", "+2500"])
def test_an_impossible_offset_is_refused_and_not_dropped(offset: str) -> None:
    # Section 5.6: time-numoffset = ("+" / "-") time-hour ":" time-minute, 00-23 and 00-59.
    text = f"1985-04-12T23:20:50{offset}"
    assert read_stamp(text) is None
    assert instant(text) is None
    for count in (1, 40):  # few are read one by one, many by position
        stamps = read_stamps([text, *(f"1985-04-12T23:20:{i % 60:02d}+02:00" for i in range(count))])
        assert not stamps.valid[0]
        assert stamps.valid[1:].all()


@pytest.mark.parametrize(("year", "leap"), [(1900, False), (2000, True), (2023, False), (2024, True)])
def test_leap_years_are_those_of_appendix_c(year: int, leap: bool) -> None:
    assert (read_stamp(f"{year}-02-29T00:00:00Z") is not None) is leap


def test_a_column_of_such_times_reads_to_the_fraction(tmp_path: Path) -> None:
    start = EXAMPLES["1985-04-12T23:20:50.52Z"]
    write: Callable[[int], str] = lambda i: (start + timedelta(milliseconds=125 * i)).isoformat()  # noqa: E731
    path = tmp_path / "flight.csv"
    path.write_text("time,itt\n" + "".join(f"{write(i)},{20 + i}\n" for i in range(20)))
    recording = read(path)
    assert recording.identity.start == start
    assert recording.channels["itt"].time_s.tolist() == [i * 0.125 for i in range(20)]
