"""What a person enters about a recording."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.identity import instant, with_entered
from debrief.recording.reader import read

Write = Callable[..., Path]
TEXT = "# aircraft: ZZ-TRN\ntime,ng,itt\n0,1,2\n1,2,3\n"


def test_what_is_entered_replaces_what_the_file_says_with_its_source(write: Write) -> None:
    recording = read(write(TEXT))
    entered = with_entered(
        recording, aircraft="ZZ-OTH", engine_serial="TG7-9", start_iso="2031-05-01T09:30:00Z"
    )
    assert (entered.identity.aircraft, entered.identity.aircraft_source) == ("ZZ-OTH", "option")
    assert (entered.identity.engine_serial, entered.identity.engine_serial_source) == ("TG7-9", "option")
    assert entered.identity.start == datetime(2031, 5, 1, 9, 30, tzinfo=UTC)
    assert entered.identity.start_source == "option"
    assert recording.identity.aircraft == "ZZ-TRN"
    assert entered.channels == recording.channels


def test_what_is_not_entered_stays(write: Write) -> None:
    recording = read(write(TEXT))
    assert with_entered(recording).identity == recording.identity
    assert with_entered(recording, aircraft="  ").identity == recording.identity
    assert (
        with_entered(recording, engine_serial="X", source="entered").identity.engine_serial_source
        == "entered"
    )


@pytest.mark.parametrize(
    "text",
    [
        "yesterday",
        "2031-05-01",
        "09:30",
        "2031-02-30T00:00:00Z",
        "2031-05-01T09:30:00+25:00",
        "2031-05-01T09:30-01:60",
    ],
)
def test_a_start_that_is_no_instant_is_refused(text: str, write: Write) -> None:
    with pytest.raises(UserError, match="not a date and time"):
        with_entered(read(write(TEXT)), start_iso=text)


def test_an_instant_without_offset_stays_naive() -> None:
    assert instant("2031-05-01T09:30:00.25") == datetime(2031, 5, 1, 9, 30, 0, 250000)


REFUSED = {
    "03/04/2023 10:00": "could be 2023-04-03 or 2023-03-04",
    "3-4-2023 10:00:00": "could be 2023-04-03 or 2023-03-04",
    "03/04/23 10:00": "could be 2023-04-03 or 2023-03-04",
    "13/04/23 10:00": "year of two digits",
    "1970-01-01T00:00:12Z": "a clock begins that was not set",
    "1980-01-06T00:00:00": "a clock begins that was not set",
    "2000-01-01 00:03": "a clock begins that was not set",
    "2052-05-01T09:30:00Z": "yet to come",
    "2024-13-45 10:00": "not a date and time",
}


@pytest.mark.parametrize("text", REFUSED)
def test_a_start_that_reads_two_ways_or_cannot_be_is_refused_with_how_to_write_it(
    text: str, write: Write
) -> None:
    with pytest.raises(UserError, match="write it like 2024-05-01T09:30:00") as refused:
        with_entered(read(write(TEXT)), start_iso=text)
    assert REFUSED[text] in str(refused.value)


@pytest.mark.parametrize("text", REFUSED)
def test_such_a_start_in_the_preamble_is_asked_about_and_not_used(text: str, write: Write) -> None:
    recording = read(write(f"# start: {text}\n{TEXT}"))
    assert recording.identity.start is None
    (asked,) = recording.provenance.questions
    assert REFUSED[text] in asked


@pytest.mark.parametrize(
    "text",
    ["13/04/2023 10:00", "04/04/2023 10:00", "03.04.2023 10:00", "3-Apr-2023 10:00", "2023-04-03T10:00"],
)
def test_a_start_that_reads_one_way_is_taken(text: str, write: Write) -> None:
    start = with_entered(read(write(TEXT)), start_iso=text).identity.start
    assert start is not None
    assert start.year == 2023


@pytest.mark.parametrize(
    "first", ["1970-01-01T00:00:0{}Z", "1980-01-06 00:00:0{}", "2000-01-01 00:00:0{}", "2052-05-01T00:00:0{}"]
)
def test_a_clock_that_was_not_set_gives_no_date_and_is_flagged(first: str, write: Write) -> None:
    rows = "".join(f"{first.format(k)},{k},{20 + k}\n" for k in range(5))
    recording = read(write(f"Time,ng,itt\n{rows}"))
    assert recording.identity.start is None
    assert recording.duration_s == 4.0
    (flag,) = (one for one in recording.quality if one.kind == "clock_not_set")
    assert first[:10] in flag.message


def test_a_date_column_that_reads_two_ways_gives_no_start(write: Write) -> None:
    def start(*days: str) -> datetime | None:
        rows = "".join(f"{day},10:00:0{k},{k},{20 + k}\n" for k, day in enumerate(days))
        recording = read(write(f"Date,Time,ng,itt\n{rows}"))
        said = any("when the recording began is not known" in q for q in recording.provenance.questions)
        assert said == (recording.identity.start is None)
        return recording.identity.start

    assert start("03/04/2023", "03/04/2023", "03/04/2023") is None
    assert start("04/04/2023", "04/04/2023", "04/04/2023") == datetime(2023, 4, 4, 10)
    assert start("13/04/2023", "13/04/2023", "13/04/2023") == datetime(2023, 4, 13, 10)
    assert start("2024-13-45", "2024-13-45", "2024-13-45") is None


def test_each_engine_may_have_its_serial_number(write: Write) -> None:
    recording = read(write(f"# engine serial: S1\n# engine serial 2: S2\n{TEXT}"))
    assert [recording.identity.serial_of(n) for n in (1, 2, 3)] == ["S1", "S2", None]
    entered = with_entered(recording, engine_serials=[(2, "S9"), (3, "S3")])
    assert [entered.identity.serial_of(n) for n in (1, 2, 3)] == ["S1", "S9", "S3"]
    assert read(write(f"# engine-serial-1: S1\n{TEXT}")).identity.engine_serial == "S1"
