"""Whether the engine had been at rest for as long as the profile asks before its fuel was cut."""

from __future__ import annotations

from debrief.analysis.model import Event, NotJudged
from debrief.analysis.rules.rule_event import Deviation, Rule, rule_event
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S
from debrief.analysis.signal.interval_sets import contains
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.shutdowns import Rest, rest_before, shutdowns
from debrief.profile.gaps import SETTLING
from debrief.recording.model import FloatArray
from debrief.words import numbers
from debrief.words.sentence import Quantity, Sentence, sentence

NO_TIME_S = 0.05
"""What prints as no time at all, [s]."""


def cut_without_settling(
    view: EngineView, found: Found, airborne: FloatArray | None
) -> tuple[list[Event], list[NotJudged]]:
    """Return an event for each shutdown with too short a rest, and where that could not be told.

    Notes
    -----
    Exceeded where the upper bound of the rest is shorter than the profile's `settle_s`, possible where the estimate is. A
    cut in the air is not judged: it has its own reasons.
    """
    wanted = view.profile.shutdown.settle_s
    events: list[Event] = []
    points: list[NotJudged] = []
    if wanted is None:
        return events, points
    for fuel in shutdowns(found):
        rest = rest_before(view, found, fuel)
        why = rest.why
        if airborne is not None and contains(airborne, rest.off_s):
            why = "the fuel was cut off in the air"
        if why is not None:
            if (rest.low_s or 0.0) < wanted - TOLERANCE_S:  # else it was surely long enough
                name = view.name_of(rest.channel)
                points.append(
                    NotJudged(
                        SETTLING, why, None, name, max(rest.off_s - wanted, 0.0), rest.off_s, view.engine
                    )
                )
            continue
        if rest.value_s is not None and rest.value_s < wanted - TOLERANCE_S:
            events.append(_event(view, rest, rest.value_s, wanted))
    return events, points


def _event(view: EngineView, rest: Rest, value: float, wanted: float) -> Event:
    sure = rest.high_s is not None and rest.high_s < wanted - TOLERANCE_S
    level = rest.level or 0.0
    at_rest = (
        sentence("below {level}", level=Quantity(level, "degC", is_given=True))
        if rest.channel == "itt"
        else sentence("at idle")
    )
    least = f"the minimum is {numbers.plain(wanted)} s"
    message: Sentence
    if not sure:
        length = numbers.duration_text(value, rest.low_s, rest.high_s)
        message = sentence(
            "The fuel was cut off after {length} {rest}; {least}, so it may have been too short.",
            length=length, rest=at_rest, least=least,
        )  # fmt: skip
    elif value < NO_TIME_S:
        message = sentence(
            "The fuel was cut off before the engine was {rest}; {least} of it.", rest=at_rest, least=least
        )
    else:
        length = numbers.brief_duration(value, allowed_s=wanted)
        message = sentence(
            "The fuel was cut off after {length} {rest}; {least}.", length=length, rest=at_rest, least=least
        )
    key = "shutdown.settle_s"
    return rule_event(
        view,
        "cut_without_settling",
        "limit" if sure else "possible",
        None,
        (rest.off_s - value, rest.off_s),
        message,
        Rule(
            sentence(
                "At least {wanted} s {rest} before the fuel cut-off.",
                wanted=numbers.plain(wanted),
                rest=at_rest,
            ),
            key,
            "time of the cut − end of the last stretch that was not at rest",
        ),
        Deviation(
            channel=rest.channel,
            level=wanted,
            unit="s",
            duration=(value, rest.low_s or 0.0, rest.high_s),
            allowed_s=wanted,
        ),
        certain=sure,
    )
