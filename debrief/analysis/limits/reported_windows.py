"""The windows of a limit as they are told: when it applied, with the bounds of each edge."""

from __future__ import annotations

import numpy as np

from debrief.analysis.limits.applicability import Scope
from debrief.analysis.model import LimitWindow
from debrief.analysis.signal.interval_sets import Window

MOST_TOLD = 1000
"""A condition that flickers makes no longer list than this: its shortest breaks are told as bridged."""


def windows_told(scope: Scope) -> tuple[LimitWindow, ...]:
    """Return when the limit applied, in time order; nothing where that is not known at all."""
    out = [w for number, window in scope.units for w in _told(number, window)]
    return tuple(sorted(out, key=lambda w: w.start_s))


def _told(number: int | None, window: Window) -> list[LimitWindow]:
    rows = window.rows
    if len(rows) > MOST_TOLD:
        breaks = rows[1:, 0] - rows[:-1, 1]
        kept = np.sort(np.argsort(breaks, kind="stable")[len(rows) - MOST_TOLD :])
        rows = np.column_stack((rows[np.append(0, kept + 1), 0], rows[np.append(kept, len(rows) - 1), 1]))
    out = []
    before = -np.inf
    for k, (begin, end) in enumerate(rows.tolist()):
        after = float(rows[k + 1, 0]) if k + 1 < len(rows) else np.inf
        wide = window.outer[(window.outer[:, 0] <= begin) & (window.outer[:, 1] >= end)]
        sure = window.inner[(window.inner[:, 0] >= begin) & (window.inner[:, 1] <= end)]
        out.append(
            LimitWindow(
                start_s=begin,
                end_s=end,
                # Where two windows may be one, each reaches no farther than to the other.
                start_low_s=max(float(wide[0, 0]), before) if len(wide) else begin,
                start_high_s=float(sure[0, 0]) if len(sure) else None,
                end_low_s=float(sure[-1, 1]) if len(sure) else None,
                end_high_s=min(float(wide[-1, 1]), after) if len(wide) else end,
                start_number=number,
            )
        )
        before = end
    return out
