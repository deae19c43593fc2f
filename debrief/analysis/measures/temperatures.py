"""Temperatures of one start attempt: residual, peak, rise, and time above the profile's levels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, taken
from debrief.analysis.evidence.measured import LINE, Measured
from debrief.analysis.measures.start_context import MOST_RUNS, RISE, StartContext
from debrief.analysis.model import Measure
from debrief.analysis.signal.interval_sets import from_pairs, total_s
from debrief.analysis.signal.point_readings import FUEL_BEFORE, STARTER_BEFORE, lit_between, missing
from debrief.analysis.signal.sampling_bounds import bounded
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray


def temperatures(c: StartContext) -> dict[str, Measured]:
    """Return residual and highest ITT, its rise and the time above each start level."""
    fuel = c.fuel
    came_s, before_s = (None, None) if fuel is None else (fuel.on_s, fuel.on_low_s)
    warm = ("start.max_residual_itt_c",)
    return {
        "residual_itt_starter_on": Measured(missing("degC", STARTER_BEFORE), LINE)
        if c.on_s is not None and c.on_low_s is None and not c.attempt.starter_inferred
        else _residual(c, c.on_s, c.on_low_s, "starter on", c.starter_on),
        "residual_itt_fuel_on": Measured(missing("degC", FUEL_BEFORE), LINE, warm)
        if fuel is not None and (fuel.began_inside or fuel.burnt_before)
        else _residual(c, came_s, before_s, "fuel on", c.fuel_on, warm),
        "peak_itt": _peak(c),
        "itt_rise_rate": _rise_rate(c),
        **_times_above(c),
    }


def _residual(
    c: StartContext,
    time_s: float | None,
    before_s: float | None,
    what: str,
    switched: Callable[[], Readings],
    keys: tuple[str, ...] = (),
) -> Measured:
    """Return the ITT when something came on; `switched` returns the samples that show it."""
    itt = c.view.trace("itt")
    value = None if itt is None or time_s is None else itt.at(time_s)
    if itt is None:
        return Measured(missing("degC", _unrecorded(c)), LINE, keys)
    if time_s is None:
        return Measured(missing("degC", f"no {what} in this attempt"), LINE, keys)
    if value is None:
        return Measured(missing("degC", f"no {c.view.names.itt} sample at {what}"), LINE, keys)
    # It came on between the last sample off and the first on: so did the temperature then.
    bounds = bounded(itt, time_s if before_s is None else before_s, time_s)
    measure = Measure(value, "degC", *(bounds or (None, None)))
    if bounds is not None and lit_between(itt, before_s, time_s, c.view.light_off_rise_c):
        # What was left in the engine does not rise: by the first sample with fuel it burnt.
        low = min(bounds[0], itt.sample_before(time_s if before_s is None else before_s) or bounds[0])
        measure = replace(measure, value=None, low=low, why="it lit between the samples beside it")
    return Measured(measure, LINE, keys, lambda: switched() + c.at("itt", time_s, what))


def _peak(c: StartContext) -> Measured:
    itt, begin = c.view.trace("itt"), c.attempt.begin_s
    formula = "highest sample"
    if itt is None or not c.attempt.lit:
        return Measured(missing("degC", _unrecorded(c) if itt is None else "never lit"), formula)
    top = itt.peak(from_pairs([(begin, c.until_s)]))
    if top is None:
        return Measured(missing("degC", f"no {c.view.names.itt} sample in this attempt"), formula)
    # Of an engine that burnt before the recording began nobody knows how hot it had been.
    high = None if c.attempt.fuels[0].burnt_before else top.high
    measure = Measure(top.value, "degC", top.low, high)
    return Measured(measure, formula, read=c.highest("itt", begin, c.until_s, top[0]))


def _rise_rate(c: StartContext) -> Measured:
    itt = c.view.trace("itt")
    if itt is None or not c.attempt.lit:
        return Measured(missing("degC/s", _unrecorded(c) if itt is None else "never lit"), RISE)
    return c.steepest(
        itt, "itt", c.until_s, missing("degC/s", f"too few {c.view.names.itt} samples after light-off")
    )


def _unrecorded(c: StartContext) -> str:
    return f"{c.view.names.itt} was not recorded"


def _times_above(c: StartContext) -> dict[str, Measured]:
    """Return how long ITT was above each start level, as the limits count it."""
    itt = c.view.trace("itt")
    out: dict[str, Measured] = {}
    if itt is None:
        return out
    for level, keys in c.view.start_levels.items():
        above = c.counted.above(itt, level)
        cut = bool(above.cut(above.high[:, 0], above.high[:, 1]).any())
        out[f"time_above_{level:g}"] = Measured(
            Measure(total_s(above.estimate), "s", total_s(above.low), None if cut else total_s(above.high)),
            "sum of (down − up), each crossing on the line between its samples",
            keys,
            partial(_crossings, c, itt, above.estimate),
        )
    return out


def _crossings(c: StartContext, itt: Trace, rows: FloatArray) -> Readings:
    """Return the samples on both sides of each crossing; the highest where it was never above."""
    if not len(rows):
        begin, end = c.attempt.begin_s, c.attempt.window_end_s
        top = itt.highest(from_pairs([(begin, end)]))
        return c.highest("itt", begin, end, None if top is None else top[0])()
    index: list[int] = []
    for begin, end in rows[:MOST_RUNS].tolist():
        up = int(np.searchsorted(itt.time_s, begin, side="right")) - 1
        down = int(np.searchsorted(itt.time_s, end, side="left"))
        index += [up, up + 1, down - 1, down]
    more = "" if len(rows) <= MOST_RUNS else f", of the first {MOST_RUNS} of {len(rows)} runs"
    return taken(c.view, "itt", index, f"beside each crossing{more}")
