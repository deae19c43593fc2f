"""What was counted of one level of a limit, kept for all who tell or draw it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.analysis.model import CountedRuns
from debrief.analysis.signal.exceedance import Above, stretches_above
from debrief.analysis.signal.interval_sets import EMPTY, group_edges, union
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import Limit
from debrief.recording.model import FloatArray

_NO_NUMBERS = np.empty(0, dtype=np.intp)
_NOTHING = CountedRuns(EMPTY, EMPTY, EMPTY, _NO_NUMBERS, _NO_NUMBERS)


def counted_runs(limit: Limit, units: Sequence[tuple[int | None, Above]]) -> CountedRuns:
    """Return what was counted of one level in these units: each a start, an engine cycle or the whole, in time order."""
    own = [(number or 0, above) for number, above in units if len(above.high)]
    if not own:
        return _NOTHING
    run, first_free = [], 0
    for _, above in own:
        pieces = above.estimate
        new = np.zeros(len(pieces), dtype=np.intp)
        # A total goes on over its whole unit, else a break of `rejoin_s` ends the run.
        new[[0] if limit.count == "total" and len(pieces) else group_edges(pieces, limit.rejoin_s)[0]] = 1
        run.append(np.cumsum(new, dtype=np.intp) - 1 + first_free)
        first_free += int(new.sum())
    return CountedRuns(
        pieces=np.concatenate([above.estimate for _, above in own]),
        low=union(np.concatenate([above.low for _, above in own])),
        high=union(np.concatenate([above.high for _, above in own])),
        run=np.concatenate(run),
        start_number=np.repeat([number for number, _ in own], [len(above.estimate) for _, above in own]),
    )


def counted_above(
    limit: Limit, trace: Trace, level: float, units: Sequence[tuple[int | None, FloatArray]]
) -> CountedRuns:
    """Return what would have been counted of a level that is none of the limit's, without bounds.

    Parameters
    ----------
    trace : Trace
        The limit's channel; negated where the limit is a minimum, and so is `level`.
    units : sequence of (int or None, (m, 2) float array)
        What is summed by itself: the start's number, and where the limit counted, a run under way included, [s].
    """
    rows = stretches_above(trace, level)
    above = Above(rows, rows, rows, False, False, 0.0, 0.0)
    return counted_runs(limit, [(number, above.within(at)) for number, at in units])
