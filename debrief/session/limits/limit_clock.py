"""When each limit of the profile applies, and how much of what it allows has been used at a moment.

The verdict and the seconds are the analysis's alone: what it counted comes with the limit's result and is only
looked up here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Assessment, CountedRuns, LimitResult
from debrief.analysis.signal.interval_sets import intersect, total_s
from debrief.profile.model import AllowedRow, Limit

LimitWindow = tuple[float, float]
Windows = tuple[LimitWindow, ...]

_NOT_RUNNING = ("off", "start", "shutdown")
_TOLERANCE_S = 1e-9


@dataclass(frozen=True)
class LimitState:
    """One level of a limit at one moment.

    Attributes
    ----------
    limit : Limit
        Whose level it is.
    row : AllowedRow
        The level and its seconds.
    used_s : float
        Seconds beyond it so far, in this attempt (total) or this run (longest), [s].
    exceeded : bool
        Whether more was used than is allowed.
    """

    limit: Limit
    row: AllowedRow
    used_s: float
    exceeded: bool


def results_of(assessment: Assessment, limit: Limit, engine: int = 1) -> tuple[LimitResult, ...]:
    """Return what became of a limit on an engine: one result, none where the profile is not the judged one."""
    return tuple(r for r in assessment.limits if r.id == limit.id and r.engine == engine)


def windows_of(
    assessment: Assessment, limit: Limit, engine: int = 1, row: AllowedRow | None = None
) -> Windows:
    """Return the stretches in which a limit counted, as the analysis judged them, in order, [s].

    A run under way where the window of a start ends counts to its own end. With `row` only the runs above that
    level lengthen a window, else those of all its levels do.
    """
    return tuple(
        window
        for result in results_of(assessment, limit, engine)
        for window in _counted_windows(
            result,
            [runs for own, runs in zip(limit.allowed, result.counted, strict=False) if row in (None, own)],
        )
    )


def level_windows(
    assessment: Assessment, limit: Limit, engine: int = 1
) -> Iterator[tuple[AllowedRow, float, float]]:
    """Yield each level of a limit with begin and end of each stretch in which it counted, [s]."""
    by_row = [windows_of(assessment, limit, engine, row) for row in limit.allowed]
    for stretches in zip(*by_row, strict=True):
        for row, (begin, end) in zip(limit.allowed, stretches, strict=True):
            yield row, begin, end


def _counted_windows(result: LimitResult, counted: Iterable[CountedRuns]) -> Iterable[LimitWindow]:
    begins = [runs.pieces[:, 0] for runs in counted]
    ends = [runs.pieces[:, 1] for runs in counted]
    for window in result.windows:
        end = window.end_s
        for own_begins, own_ends in zip(begins, ends, strict=True):
            under_way = int(own_begins.searchsorted(window.end_s)) - 1
            if under_way >= 0:
                end = max(end, float(own_ends[under_way]))
        yield window.start_s, end


def running_windows(assessment: Assessment, engine: int = 1) -> Windows:
    """Return the stretches in which the engine runs and no start limit applies, [s].

    They are those of a limit for the running engine; without one the phases tell.
    """
    profile = assessment.profile
    for limit in () if profile is None else profile.limits:
        narrowed = limit.after_takeoff_s is not None or limit.outside_takeoff_s is not None
        if limit.when == "running" and not (limit.where or limit.phases or narrowed):
            return windows_of(assessment, limit, engine)
    stretches: list[LimitWindow] = []
    begin = 0.0
    resting = [p for p in assessment.phases if p.name in _NOT_RUNNING]
    for start_s, end_s in [*((p.start_s, p.end_s) for p in resting), (assessment.recording.duration_s,) * 2]:
        if start_s > begin:
            stretches.append((begin, start_s))
        begin = max(begin, end_s)
    return tuple(stretches) if assessment.phases else ()


@dataclass(frozen=True, eq=False)
class JudgedLevel:
    """One level of a limit with what was counted of it.

    Attributes
    ----------
    limit, row
        Whose level it is, and the level.
    windows : tuple of (float, float)
        Where it counted, [s].
    counted : CountedRuns
        As judged.
    """

    limit: Limit
    row: AllowedRow
    windows: Windows
    counted: CountedRuns

    def states(self, time_s: float) -> list[LimitState]:
        """Return how much is used at a moment, while the value is beyond the level; else nothing.

        There are two answers only where a run of one start went on past the opening of the next.
        """
        counted, found = self.counted, []
        last = int(np.searchsorted(counted.pieces[:, 0], time_s + _TOLERANCE_S, side="right"))
        for index in range(max(last - 2, 0), last):
            begin, end = counted.pieces[index].tolist()
            if time_s > end + _TOLERANCE_S:
                continue
            used = float(counted.used_before_s[index]) + max(0.0, min(time_s, end) - begin)
            exceeded = used > self.row.seconds + _TOLERANCE_S or self.row.seconds == 0
            found.append(LimitState(self.limit, self.row, used, exceeded))
        return found

    def applies_between(self, begin_s: float, end_s: float) -> bool:
        """Return whether it counted anywhere between two moments in order."""
        return any(max(a, begin_s) < min(b, end_s) for a, b in self.windows)

    def seconds_between(self, begin_s: float, end_s: float) -> tuple[float, float, float]:
        """Return the seconds beyond it between two moments in order: counted, at least, at most, [s]."""
        inside, counted = np.array([[begin_s, end_s]]), self.counted
        seconds, least, most = (
            total_s(intersect(rows, inside)) for rows in (counted.pieces, counted.low, counted.high)
        )
        return seconds, least, most


def judged_levels(assessment: Assessment, base: str, unit: str, engine: int = 1) -> tuple[JudgedLevel, ...]:
    """Return the levels of a channel's limits that were judged, in the profile's order: mildest first.

    Parameters
    ----------
    base : str
        The channel's name without the engine number.
    unit : str
        The channel's; a limit in another one is not for it.
    """
    profile = assessment.profile
    return tuple(
        JudgedLevel(limit, row, windows_of(assessment, limit, engine, row), counted)
        for limit in (() if profile is None else profile.limits)
        if limit.channel == base and limit.unit == unit
        for result in results_of(assessment, limit, engine)
        for row, counted in zip(limit.allowed, result.counted, strict=False)
    )
