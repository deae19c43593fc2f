"""What is known of the time before a recording: starter runs that the history, a person or the file tells of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from debrief.analysis.model import EarlierRun, StarterRun
from debrief.errors import UserError
from debrief.recording.model import Recording
from debrief.words.durations import LONGEST_S, seconds_of

PREAMBLE_KEY = "starter-rest-before-s"
FIRST_START_TODAY_S = 8 * 3600.0
"""What "first start today" says of the rest before it: at least the night."""
_SAME_RUN = 0.1
"""A person rounds: a rest that was told within this share of that of the last run kept tells of that run."""


Rests = tuple[tuple[int, float | None], ...]


@dataclass(frozen=True)
class Known:
    """What is known of the time before a recording.

    Attributes
    ----------
    runs : tuple of StarterRun
        Of the engine's flights that are kept, with negative times.
    rest_s : float or None
        What a person said of this recording before, of every engine, [s].
    rests : tuple of (int, float or None)
        What a person said of one engine, by its number: it comes before what was said of every engine. None: that
        nobody knows.
    """

    runs: tuple[StarterRun, ...] = ()
    rest_s: float | None = None
    rests: Rests = ()


def nothing_known(recording: Recording) -> Known:
    """Return that nothing is known of the time before any recording."""
    return Known()


def rest_before(seconds: float, source: str = "entered") -> tuple[EarlierRun, ...]:
    """Return earlier runs that say only this: the starter had rested for `seconds` when the recording began.

    The run itself has no length, since nobody told one; only where it ended counts.
    """
    if not 0 <= seconds < LONGEST_S:
        raise UserError("The rest of the starter before the recording must be a length of time, 0 or more.")
    return (EarlierRun(-seconds, -seconds, 0.0, 0.0, 0.0, "unknown", source=source),)


def runs_before(
    recording: Recording, known: Sequence[StarterRun] = (), rest_s: float | None = None, rests: Rests = ()
) -> tuple[EarlierRun, ...]:
    """Return all that is known of the starter before a recording.

    Parameters
    ----------
    recording : Recording
        Its preamble may tell a rest.
    known : sequence of StarterRun
        Runs of flights that are kept.
    rest_s : float or None
        What a person said of every engine, [s]; it comes before what the preamble says.
    rests : tuple of (int, float or None)
        What a person said of one engine, [s]; see `Known`.

    Notes
    -----
    The later of two things known decides, since the earlier one cannot take it back: a person who says two hours
    is not believed against a flight of one hour ago, and a flight of yesterday says nothing against ten minutes.
    """
    runs = tuple(map(EarlierRun.of, known))
    of_engine = dict(rests)
    said = {number: of_engine.get(number, rest_s) for number in recording.engines}
    told_of_all = told_in(recording) if rest_s is None else rest_before(rest_s)
    if not runs and all(one == rest_s for one in said.values()):
        return told_of_all
    out = list(runs)
    for number, one in said.items():
        told = told_of_all if one == rest_s else told_in(recording) if one is None else rest_before(one)
        ends = [
            run.start_s if run.end_s is None else run.end_s for run in runs if run.engine in (None, number)
        ]
        last = max(ends, default=None)
        if told and (last is None or told[0].start_s * (1 + _SAME_RUN) > last):
            out.append(replace(told[0], engine=number))
    return tuple(sorted(out, key=lambda run: run.start_s))


def told_in(recording: Recording) -> tuple[EarlierRun, ...]:
    """Return what the file's preamble tells of earlier starter runs; empty when it tells nothing.

    A line ``# starter-rest-before-s: 86400`` says that the starter had been at rest for that long when the
    recording began.

    Raises
    ------
    UserError
        The line is there and holds no length of time.
    """
    for line in recording.provenance.preamble:
        key, found, value = line.lstrip("# \t").partition(":")
        if found and key.strip().lower() == PREAMBLE_KEY:
            try:
                seconds = seconds_of(value)
            except UserError as error:
                name = recording.provenance.file_name or "The recording"
                raise UserError(f"{name}, line '{PREAMBLE_KEY}': {error}") from None
            return rest_before(seconds, "preamble")
    return ()
