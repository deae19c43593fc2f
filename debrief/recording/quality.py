"""What is wrong or coarse in recorded data, as flags with a plain sentence each. Numbers only, no files."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from debrief.recording.model import Channel, FloatArray, QualityFlag


def resolution(values: FloatArray) -> float | None:
    """Return the smallest step that the values move in; None where they never move.

    Notes
    -----
    The smallest difference between neighbouring distinct values. Differences below 1e-9 of the value range
    are rounding noise.
    """
    distinct = np.unique(values)
    if distinct.size < 2:
        return None
    steps = np.diff(distinct)
    steps = steps[steps > 1e-9 * (distinct[-1] - distinct[0])]
    # Six digits: 0.1 read as 0.0999999 by subtraction is 0.1.
    return float(f"{steps.min():.6g}") if steps.size else None


def flags(channels: Mapping[str, Channel], duration_s: float) -> tuple[QualityFlag, ...]:
    """Return the quality flags of all channels in order of time."""
    return ()
