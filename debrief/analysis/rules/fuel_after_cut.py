"""Fuel that flows on after its cut-off, told by the flow meter beside the meter's own zero."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Event, Start
from debrief.analysis.rules.rule_event import Deviation, Rule, by_fuel, rule_event
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.light_off import Fuel, least_flow, stays_above
from debrief.words import numbers
from debrief.words.sentence import Quantity, sentence, words

SETTLES_S = 5.0
"""A meter, and the line behind the valve, need so long to come to rest after a cut-off."""
FLOWS_FOR_S = 10.0
"""A flow that lasts: common practice, no source."""
STANDS = 0.8
"""A meter that is still running down has lost more than the rest of its reading by the second half of the stretch."""
FALLEN = 0.5
"""What stays above this part of the flow before the cut-off is a meter that stands still, not a valve that leaks."""
NOISE = 6.0
LEAST_SAMPLES = 5


@dataclass(frozen=True)
class Leak:
    """Fuel that flowed on after a cut-off.

    `flow_kg_h` is the median above the meter's zero; `end_s` is None where the recording, or the next fuel, ends it.
    """

    fuel: Fuel
    begin_s: float
    last_s: float
    end_s: float | None
    flow_kg_h: float
    above_kg_h: float

    @property
    def duration(self) -> tuple[float, float, float | None]:
        """How long it flowed with bounds, [s]."""
        length = self.last_s - self.begin_s
        return length, length, None if self.end_s is None else length


def leaks(view: EngineView, found: Found) -> list[Leak]:
    """Return where the flow meter shows fuel long after a recorded cut-off of the fuel switch, in order.

    Notes
    -----
    The meter's zero is the lowest of what it shows, as the median, while fuel is off: before the first fuel, between two,
    and in the later half after the last. What it shows forever is its zero, so an offset is no flow.
    """
    flow, channel = view.trace("fuel_flow"), view.channel("fuel_flow")
    fuels = sorted((f for f in found.fuels if f.source == "fuel_on"), key=lambda f: f.on_s)
    if flow is None or channel is None or not any(f.off_s is not None for f in fuels):
        return []
    zero = _zero(view, flow, fuels)
    if zero is None:
        return []
    level = zero + max(least_flow(channel), NOISE * flow.noise)
    ons = [f.on_s for f in fuels]
    out = []
    for fuel in fuels:
        if fuel.off_s is None or fuel.off_inferred:
            continue
        n = bisect_right(ons, fuel.off_s)
        stop = view.end_s
        if n < len(fuels):
            low_s = fuels[n].on_low_s
            stop = fuels[n].on_s if low_s is None else low_s
        one = _after(flow, fuel, fuel.off_s, stop, zero, level)
        if one is not None:
            out.append(one)
    return out


def _zero(view: EngineView, flow: Trace, fuels: list[Fuel]) -> float | None:
    """Return what the meter shows without fuel, [kg/h]; None where it is nowhere seen long enough."""
    rests: list[tuple[float, float]] = []
    begin: float | None = 0.0
    for fuel in fuels:
        if begin is not None:
            rests.append((begin, fuel.on_s if fuel.on_low_s is None else fuel.on_low_s))
        begin = fuel.off_s
    if begin is not None:
        rests.append(((begin + view.end_s) / 2.0, view.end_s))
    seen = [flow.values[flow.between(a, b)] for a, b in rests if b > a]
    medians = [float(np.median(one)) for one in seen if one.size >= LEAST_SAMPLES]
    return min(medians, default=None)


def _after(flow: Trace, fuel: Fuel, off_s: float, stop: float, zero: float, level: float) -> Leak | None:
    """Return the longest flow after one cut-off that lasts and stands."""
    begin = off_s + SETTLES_S
    rows = stays_above(flow, level, FLOWS_FOR_S, begin, stop)
    if not len(rows):
        return None
    first, last = (float(x) for x in rows[int((rows[:, 1] - rows[:, 0]).argmax())])
    first, last = max(first, begin), min(last, stop)
    values = flow.values[flow.between(first, last)] - zero
    before = flow.values[flow.between(fuel.on_s, off_s - 1e-9)][-LEAST_SAMPLES:] - zero
    if values.size < LEAST_SAMPLES or not before.size:
        return None
    early, late = np.median(values[: values.size // 2]), np.median(values[values.size // 2 :])
    amount = float(np.median(values))
    if late < STANDS * early or amount > FALLEN * float(np.median(before)):
        return None
    known = off_s if first <= begin + 1e-6 else first
    return Leak(fuel, known, last, last if last < stop - 1e-6 else None, amount, level - zero)


def fuel_after_cut(view: EngineView, found: Found, starts: tuple[Start, ...]) -> list[Event]:
    """Return fuel that flowed on after its cut-off, each a caution: the profile has no number for it."""
    owners = by_fuel(starts)
    out = []
    for leak in leaks(view, found):
        start = owners.get(leak.fuel.on_s)
        out.append(
            rule_event(
                view,
                "fuel_after_cut",
                "caution",
                start,
                (leak.begin_s, leak.last_s),
                sentence(
                    "Fuel still flowed after the fuel cut-off{where}: {flow} for {length}.",
                    where=view.in_start(start),
                    flow=Quantity(leak.flow_kg_h, "kg/h"),
                    length=numbers.brief_duration(*leak.duration),
                ),
                Rule(
                    words("After the fuel cut-off the flow meter shows what it shows without fuel."),
                    None,
                    "median of the flow above the meter's own zero, for 10 s and more from 5 s after the cut-off on",
                ),
                Deviation(
                    channel="fuel_flow", level=None, unit="kg/h", peak=leak.flow_kg_h, duration=leak.duration
                ),
            )
        )
    return out
