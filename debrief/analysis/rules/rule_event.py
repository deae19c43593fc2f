"""The event of a rule of ``[start]`` or ``[abort]``, with its evidence."""

from __future__ import annotations

from dataclasses import dataclass

from debrief.analysis.evidence.evidence_samples import event_samples
from debrief.analysis.model import (
    Event,
    Evidence,
    Severity,
    Start,
)
from debrief.analysis.signal.engine_view import EngineView
from debrief.words.events import event_spec
from debrief.words.sentence import Sentence


@dataclass(frozen=True)
class Rule:
    """What was broken: the rule in words, its key in the profile, and how its number is worked out.

    The key is one of ``[start]``, or has its table before a point; None where no number of the profile is asked.
    """

    text: Sentence
    key: str | None
    formula: str


@dataclass(frozen=True)
class Deviation:
    """How far off a rule it was: of which channel, and its number beside the rule's."""

    channel: str
    level: float | None
    unit: str
    peak: float | None = None
    peak_s: float | None = None
    rise: float | None = None
    duration: tuple[float, float, float | None] | None = None
    """The value and its bounds, [s]."""
    allowed_s: float | None = None


def rule_event(
    view: EngineView,
    kind: str,
    severity: Severity,
    start: Start | None,
    span: tuple[float, float],
    message: Sentence,
    rule: Rule,
    deviation: Deviation,
    *,
    certain: bool = True,
    reason: str | None = None,
    recovered: bool = False,
    during_abort: bool = False,
    spans: tuple[tuple[float, float], ...] | None = None,
) -> Event:
    """Return an event with its evidence: the samples of its channel from 2 s before to 2 s after."""
    times, values = event_samples(view, deviation.channel, *span)
    name = view.name_of(deviation.channel)
    took, took_low, took_high = deviation.duration or (None, None, None)
    key_path = rule.key if rule.key is None or "." in rule.key else f"start.{rule.key}"
    return Event(
        kind=kind,
        event_class=event_spec(kind).event_class,
        engine=view.engine,
        severity=severity,
        start_s=span[0],
        end_s=span[1],
        message=message,
        certain=certain,
        channel=name,
        peak=deviation.peak,
        peak_s=deviation.peak_s,
        rise=deviation.rise,
        unit=deviation.unit,
        level=deviation.level,
        duration_s=took,
        duration_low_s=took_low,
        duration_high_s=took_high,
        allowed_s=deviation.allowed_s,
        start_number=None if start is None else start.number,
        reason=reason,
        recovered=recovered,
        during_abort=during_abort,
        spans=(span,) if spans is None else spans,
        evidence=Evidence(
            rule.text,
            key_path,
            None if key_path is None else view.profile.lines.get(key_path),
            rule.formula,
            name,
            times,
            values,
        ),
    )


def by_fuel(starts: tuple[Start, ...]) -> dict[float, Start]:
    """Return the start that each fuel period belongs to, by when its fuel came."""
    return {p.on_s: s for s in starts for p in s.fuel_periods}
