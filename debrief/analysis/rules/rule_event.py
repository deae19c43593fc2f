"""The event of a rule of ``[start]`` or ``[abort]``, with its evidence."""

from __future__ import annotations

from debrief.analysis.model import (
    Event,
    Evidence,
    Severity,
    Start,
)
from debrief.analysis.signal.engine_view import EngineView
from debrief.words.events import event_spec
from debrief.words.sentence import Sentence


def rule_event(
    view: EngineView,
    kind: str,
    severity: Severity,
    start: Start | None,
    span: tuple[float, float],
    message: Sentence,
    rule: Sentence,
    key: str,
    *,
    formula: str = "",
    channel: str | None = None,
    certain: bool = True,
    reason: str | None = None,
    recovered: bool = False,
    during_abort: bool = False,
    peak: float | None = None,
    peak_s: float | None = None,
    level: float | None = None,
    unit: str = "",
    duration: tuple[float, float, float | None] | None = None,
    allowed_s: float | None = None,
    spans: tuple[tuple[float, float], ...] | None = None,
) -> Event:
    """Return an event with its evidence: the samples of its channel from 2 s before to 2 s after.

    `key` is one of ``[start]``, or has its table before a point.
    """
    times: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    trace = None if channel is None else view.trace(channel)
    if trace is not None:
        part = trace.between(span[0] - 2.0, span[1] + 2.0)
        step = max(1, (part.stop - part.start) // 400 + 1)
        times = tuple(trace.time_s[part][::step].tolist())
        values = tuple(trace.values[part][::step].tolist())
    name = None if channel is None else view.name_of(channel)
    key_path = key if "." in key else f"start.{key}"
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
        peak=peak,
        peak_s=peak_s,
        unit=unit,
        level=level,
        duration_s=None if duration is None else duration[0],
        duration_low_s=None if duration is None else duration[1],
        duration_high_s=None if duration is None else duration[2],
        allowed_s=allowed_s,
        start_number=None if start is None else start.number,
        reason=reason,
        recovered=recovered,
        during_abort=during_abort,
        spans=(span,) if spans is None else spans,
        evidence=Evidence(
            rule,
            key_path,
            view.profile.lines.get(key_path),
            formula,
            name,
            times,
            values,
        ),
    )


def by_fuel(starts: tuple[Start, ...]) -> dict[float, Start]:
    """Return the start that each fuel period belongs to, by when its fuel came."""
    return {p.on_s: s for s in starts for p in s.fuel_periods}
