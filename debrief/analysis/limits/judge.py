"""Each limit of the profile against the recording: events, results with margins, and open points."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.limits.applicability import Scope
from debrief.analysis.limits.chart_bands import base_level
from debrief.analysis.limits.counted_runs import Unit, counted_runs
from debrief.analysis.limits.limit_event import Finding, event_from, result_of, softened
from debrief.analysis.limits.open_stretches import doubted_stretches, hidden_stretches, unseen_stretches
from debrief.analysis.limits.reported_windows import windows_told
from debrief.analysis.model import Event, LevelResult, LimitResult, NotJudged, Result
from debrief.analysis.quality.doubt import Doubt, samples_in
from debrief.analysis.signal.clear_of_noise import clear_of_noise
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import LEAST_SHARE, Above, Run, runs, summed, time_above
from debrief.analysis.signal.interval_sets import union
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.edge_bounds import Edges
from debrief.profile.model import AllowedRow, Limit
from debrief.words.events import event_spec
from debrief.words.sentence import joined

APART_S = 10.0
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
    limit: Limit,
    scope: Scope,
    edges: Edges,
    spikes: NDArray[np.intp],
    doubts: Sequence[Doubt] = (),
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
    doubts : sequence of Doubt
        Where the channel cannot be believed: nothing is within there, and nothing certain rests on it.
    """
    recorded, trace = view.channel(limit.channel), view.trace(limit.channel)
    name = view.name_of(limit.channel)
    why = scope.why
    if recorded is None or trace is None:
        # "Oil temperature high: not recorded" says enough.
        named_by_event = event_spec(limit.event).of == limit.channel
        subject = "" if named_by_event else view.names.in_text(limit.channel)
        why = view.missing_because(limit.channel, subject)
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
    levels = [row.level for row in rows]
    base = base_level(limit)
    charted = levels if base is None or base in levels else [*levels, base]
    units = _units(view, limit, scope, edges, upright, rows, charted[len(rows) :])
    runs_of_units = _runs_of(limit, rows, units)
    findings = _findings(limit, rows, runs_of_units)
    counted = [counted_runs(limit, [(u.start_number, a[k]) for u, a in units]) for k in range(len(charted))]
    above_base = None if base is None else counted[charted.index(base)]
    clean: _Groups | None = None
    spikes = np.union1d(spikes, samples_in(trace, doubts))
    if spikes.size and any(f.worst != "within" for f in findings):
        without = _units(view, limit, scope, edges, upright.without(spikes), rows)
        clean = _grouped(_findings(limit, rows, _runs_of(limit, rows, without)))
    events = []
    for finding in findings:
        view.between()
        suspect = clean is not None and _rests_on_spike(finding, clean)
        for severity in ("limit", "caution") if finding.severity is None else (finding.severity,):
            event = event_from(view, limit, finding, severity, upright, suspect, above_base, doubts)
            if event is not None:
                events.append(event)
    told_as_found = list(findings)
    if clean is not None:
        # What rests on a spike is only possible, in the limit's result as in its event.
        findings = [
            replace(f, worst="possible") if f.worst == "exceeded" and _rests_on_spike(f, clean) else f
            for f in findings
        ]
    if limit.when == "start" and view.idle_unseen is not None:
        events = [_end_unknown(e, view.idle_unseen) for e in events]
        findings = [replace(f, worst="possible") if f.worst == "exceeded" else f for f in findings]
    hidden = hidden_stretches(limit, scope, upright, rows)
    for_all = [*scope.open_points, *doubted_stretches(view, limit, scope, doubts)]
    open_points = [
        *scope.open_points,
        *unseen_stretches(view, limit, hidden),
        *for_all[len(scope.open_points) :],
    ]
    result = _limit_result(view, limit, findings, scope, upright, open_points)
    milder = [
        as_found
        for as_found, told in zip(told_as_found, findings, strict=True)
        if as_found.worst != told.worst
    ]
    result = replace(
        result,
        counted=tuple(counted[: len(rows)]),
        base=above_base,
        levels=_level_results(
            limit, rows, runs_of_units, milder, [bool(for_all) or len(one) > 0 for one in hidden]
        ),
    )
    return Judged(events, result, open_points)


def _end_unknown(event: Event, why: str) -> Event:
    """Return the event as possible: idle is not seen, and what counted may have come after it."""
    if event.severity != "limit":
        return event
    message = event.message + f" When the start was over is not known: {why}."
    return replace(event, severity="possible", certain=False, message=message, levels=softened(event.levels))


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


_Units = list[tuple[Unit, list[Above]]]
"""Each unit with what counts in it of each level."""


def _units(
    view: EngineView,
    limit: Limit,
    scope: Scope,
    edges: Edges,
    trace: Trace,
    rows: list[AllowedRow],
    more: Sequence[float] = (),
) -> _Units:
    """Return what counts of each row, and of `more` levels behind them, in each unit, in time order."""
    everything = [clear_of_noise(trace, row.level, time_above(trace, row.level), row.seconds) for row in rows]
    everything += [time_above(trace, level) for level in more]
    out: _Units = []
    for number, window in scope.units:
        view.between()  # noise makes thousands of units
        if not len(window.outer):
            continue
        unit = Unit(number, window) if number is None else Unit(number, window, edges.following(number))
        out.append((unit, [unit.counts(limit, above) for above in everything]))
    return out


_RunsOfUnits = list[tuple[Unit, list[list[Run]]]]
"""Each unit with the runs of each level in it; where the limit counts in total, the sum is the one run."""


def _runs_of(limit: Limit, rows: list[AllowedRow], units: _Units) -> _RunsOfUnits:
    out: _RunsOfUnits = []
    for unit, counts in units:
        own = counts[: len(rows)]  # behind them a chart's base
        if limit.count == "total":
            sums = [summed(above) for above in own]
            out.append((unit, [[] if one is None else [one] for one in sums]))
        else:
            out.append((unit, [runs(above, limit.rejoin_s, LEAST_SHARE) for above in own]))
    return out


def _findings(limit: Limit, rows: list[AllowedRow], units: _RunsOfUnits) -> list[Finding]:
    """Return what was found, one per start, per unbroken run or per engine cycle, in time order."""
    out: list[Finding] = []
    for unit, per_row in units:
        if unit.start_number is not None or limit.count == "total":
            worst = [_worst_run(found_runs, row) for found_runs, row in zip(per_row, rows, strict=True)]
            finding = _finding(unit, rows, worst)
            if finding is not None:
                out.append(finding)
        else:
            out.extend(_clusters(unit, rows, per_row))
    return out


def _level_results(
    limit: Limit,
    rows: list[AllowedRow],
    units: _RunsOfUnits,
    milder: Sequence[Finding],
    is_open: Sequence[bool],
) -> tuple[LevelResult, ...]:
    """Return of each level its worst run.

    `milder` are findings that are possible whatever their runs tell; `is_open` says of each level whether something
    that was not seen may have passed it.
    """
    out = []
    for k, (row, own) in enumerate(zip(rows, limit.allowed, strict=True)):
        run = _worst_run([run for _, per_row in units for run in per_row[k]], row)
        result: Result = "within" if run is None else result_of(run, row)
        if run is not None and result == "exceeded":
            if any(f.begin_s <= run.end_s and run.start_s <= f.end_s for f in milder):
                result = "possible"
        elif result == "within" and is_open[k]:
            result = "not_judged"
        times = (0.0, 0.0, 0.0) if run is None else (run.duration_s, run.duration_low_s, run.duration_high_s)
        out.append(
            LevelResult(
                own.level,
                own.seconds,
                own.severity,
                *times,
                result,
                None if run is None else run.start_s,
                None if run is None else run.end_s,
            )
        )
    return tuple(out)


def _begin_of(run: Run) -> float:
    return run.start_s


def _end_of(run: Run) -> float:
    return run.end_s


def _worst_run(found_runs: list[Run], row: AllowedRow) -> Run | None:
    """Return the run that passes its row the worst, the longest of equals; None without a run."""
    return max(found_runs, key=lambda r: (_ORDER[result_of(r, row)], r.duration_s), default=None)


def _finding(
    unit: Unit,
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
    return Finding(unit, begin, end, tuple(pairs), worst, severity)


def _clusters(unit: Unit, rows: list[AllowedRow], per_row: list[list[Run]]) -> list[Finding]:
    """Return one finding per severity and unbroken run that passed what its row allows.

    Levels of one severity in one run are together: an hour in the caution range is one caution, and each
    run above the limit inside it is a finding of its own.
    """
    out = _of_severity(unit, rows, per_row, "limit") + _of_severity(unit, rows, per_row, "caution")
    if out:
        return out
    # Keep the longest run of each level all the same: the margin is told from it.
    longest = [max(r, key=lambda x: x.duration_s) if r else None for r in per_row]
    finding = _finding(unit, rows, longest)
    return [] if finding is None else [finding]


def _of_severity(
    unit: Unit,
    rows: list[AllowedRow],
    per_row: list[list[Run]],
    severity: Literal["limit", "caution"],
) -> list[Finding]:
    """Return the findings of one severity; those less than 10 s apart are one."""
    results = (
        (run, result_of(run, row))
        for row, found_runs in zip(rows, per_row, strict=True)
        for run in (found_runs if row.severity == severity else ())
    )
    # What is only possible may have been beyond the level all the way that noise and sampling leave open.
    hits = sorted(
        run.reach if result == "possible" else (run.start_s, run.end_s)
        for run, result in results
        if result != "within"
    )
    spans: list[list[float]] = []
    for begin, end in hits:
        if spans and begin - spans[-1][1] < APART_S:
            spans[-1][1] = max(spans[-1][1], end)
        else:
            spans.append([begin, end])
    out = []
    for begin_s, end_s in spans:
        chosen: list[Run | None] = []
        for row, found_runs in zip(rows, per_row, strict=True):
            # Runs are in time order and apart, so those that meet the span lie together.
            low = bisect_left(found_runs, begin_s, key=_end_of)
            high = bisect_right(found_runs, end_s, key=_begin_of)
            chosen.append(_worst_run(found_runs[low:high], row))
        finding = _finding(unit, rows, chosen, severity)
        if finding is not None:
            out.append(finding)
    return out


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
