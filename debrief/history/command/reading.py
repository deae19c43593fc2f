"""How the history's commands read and assess a file: with the options of ``debrief assess``."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment, StarterRun
    from debrief.history.storage.store import Store
    from debrief.recording.model import Recording


def add_reading(parser: argparse.ArgumentParser) -> None:
    """Add what says how to read a recording and what to hold it against, as ``debrief assess`` takes it."""
    group = parser.add_argument_group("reading, as for debrief assess")
    group.add_argument("--profile", metavar="NAME|PATH", help="the engine profile")
    group.add_argument(
        "--map",
        dest="maps",
        action="append",
        default=[],
        metavar="CH=COLUMN[:UNIT]",
        help="take a channel from a column; none=COLUMN: it is not used",
    )
    group.add_argument("--rate", type=_rate, metavar="HZ", help="rows per second, for a file without times")
    group.add_argument("--aircraft", metavar="A", help="registration of the aircraft")
    group.add_argument("--engine-serial", metavar="S", help="serial number of the engine")
    group.add_argument("--start", metavar="ISO", help="when it began, as 2031-05-04T09:30")
    group.add_argument(
        "--altimeter", metavar="SETTING", help="altimeter setting, as 1013 (hPa) or 29.92 (inHg)"
    )
    group.add_argument("--remembered", action="store_true", help="use the column maps that were remembered")


def _rate(text: str) -> float:
    try:
        rate = float(text)
    except ValueError:
        rate = 0.0
    if not 0 < rate < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of rows per second above 0")
    return rate


def instant(text: str) -> datetime:
    """Return the instant that an argument tells."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date such as 2031-05-04T09:30") from None


def assessed(path: str, options: argparse.Namespace, store: Store | None = None) -> Assessment:
    """Return the assessment of a file; with a store, earlier starter runs that it knows enter the duty."""
    from debrief.session.assessing.file_assessment import Choices, assess_recording, read_recording

    choices = Choices(
        profile=options.profile,
        maps=tuple(options.maps),
        rate_hz=options.rate,
        aircraft=options.aircraft,
        engine_serial=options.engine_serial,
        start_iso=options.start,
        altimeter=options.altimeter,
        remembered=options.remembered,
    )
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
