"""What each measure of a start was read from: the samples, the profile's numbers, the formula.

A measure's value is worked out elsewhere; here only its samples are looked up again, so that a reader can
repeat the arithmetic by hand. A test does that for every measure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import (
    Readings,
    around,
    beside,
    cut_of,
    edge,
    middle,
    nearest,
    proof,
    stretch,
    taken,
)
from debrief.analysis.measures.electrics import cranking_windows, recovery_stretch, resistance_stretch
from debrief.analysis.measures.speeds import motored_until
from debrief.analysis.model import Measure, MeasureEvidence
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.interval_sets import from_pairs, intersect
from debrief.analysis.signal.point_readings import steepest_between
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.abort_technique import Cue, Cut, release_after
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.edge_bounds import StartWindow
from debrief.analysis.starts.engagements import resting_stretch
from debrief.analysis.starts.light_off import LIGHT_OFF_RISE_C, RISE_WITHIN_S, Fuel, find_light_off

MOST_RUNS = 6
"""Crossings, or runs of the starter, of which the samples are given."""


@dataclass(frozen=True, eq=False)
class Context:
    """One attempt as its measures were worked out; `until_s` and `counted` as `measure_start` had them.

    `cut` is the one that the measures of an abort are of, `cue` its first cue.
    """

    view: EngineView
    attempt: Attempt
    until_s: float
    counted: StartWindow
    cue: Cue | None = None
    cut: Cut | None = None

    @property
    def fuel(self) -> Fuel | None:
        """The last fuel period."""
        return self.attempt.last_fuel

    @property
    def on_s(self) -> float | None:
        """When the starter first came on."""
        return self.attempt.runs[0].start_s if self.attempt.runs else None

    @property
    def lit_s(self) -> float | None:
        """When the last fuel lit, where the recording shows it."""
        return None if self.fuel is None else self.fuel.seen_light_off_s

    def starter_on(self) -> Readings:
        """Return the samples that show the starter coming on."""
        if self.attempt.starter_inferred:
            return beside(self.view, "ng", self.on_s, "the engagement")
        return edge(self.view, "starter", self.on_s, "starter on")

    def starter_off(self) -> Readings:
        """Return the samples that show the last release of the starter."""
        return edge(
            self.view, "starter", self.attempt.runs[-1].end_s if self.attempt.runs else None, "release"
        )

    def fuel_on(self, fuel: Fuel | None = None) -> Readings:
        """Return the samples that show the last fuel (or the one given) coming, from the signal that tells it."""
        fuel = self.fuel if fuel is None else fuel
        if fuel is None:
            return ()
        if fuel.source == "light_off":
            return beside(self.view, "itt", fuel.on_s, "light-off")
        return edge(self.view, fuel.source, fuel.on_s, "fuel on")

    def fuel_off(self) -> Readings:
        """Return the samples that show the judged cut."""
        return () if self.cut is None else cut_of(self.view, self.cut.fuel)

    def fuel_again(self) -> Readings:
        """Return the samples that show the fuel coming again after the judged cut, where it did."""
        again = None if self.cut is None else self.cut.again
        return () if again is None else edge(self.view, again.source, again.on_s, "fuel again")

    def light_off(self) -> Readings:
        """Return the last ITT sample before the rise, the next, and the first that had risen enough."""
        itt, foot_s = self.view.trace("itt"), self.lit_s
        if itt is None or self.fuel is None or foot_s is None:
            return ()
        rise = self.view.profile.start.light_off_rise_c or LIGHT_OFF_RISE_C
        if self.fuel.on_low_s is not None and self.fuel.source != "light_off":
            # Where fuel was first seen later than the rise, the light-off is placed there; the rise is shown.
            stop = self.view.end_s if self.fuel.off_s is None else self.fuel.off_s
            found = find_light_off(itt, self.fuel.on_low_s, stop, rise)
            foot_s = foot_s if found is None else min(foot_s, found[0])
        part = itt.between(foot_s, foot_s + RISE_WITHIN_S)
        risen = np.flatnonzero(itt.values[part] - itt.values[part][:1] >= rise)
        index = [part.start, part.start + 1, *(part.start + risen[:1])]
        return taken(self.view, "itt", index, "last before the rise, and risen")


def _at(c: Context, name: str, time_s: float | None, what: str) -> Readings:
    return beside(c.view, name, time_s, what)


def _highest(c: Context, name: str, windows: list[tuple[float, float]], *, lowest: bool = False) -> Readings:
    trace = c.view.trace(name)
    if trace is None or not windows:
        return ()
    top = (trace.negated() if lowest else trace).highest(from_pairs(windows))
    begin, end = windows[0][0], windows[-1][1]
    return around(
        c.view, name, begin, end, None if top is None else top[0],
        "lowest with its neighbours" if lowest else "highest with its neighbours",
    )  # fmt: skip


def _steepest(c: Context, name: str, begin: float | None, end: float) -> Readings:
    trace = c.view.trace(name)
    found = None if trace is None or begin is None else steepest_between(trace, begin, end)
    return () if found is None else taken(c.view, name, found[1:], "ends of the steepest second")


def _crossings(c: Context, name: str, trace: Trace, rows: np.ndarray, most: int = MOST_RUNS) -> Readings:
    """Return the samples on both sides of each crossing."""
    index: list[int] = []
    for begin, end in rows[:most]:
        up = int(np.searchsorted(trace.time_s, begin, side="right")) - 1
        down = int(np.searchsorted(trace.time_s, end, side="left"))
        index += [up, up + 1, down - 1, down]
    more = "" if len(rows) <= most else f", of the first {most} of {len(rows)} runs"
    return taken(c.view, name, index, f"beside each crossing{more}")


def _time_above(c: Context, level: float) -> Readings:
    itt = c.view.trace("itt")
    if itt is None:
        return ()
    rows = c.counted.above(itt, level).estimate
    if not len(rows):
        return _highest(c, "itt", [(c.attempt.begin_s, c.attempt.window_end_s)])
    return _crossings(c, "itt", itt, rows)


def _cut_after(c: Context, level: float) -> Readings:
    itt, cut = c.view.trace("itt"), c.cut
    if itt is None or cut is None:
        return ()
    rows = intersect(stretches_above(itt.clip(cut.begin_s, cut.off_s), level), cut.window)
    return _at(c, "itt", float(rows[0, 0]), "the first crossing") + c.fuel_off() if len(rows) else ()


def _resting(c: Context) -> Readings:
    on = c.on_s
    if on is None:
        return ()
    begin, end = resting_stretch(c.view, on, c.attempt.runs[0].start_low_s)
    return middle(c.view, "bus_volts", begin, end, "middle by size before the starter")


def _recovery(c: Context) -> Readings:
    begin, end = recovery_stretch(c.view, c.attempt, c.counted.following[1])
    return middle(c.view, "bus_volts", begin, end, "middle by size 1 to 6 s after the release")


def _inrush(c: Context) -> Readings:
    amps, on = c.view.trace("battery_amps"), c.on_s
    if amps is None or on is None:
        return ()
    part = amps.between(on, on + 1.0)
    if part.stop <= part.start:
        return ()
    return taken(c.view, "battery_amps", (part.start + int(np.argmax(np.abs(amps.values[part]))),),
                 "strongest of the first second", part)  # fmt: skip


def _resistance(c: Context) -> Readings:
    amps, on = c.view.trace("battery_amps"), c.on_s
    if amps is None or on is None:
        return ()
    begin, end = resistance_stretch(c.view, c.attempt)
    part = amps.between(begin, end)
    if part.stop <= part.start:
        return ()
    size = np.abs(amps.values[part])
    ends = part.start + int(np.argmin(size)), part.start + int(np.argmax(size))
    words = "first, least, most, last while cranking"
    volts = tuple(x for k in ends if (x := _nearest_index(c, "bus_volts", float(amps.time_s[k]))) is not None)
    return (
        stretch(c.view, "battery_amps", begin, end, words, ends)
        + stretch(c.view, "bus_volts", begin, end, "at the same instants", volts)
        + _resting(c)
    )


def _nearest_index(c: Context, name: str, time_s: float) -> int | None:
    found = nearest(c.view, name, time_s, "")
    return found[0].index[0] if found else None


def _slope(c: Context) -> Readings:
    fuel, over = c.fuel, c.view.profile.start.stable_for_s
    if fuel is None or over is None:
        return ()
    return c.fuel_on() + stretch(c.view, "ng", fuel.on_s - over - 1e-9, fuel.on_s, "just before fuel")


def _at_fuel(c: Context) -> Readings:
    fuel = c.fuel
    if fuel is None:
        return ()
    if fuel.source == "light_off":
        low = fuel.on_s if fuel.on_low_s is None else fuel.on_low_s
        return _at(c, "ng", low, "the engagement") + _at(c, "ng", fuel.on_s, "light-off")
    return c.fuel_on() + _at(c, "ng", fuel.on_s, "fuel on")


def _idle(c: Context) -> Readings:
    return _at(c, "ng", c.attempt.idle_s, "idle")


def _runs(c: Context) -> Readings:
    out: Readings = ()
    for run in c.attempt.runs[:MOST_RUNS]:
        out += edge(c.view, "starter", run.start_s, "starter on") + edge(
            c.view, "starter", run.end_s, "release"
        )
    return out


def _release(c: Context) -> Readings:
    at = None if c.cut is None else release_after(c.attempt, c.cut)
    return edge(c.view, "starter", at, "release") + _at(c, "itt", at, "release")


def _cue(c: Context) -> Readings:
    if c.cue is None:
        return ()
    if c.cue.channel == "fuel_on":
        return c.fuel_on(None if c.cut is None else c.cut.fuel)
    return _at(c, c.cue.channel, c.cue.at_s, "the first cue")


def _surrounding(c: Context, *names: str) -> Readings:
    out: Readings = ()
    for name in names:
        found = _at(c, name, c.attempt.begin_s, "the opening of the attempt")
        angle = name in ("wind_from", "heading")
        out += nearest(c.view, name, c.attempt.begin_s, "the opening of the attempt") if angle else found
    return out


@dataclass(frozen=True)
class _Source:
    """How one measure is proved: its formula, the profile's keys, and how its samples are found."""

    formula: str
    keys: tuple[str, ...]
    read: Callable[[Context], Readings]


_LINE = "on the straight line between the two samples: a + (b - a) (t - ta) / (tb - ta)"
_SOURCES: Mapping[str, _Source] = {
    "residual_itt_starter_on": _Source(
        _LINE, (), lambda c: c.starter_on() + _at(c, "itt", c.on_s, "starter on")
    ),
    "residual_itt_fuel_on": _Source(
        _LINE,
        ("start.max_residual_itt_c",),
        lambda c: c.fuel_on() + _at(c, "itt", None if c.fuel is None else c.fuel.on_s, "fuel on"),
    ),
    "peak_itt": _Source(
        "highest sample", (), lambda c: _highest(c, "itt", [(c.attempt.begin_s, c.until_s)])
    ),
    "itt_rise_rate": _Source(
        "(b - a) / (tb - ta)", (), lambda c: _steepest(c, "itt", c.attempt.first_light_off_s, c.until_s)
    ),
    "oat": _Source(_LINE, ("factors.oat_c",), lambda c: _surrounding(c, "oat")),
    "pressure_altitude": _Source(
        f"{_LINE}; from altitude and a stated setting: plus the standard height of the setting",
        (),
        lambda c: _surrounding(c, "palt") or _surrounding(c, "altitude"),
    ),
    "density_altitude": _Source(
        "altitude at which the standard atmosphere has sigma = delta / theta",
        ("factors.density_altitude_ft",),
        lambda c: (_surrounding(c, "palt") or _surrounding(c, "altitude")) + _surrounding(c, "oat"),
    ),
    "headwind": _Source(
        "wind speed x cos(wind from - heading)",
        ("factors.tailwind_kt",),
        lambda c: _surrounding(c, "wind_speed", "wind_from", "heading"),
    ),
    "crosswind": _Source(
        "wind speed x sin(wind from - heading)",
        (),
        lambda c: _surrounding(c, "wind_speed", "wind_from", "heading"),
    ),
    "rest_bus_volts": _Source("median", ("start.min_bus_volts_before",), lambda c: c.starter_on() + _resting(c)),
    "min_bus_volts": _Source(
        "lowest sample",
        ("start.min_bus_volts",),
        lambda c: _highest(c, "bus_volts", cranking_windows(c.view, c.attempt.runs, c.lit_s), lowest=True),
    ),
    "bus_volts_recovery": _Source("median", (), lambda c: c.starter_off() + _recovery(c)),
    "inrush_current": _Source("largest absolute sample", (), _inrush),
    "source_resistance": _Source(
        "-slope of volts on amperes, else (volts at rest - median volts) / (median amperes - amperes at rest)",
        (),
        _resistance,
    ),
    "ng_at_fuel": _Source(_LINE, ("start.min_fuel_ng_pct", "start.advised_fuel_ng_pct"), _at_fuel),
    "ng_rate_at_fuel": _Source(
        "least-squares slope of all samples of the stretch",
        ("start.stable_ng_rate_pct_per_s", "start.stable_for_s"),
        _slope,
    ),
    "max_motoring_ng": _Source(
        "highest sample", (),
        lambda c: () if c.on_s is None else _highest(c, "ng", [(c.on_s, motored_until(c.view, c.attempt))]),
    ),
    "ng_acceleration": _Source(
        "(b - a) / (tb - ta)",
        (),
        lambda c: _steepest(
            c, "ng", c.attempt.first_light_off_s,
            c.attempt.end_s if c.attempt.idle_s is None else c.attempt.idle_s,
        ),
    ),
    "starter_cutout_ng": _Source(
        _LINE, (),
        lambda c: c.starter_off() + _at(c, "ng", c.attempt.runs[-1].end_s if c.attempt.runs else None, "release"),
    ),
    "ng_at_starter_on": _Source(
        _LINE, ("start.max_engage_ng_pct",), lambda c: c.starter_on() + _at(c, "ng", c.on_s, "starter on")
    ),
    "fuel_on": _Source("time of the first sample with fuel", (), Context.fuel_on),
    "fuel_to_light_off": _Source(
        "time of the last sample before the rise - time of the first sample with fuel, not less than 0",
        ("start.light_off_within_s", "start.light_off_rise_c"),
        lambda c: c.fuel_on() + c.light_off(),
    ),
    "light_off_to_idle": _Source(
        "time at which Ng crosses idle less its tolerance, to stay - time of the last sample before the rise",
        ("start.idle_within_s", "start.idle_ng_pct", "start.idle_tolerance_pct"),
        lambda c: c.light_off() + _idle(c),
    ),
    "starter_total": _Source("sum of (release - starter on)", ("starter.duty",), _runs),
    "motored_after_cut": _Source(
        "sum of the starter's time after the cut, until fuel came again",
        ("abort.motor_for_s",),
        lambda c: c.fuel_off() + _runs(c) + c.fuel_again(),
    ),
    "itt_at_starter_release": _Source(
        _LINE, ("abort.motor_until_itt_c",),
        _release,
    ),
    "first_cue": _Source("earliest of the cues that the profile names", (), _cue),
    "cue_to_cut": _Source("time of the cut - time of the first cue", (), lambda c: _cue(c) + c.fuel_off()),
}  # fmt: skip


def _level_source(c: Context, name: str) -> _Source | None:
    """Return how a measure of a level of the profile is proved."""
    kind, _, text = name.rpartition("_")
    if kind not in ("time_above", "cut_after"):
        return None
    keys = tuple(
        f"limits.{limit.id}.allowed[{n}]"
        for limit in c.view.profile.limits
        if limit.channel == "itt" and limit.when == "start" and not limit.below
        for n, row in enumerate(limit.allowed, 1)
        if f"{row.level:g}" == text
    )
    level = next(
        row.level for limit in c.view.profile.limits for row in limit.allowed if f"{row.level:g}" == text
    )
    if kind == "time_above":
        return _Source("sum of (down - up), each crossing on the line between its samples", keys,
                       lambda c: _time_above(c, level))  # fmt: skip
    return _Source("time of the cut - time of the crossing, on the line between its samples", keys,
                   lambda c: _cut_after(c, level))  # fmt: skip


def prove(c: Context, measures: Mapping[str, Measure]) -> dict[str, MeasureEvidence]:
    """Return the evidence of every measure by name; without samples where there is neither value nor bound."""
    out: dict[str, MeasureEvidence] = {}
    for name, measure in measures.items():
        source = _SOURCES.get(name) or _level_source(c, name)
        if source is None:
            continue
        keys = source.keys
        if name in ("first_cue", "cue_to_cut") and c.cue is not None and c.cue.key:
            keys = (c.cue.key,)
        out[name] = proof(c.view, measure, source.formula, keys, partial(source.read, c))
    return out
