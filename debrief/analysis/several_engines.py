"""Where a recording has several engines, whatever is said of one of them names it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from debrief.analysis.model import Event, LimitResult, NotJudged
from debrief.recording.model import QualityFlag
from debrief.words.channels import ENGINE_CHANNELS
from debrief.words.engines import engine_named


def name_events(events: Iterable[Event]) -> list[Event]:
    """Return the events, each message with its engine."""
    return [
        replace(one, message=f"{engine_named(one.engine, begins=True)}: " + one.message) for one in events
    ]


def name_limits(limits: Iterable[LimitResult]) -> list[LimitResult]:
    """Return the results of the limits, each reason with its engine."""
    return [
        one if one.why is None else replace(one, why=f"{engine_named(one.engine)}: " + one.why)
        for one in limits
    ]


def name_points(points: Iterable[NotJudged]) -> list[NotJudged]:
    """Return the open points of engines, each reason with its engine."""
    return [replace(one, why=f"{engine_named(one.engine)}: " + one.why) for one in points]


def name_flags(flags: Sequence[QualityFlag]) -> list[QualityFlag]:
    """Return the flags of channels, those of the first engine's with its name: the others' have it."""
    return [
        replace(one, message=f"{engine_named(1, begins=True)}: " + one.message)
        if one.channel in ENGINE_CHANNELS
        else one
        for one in flags
    ]
