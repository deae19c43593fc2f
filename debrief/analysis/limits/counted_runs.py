"""The one counter of seconds beyond a level: what was counted of it, kept for all who tell or draw it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from debrief.analysis.model import CountedRuns
from debrief.analysis.signal.exceedance import LEAST_SHARE, Above, in_start, run_edges, stretches_above
from debrief.analysis.signal.interval_sets import EMPTY, Window, union
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import Limit

_NO_NUMBERS = np.empty(0, dtype=np.intp)
_NOTHING = CountedRuns(EMPTY, EMPTY, EMPTY, _NO_NUMBERS, _NO_NUMBERS)


class Unit(NamedTuple):
    """What a limit judges by itself: a start, an engine cycle or the whole.

    Attributes
    ----------
    start_number : int or None
        Of a start its number.
    window : Window
        Where the limit applied.
    following : (float, float)
        The bounds of the next attempt's opening, to which a run in progress may go on, [s].
    """

    start_number: int | None
    window: Window
    following: tuple[float, float] = (np.inf, np.inf)

    def counts(self, limit: Limit, above: Above) -> Above:
        """Return what counts of a level in it: a run under way where a start's window ends counts to its end."""
        return (
            in_start(above, self.window, self.following)
            if limit.when == "start"
            else above.within(self.window)
        )


def counted_runs(limit: Limit, units: Sequence[tuple[int | None, Above]]) -> CountedRuns:
    """Return what was counted of one level in these units, as (start's number, what counts in it), in time order."""
    own = [(number or 0, above) for number, above in units if len(above.high)]
    if not own:
        return _NOTHING
    run, first_free = [], 0
    for _, above in own:
        pieces = above.estimate
        new = np.zeros(len(pieces), dtype=np.intp)
        # A total goes on over its whole unit, else a break of `rejoin_s` ends the run.
        new[
            [0]
            if limit.count == "total" and len(pieces)
            else run_edges(pieces, limit.rejoin_s, LEAST_SHARE)[0]
        ] = 1
        run.append(np.cumsum(new, dtype=np.intp) - 1 + first_free)
        first_free += int(new.sum())
    return CountedRuns(
        pieces=np.concatenate([above.estimate for _, above in own]),
        low=union(np.concatenate([above.low for _, above in own])),
        high=union(np.concatenate([above.high for _, above in own])),
        run=np.concatenate(run),
        start_number=np.repeat([number for number, _ in own], [len(above.estimate) for _, above in own]),
    )


def counted_above(limit: Limit, trace: Trace, level: float, units: Sequence[Unit]) -> CountedRuns:
    """Return what would have been counted of a level that is none of the limit's, without bounds.

    `trace` is the limit's channel, negated where the limit is a minimum, and so is `level`.
    """
    rows = stretches_above(trace, level)
    above = Above(rows, rows, rows, rows, rows, False, False, 0.0, 0.0)
    return counted_runs(limit, [(unit.start_number, unit.counts(limit, above)) for unit in units])


def most_used_s(counted: CountedRuns, start_number: int | None, begin_s: float, end_s: float) -> float:
    """Return the most seconds that one run, or one total, had used: of a start's, else of those between two instants."""
    if start_number is None:
        first, last = (
            int(counted.pieces[:, 1].searchsorted(begin_s, side="left")),
            int(counted.pieces[:, 0].searchsorted(end_s, side="right")),
        )
        if last > first:  # a run that went on behind it counts whole
            last = int(counted.run.searchsorted(counted.run[last - 1], side="right"))
    else:
        first, last = counted.start_number.searchsorted([start_number, start_number + 1]).tolist()
    pieces = counted.pieces[first:last]
    used = counted.used_before_s[first:last] + pieces[:, 1] - pieces[:, 0]
    return float(used.max(initial=0.0))
