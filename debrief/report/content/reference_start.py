"""What a student's start is compared with: another start, or what is usual for the engine. Taken as values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from debrief.analysis.model import Assessment, Start
from debrief.errors import UserError
from debrief.report.content.phrases import outcome_words
from debrief.report.content.trend_pages import Usual
from debrief.words.remedies import advised, other_start

NONE_TO_COMPARE = (
    "No other start in this recording was completed with nothing found, and no other start was named, so "
    "there is none to compare with."
)
IS_THE_REFERENCE = "This is the reference start itself."

_FIELDS = {
    "ng_at_fuel": ("ng_at_fuel_pct", "%"),
    "residual_itt_fuel_on": ("residual_itt_c", "degC"),
    "peak_itt": ("peak_itt_c", "degC"),
    "min_bus_volts": ("min_bus_volts", "V"),
}
_MEASURES = ("fuel_to_light_off", "light_off_to_idle")


Values = Mapping[str, tuple[float, str]]
"""Measures with value and unit."""


@dataclass(frozen=True)
class Reference:
    """What a start is compared with.

    Attributes
    ----------
    values : mapping of str to (float, str)
        The value and unit of each measure that it has.
    said : str
        What it is, in a sentence that stands below the comparison.
    start : Start or None
        The start that it is; None for what is usual.
    assessment : Assessment or None
        Of the recording of that start.
    """

    values: Values
    said: str
    start: Start | None = None
    sha256: str = ""
    assessment: Assessment | None = None

    @property
    def column(self) -> str:
        """The title of its column beside the start."""
        return "normal" if self.start is None else "reference"


def parse_reference(text: str) -> tuple[str, int | None]:
    """Return (file, start number or None) of ``FILE`` or ``FILE:START``.

    Notes
    -----
    A file of that whole name comes first: names may hold a colon.

    Raises
    ------
    UserError
        The part behind the last colon is not the number of a start, and no file has the whole name.
    """
    file, colon, number = text.rpartition(":")
    if not colon or Path(text).exists():
        return text, None
    if number.isascii() and number.isdigit() and int(number) > 0:
        return file, int(number)
    if Path(file).exists():
        raise UserError(f"{text}: a start is given by its number, such as {file}:1.")
    return text, None


def same_recording(assessment: Assessment, start: Start) -> Reference | None:
    """Return another start of the same recording that was completed with nothing found; None without one."""
    for other in assessment.starts:
        if other.number != start.number and other.engine == start.engine and _is_clean(assessment, other):
            return _reference(
                assessment,
                other,
                f"Reference: start {other.number} of this recording, which was completed with nothing found in "
                "what was recorded.",
            )
    return None


def has_own_reference(assessment: Assessment) -> bool:
    """Whether a start of the recording has another of it to be compared with when none is named."""
    return any(same_recording(assessment, start) is not None for start in assessment.starts)


def other_recording(other: Assessment, number: int | None = None) -> Reference:
    """Return a start of another recording as the reference.

    Parameters
    ----------
    other : Assessment
        Of the recording that the user named.
    number : int, optional
        Which start; the first that was completed with nothing found when not given.

    Raises
    ------
    UserError
        There is no such start, or none was completed with nothing found.
    """
    name = other.recording.provenance.file_name
    if number is None:
        clean = [start for start in other.starts if _is_clean(other, start)]
        if not clean:
            raise UserError(
                advised(
                    "{file} has no start that was completed with nothing found: {how}.",
                    file=name,
                    how=other_start(name),
                )
                if other.starts
                else f"{name} has no start to compare with: name another recording."
            )
        start = clean[0]
    else:
        named = [start for start in other.starts if start.number == number]
        if not named:
            have = ", ".join(str(start.number) for start in other.starts) or "none"
            raise UserError(f"{name} has no start {number} to compare with; its starts: {have}.")
        start = named[0]
    return _reference(other, start, _said_of(other, start))


def usual_start(start: Start, usual: Sequence[Usual]) -> Reference | None:
    """Return the engine's usual start, as the history has it; None where the history was not asked.

    Notes
    -----
    Each measure is the median of the engine's own completed starts, with their number, as the comparison with
    the history holds it.
    """
    own = [line for line in usual if (line.engine, line.start_number) == (start.engine, start.number)]
    if not own:
        return None
    values: dict[str, tuple[float, str]] = {}
    counts = set()
    for line in own:
        if line.band.centre is not None and line.measure not in values:
            values[line.measure] = line.band.centre, line.unit
            counts.add(line.band.count)
    if not values:
        return Reference({}, f"This engine's usual start is not known. {own[0].band.words}")
    many = f"{min(counts)} to {max(counts)}" if len(counts) > 1 else str(min(counts))
    return Reference(
        values, f"Normal: the median of {many} of this engine's own completed starts. It is not a limit."
    )


def references_for(
    assessment: Assessment, start: Start, usual: Sequence[Usual], named: Reference | None
) -> tuple[Reference, ...]:
    """Return what a start is compared with: the start that was named, else one of its own flight; then the usual."""
    own = assessment.recording.provenance.sha256
    if named is not None and named.start is not None and named.sha256 == own:
        first: Reference | None = named
        if (named.start.number, named.start.engine) == (start.number, start.engine):
            first = Reference({}, IS_THE_REFERENCE, named.start, own)
    else:
        first = named or same_recording(assessment, start)
    found = (first, usual_start(start, usual))
    return tuple(one for one in found if one is not None)


def _is_clean(assessment: Assessment, start: Start) -> bool:
    return start.outcome == "completed" and not _found(assessment, start)


def _found(assessment: Assessment, start: Start) -> int:
    return sum(
        event.start_number == start.number and event.engine == start.engine for event in assessment.events
    )


def values_of(assessment: Assessment, start: Start) -> Values:
    """Return the measures of a start by which it is compared, as far as they are known."""
    shown = assessment.units
    values = {name: (getattr(start, field), shown.of(unit)) for name, (field, unit) in _FIELDS.items()}
    for name, measure in start.measures.items():
        if name in _MEASURES or name.startswith("time_above_"):
            values[name] = (measure.value, measure.unit)
    return {name: (value, unit) for name, (value, unit) in values.items() if value is not None}


def _reference(assessment: Assessment, start: Start, said: str) -> Reference:
    sha256 = assessment.recording.provenance.sha256
    return Reference(values_of(assessment, start), said, start, sha256, assessment)


def _said_of(other: Assessment, start: Start) -> str:
    """Return what the named start is, and that something was found in it where that is so."""
    who = other.recording.identity.serial_of(start.engine)
    engine = f", engine {who}" if who else ""
    out = f"Reference: start {start.number} of {other.recording.provenance.file_name}{engine}"
    count = _found(other, start)
    if start.outcome == "completed" and not count:
        return f"{out}, which was completed with nothing found in what was recorded."
    many = "nothing" if not count else "1 thing" if count == 1 else f"{count} things"
    return f"{out}, whose outcome was: {outcome_words(start).lower()}, with {many} found in it."
