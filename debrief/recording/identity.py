"""Whose recording it is: what the preamble tells, and what a person enters."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from debrief.errors import UserError
from debrief.recording.dialect import Dialect
from debrief.recording.model import Identity, Recording
from debrief.recording.stamp import NS, read_stamp

AIRCRAFT_KEYS = ("aircraft", "aircraft-id", "registration", "tail-number", "tail")
SERIAL_KEYS = ("engine-serial", "engine-serial-number", "engine-sn", "esn", "engine-s/n")
MODEL_KEYS = ("engine-model", "engine-type", "engine")
PROFILE_KEYS = ("engine-profile",)
START_KEYS = ("start", "start-time", "recording-start")


def instant(text: str) -> datetime | None:
    """Return an instant written in ISO 8601, aware where it has an offset; None where it is none.

    A bare date is none: it does not tell when.
    """
    stamp = read_stamp(text)
    if stamp is None or stamp.day is None or stamp.decimals == -2:
        return None
    seconds, part = divmod(stamp.nanoseconds, NS)
    start = datetime(stamp.day.year, stamp.day.month, stamp.day.day, tzinfo=stamp.zone)
    return start + timedelta(seconds=seconds, microseconds=part // 1000)


def from_preamble(dialect: Dialect) -> tuple[Identity, str | None, list[str]]:
    """Return the identity and the profile's name that the preamble tells, and what could not be read."""
    questions: list[str] = []
    aircraft, serial = dialect.value(*AIRCRAFT_KEYS), dialect.value(*SERIAL_KEYS)
    told = dialect.value(*START_KEYS)
    start = instant(told) if told else None
    if told and start is None:
        questions.append(f'the preamble\'s start "{told}" is not an ISO 8601 date and time; it was not used')
    identity = Identity(
        aircraft=aircraft,
        aircraft_source="preamble" if aircraft else None,
        engine_serial=serial,
        engine_serial_source="preamble" if serial else None,
        start=start,
        start_source="preamble" if start else None,
        engine_model=dialect.value(*MODEL_KEYS),
    )
    return identity, dialect.value(*PROFILE_KEYS), questions


def with_entered(
    recording: Recording,
    *,
    aircraft: str | None = None,
    engine_serial: str | None = None,
    start_iso: str | None = None,
    source: str = "option",
) -> Recording:
    """Return the recording with what a person says about it; what is None stays as it was.

    Parameters
    ----------
    recording : Recording
    aircraft, engine_serial : str, optional
    start_iso : str, optional
        Instant of the first sample, ISO 8601 with or without offset.
    source : str
        ``option`` for the command line, ``entered`` for the window.

    Raises
    ------
    UserError
        The start is not a date and time.
    """
    identity = recording.identity
    if aircraft is not None and aircraft.strip():
        identity = replace(identity, aircraft=aircraft.strip(), aircraft_source=source)
    if engine_serial is not None and engine_serial.strip():
        identity = replace(identity, engine_serial=engine_serial.strip(), engine_serial_source=source)
    if start_iso is not None and start_iso.strip():
        start = instant(start_iso.strip())
        if start is None:
            raise UserError(
                f'The start "{start_iso}" is not a date and time: write it like 2024-05-01T09:30:00+02:00.'
            )
        identity = replace(identity, start=start, start_source=source)
    return replace(recording, identity=identity)
