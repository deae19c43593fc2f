"""What happened, as the lanes show it: stretches of findings, moments, the ribbon."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from debrief.analysis.model import Assessment, Severity, Start
from debrief.session.texts.definitions import phase_title
from debrief.session.texts.highest_itt import highest_itt
from debrief.session.texts.story import Shape, finding_title, shape_of
from debrief.words.channels import base_name
from debrief.words.events import finding

_MARKED = ("fuel", "light-off", "peak", "fuel cut-off", "idle")


@dataclass(frozen=True)
class Span:
    """An event's stretch of time.

    `label` is empty for all but the first stretch of an event; `across` says whether it is tinted in all
    lanes, as what the engine suffered is, or only in its own.
    """

    begin_s: float
    end_s: float
    severity: Severity
    label: str
    shape: Shape
    channel: str | None
    across: bool = True

    def tints(self, names: Container[str]) -> bool:
        """Return whether it is tinted in a lane of these channels."""
        return self.across or self.channel in names


@dataclass(frozen=True)
class Mark:
    """A moment with a small word: a dotted line.

    `kind` is the word without a number; `inferred` says that it was not recorded directly.
    """

    time_s: float
    word: str
    kind: str = ""
    inferred: bool = False


@dataclass(frozen=True)
class RibbonPart:
    """A named stretch of the ribbon above the lanes."""

    begin_s: float
    end_s: float
    word: str


def event_spans(assessment: Assessment, engine: int = 1) -> tuple[Span, ...]:
    """Return the stretches of the events to tint, in order of time; notes are not tinted."""
    spans = []
    for event in assessment.events:
        if event.engine != engine or event.severity == "note":
            continue
        shown = finding(event).shown_as or "note"
        pieces: Sequence[tuple[float, float]] = event.spans or ((event.start_s, event.end_s),)
        for index, (begin, end) in enumerate(pieces):
            label = finding_title(event) if index == 0 else ""
            channel = None if event.channel is None else base_name(event.channel)
            across = event.event_class == "engine" and event.severity != "caution"
            spans.append(Span(begin, end, shown, label, shape_of(event), channel, across))
    return tuple(sorted(spans, key=lambda span: span.begin_s))


def start_marks(start: Start) -> tuple[Mark, ...]:
    """Return the moments of a start in order of time; of several periods of fuel each with its number."""
    found: list[Mark] = []

    def add(time_s: float | None, kind: str, field: str, number: str = "") -> None:
        if time_s is not None:
            found.append(Mark(time_s, f"{kind}{number}", kind, field in start.inferred))

    add(start.starter_on_s, "starter on", "starter_on_s")
    add(start.starter_off_s, "starter off", "starter_off_s")
    periods = [(p.on_s, p.light_off_s, p.off_s) for p in start.fuel_periods]
    for index, (on_s, lit_s, off_s) in enumerate(
        periods or [(start.fuel_on_s, start.light_off_s, start.fuel_off_s)], start=1
    ):
        number = f" {index}" if len(periods) > 1 else ""
        add(on_s, "fuel", "fuel_on_s", number)
        add(lit_s, "light-off", "light_off_s", number)
        add(off_s, "fuel cut-off", "fuel_off_s", number)
    if start.peak_itt_c is not None:
        add(start.peak_itt_s, "peak", "peak_itt_c")
    add(start.idle_s, "idle", "idle_s")
    return tuple(sorted(found, key=lambda mark: (mark.time_s, mark.word)))


def marks(assessment: Assessment, engine: int = 1) -> tuple[Mark, ...]:
    """Return the moments of all starts that the ribbon does not show: fuel, light-off, peak, fuel cut-off, idle.

    Where no start is told of, the highest ITT.
    """
    found = {
        mark
        for start in assessment.starts
        if start.engine == engine
        for mark in start_marks(start)
        if mark.kind in _MARKED
    }
    found |= {Mark(one.time_s, "highest", "peak") for one in highest_itt(assessment) if one.engine == engine}
    return tuple(sorted(found, key=lambda mark: (mark.time_s, mark.word)))


def ribbon(assessment: Assessment, engine: int | None = 1) -> tuple[RibbonPart, ...]:
    """Return the stretches of the ribbon: what the engine was doing, filled up with the flight's phases.

    Of no engine they are the phases alone.
    """
    parts: list[RibbonPart] = []
    for start in assessment.starts:
        if start.engine != engine:
            continue
        edges: list[tuple[float, str]] = []
        if start.starter_on_s is not None:
            edges.append((start.starter_on_s, "Motoring"))
        if start.fuel_on_s is not None:
            edges.append((start.fuel_on_s, "Fuel on"))
        if start.light_off_s is not None:
            edges.append((start.light_off_s, "Light-off to idle"))
        end = start.end_s
        if start.outcome == "completed":
            end = start.idle_s if start.idle_s is not None else end
        elif start.fuel_off_s is not None:
            edges.append((start.fuel_off_s, "Run-down"))
            off = start.starter_off_s
            if off is not None and off > start.fuel_off_s:
                edges[-1] = (start.fuel_off_s, "Motoring after the fuel cut-off")
                edges.append((off, "Run-down"))
        elif start.starter_off_s is not None and start.light_off_s is None:
            edges.append((start.starter_off_s, "Run-down"))
        edges.sort()
        for index, (begin, word) in enumerate(edges):
            until = edges[index + 1][0] if index + 1 < len(edges) else end
            if until > begin:
                parts.append(RibbonPart(begin, until, word))
    parts.sort(key=lambda part: part.begin_s)
    return tuple(_fill(parts, assessment))


def _fill(parts: list[RibbonPart], assessment: Assessment) -> list[RibbonPart]:
    filled = list(parts)
    taken = [(p.begin_s, p.end_s) for p in parts]
    for phase in assessment.phases:
        if phase.name == "start":
            continue
        word = phase_title(phase.name)
        begin = phase.start_s
        for a, b in taken:
            if b <= begin or a >= phase.end_s:
                continue
            if a > begin:
                filled.append(RibbonPart(begin, a, word))
            begin = max(begin, b)
        if phase.end_s > begin:
            filled.append(RibbonPart(begin, phase.end_s, word))
    return sorted(filled, key=lambda part: part.begin_s)
