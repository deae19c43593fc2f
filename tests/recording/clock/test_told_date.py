"""A date that only the preamble tells: in several languages and forms, beside times of day, and where it cannot be used."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from debrief.recording.clock.told_date import month_of
from debrief.recording.model import Recording
from debrief.recording.reader import read

Write = Callable[..., Path]
CLOCK = ["10:14:00", "10:14:01", "10:14:03"]


def made(
    write: Write, preamble: str, times: list[str] = CLOCK, name: str = "Time", between: str = ","
) -> Recording:
    rows = [between.join((time, str(10 + i), str(20 + i), "0", "28")) for i, time in enumerate(times)]
    return read(
        write(
            "\n".join([preamble, between.join((name, "Ng (%)", "ITT (C)", "Torque (%)", "Bus (V)")), *rows])
            + "\n"
        )
    )


@pytest.mark.parametrize(
    ("preamble", "between"),
    [
        ("Datum;12.03.2031", ";"),
        ("Datum:;12.03.2031;;", ";"),
        ("Datum: 12.03.2031", ";"),
        ("# Datum: 12.03.2031", ";"),
        ("Messdatum;12. März 2031", ";"),
        ("Flugdatum;12. Maerz 2031", ";"),
        ("Date: 2031-03-12", ","),
        ("Date:,2031-03-12,Time:,09:58", ","),
        ('"Date","2031-03-12"', ","),
        ("Date,20310312", ","),
        ("Date,2031/03/12", ","),
        ("Flight date: 12-Mar-2031", ","),
        ("Recording date: March 12, 2031", ","),
        ("Date: 12 March 2031", ","),
        ("Date: 12.3.2031 11:58", ","),  # the time may be that of the export
        ("Date d'enregistrement: 12 mars 2031", ";"),
        ("Date du vol;12.03.2031", ";"),
        ("Jour;12.03.2031", ";"),
        ("Fecha: 12 de marzo de 2031", ";"),
        ("Fecha del vuelo;12.03.2031", ";"),
        ("Data: 12 marzo 2031", ";"),
        ("Data del volo;2031-03-12", ";"),
    ],
)
def test_a_preambles_date_is_that_of_the_first_row(preamble: str, between: str, write: Write) -> None:
    recording = made(write, preamble, between=between)
    assert recording.identity.start == datetime(2031, 3, 12, 10, 14)
    assert recording.channels["ng"].time_s.tolist() == [0, 1, 3]
    assert any("taken as that of the first row" in text for text in recording.provenance.decisions)
    assert not any("preamble" in text for text in recording.provenance.questions)


@pytest.mark.parametrize(
    ("preamble", "day"),
    [("Date: 13/03/2031", (3, 13)), ("Date: 03/13/2031", (3, 13)), ("Date: 03/03/2031", (3, 3))],
)
def test_between_slashes_a_date_that_reads_one_way_is_taken(
    preamble: str, day: tuple[int, int], write: Write
) -> None:
    assert made(write, preamble).identity.start == datetime(2031, *day, 10, 14)


@pytest.mark.parametrize(
    ("preamble", "why"),
    [
        ("Date: 03/04/2031", "could be 2031-04-03 or 2031-03-04"),
        ("Fecha;3-4-2031", "could be 2031-04-03 or 2031-03-04"),
        ("Datum: 12.03.31", "has a year of two digits"),
        ("Datum: 2000-01-01", "is where a clock begins that was not set"),
        ("Date: 2199-01-01", "is yet to come"),
        ("Date: 12 jui 2031", "is not a date that is known"),  # June or July
        ("Date: 31.02.2031", "is not a date that is known"),
    ],
)
def test_a_date_that_cannot_be_used_is_said_with_what_to_do(preamble: str, why: str, write: Write) -> None:
    recording = made(write, preamble)
    assert recording.identity.start is None
    (question,) = [text for text in recording.provenance.questions if "preamble" in text]
    assert why in question
    assert "it was not used: write it like 2024-05-01T09:30:00+02:00" in question


def test_beside_elapsed_times_a_date_does_not_tell_when(write: Write) -> None:
    for name, times in (
        ("Elapsed (s)", ["0", "1", "3"]),
        ("Time", ["0:00:00", "0:00:01", "0:00:03"]),
        ("Elapsed", CLOCK),
    ):
        recording = made(write, "Date: 2031-03-12", times, name)
        assert recording.identity.start is None
        (question,) = [text for text in recording.provenance.questions if "preamble" in text]
        assert "does not tell at what time the first row was" in question


def test_what_tells_more_wins_and_nothing_is_asked(write: Write) -> None:
    start = made(write, "Start: 2031-03-11T08:00:00\nDate: 12.03.2031 11:58", ["0", "1", "3"], "Elapsed (s)")
    assert start.identity.start == datetime(2031, 3, 11, 8)
    columns = read(
        write("Date: 2031-03-12\nDate,Time,Ng (%)\n2031-03-11,10:14:00,1\n2031-03-11,10:14:01,2\n")
    )
    assert columns.identity.start == datetime(2031, 3, 11, 10, 14)
    dated = made(write, "Date: 2031-03-12", ["2031-03-11T10:14:00", "2031-03-11T10:14:01"])
    assert dated.identity.start == datetime(2031, 3, 11, 10, 14)
    for recording in (start, columns, dated):
        assert not any("preamble" in text for text in recording.provenance.questions)


def test_midnight_and_the_zone_of_the_clock_count(write: Write) -> None:
    over = made(write, "Datum;12.03.2031", ["23:59:58", "23:59:59", "00:00:01"], "Time (UTC)", ";")
    assert over.identity.start == datetime(2031, 3, 12, 23, 59, 58, tzinfo=UTC)
    assert over.channels["ng"].time_s.tolist() == [0, 1, 3]


def test_nothing_that_is_no_date_is_asked_about(write: Write) -> None:
    for preamble in ("Day: 3", "Data: ok", "Aircraft:,ZZ-TRN", "Date:"):
        recording = made(write, preamble)
        assert recording.identity.start is None
        assert not any("preamble" in text for text in recording.provenance.questions)
    assert made(write, "Aircraft:,ZZ-TRN").identity.aircraft == "ZZ-TRN"


def test_a_column_called_data_holds_dates_only_where_its_cells_are(write: Write) -> None:
    dates = read(write("Data;Ora;Ng (%)\n12.03.2031;10:14:00;1\n12.03.2031;10:14:01;2\n"))
    assert dates.identity.start == datetime(2031, 3, 12, 10, 14)
    numbers = read(write("Time,Data,Ng (%)\n0,5,1\n1,6,2\n3,9,4\n"))
    assert numbers.unmapped["Data"].values.tolist() == [5, 6, 9]


@pytest.mark.parametrize(
    ("word", "month"),
    [("Jänner", 1), ("fév", 2), ("MÄRZ", 3), ("avr", 4), ("mai", 5), ("giu", 6), ("jul", 7), ("août", 8), ("set", 9),
     ("ott", 10), ("nov", 11), ("dez", 12), ("jui", None), ("ju", None), ("tag", None)],
)  # fmt: skip
def test_months_have_their_names_in_five_languages(word: str, month: int | None) -> None:
    assert month_of(word) == month
