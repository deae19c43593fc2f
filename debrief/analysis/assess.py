"""The one door: a recording and a profile in, an assessment out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.core_questions import engines_left, with_core
from debrief.analysis.evidence.measured import Measured, evidence_of, measures_of
from debrief.analysis.flight.cycle_counts import CLASSES, cycle_classes, cycle_measures
from debrief.analysis.flight.flight_lists import all_lists, flight_lists, running_seen
from debrief.analysis.flight.flight_measures import flight_measures
from debrief.analysis.flight.itt_consistency import consistency_measures, itt_consistency
from debrief.analysis.flight.itt_levels import itt_levels
from debrief.analysis.flight.itt_margins import itt_margins
from debrief.analysis.flight.landings import find_landings, flown
from debrief.analysis.flight.life_use import life_use
from debrief.analysis.flight.phases import find_phases
from debrief.analysis.flight.propeller import propeller_measures
from debrief.analysis.flight.shutdown import shutdown_measures
from debrief.analysis.flight.taxi import taxi_measures
from debrief.analysis.flight_model import NO_LISTS, FlightLists
from debrief.analysis.limits.applicability import Course, Scope, course_of, scope_of
from debrief.analysis.limits.judge import Judged, judge_limit
from debrief.analysis.listed import Listed
from debrief.analysis.measures.factors import factors_of, is_bad
from debrief.analysis.model import (
    Assessment,
    EarlierRun,
    Event,
    LimitResult,
    NotJudged,
    Phase,
    Start,
    StarterRun,
)
from debrief.analysis.quality.cold_temperature import cold_temperature
from debrief.analysis.quality.dead_speed import dead_speed
from debrief.analysis.quality.doubt import Doubt, samples_in
from debrief.analysis.quality.sensors import doubt_flags, doubted_anew, idle_unseen, sensor_doubts, unlimited
from debrief.analysis.quality.spikes import CONTRADICTED, contradicted_samples, spike_flags, spike_samples
from debrief.analysis.reported_starts import build_start
from debrief.analysis.rules import start_rules
from debrief.analysis.rules.air_starts import aloft_of, not_judged_aloft, surely
from debrief.analysis.rules.beta_in_flight import beta_in_flight
from debrief.analysis.rules.motoring_rule import motoring_short
from debrief.analysis.rules.not_judged import not_judged, not_judged_between
from debrief.analysis.rules.settling_rule import cut_without_settling
from debrief.analysis.rules.starter_duty import duty_events
from debrief.analysis.several_engines import name_events, name_flags, name_limits, name_points
from debrief.analysis.signal.bursts import bursts
from debrief.analysis.signal.engine_view import EngineView, go_on
from debrief.analysis.signal.interval_sets import EMPTY, from_pairs
from debrief.analysis.signal.traces import Trace
from debrief.analysis.signal.true_rate import at_true_rate
from debrief.analysis.starts.attempts import Found, find_attempts, start_windows
from debrief.analysis.starts.edge_bounds import Edges, air_window
from debrief.analysis.starts.hang_detection import find_hang, hang_unseen
from debrief.analysis.starts.light_off import began_running
from debrief.analysis.starts.unknown_running import unknown_running
from debrief.analysis.verdict import (
    EVERY_LIMIT,
    NO_PROFILE,
    PROFILE_FITS,
    any_judged,
    sentence_of,
    verdict_of,
)
from debrief.profile.model import EngineProfile, Limit
from debrief.recording.model import FloatArray, QualityFlag, Recording
from debrief.words.sentence import joined

AFTER_PEAK_S = 10.0
COUNTED = tuple(name for name, _ in CLASSES)
"""Channels whose cycles are counted."""


class _Engine:
    """Everything found for one engine, before the engines are put together."""

    def __init__(
        self, recording: Recording, profile: EngineProfile, engine: int, between: Callable[[], None]
    ) -> None:
        self.listed = Listed()
        self.limits: list[LimitResult] = []
        self.open_points: list[NotJudged] = []
        self.quality: list[QualityFlag] = []
        self.measured: dict[str, Measured] = {}
        self.flight: FlightLists = NO_LISTS
        rough = EngineView(recording, profile, engine, between=between)
        dead = dead_speed(rough)
        if dead is not None:
            name = rough.name_of("ng")
            rough = EngineView(recording, profile, engine, between=between, disbelieved={"ng": dead})
            said = joined("", [rough.names.in_text(name, begins=True), " ", dead, "."])
            self.quality.append(QualityFlag("dead_speed", name, 0.0, rough.end_s, said))
        # Starts are found twice: the gap limit is shorter inside a start, and where the starts are is
        # known only after the first look.
        first = find_attempts(rough, began_running(rough))
        self.view = rough.with_start_windows(start_windows(first.attempts))
        self.found = first if self.view is rough else find_attempts(self.view, first.began_running)
        self.unknown = unknown_running(self.view, self.found)
        self.doubts = sensor_doubts(self.view, self.found, self.unknown.rows)
        for attempt in self.found.attempts:
            attempt.idle_unseen = idle_unseen(attempt, self.doubts)
        self.air = air_window(self.view)
        self.edges = Edges(self.view, self.found)
        self.airborne = None if self.air is None else self.air.rows
        self.flown = None if self.airborne is None else flown(self.airborne)
        self.hangs = [
            None if a.idle_unseen is not None and a.idle_s is None else find_hang(self.view, a)
            for a in self.found.attempts
        ]
        self.view.start_count = len(self.found.attempts)
        self.starts = self._starts()
        self.landings = None if self.airborne is None else find_landings(self.view, self.airborne)
        self.phases = find_phases(self.view, self.found, self.starts, self.landings, self.unknown.rows)

    def _starts(self) -> tuple[Start, ...]:
        found = self.found
        out = []
        for n, attempt in enumerate(found.attempts, 1):
            attempt.runs = [replace(r, start_number=n) for r in attempt.runs]
            hang = self.hangs[n - 1]
            sure = None if hang is None or hang.possible else hang
            start = build_start(self.view, found, n, self.edges.start_window(n), sure, self.flown)
            out.append(start)
        numbered = {r.start_s: r for a in found.attempts for r in a.runs}
        found.runs = [numbered.get(r.start_s, r) for r in found.runs]
        return tuple(out)

    def judge(self, earlier: tuple[EarlierRun, ...]) -> None:
        """Find the events of this engine and what could not be judged."""
        view, found = self.view, self.found
        aloft = aloft_of(view, self.starts, self.flown)
        for start, hang in zip(self.starts, self.hangs, strict=True):
            self.listed.add(start_rules.of_attempt(view, start, hang, aloft))
            unseen = found.attempts[start.number - 1].idle_unseen
            self.open_points += not_judged(view, start, start.number in aloft, unseen)
            self.open_points += hang_unseen(view, found.attempts[start.number - 1], hang)
        self.open_points += not_judged_aloft(view, found, self.starts, aloft)
        self.open_points += not_judged_between(view, found)
        flying = surely(aloft)
        self.listed.add(start_rules.of_engine(view, found, self.starts, flying))
        events, points = motoring_short(view, found, self.starts, flying)
        self.listed.add(events)
        self.open_points += points
        before = _own(earlier, view.engine)
        events, points = duty_events(view, tuple(found.runs), self.starts, before)
        self.listed.add(events)
        self.open_points += points
        course, doubts = self.course, self.all_doubts(before)
        doubted = _by_channel(doubts)
        spikes: dict[str, NDArray[np.intp]] = {}
        scopes: dict[str, Scope] = {}
        for limit in view.profile.limits:
            if limit.channel not in spikes:
                spikes[limit.channel] = self._spikes(limit.channel)
            scope = scopes[limit.id] = scope_of(view, found, limit, course)
            judged = judge_limit(
                view, limit, scope, self.edges, spikes[limit.channel], doubted.get(limit.channel, ())
            )
            self.listed.add(judged.events)
            self.limits.append(judged.result)
            self.open_points += judged.open_points
        for channel in COUNTED:
            if channel not in spikes:
                spikes[channel] = self._spikes(channel)
        events, points = cut_without_settling(view, found, self.flown)
        self.listed.add(events)
        self.open_points += points
        events, points = beta_in_flight(view, course.air)
        self.listed.add(events)
        self.open_points += points
        self.open_points = with_core(
            self.open_points, view.profile.limits, self.starts, found.lit, self.unknown.rows, self.airborne
        )
        self.open_points += unlimited(view, doubts, self.open_points)
        suspect = self._suspect(spikes, doubted)
        believed = self._believed(spikes, doubted)
        cycles = cycle_classes(view, believed)
        levels = itt_levels(view.profile.limits, scopes, course.running.rows)
        self.flight = lists = flight_lists(view, course, self.phases, levels, cycles, believed.get("itt"))
        in_doubt = ((one.start_s, one.end_s) for one in doubted.get("itt", ()))
        consistency, inconsistent = itt_consistency(view, running_seen(course), lists.load_steps, in_doubt)
        self.quality += inconsistent
        self.measured = {
            **flight_measures(view, found, course, suspect),
            **life_use(view, self.starts, found.lit, course, self.landings, believed.get("itt")),
            **cycle_measures(view, believed, cycles),
            **taxi_measures(view, course),
            **propeller_measures(view, course),
            **itt_margins(view, levels, self.phases, suspect),
            **consistency_measures(consistency),
            **shutdown_measures(view, found),
        }
        self.starts = tuple(_marked(s, suspect) for s in self.starts)
        self.quality += doubt_flags(view, doubts)
        own: dict[int | None, list[Event]] = {}
        for event in self.listed.events:
            own.setdefault(event.start_number, []).append(event)
        self.starts = tuple(
            replace(s, factors=factors_of(view, s, s.number in aloft))
            if is_bad(s, own.get(s.number, ()))
            else s
            for s in self.starts
        )

    @cached_property
    def course(self) -> Course:
        """What limits apply by: phases, the air, where it is not known whether the engine ran."""
        return course_of(self.view, self.found, self.edges, self.phases, self.air, self.unknown)

    def all_doubts(self, before: Sequence[EarlierRun]) -> list[Doubt]:
        """Return where sensors cannot be believed, in the light of runs before the recording, too."""
        return [*self.doubts, *cold_temperature(self.view, self.found, before)]

    def limit_judge(self, limit: Limit, earlier: Sequence[EarlierRun]) -> LimitJudge:
        """Return what judges a limit, and others that differ from it in their levels, as this recording is judged."""
        before = _own(earlier, self.view.engine)
        scope = scope_of(self.view, self.found, limit, self.course)
        doubts = _by_channel(self.all_doubts(before)).get(limit.channel, ())
        spikes = self._spikes(limit.channel)
        return lambda tried: judge_limit(self.view, tried, scope, self.edges, spikes, doubts)

    def _suspect(
        self, spikes: dict[str, NDArray[np.intp]], doubted: dict[str, list[Doubt]]
    ) -> Callable[[str, float], bool]:
        """Return what tells whether the sample of a channel at a time cannot be believed."""
        times: dict[str, set[float]] = {}
        for channel in {*spikes, *doubted}:
            trace = self.view.trace(channel)
            if trace is not None:
                index = np.union1d(
                    spikes.get(channel, []), samples_in(trace, doubted.get(channel, ()))
                ).astype(np.intp)
                times[channel] = set(trace.time_s[index].tolist())
        return lambda channel, time_s: time_s in times.get(channel, ())

    def _believed(
        self, spikes: Mapping[str, NDArray[np.intp]], doubted: Mapping[str, Sequence[Doubt]]
    ) -> dict[str, Trace]:
        """Return what cycles are counted of without the samples that cannot be believed; what was not recorded is absent."""
        out = {}
        for channel in COUNTED:
            trace = self.view.trace(channel)
            if trace is None:
                continue
            index = np.union1d(spikes[channel], samples_in(trace, doubted.get(channel, ())))
            if channel == "itt":
                index = np.union1d(index, bursts(trace))
            out[channel] = trace.without(index.astype(np.intp)) if index.size else trace
        return out

    def _spikes(self, channel: str) -> NDArray[np.intp]:
        trace, rate = self.view.trace(channel), self.view.profile.max_rate.get(channel)
        index = np.empty(0, dtype=np.intp)
        if trace is not None and rate is not None:
            index = spike_samples(trace, rate, self._protected() if channel == "itt" else EMPTY)
            self.quality += spike_flags(self.view, channel, index)
        others = contradicted_samples(self.view, channel)
        if not others.size:
            return index
        others = np.setdiff1d(others, index)
        self.quality += spike_flags(self.view, channel, others, CONTRADICTED)
        return np.union1d(index, others)

    def _protected(self) -> FloatArray:
        """Return where no ITT sample is set aside: from each light-off until 10 s after the peak."""
        rows = []
        for start in self.starts:
            lit = [p.light_off_s for p in start.fuel_periods if p.light_off_s is not None]
            if lit and start.peak_itt_s is not None:
                rows.append((min(lit), max(start.peak_itt_s, min(lit)) + AFTER_PEAK_S))
        return from_pairs(rows)


def _own(earlier: Sequence[EarlierRun], engine: int) -> tuple[EarlierRun, ...]:
    return tuple(r for r in earlier if r.engine in (None, engine))


def _by_channel(doubts: Iterable[Doubt]) -> dict[str, list[Doubt]]:
    out: dict[str, list[Doubt]] = {}
    for doubt in doubts:
        out.setdefault(doubt.channel, []).append(doubt)
    return out


def _marked(start: Start, suspect: Callable[[str, float], bool]) -> Start:
    """Return the start, its highest ITT marked where that cannot be believed."""
    if start.peak_itt_s is None or not suspect("itt", start.peak_itt_s):
        return start
    peak = replace(start.measures["peak_itt"], sensor_suspect=True)
    return replace(start, measures={**start.measures, "peak_itt": peak})


def assess(
    recording: Recording,
    profile: EngineProfile | None,
    earlier_runs: Sequence[StarterRun] = (),
    between: Callable[[], None] = go_on,
) -> Assessment:
    """Return what happened, what was exceeded, and what could not be judged.

    Parameters
    ----------
    recording : Recording
        As read. It is scaled by the profile's reference values first; the result carries the scaled one.
    profile : EngineProfile or None
        None: no event, verdict ``undetermined``, and a sentence that says how to name a profile.
    earlier_runs : sequence of StarterRun
        Starter runs before the recording (negative times), known from history or from the user. Empty
        means unknown: the rest before the first run is then not judged.
    between : callable, optional
        Called now and then; what it raises ends the assessment, as when nobody waits for it any more.

    Returns
    -------
    Assessment
        Pure values; equal inputs give equal results. Nothing is read from files, the clock or the display.
    """
    context = tuple(sorted(map(EarlierRun.of, earlier_runs), key=lambda r: r.start_s))
    if profile is None:
        point = NotJudged(EVERY_LIMIT, "no engine profile is named", core=True)
        return Assessment(
            recording, None, (), (), (), (), {}, (point,), recording.quality, "undetermined", NO_PROFILE,
            context=context,
        )  # fmt: skip
    # Values no engine has (1e300 from a broken recorder) overflow quietly: what follows is not finite, and
    # nothing is exceeded or measured by it.
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        return _assess(recording, profile, context, between)


LimitJudge = Callable[[Limit], Judged]
"""Judges a limit on a recording that was looked at before."""


def limit_judge(
    assessment: Assessment, limit: Limit, engine: int, between: Callable[[], None] = go_on
) -> LimitJudge:
    """Return what judges a limit with other levels or seconds as the assessment judged it: by the same counting.

    Parameters
    ----------
    assessment : Assessment
        Canonical, with a profile.
    limit : Limit
        Of its profile. What is judged may differ from it in `allowed` alone.
    engine : int
        On which engine.
    between : callable, optional
        As in `assess`; looking at the recording takes about as long.
    """
    profile = assessment.profile
    if profile is None:
        raise ValueError("without a profile there is no limit")
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        looked, _ = at_true_rate(assessment.recording)
        judge = _Engine(looked, profile, engine, between).limit_judge(limit, assessment.context)

    def quietly(tried: Limit) -> Judged:
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            return judge(tried)

    return quietly


def _assess(
    recording: Recording,
    profile: EngineProfile,
    context: tuple[EarlierRun, ...],
    between: Callable[[], None],
) -> Assessment:
    scaled = profile.apply(recording)
    looked, repeated = at_true_rate(scaled)
    engines = [_Engine(looked, profile, number, between) for number in scaled.engines]
    for engine in engines:
        engine.judge(context)
    several = scaled.has_several_engines
    events = sorted(
        (e for g in engines for e in g.listed.events), key=lambda e: (e.start_s, e.engine, e.kind)
    )
    if several:
        events = name_events(events)
    found = [q for g in engines for q in g.quality]
    # The profile knows better than the reader what this engine can do: of one spike only its flag stays.
    told = {(q.channel, q.start_s) for q in found if q.kind == "spike"}
    read = (q for q in recording.quality if q.kind != "spike" or (q.channel, q.start_s) not in told)
    quality = (*doubted_anew(read, found), *repeated, *found)
    if several:
        quality = tuple(name_flags(quality))
    starts = tuple(s for g in engines for s in g.starts)
    own = [p for g in engines for p in g.open_points]
    open_points = [
        *_wrong_engine(scaled, profile),
        *engines_left(scaled),
        *(name_points(own) if several else own),
    ]
    left_out = tuple(one for g in engines for one in g.listed.left_out)
    verdict = verdict_of(events, open_points)
    # A second engine's measures carry its number, as its channels do.
    measured = {
        name if g.view.engine == 1 else f"{name}.{g.view.engine}": one
        for g in engines
        for name, one in g.measured.items()
    }
    phases: tuple[Phase, ...] = engines[0].phases
    limits = tuple(r for g in engines for r in g.limits)
    if several:
        limits = tuple(name_limits(limits))
    return Assessment(
        recording=scaled,
        profile=profile,
        starts=starts,
        events=tuple(events),
        limits=limits,
        phases=phases,
        flight_measures=measures_of(measured),
        flight_evidence=evidence_of(measured, profile.lines),
        flight=all_lists([(g.view, g.flight) for g in engines]),
        not_judged=tuple(open_points),
        quality=quality,
        verdict=verdict,
        sentence=sentence_of(
            verdict, events, starts, open_points, any_judged(limits), profile, left_out, several
        ),
        began_running=any(g.found.began_running for g in engines),
        context=context,
        left_out=left_out,
    )


def _wrong_engine(recording: Recording, profile: EngineProfile) -> list[NotJudged]:
    """Return the open point of a recording whose engine model the profile is not for."""
    model = recording.identity.engine_model
    if model is None or not profile.engines or model in profile.engines:
        return []
    names = ", ".join(profile.engines)
    return [
        NotJudged(PROFILE_FITS, f'the recording is of a "{model}", the profile is for {names}', core=True)
    ]


__all__ = ["Found", "assess", "limit_judge"]
