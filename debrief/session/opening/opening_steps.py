"""Opening a file: read it, find its profile, assess it, prepare the views; step by step, with progress."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from debrief.recording.model import Recording
from debrief.session.assessing import file_assessment
from debrief.session.assessing.file_assessment import Choices
from debrief.session.assessing.starter_rest import Known, nothing_known
from debrief.session.opening.worker_thread import apart
from debrief.session.session import Session, prepare
from debrief.session.texts.definitions import definition_of
from debrief.session.texts.in_units import in_units
from debrief.session.time.first_view import first_engine
from debrief.steps import relayed
from debrief.words.display_units import ShownUnits


@dataclass(frozen=True)
class Progress:
    """How far a long job is: `fraction` 0 to 1, or None where it cannot be told."""

    message: str
    fraction: float | None = None


def reading_progress(file: Path) -> Callable[[float], Progress]:
    """Return what shows how far the reading of a file is, which is most of its opening."""
    return lambda share: Progress(f"Reading {file.name}", 0.7 * min(max(share, 0.0), 1.0))


def open_recording(
    path: Path | str,
    *,
    profile: str | None = None,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    known: Callable[[Recording], Known] = nothing_known,
) -> Generator[Progress, None, Session]:
    """Open a recording; yields its progress and returns the session.

    Parameters
    ----------
    path : path
        The file.
    profile : str, optional
        Name or path of an engine profile; the one that the file's preamble names when not given.
    maps : sequence of str
        Column choices, as the command line takes them.
    rate_hz : float, optional
        Samples a second, for a file without a time column, [Hz].
    known : callable
        What is known of the time before it; see `assess_recording`.

    Raises
    ------
    UserError
        What is wrong with the file or the profile, worded for the user.
    """
    # Imported here: reading needs libraries that the empty window does without.
    from debrief.recording.reader import read_steps

    file = Path(path)
    yield Progress(f"Reading {file.name}", 0.0)
    steps = read_steps(file, maps=maps, rate_hz=rate_hz)
    recording = yield from relayed(steps, reading_progress(file))
    return (yield from assess_recording(file, recording, Choices(profile, tuple(maps), rate_hz), known))


def assess_recording(
    path: Path,
    recording: Recording,
    choices: Choices | None = None,
    known: Callable[[Recording], Known] = nothing_known,
) -> Generator[Progress, None, Session]:
    """Assess a recording that is already read; yields its progress and returns the session.

    `known` tells what is known of the time before it; it may read the history.
    """
    choices = choices if choices is not None else Choices()
    assess = partial(file_assessment.assess_knowing, recording, choices, known)
    choices, assessment = yield from apart(assess, Progress("Assessing", 0.75))
    engine = first_engine(assessment)
    prepared = yield from apart(partial(prepare, assessment, engine), Progress("Preparing the picture", 0.9))
    # Read here, once, and not when the first view asks for a title.
    definition_of("")
    yield Progress("Ready", 1.0)
    return Session(path, assessment, prepared, engine, source=recording, choices=choices)


def show_engine(session: Session, engine: int) -> Generator[Progress, None, Session]:
    """Prepare the views of another engine of an open recording; yields its progress."""
    work = partial(prepare, session.assessment, engine)
    prepared = yield from apart(work, Progress(f"Preparing engine {engine}"))
    return Session(
        session.path,
        session.assessment,
        prepared,
        engine=engine,
        source=session.source,
        choices=session.choices,
    )


def show_units(session: Session, units: ShownUnits) -> Generator[Progress, None, Session]:
    """Show an open recording in other units, where the reader is; yields its progress.

    Nothing is read or judged again.
    """
    shown = in_units(session.assessment.canonical, units)
    if shown.units == session.assessment.units:
        return session
    work = partial(prepare, shown, session.engine)
    prepared = yield from apart(work, Progress("Preparing the units"))
    out = Session(
        session.path,
        shown,
        prepared,
        engine=session.engine,
        source=session.source,
        choices=session.choices,
    )
    out.playback.seek(session.playback.position_s)
    out.framing.frame(session.framing.begin_s, session.framing.end_s)
    return out
