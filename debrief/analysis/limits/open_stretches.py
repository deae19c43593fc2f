"""Where nothing can be claimed of a limit: what was not seen, and what cannot be believed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.analysis.limits.applicability import Scope, stretches_open
from debrief.analysis.model import NotJudged
from debrief.analysis.quality.doubt import LISTED, Doubt
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S, time_above
from debrief.analysis.signal.interval_sets import EMPTY, group_edges, intersect, subtract, union
from debrief.analysis.signal.traces import GAP_FLOOR_S, START_GAP_FLOOR_S, Trace
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import FloatArray


def hidden_stretches(limit: Limit, scope: Scope, trace: Trace, rows: list[AllowedRow]) -> list[FloatArray]:
    """Return for each level the stretches in which nothing is claimed and that could hide that it was passed.

    A gap with a sample above a level beside it belongs to that level's upper bound; of a level that neither
    sample beside it passes, it tells nothing. It hides nothing where with all that may be beyond the level around it
    (in total: anywhere) it is no longer than the level's time.
    """
    floor = START_GAP_FLOOR_S if limit.when == "start" else GAP_FLOOR_S
    unseen = trace.unseen(scope.outer, floor)
    if not len(unseen):
        return [EMPTY] * len(rows)
    out = []
    for row in rows:
        covered = time_above(trace, row.level).high
        open_s = subtract(unseen, covered) if len(covered) else unseen
        together = union(np.concatenate((open_s, covered)))
        rejoin_s = np.inf if limit.count == "total" else limit.rejoin_s
        first, last = group_edges(together, rejoin_s)
        long = np.add.reduceat(together[:, 1] - together[:, 0], first) > row.seconds + TOLERANCE_S
        may_hide = np.repeat(long | (row.seconds == 0), last - first + 1)
        hidden = intersect(open_s, together[may_hide])
        out.append(hidden[hidden[:, 1] - hidden[:, 0] > TOLERANCE_S])
    return out


def unseen_stretches(view: EngineView, limit: Limit, hidden: Sequence[FloatArray]) -> list[NotJudged]:
    """Return what could hide any of the levels, as open points."""
    return stretches_open(
        view,
        limit,
        limit.channel,
        union(np.concatenate(hidden)),
        f"no {view.names.in_text(limit.channel)} samples there",
    )


def doubted_stretches(
    view: EngineView, limit: Limit, scope: Scope, doubts: Sequence[Doubt]
) -> list[NotJudged]:
    """Return the stretches of the limit in which its channel cannot be believed, each with its reason."""
    out: list[NotJudged] = []
    for one in doubts:
        if not one.hides:
            continue
        rows = intersect(scope.outer, np.array([[one.start_s, one.end_s]]))
        rows = rows[rows[:, 1] - rows[:, 0] > TOLERANCE_S]
        if len(rows) and len(out) < LISTED:
            out += stretches_open(view, limit, limit.channel, rows, one.why)
    return out
