"""The starter's duty: how long each run was, and how long it rested before."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass

from debrief.analysis.model import EarlierRun, Event, Evidence, NotJudged, Start, StarterRun
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S
from debrief.profile.gaps import DUTY, lacking
from debrief.profile.model import DutyRow, StarterRules
from debrief.words import numbers
from debrief.words.events import event_spec
from debrief.words.sentence import words
from debrief.words.starts import in_start, start_named

REST_BEFORE = "starter rest before the first start"
"""What is not judged where nobody knows when the starter ran last before the recording."""


@dataclass(frozen=True)
class Allowed:
    """What one run is allowed, and whether its power source is known well enough to say so for sure."""

    row: DutyRow
    sure: bool


def allowed_for(rules: StarterRules, power: str, position: int) -> Allowed | None:
    """Return the duty row for the run at this position in the order, or None where the profile has none.

    With an unknown source the stricter of both tables holds, and a finding is only possible. A profile
    with one table makes no difference between sources: that table holds for sure.
    """

    def row(table: tuple[DutyRow, ...]) -> DutyRow | None:
        return table[min(position, len(table) - 1)] if table else None

    battery, external = row(rules.duty), row(rules.external_duty)
    if battery is None or external is None:
        only = battery or external
        return None if only is None else Allowed(only, True)
    if power == "battery":
        return Allowed(battery, True)
    if power == "external":
        return Allowed(external, True)
    strict = DutyRow(min(battery.run_s, external.run_s), max(battery.rest_s, external.rest_s))
    return Allowed(strict, False)


def duty_events(
    view: EngineView,
    runs: tuple[StarterRun, ...],
    starts: tuple[Start, ...],
    earlier: tuple[EarlierRun, ...],
) -> tuple[list[Event], list[NotJudged]]:
    """Return starter overruns (run too long, rest too short) and what could not be judged.

    `runs` carry their start number; `earlier` are runs of this engine before the recording, with negative times. Where
    the clocks of two recordings may disagree, a rest is too short, or long enough, only if it is so by both ends.
    """
    rules = view.profile.starter
    events: list[Event] = []
    open_points: list[NotJudged] = []
    absent = lacking(view.profile, DUTY)
    if absent is not None:
        if runs:
            open_points.append(NotJudged(DUTY, absent, channel="starter", engine=view.engine))
        return events, open_points
    if not runs:
        if starts and view.channel("starter") is None:
            open_points.append(
                NotJudged("starter duty", "starter not recorded", channel="starter", engine=view.engine)
            )
        return events, open_points
    if any(r.inferred for r in runs):
        open_points.append(
            NotJudged(
                "starter duty", "starter not recorded, only inferred", channel="starter", engine=view.engine
            )
        )
        return events, open_points
    position = 0
    previous: tuple[StarterRun, Allowed] | None = None
    sequence = [(r, True) for r in earlier] + [(r, False) for r in runs]
    idles_s = [s.idle_s for s in starts if s.outcome == "completed" and s.idle_s is not None]
    for run, known_before in sequence:
        allowed = allowed_for(rules, run.power, position)
        if previous is not None and previous[0].end_s is not None:
            rest = run.start_s - previous[0].end_s
            reset = rules.reset_after_s
            doubt = _clock_doubt(previous[0])
            rested = reset is not None and rest - doubt >= reset - TOLERANCE_S
            fresh = rested
            if rules.reset_counts == "successful_start" and _completed_between(idles_s, previous[0], run):
                fresh = True
            if fresh:
                position = 0
                allowed = allowed_for(rules, run.power, position)
            if allowed is not None and not known_before and not rested:
                event = _rest_event(view, previous, run, allowed, starts)
                if isinstance(event, NotJudged):
                    open_points.append(event)
                    position = 0
                elif event is not None:
                    events.append(event)
        elif previous is None and not known_before and not _rested_in_view(view, run):
            open_points.append(
                NotJudged(
                    REST_BEFORE,
                    "starter runs before the recording are not known",
                    channel="starter",
                    start_s=0.0,
                    end_s=run.start_s,
                    engine=view.engine,
                )
            )
        if allowed is None:
            continue
        if not known_before:
            event = _run_event(view, run, allowed, starts)
            if event is not None:
                events.append(event)
            elif run.duration_high_s is None:
                open_points.append(_cut_run(view, run))
        previous = (run, allowed)
        position += 1
    return events, open_points


def _clock_doubt(run: StarterRun) -> float:
    return run.clock_doubt_s if isinstance(run, EarlierRun) else 0.0


def _rested_in_view(view: EngineView, run: StarterRun) -> bool:
    """Return whether the recording itself shows the starter off for as long as any rest that is asked."""
    rules = view.profile.starter
    channel = view.channel("starter")
    if channel is None:
        return False
    longest = max(row.rest_s for row in (*rules.duty, *rules.external_duty))
    wanted = longest if rules.reset_after_s is None else max(longest, rules.reset_after_s)
    return run.start_s - float(channel.time_s[0]) >= wanted


def _cut_run(view: EngineView, run: StarterRun) -> NotJudged:
    """Return the open point of a run that the recording's edge cuts while it was still allowed."""
    edge = "end" if run.end_s is None else "beginning"
    end = run.end_s if run.end_s is not None else run.start_s + run.duration_s
    return NotJudged(
        "length of a starter run",
        f"the recording's {edge} cuts it",
        channel="starter",
        start_s=run.start_s,
        end_s=end,
        engine=view.engine,
    )


def _completed_between(idles_s: list[float], before: StarterRun, after: StarterRun) -> bool:
    """Return whether a start reached idle between two runs; `idles_s` is when each did, in order."""
    k = bisect_left(idles_s, before.start_s)
    return k < len(idles_s) and idles_s[k] <= after.start_s


def _start_of(starts: tuple[Start, ...], run: StarterRun) -> Start | None:
    # Starts are numbered from 1 in order.
    return None if run.start_number is None else starts[run.start_number - 1]


def _cools_abort(starts: tuple[Start, ...], run: StarterRun) -> bool:
    """Return whether the run went on after a cut of a lit attempt, or motored just after one."""
    own = _start_of(starts, run)
    end = run.end_s if run.end_s is not None else float("inf")
    if own is None:
        return False
    if own.fuel_off_s is not None and own.outcome in ("aborted", "hung", "flamed_out"):
        return run.start_s < own.fuel_off_s < end
    before = starts[own.number - 2] if own.number > 1 else None
    return (
        own.outcome in ("motoring", "unknown")
        and before is not None
        and before.fuel_off_s is not None
        and before.outcome in ("aborted", "hung", "flamed_out")
    )


def _by(before: StarterRun) -> str:
    """Return who tells of the run before, where the recording does not."""
    source = before.source if isinstance(before, EarlierRun) else ""
    return {"history": ", by the flights kept", "entered": ", as entered"}.get(source, "")


def _source_words(allowed: Allowed, run: StarterRun) -> str:
    if not allowed.sure:
        return " (power source not recorded: the stricter table)"
    if not run.power_inferred:
        return ""
    return f" ({'from the battery' if run.power == 'battery' else 'on external power'}, by the battery's current)"


def _run_event(
    view: EngineView, run: StarterRun, allowed: Allowed, starts: tuple[Start, ...]
) -> Event | None:
    limit = allowed.row.run_s
    high = run.duration_high_s
    over = run.duration_s > limit + TOLERANCE_S
    if not over and (high is None or high <= limit + TOLERANCE_S):
        return None
    end = run.end_s if run.end_s is not None else run.start_s + run.duration_s
    between = (run.duration_s, run.duration_low_s, run.duration_high_s)
    length = numbers.brief_duration(*between, limit) if over else numbers.duration_text(*between)
    key = "starter.external_duty" if run.power == "external" else "starter.duty"
    return Event(
        kind="starter_overrun",
        event_class=event_spec("starter_overrun").event_class,
        engine=view.engine,
        severity="limit" if over and allowed.sure else "possible",
        certain=over and allowed.sure and run.duration_low_s > limit + TOLERANCE_S,
        start_s=run.start_s,
        end_s=end,
        channel=view.name_of("starter"),
        unit="s",
        level=limit,
        duration_s=run.duration_s,
        duration_low_s=run.duration_low_s,
        duration_high_s=run.duration_high_s,
        allowed_s=limit,
        start_number=run.start_number,
        reason="run_too_long",
        during_abort=_cools_abort(starts, run),
        spans=((run.start_s, end),),
        message=(
            words(
                f"The starter ran {length}{in_start(run.start_number, view.start_count)}; {numbers.plain(limit)} s "
                f"allowed{_source_words(allowed, run)}."
            )
        ),
        evidence=Evidence(
            words(
                "Each starter run is compared with the duty row of its place in the order and its power source."
            ),
            key,
            view.profile.lines.get(key),
            "duration = first sample off − first sample on; low and high from the samples beside",
            view.name_of("starter"),
            (run.start_s, end),
            (1.0, 0.0),
        ),
    )


def _rest_event(
    view: EngineView,
    previous: tuple[StarterRun, Allowed],
    run: StarterRun,
    allowed: Allowed,
    starts: tuple[Start, ...],
) -> Event | NotJudged | None:
    before, row = previous
    assert before.end_s is not None
    wanted = row.row.rest_s
    if before.power != run.power:
        wanted = max(wanted, allowed.row.rest_s)
    rest = run.start_s - before.end_s
    doubt = _clock_doubt(before)
    low = (run.start_s if run.start_low_s is None else run.start_low_s) - before.end_s - doubt
    high = rest + (before.duration_s - before.duration_low_s) + doubt
    short = rest < wanted - TOLERANCE_S
    if not short and low >= wanted - TOLERANCE_S:
        return None
    if doubt > 0 and low < wanted - TOLERANCE_S <= high:
        least, most = (numbers.length_text(x) for x in (math.floor(max(low, 0.0)), math.ceil(high)))
        return NotJudged(
            REST_BEFORE,
            f"by the clocks of the flights kept it was {least} to {most}, the minimum is {numbers.length_text(wanted)}",
            channel="starter",
            start_s=0.0,
            end_s=run.start_s,
            engine=view.engine,
        )
    sure = row.sure and allowed.sure
    key = "starter.external_duty" if before.power == "external" else "starter.duty"
    # Rest is a minimum, so its bounds come the other way round: the shortest possible rest first.
    length = numbers.duration_text(rest, max(low, 0.0), high)
    if short:
        length = numbers.brief_duration(rest, allowed_s=wanted)
    number = run.start_number
    before_what = (
        "it engaged" if number is None or view.start_count == 1 else start_named(number, view.start_count)
    )
    return Event(
        kind="starter_overrun",
        event_class=event_spec("starter_overrun").event_class,
        engine=view.engine,
        severity="limit" if short and sure else "possible",
        certain=short and sure and high < wanted - TOLERANCE_S,
        start_s=max(before.end_s, 0.0),
        end_s=run.start_s,
        channel=view.name_of("starter"),
        unit="s",
        level=wanted,
        duration_s=rest,
        duration_low_s=max(low, 0.0),
        duration_high_s=high,
        allowed_s=wanted,
        start_number=run.start_number,
        reason="rest_too_short",
        during_abort=_cools_abort(starts, run),
        spans=((max(before.end_s, 0.0), run.start_s),),
        message=(
            words(
                f"The starter rested {length} before {before_what}{_by(before)}; the minimum is {numbers.plain(wanted)} s"
                f"{_source_words(row, before)}."
            )
        ),
        evidence=Evidence(
            words("The rest before a starter run is compared with the rest that the run before asks for."),
            key,
            view.profile.lines.get(key),
            "rest = starter on − previous starter off",
            view.name_of("starter"),
            (before.end_s, run.start_s),
            (0.0, 1.0),
        ),
    )
