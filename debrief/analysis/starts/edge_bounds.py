"""Between which samples each edge of a start, a flame or a phase lies, and the windows made of such edges."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from debrief.analysis.model import Phase
from debrief.analysis.signal.clear_of_noise import with_noise
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import Above, in_start, time_above
from debrief.analysis.signal.interval_sets import EMPTY, Window, from_pairs, union
from debrief.analysis.signal.sampling_bounds import light_off_bounds
from debrief.analysis.signal.switch_edges import holding
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Attempt, Found
from debrief.analysis.starts.light_off import IDLE_FOR_S, Fuel
from debrief.recording.model import Channel, FloatArray

SAME_S = 1e-9
PHASE_STEP_S = 5.0
"""Climb, cruise and descent are told apart on steps of this length."""

TAXI_KT = 30.0
"""Slower than this the aircraft taxies or stands."""
SLOW_MOVES_FT = 100.0
ABOVE_FIELDS_FT = 300.0
FIELDS_SEEN = 200
"""At so many of the readings of a taxi it is looked how high the fields are."""

FALLING_PCT_PER_S = 0.5
"""Ng that falls by less may still be driven; for a cut that only Ng tells."""

Bounds = tuple[float, float]


@dataclass(frozen=True, eq=False)
class StartWindow:
    """Where start limits count in one attempt.

    Attributes
    ----------
    window : Window
        From the opening to where the start was over, with the bounds of both.
    following : (float, float)
        The bounds of the next attempt's opening, to which a run in progress may go on, [s]; infinite after the last.
    """

    window: Window
    following: Bounds
    _known: dict[float, tuple[Trace, Above]] = field(default_factory=dict)

    def above(self, trace: Trace, level: float) -> Above:
        """Return where the trace is above a level, as start limits count it; worked out once."""
        known = self._known.get(level)
        if known is None or known[0] is not trace:
            outer = self.window.outer
            part = trace.clip(float(outer[0, 0]), trace.not_above_from(float(outer[-1, 1]), level))
            above = with_noise(part, level, time_above(part, level))
            known = self._known[level] = trace, in_start(above, self.window, self.following)
        return known[1]


class Edges:
    """The earliest and the latest instant of every edge that windows are made of."""

    def __init__(self, view: EngineView, found: Found) -> None:
        self._view = view
        self._attempts = found.attempts
        self._known: dict[float, Bounds] = {}
        for attempt in found.attempts:
            self._known.setdefault(attempt.begin_s, _opening(attempt))
        for attempt in found.attempts:
            # One that the next attempt ends has its bounds already: they are those of that one's opening.
            for time_s in (attempt.end_s, attempt.window_end_s):
                if time_s not in self._known:
                    self._known[time_s] = self._closing(attempt, time_s)
        for fuel in found.fuels:
            if fuel.lit_end_s is not None:
                self._known.setdefault(fuel.lit_end_s, _flame_end(view, fuel))
            if fuel.light_off_s is not None:
                self._known.setdefault(fuel.light_off_s, self._light_off(fuel))

    def of(self, time_s: float) -> Bounds:
        """Return the earliest and the latest instant of an edge; an unknown edge is taken as exact."""
        return self._known.get(time_s, (time_s, time_s))

    def window(self, rows: FloatArray) -> Window:
        """Return the stretches, (m, 2), with the bounds of their edges."""
        return _window((self.of(float(a)), (float(a), float(b)), self.of(float(b))) for a, b in rows)

    def following(self, number: int) -> Bounds:
        """Return the bounds of the opening after the attempt of this number; infinite after the last."""
        last = number >= len(self._attempts)
        return (np.inf, np.inf) if last else self.of(self._attempts[number].begin_s)

    def start_window(self, number: int) -> StartWindow:
        """Return where start limits count in the attempt of this number, from 1."""
        attempt = self._attempts[number - 1]
        window = self.window(from_pairs([(attempt.begin_s, attempt.window_end_s)]))
        return StartWindow(window, self.following(number))

    def phases(self, phases: tuple[Phase, ...], names: tuple[str, ...]) -> Window:
        """Return where the phases of these names were."""
        return _window(
            (self._phase_edge(p.start_s), (p.start_s, p.end_s), self._phase_edge(p.end_s))
            for p in phases
            if p.name in names
        )

    def after_takeoff(self, phases: tuple[Phase, ...], for_s: float) -> Window:
        """Return the time after each take-off began."""
        rows = []
        for p in phases:
            if p.name == "takeoff":
                low, high = self._phase_edge(p.start_s)
                rows.append(((low, high), (p.start_s, p.start_s + for_s), (low + for_s, high + for_s)))
        return _window(rows)

    def _phase_edge(self, time_s: float) -> Bounds:
        """Return the bounds of a phase's edge: a start's or a flame's, else the samples of flight around it."""
        if time_s in self._known or time_s <= 0.0 or time_s >= self._view.end_s:
            return self.of(time_s)
        low, high = time_s, time_s
        # The height rule works on a grid: the change lies between the step before and the one that shows it.
        for name, back in (
            ("weight_on_wheels", 0.0),
            ("ias", 0.0),
            ("palt", PHASE_STEP_S),
            ("altitude", PHASE_STEP_S),
            ("vs", PHASE_STEP_S),
        ):
            trace = self._view.trace(name)
            if trace is not None:
                before, after = _around(trace, time_s)
                low, high = min(low, before, time_s - back), max(high, after)
        return max(low, 0.0), high

    def _light_off(self, fuel: Fuel) -> Bounds:
        itt = self._view.trace("itt")
        at = fuel.light_off_s
        assert at is not None
        if itt is None or fuel.seen_light_off_s is None or at <= 0.0:
            return at, at
        low, high = light_off_bounds(itt, at)
        return max(low, fuel.on_low_s if fuel.on_low_s is not None else low), max(high, at)

    def _closing(self, attempt: Attempt, time_s: float) -> Bounds:
        """Return the bounds of an attempt's end, or of the end of its start window, by what ended it."""
        view, rules = self._view, self._view.profile.start
        if time_s == attempt.idle_s:
            return _idle(view, time_s)
        if time_s >= view.end_s:
            return time_s, time_s
        lit, longest = attempt.first_light_off_s, rules.start_window_max_s
        itt, ng = view.trace("itt"), view.trace("ng")
        if (
            lit is not None
            and longest is not None
            and abs(time_s - lit - longest) <= SAME_S
            and itt is not None
        ):
            low, high = light_off_bounds(itt, lit)
            return low + longest, max(high, lit) + longest
        # It stood, or was cold, from a sample on: since after the one before.
        before = [_around(trace, time_s)[0] for trace in (itt, ng) if trace is not None]
        return min(before, default=time_s), time_s


def _window(edges: Iterable[tuple[Bounds, Bounds, Bounds]]) -> Window:
    rows, inner, outer = [], [], []
    for first, row, last in edges:
        rows.append(row)
        outer.append((min(first[0], row[0]), max(last[1], row[1])))
        begin, end = max(first[1], row[0]), min(last[0], row[1])
        if end > begin:
            inner.append((begin, end))
    return Window.between(from_pairs(rows), from_pairs(inner), from_pairs(outer))


def _around(trace: Trace, time_s: float) -> Bounds:
    """Return the last sample before an instant and the first after it; the instant where there is none."""
    t = trace.time_s
    before = int(np.searchsorted(t, time_s - SAME_S, side="left")) - 1
    after = int(np.searchsorted(t, time_s + SAME_S, side="right"))
    return (
        float(t[before]) if before >= 0 else time_s,
        float(t[after]) if after < t.size else time_s,
    )


def _opening(attempt: Attempt) -> Bounds:
    """Return the bounds of an attempt's opening: the last sample with starter or fuel still off."""
    at = attempt.begin_s
    lows = [r.start_low_s for r in attempt.runs[:1] if r.start_s == at]
    lows += [f.on_low_s for f in attempt.fuels[:1] if f.on_s == at and f.source != "light_off"]
    return min([at, *(x for x in lows if x is not None)]), at


def _idle(view: EngineView, idle_s: float) -> Bounds:
    """Return between which samples Ng reached idle: surely below before, surely at idle after.

    Surely means by half a step of the recorder and three deviations of its noise. The rule asks for three
    seconds at idle, so it was reached at the latest within those.
    """
    ng, level = view.trace("ng"), view.profile.start.at_idle_pct
    if ng is None or level is None:
        return idle_s, idle_s
    unsure = ng.half_resolution + 3.0 * ng.noise
    t, v = ng.time_s, ng.values
    k = int(np.searchsorted(t, idle_s, side="left"))
    below = np.flatnonzero(v[:k] < level - unsure)
    low = float(t[below[-1]]) if below.size else idle_s
    last = min(int(np.searchsorted(t, idle_s + IDLE_FOR_S, side="right")), t.size)
    reached = np.flatnonzero(v[k:last] >= level + unsure)
    if reached.size:
        return low, float(t[k + int(reached[0])])
    return low, min(max(idle_s + IDLE_FOR_S, _around(ng, idle_s)[1]), view.end_s)


def _flame_end(view: EngineView, fuel: Fuel) -> Bounds:
    """Return the bounds of a flame's end: the samples beside the cut or the flame-out."""
    at = fuel.lit_end_s
    assert at is not None
    if at == fuel.off_s and not fuel.off_inferred:
        return (at if fuel.off_low_s is None else min(fuel.off_low_s, at)), at
    ng = view.trace("ng")
    if ng is None:
        return at, at
    before, after = _around(ng, at)
    if at == fuel.out_s:
        return before, after
    # A cut that only Ng tells came at the latest where Ng is seen to fall from idle, at the earliest where the
    # fall through there began.
    part = ng.clip(max(at - 60.0, 0.0), at)
    t, v = part.time_s, part.values
    earlier = np.interp(t - 1.0, t, v)
    steady = np.flatnonzero((t <= at) & (v > earlier - FALLING_PCT_PER_S))
    return (min(float(t[steady[-1]]) - 1.0, before) if steady.size else before), after


def air_window(view: EngineView) -> Window | None:
    """Return where the aircraft flies with the bounds of lift-off and touchdown; None where no channel tells.

    Weight on wheels decides where it was recorded; else airspeed above the profile's `airborne_ias_kt`.
    """
    wheels, ias = view.channel("weight_on_wheels"), view.trace("ias")
    if wheels is not None:
        return held_window(wheels, -0.5, 0.5)
    least = view.profile.flight.airborne_ias_kt
    if ias is None or least is None:
        return None
    above = time_above(ias, least)
    slow = _slow_flight(view, ias, above.estimate)
    return Window.between(
        union(np.concatenate((above.estimate, slow))) if len(slow) else above.estimate,
        above.low,
        above.high,
    )


def _slow_flight(view: EngineView, ias: Trace, fast: FloatArray) -> FloatArray:
    """Return the stretches between fast ones, (m, 2), in which the aircraft flew slowly and did not land.

    There the airspeed stays above a taxi, nothing is missing, and the height changes by more than 100 ft, or is more than 300 ft above
    all places where it taxied before or after.
    """
    height = view.height
    if height is None or len(fast) < 2:
        return EMPTY
    rolled = ias.time_s[ias.values < TAXI_KT]
    fields = (
        height.at_each(rolled[np.linspace(0, rolled.size - 1, FIELDS_SEEN).astype(np.intp)])
        if rolled.size
        else EMPTY[:, 0]
    )
    fields = fields[np.isfinite(fields)]
    out = []
    for begin, end in zip(fast[:-1, 1].tolist(), fast[1:, 0].tolist(), strict=True):
        part, speed = height.values[height.between(begin, end)], ias.values[ias.between(begin, end)]
        if (
            not part.size
            or (speed.size and speed.min() < TAXI_KT)
            or len(ias.unseen(np.array([[begin, end]])))
        ):
            continue
        high = bool(fields.size) and part.min() > fields.max() + ABOVE_FIELDS_FT
        if high or part.max() - part.min() > SLOW_MOVES_FT + 6.0 * height.noise:
            out.append((begin, end))
    return from_pairs(out)


def held_window(channel: Channel, low: float, high: float) -> Window:
    """Return where a held value lies strictly between two levels: it changed between two samples.

    For sure from the first sample that says so to the last; at most from the last that did not to the first
    that does not any more.
    """
    rows = holding(channel, low, high)
    if not len(rows):
        return Window.exactly(EMPTY)
    t = channel.time_s
    begin = np.searchsorted(t, rows[:, 0])
    end = np.searchsorted(t, rows[:, 1])
    inside = (channel.values > low) & (channel.values < high)
    last = np.where(inside[end], end, end - 1)
    inner = np.column_stack((rows[:, 0], t[last]))
    outer = np.column_stack((t[np.maximum(begin - 1, 0)], rows[:, 1]))
    return Window.between(rows, inner[inner[:, 1] > inner[:, 0]], union(outer))
