"""Up to which ITT the engine may run, where and when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from debrief.analysis.limits.applicability import Scope
from debrief.analysis.signal.interval_sets import intersect, total_s
from debrief.profile.model import Limit
from debrief.recording.model import FloatArray

MOST_OF_IT = 0.5
"""A limit is one of a stretch where it applies to so much of it."""


class IttLevel(NamedTuple):
    """The lowest level of severity ``limit`` of one limit on running ITT, [degC], and where it applies, (m, 2), [s]; `key` is where it stands."""

    limit_id: str
    key: str
    level_c: float
    rows: FloatArray


def itt_levels(limits: Sequence[Limit], scopes: Mapping[str, Scope], running: FloatArray) -> list[IttLevel]:
    """Return the level of each limit on ITT that holds for a running engine, where it ran, (m, 2), outside of starts."""
    out = []
    for limit in limits:
        if limit.channel != "itt" or limit.below or limit.when == "start":
            continue
        levels = [(row.level, n) for n, row in enumerate(limit.allowed, 1) if row.severity == "limit"]
        scope = scopes.get(limit.id)
        if levels and scope is not None and scope.why is None:
            level, number = min(levels)
            key = f"limits.{limit.id}.allowed[{number}]"
            out.append(IttLevel(limit.id, key, level, intersect(scope.everywhere, running)))
    return out


def lowest_level(levels: Sequence[IttLevel], begin: float, end: float) -> IttLevel | None:
    """Return the lowest level that applies to at least half of a stretch; None where none does."""
    here = np.array([[begin, end]])
    applying = [x for x in levels if total_s(intersect(x.rows, here)) >= MOST_OF_IT * (end - begin)]
    return min(applying, key=lambda x: x.level_c, default=None)
