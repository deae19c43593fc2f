"""From a file to an assessment, the same way for the window, the command line and the history."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from os import PathLike
from typing import TYPE_CHECKING

from debrief.analysis import assess
from debrief.analysis.model import Assessment, StarterRun
from debrief.errors import UserError
from debrief.session.assessing.starter_rest import Known, Rests, runs_before
from debrief.words.asked import Asked, Doubt
from debrief.words.remedies import advised, whose_options

if TYPE_CHECKING:
    import argparse

    from debrief.profile.model import EngineProfile
    from debrief.recording.model import Recording


@dataclass(frozen=True)
class Choices:
    """What the user says about a file and how to judge it; everything may be left out.

    Attributes
    ----------
    profile : str or None
        Name or path; the one that the file's preamble names when None.
    maps : tuple of str
        Column choices, ``CHANNEL=COLUMN[:UNIT]``.
    rate_hz : float or None
        Rows per second of a file without times, [Hz].
    aircraft, engine_serial, start_iso : str or None
        Whose recording it is and when it began, entered by the user.
    engine_serials : tuple of (int, str)
        Serial numbers of further engines, each with the engine's number.
    altimeter : str or None
        The altimeter setting of the recorded altitude, in hPa or inHg, entered by the user.
    remembered : bool
        Whether what was remembered for this header may be used.
    remembered_on : str
        The day on which that was remembered, as 2031-05-04; empty where none is known.
    starter_rest_s : float or None
        How long the starter of every engine had rested when the recording began, [s]; None when not told.
    starter_rests : tuple of (int, float or None)
        The same of one engine, by its number: it comes before that of every engine. None: nobody knows.
    """

    profile: str | None = None
    maps: tuple[str, ...] = ()
    rate_hz: float | None = None
    aircraft: str | None = None
    engine_serial: str | None = None
    start_iso: str | None = None
    remembered: bool = False
    starter_rest_s: float | None = None
    starter_rests: Rests = ()
    altimeter: str | None = None
    engine_serials: tuple[tuple[int, str], ...] = ()
    remembered_on: str = ""

    @classmethod
    def of(cls, options: argparse.Namespace) -> Choices:
        """Return what the options of `debrief.arguments.add_reading` say."""
        from debrief.recording.identity import serial_told

        serials = dict(map(serial_told, options.engine_serial))
        rests = {engine: None if math.isnan(rest) else rest for engine, rest in options.starter_rest}
        return cls(
            profile=options.profile,
            maps=tuple(options.maps),
            rate_hz=options.rate,
            aircraft=options.aircraft,
            engine_serial=serials.pop(1, None),
            engine_serials=tuple(serials.items()),
            start_iso=options.start,
            remembered=options.remembered,
            starter_rest_s=rests.get(None),
            starter_rests=tuple((engine, rest) for engine, rest in rests.items() if engine is not None),
            altimeter=options.altimeter,
        )

    def knowing(self, known: Known) -> Choices:
        """Return these, with the rest that the user told before where none is told now."""
        if self.starter_rest_s is not None:
            return self
        rests = {**dict(known.rests), **dict(self.starter_rests)}
        return replace(self, starter_rest_s=known.rest_s, starter_rests=tuple(rests.items()))

    def rest_of(self, engine: int) -> float | None:
        """Return how long the starter of an engine had rested, [s], as the user said; None when not told."""
        return dict(self.starter_rests).get(engine, self.starter_rest_s)

    def with_rest(self, engine: int | None, seconds: float | None) -> Choices:
        """Return these with what the user says of one engine, or of every engine where none is named."""
        if engine is None:
            return replace(self, starter_rest_s=seconds, starter_rests=())
        rests = {**dict(self.starter_rests), engine: seconds}
        return replace(self, starter_rests=tuple(sorted(rests.items())))


def read_recording(path: str | PathLike[str], choices: Choices = Choices()) -> Recording:
    """Return the recording, read as the choices say.

    Raises
    ------
    UserError
        What is wrong with the file or a choice.
    """
    from debrief.recording.reader import read

    remembered = None
    if choices.remembered:
        from debrief.recording.matching.remembered import Remembered

        remembered = Remembered()
    recording = read(path, maps=choices.maps, rate_hz=choices.rate_hz, remembered=remembered)
    return entered(recording, choices)


def read_as_remembered(path: str | PathLike[str], choices: Choices) -> tuple[Recording, Choices]:
    """Return the recording, and the choices with what is remembered for its kind of file where that may be used.

    What is used without being told is said in the decisions. Aircraft and engine may be others this time: they are
    only offered, as a question.

    Raises
    ------
    UserError
        What is wrong with the file or a choice.
    """
    recording = read_recording(path, choices)
    if not choices.remembered:
        return recording, choices
    from debrief.recording.matching.remembered import Remembered

    provenance, who = recording.provenance, recording.identity
    kept = Remembered().kept(provenance.header_signature)
    since = f"as is remembered since {kept.on}" if kept.on else "as is remembered"
    decisions, questions = list(provenance.decisions), list(provenance.questions)
    if kept.rate_hz is not None and choices.rate_hz is None and provenance.time_column is None:
        decisions.append(f"{kept.rate_hz:g} samples per second, {since}")
    if kept.profile is not None and choices.profile is None and recording.profile_name is None:
        choices = replace(choices, profile=kept.profile)
        decisions.append(f'the engine profile is "{kept.profile}", {since}')
    aircraft = None if who.aircraft else kept.aircraft
    serials = dict(kept.engine_serials) | ({} if kept.engine_serial is None else {1: kept.engine_serial})
    serials = {engine: serial for engine, serial in serials.items() if not who.serial_of(engine)}
    if aircraft or serials:
        said = ", ".join([*([aircraft] if aircraft else []), *serials.values()])
        parts = (f"whose recording this is was not told; {said} is remembered and was not used",)
        ways = whose_options(aircraft, serials)
        questions.append(Asked(Doubt("whose", parts, "", (), f", if it is the same: {ways}")))
    provenance = replace(provenance, decisions=tuple(decisions), questions=tuple(questions))
    return replace(recording, provenance=provenance), choices


def entered(recording: Recording, choices: Choices) -> Recording:
    """Return the recording with the identity that the user entered, if any."""
    given = (choices.aircraft, choices.engine_serial, choices.start_iso, choices.altimeter)
    if all(x is None for x in given) and not choices.engine_serials:
        return recording
    from debrief.recording.identity import with_entered

    return with_entered(
        recording,
        aircraft=choices.aircraft,
        engine_serial=choices.engine_serial,
        engine_serials=choices.engine_serials,
        start_iso=choices.start_iso,
        altimeter=choices.altimeter,
    )


def profile_of(recording: Recording, named: str | None) -> EngineProfile | None:
    """Return the profile that was asked for, else the one that the file names, else None: never a default.

    Raises
    ------
    UserError
        There is no such profile, or it is not sound.
    """
    from debrief.profile.loader import find, find_named

    if named is not None:
        return find(named)
    if recording.profile_name is None:
        return None
    try:
        return find_named(recording.profile_name)
    except UserError as error:
        name = recording.provenance.file_name
        words = "{file} names the engine profile {name}: {why}"
        raise UserError(
            advised(words, file=name, name=repr(recording.profile_name), why=error.said)
        ) from None


def assess_recording(
    recording: Recording,
    choices: Choices = Choices(),
    known_runs: Sequence[StarterRun] = (),
    between: Callable[[], None] = lambda: None,
) -> Assessment:
    """Return the assessment of a recording; `between` is called now and then, and what it raises ends it.

    Earlier starter runs are those of the flights kept (`known_runs`), and what the user, else the file's preamble,
    says of the rest; see `runs_before`.
    """
    earlier = runs_before(recording, known_runs, choices.starter_rest_s, choices.starter_rests)
    return assess(recording, profile_of(recording, choices.profile), earlier, between)


def assess_knowing(
    recording: Recording,
    choices: Choices,
    known: Callable[[Recording], Known],
    between: Callable[[], None] = lambda: None,
) -> tuple[Choices, Assessment]:
    """Return the assessment of a recording with what is `known` of the time before it, and the choices as they were used."""
    found = known(recording)
    used = choices.knowing(found)
    return used, assess_recording(recording, used, found.runs, between)


def assess_file(path: str | PathLike[str], choices: Choices = Choices()) -> Assessment:
    """Return the assessment of a file."""
    return assess_recording(read_recording(path, choices), choices)
