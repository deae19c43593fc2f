"""What was recorded. Import the value types from here; the readers load when they are called."""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike

from debrief.recording.model import Channel, Identity, Provenance, QualityFlag, Recording
from debrief.words.channels import CANONICAL

__all__ = ["CANONICAL", "Channel", "Identity", "Provenance", "QualityFlag", "Recording", "read"]


def read(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Recording:
    """Read one recording; see `debrief.recording.reader.read`, which this calls.

    The reader and what it needs (pandas, pyarrow) are imported at the first call, so that importing the
    value types stays light.
    """
    from debrief.recording.reader import read as _read

    return _read(path, maps=maps, rate_hz=rate_hz, remembered=remembered)
