"""The rules of the starter: the voltage it leaves, and engagement while the engine turns."""

from __future__ import annotations

from collections.abc import Container

from debrief.analysis.measures.electrics import cranking_windows
from debrief.analysis.model import (
    Event,
    Start,
)
from debrief.analysis.rules.rule_event import Deviation, Rule, rule_event
from debrief.analysis.signal.dead_pick_up import speed_at
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import time_above
from debrief.analysis.signal.interval_sets import contains, from_pairs, total_s
from debrief.analysis.signal.sampling_bounds import coasted
from debrief.analysis.starts.attempts import Found
from debrief.words import numbers
from debrief.words.sampling import lowest_bound
from debrief.words.sentence import words


def voltage(view: EngineView, start: Start) -> list[Event]:
    """Return low resting and low cranking voltage, each a caution."""
    rules = view.profile.start
    out: list[Event] = []
    if not start.starter_runs:
        return out
    run = start.starter_runs[0]
    pairs = (
        ("before", start.rest_bus_volts, rules.min_bus_volts_before, "min_bus_volts_before"),
        ("cranking", start.min_bus_volts, rules.min_bus_volts, "min_bus_volts"),
    )
    for reason, value, least, key in pairs:
        if value is None or least is None or value >= least:
            continue
        before = reason == "before"
        minimum = f"the minimum of {numbers.plain(least)} V"
        shown = f"{numbers.beside(value, least, 'V')}"
        found = None if before else start.measures.get("min_bus_volts")
        bound = "" if found is None else lowest_bound(value, found.low, found.high, "V")
        span = (max(run.start_s - 5.0, 0.0), run.start_s)
        spans: tuple[tuple[float, float], ...] = (span,)
        length: tuple[float, float, float | None] | None = None
        lowest_s: float | None = None
        if not before:
            spans, length, lowest_s = _below_while_cranking(view, start, least)
            # A bus that is low from the first sample on is low where nothing crosses the level.
            span = (spans[0][0], spans[-1][1]) if spans else (run.start_s + 1.0, run.start_s + 1.0)
        where = view.in_start(start)
        text = f"Bus voltage was {shown} just before the starter came on{where}, below {minimum}."
        if not before:
            lasted = "" if length is None else f" for {numbers.brief_duration(*length)}"
            text = f"Bus voltage was below {minimum}{lasted}{where}; lowest {bound}{shown} (after the first second)."
        rule = "just before the starter came on" if before else "after the first second of the starter"
        out.append(
            rule_event(
                view,
                "low_start_voltage",
                "caution",
                start,
                span,
                words(text),
                Rule(
                    words(f"Bus voltage {rule}, at least {numbers.plain(least)} V."),
                    key,
                    "median of the 5 s before" if before else "lowest sample from 1 s after starter on",
                ),
                Deviation(
                    channel="bus_volts",
                    peak=value,
                    peak_s=lowest_s,
                    level=least,
                    unit="V",
                    duration=length,
                ),
                reason=reason,
                spans=spans,
            )
        )
    return out


def _below_while_cranking(
    view: EngineView, start: Start, least: float
) -> tuple[tuple[tuple[float, float], ...], tuple[float, float, float | None], float | None]:
    """Return the stretches below `least` from 1 s after each engagement, their total with bounds, and the lowest."""
    volts = view.trace("bus_volts")
    assert volts is not None
    windows = from_pairs(cranking_windows(view, start.starter_runs, start.light_off_s))
    upright = (volts.clip(float(windows[0, 0]), float(windows[-1, 1])) if len(windows) else volts).negated()
    below = time_above(upright, -least).within(windows)
    rows = below.estimate if len(below.estimate) else windows
    lowest = upright.peak(windows)
    length = (total_s(below.estimate), total_s(below.low), total_s(below.high))
    return tuple((float(a), float(b)) for a, b in rows), length, None if lowest is None else lowest[0]


def engaged_while_turning(
    view: EngineView, found: Found, starts: tuple[Start, ...], aloft: Container[int] = ()
) -> list[Event]:
    """Return starter engagements above the highest Ng for it, of any run, also outside an attempt.

    Not of the starts whose number is in `aloft`: there the airflow turns the engine.
    """
    most, ng = view.profile.start.max_engage_ng_pct, view.trace("ng")
    out: list[Event] = []
    if most is None or ng is None:
        return out
    numbered = {s.number: s for s in starts}
    owners = {r.start_s: s for s in starts for r in s.starter_runs}
    for run in found.runs:
        if run.inferred or run.start_low_s is None:
            continue
        start = owners.get(run.start_s)
        if start is not None and start.number in aloft:
            continue
        value = ng.at(run.start_s)
        if speed_at(ng, view.ng_unseen_below, run.start_s) is None:
            continue  # see not_judged
        earlier = ng.at(run.start_low_s)
        if earlier is not None and earlier + ng.doubt <= most and not contains(found.lit, run.start_low_s):
            # Nothing but the starter makes it turn faster: it engaged before Ng rose, however seldom was looked.
            continue
        part = ng.values[ng.between(run.start_low_s, run.start_s)].tolist()
        least = coasted(ng, run.start_low_s, run.start_s)
        part += [x for x in (earlier, value, least) if x is not None]
        if value is None or not part or max(part) + ng.half_resolution <= most:
            continue
        sure = min(part) - ng.half_resolution > most
        before = None if start is None else numbered.get(start.number - 1)
        cooling = (
            start is not None
            and start.outcome in ("motoring", "unknown")
            and before is not None
            and before.outcome in ("aborted", "hung", "flamed_out")
        )
        who = " with the engine running" if start is None else view.in_start(start)
        out.append(
            rule_event(
                view,
                "starter_overrun",
                "limit" if sure else "possible",
                start,
                (run.start_s, run.start_s),
                words(
                    f"The starter engaged at {numbers.beside(value, most, '%')} Ng{who}; up to {numbers.plain(most)} % "
                    "allowed."
                ),
                Rule(
                    words(f"Ng when the starter engages, at most {numbers.plain(most)} %."),
                    "max_engage_ng_pct",
                    "Ng interpolated at the first sample with the starter on",
                ),
                Deviation(
                    channel="ng",
                    peak=value,
                    peak_s=run.start_s,
                    level=most,
                    unit="%",
                ),
                certain=sure,
                reason="engaged_while_turning",
                during_abort=cooling,
            )
        )
    return out
