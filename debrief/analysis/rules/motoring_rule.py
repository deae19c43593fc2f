"""Whether the starter turned the engine after an abort for as long as the profile asks."""

from __future__ import annotations

from collections.abc import Container
from itertools import zip_longest

from debrief.analysis.model import Event, Measure, NotJudged, Start
from debrief.analysis.rules.rule_event import Deviation, Rule, rule_event
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S
from debrief.analysis.starts.attempts import Attempt, Found
from debrief.analysis.starts.fuel_cuts import Cut, cuts_of, judged_cut, motored_after
from debrief.words import numbers
from debrief.words.sentence import words

WHAT = "motoring after the abort"
NO_TIME_S = 0.05
"""What prints as no time at all, [s]."""


def motoring_short(
    view: EngineView, found: Found, starts: tuple[Start, ...], aloft: Container[int] = ()
) -> tuple[list[Event], list[NotJudged]]:
    """Return an event for each abort with too little motoring, and where that could not be told.

    Notes
    -----
    An abort is the last cut of an attempt whose fuel had lit and that never reached idle; where fuel came again in
    the attempt it is no abort but `fuel_reintroduced`. Counted is the starter in the attempt after the cut, and an
    engagement without fuel that followed as an attempt of its own. Starts in `aloft` are not judged: the airflow
    turns and cools the engine.
    """
    wanted = view.profile.abort.motor_for_s
    events: list[Event] = []
    points: list[NotJudged] = []
    if wanted is None:
        return events, points
    for start, attempt, after in zip_longest(starts, found.attempts, found.attempts[1:]):
        cut = judged_cut(cuts_of(attempt))
        if cut is None or cut.fuel.light_off_s is None or cut.again is not None:
            continue
        kept = motored_after(view, attempt, cut)
        why = (
            "in the air the airflow turns the engine"
            if start.number in aloft
            else "without Ng it is not known whether it was a start that was broken off"
            if view.trace("ng") is None
            else "starter not recorded"
            if kept is None
            else None
        )
        if why is None and kept is not None:
            kept = _with_following(kept, after)
            ended = kept.high is None or view.end_s - cut.off_s < wanted
            if (kept.low or 0.0) >= wanted - TOLERANCE_S:
                continue
            if not ended:
                events += _event(view, start, cut, kept, wanted, _until(attempt, after, cut))
                continue
            why = "the recording ends before"
        if why is not None:
            channel = view.name_of("starter")
            points.append(NotJudged(WHAT, why, None, channel, cut.off_s, view.end_s, view.engine))
    return events, points


def _with_following(kept: Measure, after: Attempt | None) -> Measure:
    """Return the motoring with that of the next attempt, where its starter turned the engine without fuel."""
    if not _motored(after):
        return kept
    assert after is not None
    highs = [run.duration_high_s for run in after.runs]
    known = [high for high in highs if high is not None]
    high = None if kept.high is None or len(known) < len(highs) else kept.high + sum(known)
    value = (kept.value or 0.0) + sum(run.duration_s for run in after.runs)
    return Measure(value, "s", (kept.low or 0.0) + sum(run.duration_low_s for run in after.runs), high)


def _motored(after: Attempt | None) -> bool:
    return after is not None and not after.fuels and not after.starter_inferred and bool(after.runs)


def _until(attempt: Attempt, after: Attempt | None, cut: Cut) -> float:
    """Return when the starter let go for the last time of what was counted, the cut where it was off by then."""
    runs = attempt.runs + (after.runs if after is not None and _motored(after) else [])
    return max([cut.off_s, *(run.end_s for run in runs if run.end_s is not None)])


def _event(
    view: EngineView, start: Start, cut: Cut, kept: Measure, wanted: float, until: float
) -> list[Event]:
    sure = kept.high is not None and kept.high < wanted - TOLERANCE_S
    value = kept.value or 0.0
    what = f"after the fuel cut-off{view.in_start(start)}; the minimum is {numbers.plain(wanted)} s"
    if not sure:
        length = numbers.duration_text(value, kept.low, kept.high)
        text = f"The starter motored for {length} {what}, so it may have been too short."
    elif value < NO_TIME_S:
        text = f"The engine was not motored {what}."
    else:
        text = f"The starter motored for {numbers.brief_duration(value, allowed_s=wanted)} {what}."
    return [
        rule_event(
            view,
            "motoring_short",
            "limit" if sure else "possible",
            start,
            (cut.off_s, until),
            words(text),
            Rule(
                words(f"At least {numbers.plain(wanted)} s of motoring after the cut that ends a start."),
                "abort.motor_for_s",
                "starter time after the fuel cut-off, and that of an engagement without fuel that follows",
            ),
            Deviation(
                channel="starter",
                level=wanted,
                unit="s",
                duration=(value, kept.low or 0.0, kept.high),
                allowed_s=wanted,
            ),
            certain=sure,
        )
    ]
