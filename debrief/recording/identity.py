"""Whose recording it is: what the preamble tells, and what a person enters."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from debrief.errors import UserError
from debrief.recording.clock.start_dates import impossible, not_a_start
from debrief.recording.clock.time_cell import NS, read_stamp
from debrief.recording.csv.dialect import Dialect
from debrief.recording.model import Identity, Recording
from debrief.words.shortened import shortened
from debrief.words.visible import visible

AIRCRAFT_KEYS = ("aircraft", "aircraft-id", "registration", "tail-number", "tail")
SERIAL_KEYS = ("engine-serial", "engine-serial-number", "engine-sn", "esn", "engine-s/n")
ENGINES = (1, 2, 3, 4)
MODEL_KEYS = ("engine-model", "engine-type", "engine")
PROFILE_KEYS = ("engine-profile",)
START_KEYS = ("start", "start-time", "recording-start")
SETTING_KEYS = ("altimeter-setting", "altimeter", "qnh")
SETTINGS = {"hpa": (1.0, 850.0, 1100.0), "mb": (1.0, 850.0, 1100.0), "inhg": (33.86389, 25.0, 32.5)}
"""Factor to hPa (NIST SP 811), and the range in which a setting lies: the lowest and highest sea-level pressures on
record lie inside, and the ranges of the units lie apart, so that a number alone tells its unit."""

MAX_NAME = 120


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


HOW_TO_WRITE = "write it like 2024-05-01T09:30:00+02:00"


def start_problem(text: str) -> str:
    """Return why a text cannot be when a recording began, as the end of a sentence; empty where it can."""
    start = instant(text)
    if start is None:
        return "is not a date and time"
    return not_a_start(text) or impossible(start.date())


def altimeter_setting(text: str) -> tuple[float, float] | None:
    """Return an altimeter setting and the step in which it is told, [hPa]; None where the text is none.

    A number with hPa, mb or inHg, or one alone: 25 to 32.5 is in inHg, 850 to 1100 in hPa.
    """
    found = re.fullmatch(r"\s*(\d{2,4})(?:[.,](\d+))?\s*(hpa|mb|mbar|inhg|in)?\s*", text, re.IGNORECASE)
    if found is None:
        return None
    whole, part, unit = found.group(1), found.group(2) or "", (found.group(3) or "").lower()
    value = float(f"{whole}.{part or 0}")
    unit = {"mbar": "mb", "in": "inhg"}.get(unit, unit)
    for name, (factor, low, high) in SETTINGS.items():
        if unit in ("", name) and low <= value <= high:
            return value * factor, factor * 10.0 ** -len(part)
    return None


def serial_told(text: str) -> tuple[int, str]:
    """Return the engine and the serial number of ``2=S123``; a plain one is that of engine 1.

    Examples
    --------
    >>> serial_told("2=S123"), serial_told("S123")
    ((2, 'S123'), (1, 'S123'))
    """
    found = re.fullmatch(r"\s*([1-4])\s*=\s*(.+)", text)
    return (int(found[1]), found[2].strip()) if found else (1, text)


def name_of(text: str) -> str:
    """Return the name of an aircraft, an engine or a model as it is shown: of one that is far too long the ends."""
    return shortened(visible(text.strip()), MAX_NAME)


def from_preamble(dialect: Dialect) -> tuple[Identity, str | None, list[str]]:
    """Return the identity and the profile's name that the preamble tells, and what could not be read."""
    questions: list[str] = []
    aircraft, serial, model = (
        None if told is None else name_of(told)
        for told in (dialect.value(*keys) for keys in (AIRCRAFT_KEYS, SERIAL_KEYS, MODEL_KEYS))
    )
    told = dialect.value(*START_KEYS)
    problem = start_problem(told) if told else ""
    start = instant(told) if told and not problem else None
    if problem:
        questions.append(f'the preamble\'s start "{told}" {problem}; it was not used: {HOW_TO_WRITE}')
    set_to = dialect.value(*SETTING_KEYS)
    setting = altimeter_setting(set_to) if set_to else None
    if set_to and setting is None:
        questions.append(
            f'the preamble\'s altimeter setting "{set_to}" is not one in hPa or inHg; it was not used'
        )
    of_engine = {n: dialect.value(*(f"{key}-{n}" for key in SERIAL_KEYS)) for n in ENGINES}
    serial = serial or (None if of_engine[1] is None else name_of(of_engine[1]))
    identity = Identity(
        aircraft=aircraft,
        aircraft_source="preamble" if aircraft else None,
        engine_serial=serial,
        engine_serial_source="preamble" if serial else None,
        engine_serials={str(n): name_of(told) for n, told in of_engine.items() if told and n > 1},
        start=start,
        start_source="preamble" if start else None,
        engine_model=model,
        altimeter_setting_hpa=None if setting is None else setting[0],
        altimeter_setting_step_hpa=1.0 if setting is None else setting[1],
        altimeter_setting_source=None if setting is None else "preamble",
    )
    return identity, dialect.value(*PROFILE_KEYS), questions


def with_entered(
    recording: Recording,
    *,
    aircraft: str | None = None,
    engine_serial: str | None = None,
    engine_serials: Sequence[tuple[int, str]] = (),
    start_iso: str | None = None,
    altimeter: str | None = None,
    source: str = "option",
) -> Recording:
    """Return the recording with what a person says about it; what is None stays as it was.

    Parameters
    ----------
    recording : Recording
    aircraft, engine_serial : str, optional
    engine_serials : sequence of (int, str)
        Serial numbers of further engines, each with the engine's number.
    start_iso : str, optional
        Instant of the first sample, ISO 8601 with or without offset.
    altimeter : str, optional
        The altimeter setting, in hPa or inHg.
    source : str
        ``option`` for the command line, ``entered`` for the window.

    Raises
    ------
    UserError
        The start is no date and time, reads two ways or cannot be, or the setting is none.
    """
    identity = recording.identity
    if aircraft is not None and aircraft.strip():
        identity = replace(identity, aircraft=name_of(aircraft), aircraft_source=source)
    if engine_serial is not None and engine_serial.strip():
        identity = replace(identity, engine_serial=name_of(engine_serial), engine_serial_source=source)
    further = {str(n): name_of(text) for n, text in engine_serials if text.strip()}
    if further:
        identity = replace(identity, engine_serials={**identity.engine_serials, **further})
    if start_iso is not None and start_iso.strip():
        problem = start_problem(start_iso.strip())
        if problem:
            raise UserError(f'The start "{start_iso}" {problem}: {HOW_TO_WRITE}.')
        start = instant(start_iso.strip())
        identity = replace(identity, start=start, start_source=source)
    if altimeter is not None and altimeter.strip():
        setting = altimeter_setting(altimeter)
        if setting is None:
            raise UserError(
                f'The altimeter setting "{altimeter}" is none: write it in hPa or inHg, like 1013 or 29.92.'
            )
        identity = replace(
            identity,
            altimeter_setting_hpa=setting[0],
            altimeter_setting_step_hpa=setting[1],
            altimeter_setting_source=source,
        )
    return replace(recording, identity=identity)
