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
