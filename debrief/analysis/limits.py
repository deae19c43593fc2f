"""Each limit of the profile against the recording: events, results with margins, and open points."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.attempts import Found
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import TOLERANCE_S, Above, Run, runs, summed, time_above
from debrief.analysis.intervals import subtract, total_s, union
from debrief.analysis.limit_event import Finding, event_from, result_of
from debrief.analysis.model import Event, LimitResult, NotJudged, Result, Start
from debrief.analysis.traces import GAP_FLOOR_S, START_GAP_FLOOR_S, Trace
from debrief.analysis.windows import Scope
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import FloatArray

POSSIBLE_APART_S = 10.0
LISTED = 10
_ORDER: dict[str, int] = {"within": 0, "not_judged": 1, "caution": 2, "possible": 3, "exceeded": 4}


@dataclass
class Judged:
    """The outcome of one limit."""

    events: list[Event]
    result: LimitResult
    open_points: list[NotJudged] = field(default_factory=list)


def judge_limit(
    view: EngineView,
    found: Found,
    starts: tuple[Start, ...],
    limit: Limit,
    scope: Scope,
    spikes: NDArray[np.intp],
) -> Judged:
    """Return what became of one limit on one engine.

    Parameters
    ----------
    scope : Scope
        Where the limit applies, from `debrief.analysis.windows.scope_of`.
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
        result = LimitResult(limit.id, limit.event, name, view.engine, limit.unit, "not_judged", why=why)
        if not len(scope.everywhere) and not scope.why:
            # A phase that never occurred is judged: there was nothing to exceed in.
            return Judged([], LimitResult(limit.id, limit.event, name, view.engine, limit.unit, "within"))
        point = NotJudged(limit.event, why or "", limit.id, name, engine=view.engine)
        return Judged([], result, [point])
    sign = -1.0 if limit.below else 1.0
    upright = trace.negated() if limit.below else trace
    rows = [AllowedRow(sign * r.level, r.seconds, r.severity) for r in limit.allowed]
    findings = _findings(view, found, limit, scope, upright, rows)
    clean: list[Finding] | None = None
    if spikes.size and any(f.worst != "within" for f in findings):
        clean = _findings(view, found, limit, scope, upright.without(spikes), rows)
    events = []
    for finding in findings:
        suspect = clean is not None and _rests_on_spike(finding, clean)
        for severity in ("limit", "caution"):
            event = event_from(view, limit, finding, severity, starts, upright, sign, suspect)
            if event is not None:
                events.append(event)
    open_points = [*scope.open_points, *_unseen(view, limit, scope, upright, rows)]
    return Judged(events, _limit_result(view, limit, findings, scope, upright, open_points), open_points)


def _rests_on_spike(finding: Finding, clean: list[Finding]) -> bool:
    """Return whether the exceedance is milder once the spikes are left out."""
    same = [
        f for f in clean if f.start_number == finding.start_number and f.begin_s <= finding.end_s
        and f.end_s >= finding.begin_s
    ]  # fmt: skip
    return max((_ORDER[f.worst] for f in same), default=0) < _ORDER[finding.worst]


def _findings(
    view: EngineView, found: Found, limit: Limit, scope: Scope, trace: Trace, rows: list[AllowedRow]
) -> list[Finding]:
    """Return what was found, one per start, per unbroken run or per engine cycle, in time order."""
    everything = [time_above(trace, row.level) for row in rows]
    out: list[Finding] = []
    for number, stretch in scope.units:
        if not len(stretch):
            continue
        clipped = [
            above.within(_to_run_end(found, number, above, stretch) if limit.when == "start" else stretch)
            for above in everything
        ]
        if number is not None or limit.count == "total":
            found_runs: list[Run | None] = []
            for above in clipped:
                if limit.count == "total":
                    found_runs.append(summed(above))
                else:
                    ranked = sorted(
                        runs(above, limit.rejoin_s), key=lambda r: (r.duration_s, r.duration_high_s or 1e18)
                    )
                    found_runs.append(ranked[-1] if ranked else None)
            finding = _finding(number, stretch, rows, found_runs)
            if finding is not None:
                out.append(finding)
        else:
            out.extend(_clusters(stretch, rows, [runs(above, limit.rejoin_s) for above in clipped]))
    return out


def _to_run_end(found: Found, number: int | None, above: Above, stretch: FloatArray) -> FloatArray:
    """Return the start window, lengthened to the end of a run that is in progress where it ends."""
    if number is None:
        return stretch
    end = float(stretch[-1, 1])
    following = found.attempts[number].begin_s if number < len(found.attempts) else np.inf
    for a, b in above.estimate:
        if a < end < b:
            return union(np.concatenate((stretch, [[end, min(float(b), following)]])))
    return stretch


def _finding(
    number: int | None, stretch: FloatArray, rows: list[AllowedRow], found_runs: list[Run | None]
) -> Finding | None:
    pairs = [(row, run) for row, run in zip(rows, found_runs, strict=True) if run is not None]
    if not pairs:
        return None
    worst = max((result_of(run, row) for row, run in pairs), key=lambda r: _ORDER[r])
    begin = min(run.start_s for _, run in pairs)
    end = max(run.end_s for _, run in pairs)
    return Finding(number, stretch, begin, end, tuple(pairs), worst)


def _clusters(stretch: FloatArray, rows: list[AllowedRow], per_row: list[list[Run]]) -> list[Finding]:
    """Return one finding per unbroken run that passed what its row allows, levels of one run together.

    Runs that only may have been too long, less than 10 s apart, are one finding.
    """
    hits: list[tuple[float, float, bool]] = []
    for row, found_runs in zip(rows, per_row, strict=True):
        for run in found_runs:
            result = result_of(run, row)
            if result != "within":
                hits.append((run.start_s, run.end_s, result == "possible"))
    if not hits:
        # Keep the longest run of each level all the same: the margin is told from it.
        longest = [max(r, key=lambda x: x.duration_s) if r else None for r in per_row]
        finding = _finding(None, stretch, rows, longest)
        return [] if finding is None else [finding]
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
            inside = [r for r in found_runs if r.start_s <= end_s and r.end_s >= begin_s]
            inside.sort(key=lambda r, row=row: (_ORDER[result_of(r, row)], r.duration_s))  # type: ignore[misc]
            chosen.append(inside[-1] if inside else None)
        finding = _finding(None, stretch, rows, chosen)
        if finding is not None:
            out.append(finding)
    return out


def _unseen(
    view: EngineView, limit: Limit, scope: Scope, trace: Trace, rows: list[AllowedRow]
) -> list[NotJudged]:
    """Return the stretches in which nothing is claimed and no sample beside them was above."""
    floor = START_GAP_FLOOR_S if limit.when == "start" else GAP_FLOOR_S
    unseen = trace.unseen(scope.everywhere, floor)
    if not len(unseen):
        return []
    covered = time_above(trace, rows[0].level).high
    unseen = subtract(unseen, covered) if len(covered) else unseen
    unseen = unseen[unseen[:, 1] - unseen[:, 0] > TOLERANCE_S]
    listed = [(float(a), float(b), f"no {limit.channel} samples there") for a, b in unseen[:LISTED]]
    if len(unseen) > LISTED:
        rest = unseen[LISTED:]
        why = f"no {limit.channel} samples in {len(rest)} more stretches, {total_s(rest):.0f} s together"
        listed.append((float(rest[0, 0]), float(rest[-1, 1]), why))
    name = view.name_of(limit.channel)
    return [NotJudged(limit.event, why, limit.id, name, a, b, view.engine) for a, b, why in listed]


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
        why = "; ".join(dict.fromkeys(p.why for p in open_points))
    peak = trace.peak(scope.everywhere)
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
    )
