"""How the history's commands read and assess a file: with the options of ``debrief assess``."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.storage.store import Store


def instant(text: str) -> datetime:
    """Return the instant that an argument tells."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date such as 2031-05-04T09:30") from None


def assessed(path: str, options: argparse.Namespace, store: Store) -> Assessment:
    """Return the assessment of a file, with what the engine's flights kept tell of the time before it."""
    from functools import partial

    from debrief.history.service.earlier_flights import keep_option, known_in
    from debrief.session.assessing.file_assessment import Choices, assess_knowing, read_as_remembered

    recording, choices = read_as_remembered(path, Choices.of(options))
    keep_option(recording, options.starter_rest)
    return assess_knowing(recording, choices, partial(known_in, store))[1]
