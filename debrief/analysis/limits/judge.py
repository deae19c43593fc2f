"""Each limit of the profile against the recording: events, results with margins, and open points."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.limits.applicability import Scope, stretches_open
from debrief.analysis.limits.counted_runs import counted_runs
from debrief.analysis.limits.limit_event import Finding, event_from, result_of
from debrief.analysis.limits.reported_windows import windows_told
from debrief.analysis.model import Event, LimitResult, NotJudged, Result, Start
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S, Above, Run, in_start, runs, summed, time_above
from debrief.analysis.signal.interval_sets import Window, subtract, union
from debrief.analysis.signal.traces import GAP_FLOOR_S, START_GAP_FLOOR_S, Trace
from debrief.analysis.starts.edge_bounds import Edges
from debrief.profile.model import AllowedRow, Limit
from debrief.words.sentence import joined

POSSIBLE_APART_S = 10.0
NEVER_APPLIED = "it never applied: what it holds for did not occur in this recording"
_ORDER: dict[str, int] = {"within": 0, "not_judged": 1, "caution": 2, "possible": 3, "exceeded": 4}


@dataclass
class Judged:
    """The outcome of one limit."""

    events: list[Event]
    result: LimitResult
    open_points: list[NotJudged] = field(default_factory=list)


def judge_limit(
    view: EngineView,
    starts: tuple[Start, ...],
    limit: Limit,
    scope: Scope,
    edges: Edges,
    spikes: NDArray[np.intp],
) -> Judged:
    """Return what became of one limit on one engine.

    Parameters
    ----------
    scope : Scope
        Where the limit applies, from `debrief.analysis.limits.applicability.scope_of`.
    edges : Edges
        The bounds of the next attempt's opening, to which a run in progress may go on.
    spikes : (k,) int array
        Samples of the channel that no engine can have made. They stay in; an exceedance that is gone
        without them is reported as possible, sensor suspect.
    """
    recorded, trace = view.channel(limit.channel), view.trace(limit.channel)
    name = view.name_of(limit.channel)
    why = scope.why
    if recorded is None or trace is None:
        why = f"{limit.channel} {view.missing_because(limit.channel)}"
    if why is not None or recorded is None or trace is None:
        result = LimitResult(
            limit.id,
            limit.event,
            name,
            view.engine,
            limit.unit,
            "not_judged",
            why=why,
            windows=windows_told(scope),
        )
        if not len(scope.everywhere) and not scope.why and not scope.open_points:
            # A phase that never occurred is judged: there was nothing to exceed in.
            return Judged([], never_applied(view, limit))
        point = NotJudged(limit.event, why or "", limit.id, name, engine=view.engine)
        return Judged([], result, [point])
    sign = -1.0 if limit.below else 1.0
    upright = trace.negated() if limit.below else trace
    rows = [AllowedRow(sign * r.level, r.seconds, r.severity) for r in limit.allowed]
    units = _units(view, limit, scope, edges, upright, rows)
    findings = _findings(limit, rows, units)
    clean: _Groups | None = None
    if spikes.size and any(f.worst != "within" for f in findings):
        without = _units(view, limit, scope, edges, upright.without(spikes), rows)
        clean = _grouped(_findings(limit, rows, without))
    events = []
    for finding in findings:
        view.between()
        suspect = clean is not None and _rests_on_spike(finding, clean)
        for severity in ("limit", "caution") if finding.severity is None else (finding.severity,):
            event = event_from(view, limit, finding, severity, starts, upright, sign, suspect)
            if event is not None:
                events.append(event)
    if clean is not None:
        # What rests on a spike is only possible, in the limit's result as in its event.
        findings = [
            replace(f, worst="possible") if f.worst == "exceeded" and _rests_on_spike(f, clean) else f
            for f in findings
        ]
    if limit.when == "start" and view.trace("ng") is None:
        events = [_end_unknown(e) for e in events]
        findings = [replace(f, worst="possible") if f.worst == "exceeded" else f for f in findings]
    open_points = [*scope.open_points, *_unseen(view, limit, scope, upright, rows)]
    result = _limit_result(view, limit, findings, scope, upright, open_points)
    counted = tuple(
        counted_runs(limit, [(u.start_number, u.above[k]) for u in units]) for k in range(len(rows))
    )
    return Judged(events, replace(result, counted=counted), open_points)


def _end_unknown(event: Event) -> Event:
    """Return the event as possible: without Ng idle is not seen, and what counted may have come after it."""
    if event.severity != "limit":
        return event
    message = event.message + " Ng was not recorded, so when the start was over is not known."
    return replace(event, severity="possible", certain=False, message=message)


def never_applied(view: EngineView, limit: Limit) -> LimitResult:
    """Return the result of a limit whose phase or condition never occurred: judged, and it says why.

    No level is near and no margin exists, so none is given.
    """
    name = view.name_of(limit.channel)
    return LimitResult(limit.id, limit.event, name, view.engine, limit.unit, "within", why=NEVER_APPLIED)


_Groups = Mapping[tuple[int | None, str | None], list[Finding]]
"""Findings by start and severity: those of one group are in time order and apart."""


def _grouped(findings: list[Finding]) -> _Groups:
    groups: dict[tuple[int | None, str | None], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.start_number, finding.severity), []).append(finding)
    return groups


def _rests_on_spike(finding: Finding, clean: _Groups) -> bool:
    """Return whether the exceedance is milder once the spikes are left out."""
    same: list[Finding] = []
    for severity in {None, finding.severity}:
        group = clean.get((finding.start_number, severity), [])
        low = bisect_left(group, finding.begin_s, key=attrgetter("end_s"))
        same += group[low : bisect_right(group, finding.end_s, key=attrgetter("begin_s"))]
    return max((_ORDER[f.worst] for f in same), default=0) < _ORDER[finding.worst]


@dataclass(frozen=True, eq=False)
class _Unit:
    """What is judged by itself: a start, an engine cycle or the whole; `above` is of each row what counts in it."""

    start_number: int | None
    window: Window
    above: list[Above]


def _units(
    view: EngineView, limit: Limit, scope: Scope, edges: Edges, trace: Trace, rows: list[AllowedRow]
) -> list[_Unit]:
    """Return what counts of each row in each unit, in time order."""
    everything = [time_above(trace, row.level) for row in rows]
    out: list[_Unit] = []
    for number, window in scope.units:
        view.between()  # noise makes thousands of units
        if not len(window.outer):
            continue
        following = (np.inf, np.inf) if number is None else edges.following(number)
        clipped = [
            in_start(above, window, following) if limit.when == "start" else above.within(window)
            for above in everything
        ]
        out.append(_Unit(number, window, clipped))
    return out


def _findings(limit: Limit, rows: list[AllowedRow], units: list[_Unit]) -> list[Finding]:
    """Return what was found, one per start, per unbroken run or per engine cycle, in time order."""
    out: list[Finding] = []
    for unit in units:
        if unit.start_number is not None or limit.count == "total":
            found_runs: list[Run | None] = []
            for row, above in zip(rows, unit.above, strict=True):
                if limit.count == "total":
                    found_runs.append(summed(above))
                else:
                    found_runs.append(_worst_run(runs(above, limit.rejoin_s), row))
            finding = _finding(unit.start_number, unit.window, rows, found_runs)
            if finding is not None:
                out.append(finding)
        else:
            out.extend(_clusters(unit.window, rows, [runs(above, limit.rejoin_s) for above in unit.above]))
    return out


def _begin_of(run: Run) -> float:
    return run.start_s


def _end_of(run: Run) -> float:
    return run.end_s


def _worst_run(found_runs: list[Run], row: AllowedRow) -> Run | None:
    """Return the run that passes its row the worst, the longest of equals; None without a run."""
    return max(found_runs, key=lambda r: (_ORDER[result_of(r, row)], r.duration_s), default=None)


def _finding(
    number: int | None,
    window: Window,
    rows: list[AllowedRow],
    found_runs: list[Run | None],
    severity: Literal["limit", "caution"] | None = None,
) -> Finding | None:
    pairs = [(row, run) for row, run in zip(rows, found_runs, strict=True) if run is not None]
    if not pairs:
        return None
    own = [(row, run) for row, run in pairs if severity in (None, row.severity)] or pairs
    worst = max((result_of(run, row) for row, run in own), key=lambda r: _ORDER[r])
    begin = min(run.start_s for _, run in own)
    end = max(run.end_s for _, run in own)
    return Finding(number, window, begin, end, tuple(pairs), worst, severity)


def _clusters(window: Window, rows: list[AllowedRow], per_row: list[list[Run]]) -> list[Finding]:
    """Return one finding per severity and unbroken run that passed what its row allows.

    Levels of one severity in one run are together: an hour in the caution range is one caution, and each
    run above the limit inside it is a finding of its own.
    """
    out = _of_severity(window, rows, per_row, "limit") + _of_severity(window, rows, per_row, "caution")
    if out:
        return out
    # Keep the longest run of each level all the same: the margin is told from it.
    longest = [max(r, key=lambda x: x.duration_s) if r else None for r in per_row]
    finding = _finding(None, window, rows, longest)
    return [] if finding is None else [finding]


def _of_severity(
    window: Window,
    rows: list[AllowedRow],
    per_row: list[list[Run]],
    severity: Literal["limit", "caution"],
) -> list[Finding]:
    """Return the findings of one severity. Possible ones less than 10 s apart are one finding."""
    hits: list[tuple[float, float, bool]] = []
    for row, found_runs in zip(rows, per_row, strict=True):
        for run in found_runs if row.severity == severity else ():
            result = result_of(run, row)
            if result != "within":
                hits.append((run.start_s, run.end_s, result == "possible"))
    hits.sort()
    spans: list[list[float | bool]] = []
    for begin, end, possible in hits:
        if spans and (
            begin <= spans[-1][1] or (possible and spans[-1][2] and begin - spans[-1][1] < POSSIBLE_APART_S)
        ):
            spans[-1][1] = max(float(spans[-1][1]), end)
            spans[-1][2] = bool(spans[-1][2]) and possible
        else:
            spans.append([begin, end, possible])
    out = []
    for begin_s, end_s, _ in spans:
        chosen: list[Run | None] = []
        for row, found_runs in zip(rows, per_row, strict=True):
            # Runs are in time order and apart, so those that meet the span lie together.
            low = bisect_left(found_runs, begin_s, key=_end_of)
            high = bisect_right(found_runs, end_s, key=_begin_of)
            chosen.append(_worst_run(found_runs[low:high], row))
        finding = _finding(None, window, rows, chosen, severity)
        if finding is not None:
            out.append(finding)
    return out


def _unseen(
    view: EngineView, limit: Limit, scope: Scope, trace: Trace, rows: list[AllowedRow]
) -> list[NotJudged]:
    """Return the stretches in which nothing is claimed and that could hide a level passed.

    A gap with a sample above a level beside it belongs to that level's upper bound; of a level that neither
    sample beside it passes, it tells nothing.
    """
    floor = START_GAP_FLOOR_S if limit.when == "start" else GAP_FLOOR_S
    unseen = trace.unseen(scope.outer, floor)
    if not len(unseen):
        return []
    hidden = []
    for row in rows:
        covered = time_above(trace, row.level).high
        hidden.append(subtract(unseen, covered) if len(covered) else unseen)
    unseen = union(np.concatenate(hidden))
    unseen = unseen[unseen[:, 1] - unseen[:, 0] > TOLERANCE_S]
    return stretches_open(view, limit, limit.channel, unseen, f"no {limit.channel} samples there")


def _limit_result(
    view: EngineView,
    limit: Limit,
    findings: list[Finding],
    scope: Scope,
    trace: Trace,
    open_points: list[NotJudged],
) -> LimitResult:
    """Return the limit's result with the margin to the level that is nearest to being exceeded."""
    sign = -1.0 if limit.below else 1.0
    result: Result = max((f.worst for f in findings), key=lambda r: _ORDER[r], default="within")
    why = None
    if result == "within" and open_points:
        result = "not_judged"
        why = joined("; ", dict.fromkeys(p.why for p in open_points))
    # A run of a start counts to its own end, as in its event.
    longer = [f.counted for f in findings if f.start_number is not None]
    peak = trace.highest(union(np.concatenate((scope.everywhere, *longer))))
    # Beyond something: the worst level passed, as the event's headline. Else the level with the least left;
    # beyond no level at all, the first level, with all its seconds.
    passed = [
        (row.seconds - run.duration_s, row.level)
        for f in findings
        for row, run in f.levels
        if result in ("exceeded", "possible", "caution") and result_of(run, row) == result
    ]
    every = [(row.seconds - run.duration_s, row.level) for f in findings for row, run in f.levels]
    if passed:
        margin_s, level = max(passed, key=lambda x: (x[1], -x[0]))
    else:
        margin_s, level = min(every, default=(limit.allowed[0].seconds, sign * limit.allowed[0].level))
    if not len(scope.everywhere) and result == "within":
        return never_applied(view, limit)
    return LimitResult(
        limit.id,
        limit.event,
        view.name_of(limit.channel),
        view.engine,
        limit.unit,
        result,
        sign * level,
        margin_s if len(scope.everywhere) else None,
        None if peak is None else level - peak[1],
        why,
        windows=windows_told(scope),
    )
