"""The story of a recording as steps in order of time, from an assessment: what a reader clicks through."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from debrief.analysis.flight_model import LoadStep
from debrief.analysis.model import Assessment, Event, FuelPeriod, Start
from debrief.session.texts.highest_itt import Highest, above_levels, highest_itt
from debrief.session.texts.plain_names import (
    FROM_ONE_SECOND,
    after_words,
    bound_words,
    fuel_words,
    itt_unit,
    moment_of,
    severity_words,
)
from debrief.session.texts.recording_kind import IN_FLIGHT
from debrief.words.clock import ELAPSED, Clock
from debrief.words.engines import engine_named
from debrief.words.events import OUTCOME_WORDS, event_spec, event_title, finding, is_failed_start
from debrief.words.loads import change_in_short, load_title
from debrief.words.numbers import (
    beside,
    brief_duration,
    duration_text,
    number,
    plain,
    reference_beside,
    unit_words,
    value_text,
)
from debrief.words.sampling import after_text, highest_bound, is_coarse, lowest_bound, reading_text
from debrief.words.starts import start_title

Shape = Literal["diamond", "hollow_diamond", "triangle", "circle", "heading"]

SHAPE_WORDS = {
    "diamond": "limit exceeded",
    "hollow_diamond": "possibly exceeded",
    "triangle": "caution",
    "circle": "step",
    "heading": "heading",
}

_PHASE_TITLES = {
    "off": "Engine off",
    "start": "Start",
    "ground": "On the ground",
    "takeoff": "Take-off",
    "climb": "Climb",
    "cruise": "Cruise",
    "descent": "Descent",
    "manoeuvring": "Manoeuvring",
    "landing": "Landing",
    "shutdown": "Shutdown",
}
_STEP_MARGIN_S = 5.0
_HIGHEST_FRAME_S = 30.0
_LOAD_FRAME_S = 45.0
_MOST_LOADS = 40
"""Of a recording: a switch that bounces would fill the story; the page of the flight has all."""


@dataclass(frozen=True)
class StoryStep:
    """One line of the story.

    Attributes
    ----------
    time_s : float
        Where the replay goes when it is chosen, [s].
    title, detail : str
        Words; the detail may be empty.
    shape : str
        ``diamond`` limit exceeded, ``hollow_diamond`` possibly, ``triangle`` caution, ``circle`` step,
        ``heading`` for a line that only names a group.
    begin_s, end_s : float
        The stretch of time that shows it, [s].
    event : Event or None
        The finding behind it.
    start_number : int or None
        The start it belongs to, of its engine.
    shows_time : bool
        Whether the time is a fact about the step, or only a place to go to.
    engine : int
        The engine it belongs to.
    """

    time_s: float
    title: str
    detail: str
    shape: Shape
    begin_s: float
    end_s: float
    event: Event | None = None
    start_number: int | None = None
    shows_time: bool = True
    engine: int = 1

    @property
    def is_finding(self) -> bool:
        """Whether the step is more than a step: what "next finding" stops at."""
        return self.event is not None and self.event.severity != "note"

    def spoken(self, clock: Clock = ELAPSED) -> str:
        """Return the step in one line for a screen reader."""
        parts = [self.title]
        if self.event is not None and self.shape not in ("circle", "heading"):
            parts.append(spoken_severity(self.event))
        elif self.shape not in ("circle", "heading"):
            parts.append(SHAPE_WORDS[self.shape])
        if self.shows_time:
            parts.append(f"at {clock.text(self.time_s)}")
        if self.detail:
            parts.append(self.detail)
        return ", ".join(parts)


def shape_of(event: Event) -> Shape:
    """Return the shape that stands for an event's severity."""
    return finding(event).sign or "circle"


def spoken_severity(event: Event) -> str:
    """Return what stands for an event's shape where it cannot be seen."""
    return severity_words(event).lower()


def story(assessment: Assessment) -> tuple[StoryStep, ...]:
    """Return the steps of all starts, phases and events strictly in order of time.

    At one time what was done or came about stands before what was found of it, and how a start ended last. A heading
    stands above the steps of its start; a step that its time takes below the heading of another start names its own.
    """
    placed: list[_Placed] = []
    used: set[int] = set()
    flying = any(p.name in IN_FLIGHT for p in assessment.phases)
    headed = flying or len(assessment.starts) > 1
    for section, start in enumerate(sorted(assessment.starts, key=lambda s: s.begin_s), start=1):
        own = list(assessment.events_of(start))
        used.update(id(e) for e in own)
        group = _start_steps(assessment, start, own)
        begin, end = start_frame(start)
        times = [step.time_s for step, _ in group] or [start.begin_s]
        ended = max((step.time_s for step, rank in group if rank == _STEP), default=start.end_s)
        if headed:
            title = _start_title(assessment, start.number, start.engine)
            heading = StoryStep(
                start.begin_s, title, OUTCOME_WORDS[start.outcome], "heading", begin, end,
                start_number=start.number, shows_time=False, engine=start.engine,
            )  # fmt: skip
            placed.append(_Placed(min(start.begin_s, *times), section, _HEADING, heading))
        placed += [_Placed(step.time_s, section, rank, step) for step, rank in group]
        placed.append(_Placed(ended, section, _OUTCOME, _outcome_step(assessment, start, own, ended)))
    rest: list[tuple[StoryStep, int]] = []
    for phase in assessment.phases:
        if phase.name == "start" or (not flying and phase.name in ("off", "ground")):
            continue
        title = _PHASE_TITLES.get(phase.name, phase.name.replace("_", " ").capitalize())
        detail = _minutes(phase.end_s - phase.start_s)
        detail = f"took {detail}" if phase.name == "shutdown" else detail
        rest.append((StoryStep(phase.start_s, title, detail, "circle", phase.start_s, phase.end_s), _PHASE))
    rest += [(_event_step(assessment, e), _ASIDE) for e in assessment.events if id(e) not in used]
    rest += [
        (_load_step(assessment, one), _PHASE) for one in assessment.canonical.flight.load_steps[:_MOST_LOADS]
    ]
    rest += [(_highest_step(one), _PHASE) for one in highest_itt(assessment)]
    begins = sorted(start.begin_s for start in assessment.starts)
    placed += [_Placed(step.time_s, bisect_right(begins, step.time_s), rank, step) for step, rank in rest]
    placed.sort(key=lambda one: (round(one.time_s, 6), one.section, one.rank))
    steps = tuple(one.step for one in placed)
    return _named_apart(steps, assessment) if headed else steps


_HEADING, _STEP, _FINDING, _OUTCOME, _PHASE, _ASIDE = range(6)
"""What comes first at one time; last the flight's phases, and what was found aside from the starts."""


class _Placed(NamedTuple):
    """A step and its place: by time, then by the start in which it falls, then by what it is."""

    time_s: float
    section: int
    rank: int
    step: StoryStep


def _named_apart(steps: Sequence[StoryStep], assessment: Assessment) -> tuple[StoryStep, ...]:
    """Return the steps; one of a start that stands below the heading of another names its own."""
    out: list[StoryStep] = []
    heading: tuple[int, int | None] | None = None
    for step in steps:
        if step.shape == "heading":
            heading = (step.engine, step.start_number)
        elif step.start_number is not None and heading != (step.engine, step.start_number):
            whose = _start_title(assessment, step.start_number, step.engine).lower()
            step = replace(step, title=f"{step.title}, {whose}")
        out.append(step)
    return tuple(out)


def _start_title(assessment: Assessment, number_: int, engine: int) -> str:
    title = start_title(number_, assessment.start_count(engine))
    return f"{title}, engine {engine}" if assessment.recording.has_several_engines else title


def _highest_step(one: Highest) -> StoryStep:
    words = value_text(one.value, one.unit)
    begin, end = max(0.0, one.time_s - _HIGHEST_FRAME_S), one.time_s + _HIGHEST_FRAME_S
    return StoryStep(one.time_s, f"Highest {one.symbol}", words, "circle", begin, end)


def _load_step(assessment: Assessment, load: LoadStep) -> StoryStep:
    """Return a load that was switched, with what it changed of the temperature where that is known."""
    change, units = load.changes.get("itt"), assessment.units
    detail = ""
    if change is not None:  # its interval is on the page of the flight
        itt = assessment.names(load.engine).itt
        detail = change_in_short(itt, change.value, change.low, change.high, units)
    title = load_title(load.kind, load.on)
    if assessment.recording.has_several_engines:
        title = f"{title}, {engine_named(load.engine)}"
    begin, end = max(load.time_s - _LOAD_FRAME_S, 0.0), load.time_s + _LOAD_FRAME_S
    return StoryStep(load.time_s, title, detail, "circle", begin, end, engine=load.engine)


def start_frame(start: Start) -> tuple[float, float]:
    """Return the stretch of time that shows a start whole, [s]."""
    begin = start.begin_s - _STEP_MARGIN_S
    candidates = [start.idle_s, start.starter_off_s, start.fuel_off_s, start.peak_itt_s]
    known = [t for t in candidates if t is not None]
    end = max(known) if known else start.end_s
    if start.outcome == "completed" and start.idle_s is not None:
        end = max(start.idle_s, start.peak_itt_s or start.idle_s)
    length = end - start.begin_s
    return max(0.0, begin), min(start.end_s, end + max(_STEP_MARGIN_S, 0.25 * length)) if (
        start.end_s > end
    ) else end + _STEP_MARGIN_S


_SAME_S = 0.05
"""Times that differ by less read the same on the clock."""

_REASON_TITLES = {
    "run_too_long": "Starter run too long",
    "rest_too_short": "Starter rest too short",
    "engaged_while_turning": "Starter engaged while turning",
    "late": "Late light-off",
}


def finding_title(event: Event) -> str:
    """Return the title of an event: its kind, or its reason where that says more."""
    return _REASON_TITLES.get(event.reason or "") or event_title(event.kind)


def event_detail(assessment: Assessment, event: Event) -> str:
    """Return an event's numbers in few words; its own message where it has no level."""
    if not event.levels or event.level is None or event.peak is None or event.duration_s is None:
        return event.message
    below = is_below(assessment, event)
    extreme = "lowest" if below else "peak"
    side = "below" if below else "above"
    between = (event.duration_s, event.duration_low_s, event.duration_high_s)
    # Bounds stand only where they decide, else behind Why: where a sensor is suspect they do not.
    decide = event.severity == "possible" and not event.sensor_suspect
    time = duration_text(*between) if decide else brief_duration(*between, event.allowed_s)
    bound = _event_bound(event, below)
    words = f"{extreme} {bound}{beside(event.peak, event.level, event.unit)}; {time} {side} {reference_beside(event.peak, event.level, event.unit)}"
    if event.allowed_s is not None:
        words += f", {plain(event.allowed_s)} s allowed" if event.allowed_s else ", not allowed at any time"
    if event.sensor_suspect:
        words += "; sensor suspect"
    return words


def _event_bound(event: Event, below: bool) -> str:
    """Return what stands before an event's extreme that the samples may have missed; of a suspect sensor nothing."""
    if event.peak is None or event.sensor_suspect:
        return ""
    bound = lowest_bound if below else highest_bound
    low, high = (event.peak_high, None) if below else (None, event.peak_high)
    return bound(event.peak, low, high, event.unit) if event.peak_high is not None else ""


def is_below(assessment: Assessment, event: Event) -> bool:
    """Return whether the event's limit is a minimum."""
    profile = assessment.profile
    if profile is not None and event.limit_id is not None:
        return any(limit.id == event.limit_id and limit.below for limit in profile.limits)
    return event_spec(event.kind).is_below


def _minutes(seconds: float) -> str:
    if seconds < 90:
        return f"{number(seconds, 0)} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


def _event_step(assessment: Assessment, event: Event) -> StoryStep:
    title = finding_title(event)
    if event.severity == "possible":
        title = f"{title}, possibly"
    if event.severity == "note":
        title = f"{title}, a note"
    if event.start_number is None and assessment.recording.has_several_engines:
        title = f"{title}, engine {event.engine}"
    # An event goes to its worst moment where it has one; that is what the reader wants to see.
    length = max(event.end_s - event.start_s, 4.0)
    return StoryStep(
        time_s=moment_of(event),
        title=title,
        detail=event_detail(assessment, event),
        shape=shape_of(event),
        begin_s=max(0.0, event.start_s - max(length, 8.0)),
        end_s=event.end_s + max(length, 8.0),
        event=event,
        start_number=event.start_number,
        engine=event.engine,
    )


def _start_steps(
    assessment: Assessment, start: Start, events: Sequence[Event]
) -> list[tuple[StoryStep, int]]:
    """Return the steps and findings of a start, each with its rank."""
    begin, end = start_frame(start)
    steps: list[tuple[StoryStep, int]] = []
    inferred = set(start.inferred)

    def add(
        time_s: float | None, title: str, detail: str, event: Event | None = None, field: str = ""
    ) -> None:
        if time_s is None:
            return
        if field in inferred:
            detail = f"{detail}; inferred" if detail else "inferred"
        shape: Shape = "circle" if event is None else shape_of(event)
        steps.append(
            (
                StoryStep(time_s, title, detail, shape, begin, end, event, start.number, engine=start.engine),
                _STEP,
            )
        )

    add(start.starter_on_s, "Starter on", _volts_words(start), field="starter_on_s")
    periods = start.fuel_periods
    ons: list[float | None] = [*(period.on_s for period in periods)] or [start.fuel_on_s]
    # An exceeded minimum is told in its fuel step; a note has a step of its own, which else nobody sees.
    early: dict[float | None, Event] = {
        on: e
        for e in events
        for on in ons
        if e.kind == "early_fuel" and e.severity != "note"
        if on is not None and e.start_s - 1e-6 <= on <= e.end_s + 1e-6
    }
    if len(periods) > 1:
        for index, period in enumerate(periods):
            last = index == len(periods) - 1
            add(period.on_s, f"Fuel on, {_nth(index)}", _fuel_words(assessment, period),
                early.get(period.on_s), "fuel_on_s" if last else "")  # fmt: skip
            if not last:
                add(period.light_off_s, "Light-off", _after(period.light_off_s, period.on_s, "fuel"))
                add(period.off_s, "Fuel cut-off", "")
    else:
        words = "; ".join(
            (_fuel_words(assessment, periods[0] if periods else None), *_fuel_after_starter(start))
        )
        add(start.fuel_on_s, "Fuel on", words, early.get(start.fuel_on_s), "fuel_on_s")
    light = after_words(start, "fuel_to_light_off", "fuel")
    add(start.light_off_s, "Light-off", light, field="light_off_s")
    if start.peak_itt_c is not None:
        add(
            start.peak_itt_s,
            f"Peak {assessment.names(start.engine).itt}",
            ", ".join(filter(None, (_peak_words(start), above_levels(start)))),
        )
    cut = start.fuel_off_s
    if cut is not None and start.outcome != "completed":
        add(cut, "Fuel cut-off", _cut_words(start, events), field="fuel_off_s")
    if start.starter_off_s is not None:
        add(start.starter_off_s, "Starter off", _starter_words(start), field="starter_off_s")
    add(start.idle_s, "Idle", after_words(start, "light_off_to_idle", "light-off"), field="idle_s")
    steps += [
        (_event_step(assessment, e), _FINDING) for e in events if all(e is not x for x in early.values())
    ]
    return steps


def _outcome_step(assessment: Assessment, start: Start, events: Sequence[Event], time_s: float) -> StoryStep:
    """Return how a start ended, with what one asks of it first."""
    title = OUTCOME_WORDS[start.outcome]
    failures = [e for e in events if is_failed_start(e) and e.severity in ("limit", "possible")]
    failed = min(failures, key=lambda e: e.severity != "limit", default=None)
    if failed is not None and start.outcome != "completed":
        title = f"{severity_words(failed)}: {title[:1].lower()}{title[1:]}"
    calm = ("completed", "motoring", "incomplete", "unknown")
    shape: Shape = "circle" if start.outcome in calm else "triangle"
    begin, end = start_frame(start)
    return StoryStep(
        time_s, title, _outcome_words(assessment, start), shape, begin, end,
        start_number=start.number, shows_time=False, engine=start.engine,
    )  # fmt: skip


def _peak_words(start: Start) -> str:
    return f"{bound_words(start, 'peak_itt')}{value_text(start.peak_itt_c, itt_unit(start))}"


def _nth(index: int) -> str:
    return ("first", "second", "third", "fourth")[index] if index < 4 else f"number {index + 1}"


def _volts_words(start: Start) -> str:
    lowest = f"{bound_words(start, 'min_bus_volts')}{number(start.min_bus_volts, 1)} V {FROM_ONE_SECOND}"
    if start.rest_bus_volts is not None and start.min_bus_volts is not None:
        return f"bus {number(start.rest_bus_volts, 1)} V, lowest {lowest}"
    if start.min_bus_volts is not None:
        return f"bus lowest {lowest}"
    return "bus voltage not known"


def _fuel_after_starter(start: Start) -> list[str]:
    """Return how long after the starter fuel came; empty where it is not known."""
    on, fuel = start.starter_on_s, start.measures.get("fuel_on")
    if on is None or start.fuel_on_s is None:
        return []
    low = None if fuel is None or fuel.low is None else fuel.low - on
    # The starter came on between two samples, too.
    earliest = start.starter_runs[0].start_low_s if start.starter_runs else None
    high = None if fuel is None or fuel.high is None else fuel.high - (on if earliest is None else earliest)
    return [after_text(start.fuel_on_s - on, low, high, "starter on")]


def _fuel_words(assessment: Assessment, period: FuelPeriod | None) -> str:
    ng_pct = None if period is None else period.ng_at_fuel_pct
    if period is None or ng_pct is None:
        return "Ng not known"
    low, high = period.ng_at_fuel_low_pct, period.ng_at_fuel_high_pct
    coarse = is_coarse(ng_pct, low, high, "%")
    rules = assessment.profile.start if assessment.profile is not None else None
    least = rules.min_fuel_ng_pct if rules is not None else None
    read = reading_text(ng_pct, low, high, "%")
    if least is None:
        return f"Ng {read}"
    words = f"Ng {read if coarse else beside(ng_pct, least, '%')}, minimum {plain(least)}"
    advised = rules.advised_fuel_ng_pct if rules is not None else None
    if advised is not None and least <= ng_pct < advised:
        words += f", advised {plain(advised)}"
    return words


def _after(time_s: float | None, since_s: float | None, what: str) -> str:
    if time_s is None or since_s is None:
        return ""
    return f"{number(time_s - since_s, 1)} s after {what}"


def _cut_words(start: Start, events: Sequence[Event]) -> str:
    cut = start.fuel_off_s
    if cut is None:
        return ""
    crossed = [
        level
        for e in events
        if e.channel == "itt" and e.severity in ("limit", "possible")
        for level in e.levels
        if level.start_s is not None and level.start_s <= cut and level.result in ("exceeded", "possible")
    ]
    if crossed:
        worst = max(crossed, key=lambda level: level.level)
        assert worst.start_s is not None
        return f"{number(cut - worst.start_s, 1)} s after {plain(worst.level)} {unit_words(itt_unit(start))} was crossed"
    return _after(cut, start.light_off_s, "light-off") or _after(cut, start.fuel_on_s, "fuel")


def _starter_words(start: Start) -> str:
    parts = []
    on, off = start.starter_on_s, start.starter_off_s
    if on is not None and off is not None:
        parts.append(f"ran {_ran(start, off - on)}")
    if off is not None and start.fuel_off_s is not None and start.outcome != "completed":
        after = off - start.fuel_off_s
        found = start.measures.get("motored_after_cut")
        low, high = (None, None) if found is None else (found.low, found.high)
        motored = (
            f"motored {reading_text(after, low, high, 's')} after the fuel cut-off"
            if after > 0
            else "off before the fuel cut-off"
        )
        parts.append("off with the fuel cut-off" if abs(after) < _SAME_S else motored)
    return "; ".join(parts)


def _ran(start: Start, seconds: float) -> str:
    """Return how long the starter ran: of several runs from the first on to the last off."""
    only = start.starter_runs[0] if len(start.starter_runs) == 1 else None
    return reading_text(
        seconds,
        None if only is None else only.duration_low_s,
        None if only is None else only.duration_high_s,
        "s",
    )


def _outcome_words(assessment: Assessment, start: Start) -> str:
    if start.outcome == "completed":
        facts = [
            "" if start.ng_at_fuel_pct is None else f"Ng at fuel {fuel_words(start)}",
            ""
            if start.peak_itt_c is None
            else f"peak {assessment.names(start.engine).itt} {_peak_words(start)}",
            (idle := _idle_words(start)) and f"idle {idle}",
        ]
        return ", ".join(filter(None, facts))
    if start.outcome == "motoring":
        return f"highest Ng {value_text(start.max_motoring_ng_pct, '%')}, no fuel"
    if start.outcome in ("aborted", "hung", "flamed_out"):
        highest = _highest_ng(assessment, start)
        return "idle not reached" + (f", highest Ng {highest}" if highest else "")
    if start.outcome == "no_light_off":
        return "fuel was on, the engine never lit"
    if start.outcome == "unknown":
        if start.fuel_periods:
            return "nothing shows whether it came to idle"
        return "motoring or no light-off; fuel may be in the engine"
    return "the recording begins or ends before it is decided"


def _idle_words(start: Start) -> str:
    """Return when idle came: after starter on, and after light-off where samples are too few for more than bounds."""
    found = start.measures.get("light_off_to_idle")
    if found is not None and found.value is not None and is_coarse(found.value, found.low, found.high, "s"):
        return after_words(start, "light_off_to_idle", "light-off")
    return _after(start.idle_s, start.starter_on_s, "starter on")


def _highest_ng(assessment: Assessment, start: Start) -> str:
    """Return the highest recorded speed of an attempt in words; empty where it was not recorded."""
    channel = assessment.recording.get("ng", start.engine)
    if channel is None:
        return ""
    first, last = channel.time_s.searchsorted((start.begin_s, start.end_s))
    values = channel.values[int(first) : int(last)]
    return value_text(float(values.max()), channel.unit) if values.size else ""
