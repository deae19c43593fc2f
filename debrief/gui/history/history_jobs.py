"""What the history view does away from the event loop."""

from __future__ import annotations

from collections.abc import Generator
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.session.opening.opening_steps import Progress
from debrief.words.display_units import ShownUnits

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.service.history_service import Added, HistoryPage


def look_steps(
    assessment: Assessment | None, number: int, engine: str | None, units: ShownUnits
) -> Generator[None, None, HistoryPage]:
    """Read what is shown of an engine, or of all flights; yields between its parts."""
    yield None
    # The chart's module, and what measures are called, are loaded here too: on the event loop they would be felt.
    import debrief.gui.history.trend_chart  # noqa: F401
    from debrief.history.service.history_service import engine_names, look
    from debrief.session.texts.definitions import measure_title

    measure_title("peak_itt")
    yield None
    if assessment is None:
        return look(engine=engine, units=units)
    names = engine_names(assessment, first=number)
    return look(assessment.recording.provenance.sha256, engine, names, units)


def keep_steps(assessment: Assessment) -> Generator[None, None, tuple[str, str]]:
    """Keep a flight; returns its file's name and whether it was new."""
    yield None
    from debrief.history.service.history_service import keep

    return assessment.recording.provenance.file_name, keep(assessment)


def add_steps(paths: list[Path]) -> Generator[Progress, None, Added]:
    """Assess files and keep them; yields its progress and returns what became of them."""
    yield Progress("Adding to the history")
    from debrief.history.service.history_service import add_files

    return (yield from add_files(paths))
