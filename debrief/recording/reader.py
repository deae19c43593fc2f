"""Reading a CSV recording: the one way in, from a path to a `Recording`."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from os import PathLike

from debrief.recording.assembly import assemble
from debrief.recording.body import table_steps
from debrief.recording.model import Recording
from debrief.steps import done, relayed


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
    return done(read_steps(path, maps=maps, rate_hz=rate_hz, remembered=remembered))


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
    recording, _ = yield from relayed(steps, lambda share: 0.9 + 0.1 * share)
    yield 1.0
    return recording
