"""How the history's commands read and assess a file: with the options of ``debrief assess``."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING

from debrief.errors import UserError

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment, StarterRun
    from debrief.history.store import Store
    from debrief.profile.model import EngineProfile
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
        help="take a channel from a column",
    )
    group.add_argument("--rate", type=_rate, metavar="HZ", help="rows per second, for a file without times")
    group.add_argument("--aircraft", metavar="A", help="registration of the aircraft")
    group.add_argument("--engine-serial", metavar="S", help="serial number of the engine")
    group.add_argument("--start", metavar="ISO", help="when it began, as 2031-05-04T09:30")
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


def _read(path: str, options: argparse.Namespace) -> Recording:
    from debrief.recording import read

    remembered = None
    if options.remembered:
        from debrief.recording.remembered import Remembered

        remembered = Remembered()
    recording = read(path, maps=options.maps, rate_hz=options.rate, remembered=remembered)
    if options.aircraft is None and options.engine_serial is None and options.start is None:
        return recording
    from debrief.recording.identity import with_entered

    return with_entered(
        recording, aircraft=options.aircraft, engine_serial=options.engine_serial, start_iso=options.start
    )


def _profile_of(recording: Recording, named: str | None) -> EngineProfile | None:
    from debrief.profile.loader import find

    if named is not None:
        return find(named)
    if recording.profile_name is None:
        return None
    try:
        return find(recording.profile_name)
    except UserError as error:
        name = recording.provenance.file_name
        raise UserError(f"{name} names the engine profile {recording.profile_name!r}: {error}") from None


def assessed(path: str, options: argparse.Namespace, store: Store | None = None) -> Assessment:
    """Return the assessment of a file; with a store, earlier starter runs that it knows enter the duty."""
    from debrief.analysis import assess

    recording = _read(path, options)
    earlier = () if store is None else _earlier_runs(recording, store)
    return assess(recording, _profile_of(recording, options.profile), earlier)


def _earlier_runs(recording: Recording, store: Store) -> tuple[StarterRun, ...]:
    from debrief.history.measures import engine_key, start_epoch
    from debrief.history.series import earlier_runs

    epoch, _ = start_epoch(recording.identity.start)
    key = engine_key(recording.identity, 1, len(recording.engines))
    if epoch is None or key is None or len(recording.engines) > 1:
        return ()
    return earlier_runs(store, key, epoch)
