"""Reading a CSV recording: the one way in, from a path to a `Recording`."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from os import PathLike
from typing import TypeVar, cast

from debrief.errors import UserError
from debrief.recording.assembly import assemble, match_table
from debrief.recording.body import table_steps
from debrief.recording.csv.dialect import Dialect
from debrief.recording.matching.maps import parse_maps
from debrief.recording.matching.proposals import Proposal
from debrief.recording.model import Recording

Result = TypeVar("Result")


@dataclass(frozen=True)
class Examination:
    """A file read, with everything that a person may want to check or correct before using it.

    Attributes
    ----------
    recording : Recording or None
        None where something must be settled first; then `problem` says what.
    dialect : Dialect
        With the head's rows for a preview.
    proposals : tuple of Proposal
        One per column.
    problem : str
    """

    recording: Recording | None
    dialect: Dialect
    proposals: tuple[Proposal, ...]
    problem: str = ""


def read(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Recording:
    """Return the recording that a CSV file holds.

    Parameters
    ----------
    path : str or path-like
        A CSV file, ``.csv.gz``, or a zip with a single CSV; opened read-only.
    maps : sequence of str
        ``CHANNEL=COLUMN[:UNIT]``, see `debrief.recording.matching.maps.parse_maps`.
    rate_hz : float, optional
        Samples per second, for a file without a time column, [Hz].
    remembered : mapping of str to sequence of str, optional
        Maps by header signature (`Provenance.header_signature`); used for channels that `maps` leaves open.

    Returns
    -------
    Recording
        Channels in canonical units with their own sample times, strictly increasing from 0, and the whole
        provenance. What was unsure is unmapped and asked in ``provenance.questions``.

    Raises
    ------
    UserError
        One sentence that says what is wrong, where, and what to do.
    """
    return finished(read_steps(path, maps=maps, rate_hz=rate_hz, remembered=remembered))


def finished(steps: Generator[float, None, Result]) -> Result:
    """Take all steps and return what comes of them."""
    while True:
        try:
            next(steps)
        except StopIteration as stop:
            return cast(Result, stop.value)


def read_steps(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Generator[float, None, Recording]:
    """Read as `read` does, yielding the progress from 0 to 1; it can be given up at every yield."""
    read_table = yield from table_steps(path)
    steps = assemble(read_table, maps, rate_hz, remembered)
    while True:
        try:
            yield 0.9 + 0.1 * next(steps)
        except StopIteration as stop:
            recording: Recording = stop.value[0]
            break
    yield 1.0
    return recording


def examine(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Examination:
    """Return the file with a proposal for each column, also where it cannot be used yet.

    Raises
    ------
    UserError
        The file cannot be read as a table at all, or a map is wrong.
    """
    read_table = finished(table_steps(path))
    dialect, table = read_table.dialect, read_table.table
    parse_maps(maps, dialect.names)
    try:
        recording, matching = finished(assemble(read_table, maps, rate_hz, remembered))
    except UserError as error:
        matching = finished(match_table(dialect, table, parse_maps(maps, dialect.names), {}))
        return Examination(None, dialect, matching.proposals, str(error))
    return Examination(recording, dialect, matching.proposals)
