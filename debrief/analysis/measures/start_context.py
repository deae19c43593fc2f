"""One start attempt as its measures see it, and the samples that show its switches and its light-off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside, cut_of, edge, taken
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.model import FuelPeriod, Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import steepest_between
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.edge_bounds import StartWindow
from debrief.analysis.starts.light_off import RISE_WITHIN_S, Fuel, find_light_off

MOST_RUNS = 6
"""Crossings, or runs of the starter, of which the samples are given."""


@dataclass(frozen=True, eq=False)
class StartContext:
    """One attempt with what its measures need.

    Attributes
    ----------
    period : FuelPeriod or None
        The last fuel period as it is reported.
    until_s : float
        Until when the temperature counts as the start's, [s].
    counted : StartWindow
        Where start limits count.
    """

    view: EngineView
    attempt: Attempt
    period: FuelPeriod | None
    until_s: float
    counted: StartWindow

    @property
    def fuel(self) -> Fuel | None:
        """The last fuel period."""
        return self.attempt.last_fuel

    @property
    def on_s(self) -> float | None:
        """When the starter first came on."""
        return self.attempt.runs[0].start_s if self.attempt.runs else None

    @property
    def on_low_s(self) -> float | None:
        """The last sample with the starter still off."""
        return self.attempt.runs[0].start_low_s if self.attempt.runs else None

    @property
    def lit_s(self) -> float | None:
        """When the last fuel lit, where the recording shows it."""
        return None if self.fuel is None else self.fuel.seen_light_off_s

    def at(self, name: str, time_s: float | None, what: str) -> Readings:
        """Return the samples beside an instant."""
        return beside(self.view, name, time_s, what)

    def starter_on(self) -> Readings:
        """Return the samples that show the starter coming on."""
        if self.attempt.starter_inferred:
            return self.at("ng", self.on_s, "the engagement")
        return edge(self.view, "starter", self.on_s, "starter on")

    def starter_off(self) -> Readings:
        """Return the samples that show the last release of the starter."""
        runs = self.attempt.runs
        return edge(self.view, "starter", runs[-1].end_s if runs else None, "release")

    def starter_runs(self) -> Readings:
        """Return the samples that show each engagement and release, of the first runs."""
        out: Readings = ()
        for run in self.attempt.runs[:MOST_RUNS]:
            out += edge(self.view, "starter", run.start_s, "starter on")
            out += edge(self.view, "starter", run.end_s, "release")
        return out

    def fuel_on(self, fuel: Fuel | None = None) -> Readings:
        """Return the samples that show the last fuel (or the one given) coming, from the signal that tells it."""
        fuel = self.fuel if fuel is None else fuel
        if fuel is None:
            return ()
        if fuel.source == "light_off":
            return self.at("itt", fuel.on_s, "light-off")
        return edge(self.view, fuel.source, fuel.on_s, "fuel on")

    def cut(self, fuel: Fuel) -> Readings:
        """Return the samples that show the cut of a fuel."""
        return cut_of(self.view, fuel)

    def light_off(self) -> Readings:
        """Return the last ITT sample before the rise, the next, and the first that had risen enough."""
        itt, foot_s = self.view.trace("itt"), self.lit_s
        if itt is None or self.fuel is None or foot_s is None:
            return ()
        rise = self.view.light_off_rise_c
        if self.fuel.on_low_s is not None and self.fuel.source != "light_off":
            # Where fuel was first seen later than the rise, the light-off is placed there; the rise is shown.
            stop = self.view.end_s if self.fuel.off_s is None else self.fuel.off_s
            found = find_light_off(itt, self.fuel.on_low_s, stop, rise)
            foot_s = foot_s if found is None else min(foot_s, found[0])
        part = itt.between(foot_s, foot_s + RISE_WITHIN_S)
        risen = np.flatnonzero(itt.values[part] - itt.values[part][:1] >= rise)
        index = [part.start, part.start + 1, *(part.start + risen[:1])]
        return taken(self.view, "itt", index, "last before the rise, and risen")

    def highest(self, name: str, begin: float, end: float, time_s: float | None) -> Callable[[], Readings]:
        """Return what looks up the highest sample, at its instant, out of those from `begin` to `end`."""
        return partial(around, self.view, name, begin, end, time_s, "highest with its neighbours")

    def steepest(self, trace: Trace, name: str, end: float, missing: Measure) -> Measured:
        """Return the fastest rise of a channel from the first light-off to an instant; `missing` without one."""
        found, lit = None, self.attempt.first_light_off_s
        if lit is not None:
            found = steepest_between(trace, lit, end)
        if found is None:
            return Measured(missing, RISE)
        rate, first, last = found
        read = partial(taken, self.view, name, (first, last), "ends of the steepest second")
        return Measured(Measure(rate.value, missing.unit, rate.low, rate.high), RISE, read=read)


RISE = "(b − a) / (tb − ta), of the samples a at the time ta and b at tb"
"""The formula of the fastest rise."""
