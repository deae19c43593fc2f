"""Stretches in which the engine ran steadily, and what it did there."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.flight.itt_levels import IttLevel, lowest_level
from debrief.analysis.flight.outside_air import outside_air, referred_values
from debrief.analysis.flight_model import SteadyWindow
from debrief.analysis.model import Phase
from debrief.analysis.signal.cells import Cells
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import EMPTY, subtract, union
from debrief.analysis.signal.switch_edges import held_at
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

LEAST_S = 180.0
SETTLING_S = 60.0
CELL_S = 10.0
MOST_CELLS = 200_000
"""Of `CELL_S` in one recording: 23 days."""
SLOPES = {"ng": 0.3, "itt": 6.0}
"""How much a minute each may move at most, [% or degC]."""
HEIGHT_FT = 100.0
IAS_KT = 5.0
LEVER_PCT = 1.0
TORQUE_PCT = 2.0
SWITCHES = ("bleed", "separator")
HALF_LINES = (3, 8)
"""A slope is that of the line through so many cells on each side, and the middle one: the longer one knows better, in noise."""
MEANS_OVER = (1, 3, 6)
"""What has to stand still does so as means over so many cells: the longer ones know better, in noise."""
NOISES = 3.0
BEFORE_END_S = 1e-6
"""A sample at the end of a stretch is of what follows."""


def step_of(view: EngineView) -> float:
    """Return the length of the cells whose means are looked at, [s]."""
    return max(CELL_S, view.end_s / MOST_CELLS)


def steadied_by(view: EngineView) -> list[tuple[Trace, float]]:
    """Return what has to stand still in steady running, and within how much: height, airspeed, lever, else torque."""
    lever = view.trace("power_lever")
    wanted = [
        (view.height, HEIGHT_FT),
        (view.trace("ias"), IAS_KT),
        (lever, LEVER_PCT) if lever is not None else (view.trace("torque"), TORQUE_PCT),
    ]
    return [(trace, within) for trace, within in wanted if trace is not None]


def steady_rows(view: EngineView, running: FloatArray, but: tuple[str, ...] = ()) -> FloatArray:
    """Return the stretches of steady running, (m, 2), which may touch, with the first minute in which temperatures settle, [s].

    Parameters
    ----------
    running : (n, 2) float array
        Where the engine runs, outside of starts, and was recorded.
    but : tuple of str
        Channels that may move.

    Notes
    -----
    At least 180 s in which the slope of Ng, over 70 s and over 170 s, stays below 0.3 % a minute and that of ITT below 6 degC a minute, the
    height stays within 100 ft, the airspeed within 5 kt, the power lever within 1 % (torque within 2 % where there is no lever), and bleed
    and separator are not switched. All that was recorded has to: what was not is not asked. Means over 10 to 60 s are looked at, and
    what noise may add to them is allowed for, so that neither noise nor the rate of the recorder breaks a
    stretch; a gap does.
    """
    running = running[running[:, 1] - running[:, 0] >= LEAST_S] if len(running) else running
    moving = [
        (trace, most)
        for name, most in SLOPES.items()
        if name not in but and (trace := view.trace(name)) is not None
    ]
    if not len(running) or not moving:
        return EMPTY
    held = steadied_by(view)
    traces = [trace for trace, _ in (*moving, *held)]
    step = max(step_of(view), *(2.0 * interval_of(trace) for trace in traces))
    cells = view.cells(step)
    least = max(math.ceil(LEAST_S / step - 1e-9), 3)
    rows = [
        row
        for first, last in _segments(view, traces, running, step)
        if last - first >= least
        for row in _longest(_reach(cells, moving, held, first, last), least, first)
    ]
    return np.array(sorted(rows), dtype=np.float64).reshape(-1, 2) * step


def interval_of(trace: Trace) -> float:
    """Return the usual time between samples outside of gaps, [s]."""
    t = trace.time_s
    return float(t[-1] - t[0]) / max(t.size - 1 - int(trace.gap_index.size), 1) if t.size > 1 else 0.0


def _segments(
    view: EngineView, traces: Sequence[Trace], running: FloatArray, step: float
) -> list[tuple[int, int]]:
    """Return first and end cell of each stretch without a gap and without a switch that moves."""
    gaps = [
        np.column_stack((trace.time_s[trace.gap_index], trace.time_s[trace.gap_index + 1]))
        for trace in {id(trace.gap): trace for trace in traces}.values()
        if trace.gap_index.size
    ]
    switched = [moved for name in SWITCHES if (moved := _switched_s(view, name)).size]
    if gaps:
        running = subtract(running, union(np.concatenate(gaps)))
    if switched:
        at = np.unique(np.concatenate(switched))
        running = subtract(running, np.column_stack((at, at + 1e-6)))
    edges = np.column_stack((np.ceil(running[:, 0] / step - 1e-6), np.floor(running[:, 1] / step + 1e-6)))
    return [(int(a), int(b)) for a, b in edges.tolist()]


def _switched_s(view: EngineView, name: str) -> FloatArray:
    """Return when a switch moved, [s]."""
    channel = view.channel(name)
    if channel is None:
        return EMPTY[:, 0]
    moved: FloatArray = channel.time_s[1:][np.diff(channel.values) != 0]
    return moved


def _reach(
    cells: Cells,
    moving: Sequence[tuple[Trace, float]],
    held: Sequence[tuple[Trace, float]],
    first: int,
    last: int,
) -> NDArray[np.intp]:
    """Return for each cell how far steady running can go on from it: the end of the longest stretch, from `first`."""
    reach = np.full(last - first, last - first, dtype=np.intp)
    for trace, within in held:
        mean, scatter = _means(cells, trace, first, last)
        for many in (m for m in MEANS_OVER if m <= mean.size):
            allowed = within + 2.0 * NOISES * scatter / math.sqrt(many) + trace.half_resolution
            smooth = np.convolve(mean, np.full(many, 1.0 / many), "valid")
            end = _stays_within(smooth, allowed) + many - 1
            reach[: end.size] = np.minimum(reach[: end.size], end)
    for trace, most in moving:
        mean, scatter = _means(cells, trace, first, last)
        for half in HALF_LINES:
            reach = np.minimum(reach, _stays_level(mean, scatter, most * cells.step_s / 60.0, half))
    return reach


def _means(cells: Cells, trace: Trace, first: int, last: int) -> tuple[FloatArray, float]:
    """Return the means of the cells and their deviation by the noise of the channel."""
    mean, rows = cells.means(trace)
    usual = int(np.median(rows[first:last]))
    return mean[first:last], trace.noise_seen.of_mean(usual)


def _stays_within(values: FloatArray, within: float) -> NDArray[np.intp]:
    """Return for each value the end of the longest stretch from it whose values lie within so much of one another.

    Highest and lowest of 1, 2, 4, ... values are made once; the stretch grows by the longest of them that still fit.
    """
    n = values.size
    if np.ptp(values) <= within:
        return np.full(n, n, dtype=np.intp)
    tables = [(values, values)]
    while 2 << (len(tables) - 1) <= n:
        half = 1 << (len(tables) - 1)
        high, low = tables[-1]
        tables.append((np.maximum(high[:-half], high[half:]), np.minimum(low[:-half], low[half:])))
    end = np.arange(n)
    top, bottom = np.full(n, -np.inf), np.full(n, np.inf)
    for k in range(len(tables) - 1, -1, -1):
        size = 1 << k
        at = np.minimum(end, n - size)
        high, low = np.maximum(top, tables[k][0][at]), np.minimum(bottom, tables[k][1][at])
        fits = (end + size <= n) & (high - low <= within)
        top, bottom = np.where(fits, high, top), np.where(fits, low, bottom)
        end = np.where(fits, end + size, end)
    return end


def _stays_level(values: FloatArray, scatter: float, most: float, half: int) -> NDArray[np.intp]:
    """Return for each value the end of the longest stretch from it in which no line through `half` on each side is steeper than `most`."""
    n = values.size
    half = min(half, (n - 1) // 2)
    weights = np.arange(-half, half + 1.0)
    spread = float(weights @ weights)
    allowed = most + NOISES * scatter / math.sqrt(spread)
    slope = np.abs(np.correlate(values, weights, "valid")) / spread
    steep = np.flatnonzero(~(slope < allowed))  # by its first cell; a missing mean is steep, too
    following = np.append(steep, n)[np.searchsorted(steep, np.arange(n))]
    end = np.minimum(following + 2 * half, n)
    missing = np.flatnonzero(np.isnan(values))
    out: NDArray[np.intp] = np.minimum(end, np.append(missing, n)[np.searchsorted(missing, np.arange(n))])
    return out


def _longest(reach: NDArray[np.intp], least: int, first: int) -> list[tuple[int, int]]:
    """Return the longest stretch, then the longest of what is left, and so on, as cells of the recording."""
    reach, start = reach.copy(), np.arange(reach.size)
    out: list[tuple[int, int]] = []
    while True:
        k = int((reach - start).argmax())
        end = int(reach[k])
        if end - k < least:
            return out
        out.append((first + k, first + end))
        reach[:k] = np.minimum(reach[:k], k)
        reach[k:end] = start[k:end]


def steady_windows(
    view: EngineView, rows: FloatArray, phases: Sequence[Phase], levels: Sequence[IttLevel]
) -> list[SteadyWindow]:
    """Return what the engine did in each of the `steady_rows`, (m, 2), after its first minute."""
    return [
        window_of(view, begin + SETTLING_S, end, phases, levels)
        for begin, end in rows.tolist()
        if end > begin + SETTLING_S
    ]


MEANS = ("palt", "altitude", "oat", "ias", "torque", "ng", "np", "itt", "fuel_flow", "generator_amps")


def window_of(
    view: EngineView, begin: float, end: float, phases: Sequence[Phase], levels: Sequence[IttLevel]
) -> SteadyWindow:
    """Return the means of a stretch, what they are referred to standard air, and the margin of ITT."""
    of = {name: mean_between(view, name, begin, end) for name in MEANS}
    air = outside_air(view, of)
    why = dict(air.why)
    for name, shown in {
        **{n: n for n in MEANS[3:9]},
        "ias": "ias_kt",
        "generator_amps": "generator_load",
    }.items():
        if of[name] is None:
            why[shown] = view.missing_because(name)
    referred = referred_values(air, of)
    no_air = why.pop("referred", None)
    for name in ("ng", "itt", "torque", "fuel_flow"):
        if no_air is not None or of[name] is None:
            why[f"referred_{name}"] = no_air if no_air is not None and of[name] is not None else why[name]
    on = {name: _held(view, name, begin, end, why) for name in (*SWITCHES, "generator_on")}
    if why.get("generator_on") is not None:
        why["generator"] = why.pop("generator_on")
    margin = None
    level = lowest_level(levels, begin, end)
    itt = of["itt"]
    if level is not None and itt is not None:
        margin = level.level_c - itt
    else:
        why["itt_margin_c"] = why.get("itt", f"the profile has no limit of running {view.names.itt} there")
    counted = view.trace("itt") or view.trace("ng")
    part = slice(0, 0) if counted is None else counted.between(begin, end - BEFORE_END_S)
    middle = 0.5 * (begin + end)
    return SteadyWindow(
        view.engine,
        begin,
        end,
        phase_at(phases, middle),
        pressure_altitude_ft=_number(air.pressure_altitude_ft),
        oat_c=_number(air.oat_c),
        isa_deviation_c=_number(air.isa_deviation_c),
        density_altitude_ft=_number(air.density_altitude_ft),
        ias_kt=of["ias"],
        torque=of["torque"],
        ng=of["ng"],
        np=of["np"],
        itt=itt,
        fuel_flow=of["fuel_flow"],
        referred_ng=_number(referred.ng),
        referred_itt=_number(referred.itt_c),
        referred_torque=_number(referred.torque),
        referred_fuel_flow=_number(referred.fuel_flow),
        itt_margin_c=margin,
        bleed=on["bleed"],
        separator=on["separator"],
        generator=on["generator_on"],
        generator_load=of["generator_amps"],
        samples=part.stop - part.start,
        why=why,
    )


def phase_at(phases: Sequence[Phase], time_s: float) -> str | None:
    """Return the phase at an instant, None where none is told."""
    return next((p.name for p in phases if p.start_s <= time_s <= p.end_s), None)


def mean_between(view: EngineView, name: str, begin: float, end: float) -> float | None:
    """Return the mean of the samples between two instants; None without any."""
    trace = view.trace(name)
    if trace is None:
        return None
    part = trace.between(begin, end - BEFORE_END_S)
    return float(trace.values[part].mean()) if part.stop > part.start else None


def _held(view: EngineView, name: str, begin: float, end: float, why: dict[str, str]) -> bool | None:
    """Return whether a switch was on throughout, or None and why."""
    channel = view.channel(name)
    value = held_at(channel, begin)
    if channel is None or value is None:
        why[name] = view.missing_because(name)
        return None
    part = channel.values[channel.time_s.searchsorted(begin) : channel.time_s.searchsorted(end)]
    if part.size and bool(((part > 0.5) != (value > 0.5)).any()):
        why[name] = "it was switched meanwhile"
        return None
    return value > 0.5


def _number(value: object) -> float | None:
    if value is None:
        return None
    number = float(value)  # type: ignore[arg-type]
    return number if math.isfinite(number) else None
