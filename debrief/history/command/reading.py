"""How the history's commands read and assess a file: with the options of ``debrief assess``."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment, StarterRun
    from debrief.history.storage.store import Store
    from debrief.recording.model import Recording


def instant(text: str) -> datetime:
    """Return the instant that an argument tells."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date such as 2031-05-04T09:30") from None


def assessed(path: str, options: argparse.Namespace, store: Store | None = None) -> Assessment:
    """Return the assessment of a file; with a store, earlier starter runs that it knows enter the duty."""
    from debrief.session.assessing.file_assessment import Choices, assess_recording, read_recording

    choices = Choices.of(options)
    recording = read_recording(path, choices)
    return assess_recording(recording, choices, () if store is None else _earlier_runs(recording, store))


def _earlier_runs(recording: Recording, store: Store) -> tuple[StarterRun, ...]:
    from debrief.history.measures import engine_key, start_epoch
    from debrief.history.trends.series import earlier_runs

    epoch, _ = start_epoch(recording.identity.start)
    key = engine_key(recording.identity, 1, len(recording.engines))
    if epoch is None or key is None or len(recording.engines) > 1:
        return ()
    return earlier_runs(store, key, epoch)
