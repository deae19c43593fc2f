"""Whether ITT goes on agreeing with Ng and fuel flow in steady running: a step that they do not share is the sensor's, perhaps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.evidence.evidence_samples import stretch
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.flight.outside_air import outside_air, referred_values
from debrief.analysis.flight.steady_windows import SETTLING_S, steady_rows, step_of
from debrief.analysis.flight_model import LoadStep
from debrief.analysis.model import Measure
from debrief.analysis.quality.doubt import LISTED
from debrief.analysis.signal.cells import Cells
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs, subtract
from debrief.analysis.signal.point_readings import missing
from debrief.recording.model import FloatArray, QualityFlag
from debrief.words.numbers import clock_text
from debrief.words.sentence import Quantity, sentence

SIDE = 5
"""So many means of 10 s on each side of a step tell its size."""
NEAR = 2
SHARP = 0.7
"""So much of a step lies between the two means before and the two after it: a drift is none."""
LEAST_CELLS = 18
DEVIATIONS = 4.0
LEAST_C = 3.0
HUBER = 1.345
ROUNDS = 20
RIDGE = 1e-3
AROUND_LOAD_S = (-10.0, 60.0)
NEEDED = ("itt", "ng", "fuel_flow")
TOO_LITTLE = "there was too little steady running with {itt}, Ng and fuel flow"


class Step(NamedTuple):
    """A step of ITT beside what Ng and fuel flow lead one to expect: when, [s], and by how much, [degC]."""

    time_s: float
    size_c: float


def itt_consistency(
    view: EngineView,
    running: FloatArray,
    loads: Sequence[LoadStep],
    in_doubt: Iterable[tuple[float, float]],
) -> tuple[Measured, list[QualityFlag]]:
    """Return the largest step of ITT that Ng and fuel flow do not share, and a flag for each that is beyond chance.

    Parameters
    ----------
    running : (m, 2) float array
        Where the engine ran outside of starts, [s].
    loads : sequence of LoadStep
        What moves ITT rightly: their surroundings are left out.
    in_doubt : iterable of (float, float)
        Where ITT is in doubt already, [s]: it is not told twice.

    Notes
    -----
    Referred ITT is fitted on referred Ng and fuel flow, bleed and separator over means of 10 s in steady running, steady in all
    but ITT, by Huber's rule. A step is the mean of 50 s of what is left after a moment less that before it; it is
    told where it is beyond four deviations of what is left and of such differences, 3 degC, and sharp. It is a doubt about the sensor and changes no verdict.
    """
    formula = (
        "largest difference between the means of 50 s after and before a moment of steady running, of referred "
        f"{view.names.itt} less its robust fit (Huber) on referred Ng and fuel flow"
    )
    none, too_little = partial(missing, "degC"), TOO_LITTLE.format(itt=view.names.itt)
    for name in NEEDED:
        if view.trace(name) is None:
            why = view.missing_because(name, view.names.in_text(name))
            return Measured(none(why), formula), []
    rows = steady_rows(view, running, but=("itt",))
    rows = from_pairs((a + SETTLING_S, b) for a, b in rows.tolist())
    rows = subtract(
        rows, from_pairs((s.time_s + AROUND_LOAD_S[0], s.time_s + AROUND_LOAD_S[1]) for s in loads)
    )
    rows = subtract(rows, from_pairs(in_doubt))
    step = step_of(view)
    cells = view.cells(step)
    parts = [np.arange(math.ceil(a / step - 1e-6), int(b / step + 1e-6)) for a, b in rows.tolist()]
    parts = [part for part in parts if part.size > 2 * SIDE]
    if sum(part.size for part in parts) < LEAST_CELLS:
        return Measured(none(too_little), formula), []
    left, why = _left(view, cells, np.concatenate(parts))
    if left is None:
        return Measured(none(why), formula), []
    whole = np.full(cells.count, np.nan)
    whole[np.concatenate(parts)] = left
    found = [one for part in parts for one in _steps(whole, part, step)]
    scatter = _scatter(whole, parts)
    if not found or not math.isfinite(scatter):
        return Measured(none(too_little), formula), []
    top, _ = max(found, key=lambda one: abs(one[0].size_c))
    half = 1.96 * scatter * math.sqrt(2.0 / SIDE)
    reach = (SIDE + 1) * step
    measure = Measure(top.size_c, "degC", top.size_c - half, top.size_c + half, is_difference=True)
    measured = Measured(
        measure,
        formula,
        ("flight.oat_is",),
        lambda: sum(
            (stretch(view, n, top.time_s - reach, top.time_s + reach, "around the step") for n in NEEDED), ()
        ),
    )
    # What hangs together for longer than a cell moves the means of 50 s by more than the scatter of cells tells.
    usual = 1.4826 * float(np.median([abs(one.size_c) for one, _ in found]))
    least = max(DEVIATIONS * scatter, DEVIATIONS * usual, LEAST_C)
    flags: list[QualityFlag] = []
    for one, is_sharp in sorted(found, key=lambda x: -abs(x[0].size_c)):
        if abs(one.size_c) <= least or len(flags) >= LISTED:
            break
        if is_sharp and all(abs(one.time_s - flag.start_s) > 2 * reach for flag in flags):
            flags.append(_flag(view, one, step))
    return measured, sorted(flags, key=lambda flag: flag.start_s)


def consistency_measures(found: Measured) -> dict[str, Measured]:
    """Return the measure by its name."""
    return {"itt_consistency": found}


def _left(view: EngineView, cells: Cells, at: NDArray[np.intp]) -> tuple[FloatArray | None, str]:
    """Return what is left of referred ITT beside its fit in some cells, [degC], or None and why."""
    names = (*NEEDED, "palt", "altitude", "oat", "ias")
    of = {n: cells.means(trace)[0][at] for n in names if (trace := view.trace(n)) is not None}
    air = outside_air(view, of)
    referred = referred_values(air, of)
    if referred.itt_c is None:
        return None, air.why.get("referred", TOO_LITTLE.format(itt=view.names.itt))
    columns = [referred.ng, referred.fuel_flow]
    for name in ("bleed", "separator"):
        channel = view.channel(name)
        if channel is not None:
            middle = (at + 0.5) * cells.step_s
            k = np.maximum(channel.time_s.searchsorted(middle, side="right") - 1, 0)
            columns.append((channel.values[k] > 0.5).astype(np.float64))
    y, x = np.asarray(referred.itt_c), np.column_stack(columns)
    known = np.isfinite(y) & np.isfinite(x).all(axis=1)
    if np.count_nonzero(known) < LEAST_CELLS:
        return None, TOO_LITTLE.format(itt=view.names.itt)
    out = np.full(y.size, np.nan)
    out[known] = y[known] - fitted_robustly(x[known], y[known])
    return out, ""


def fitted_robustly(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the values of a linear fit of y, (n,), on the columns of x, (n, k), in which far values count less.

    Notes
    -----
    Least squares weighted by Huber's rule, 1.345 robust deviations. Columns are scaled, and one that hardly moves, or moves
    with the others, is held near zero: it cannot tell what it does.
    """
    scale = x.std(axis=0)
    columns = (x[:, scale > 0.0] - x[:, scale > 0.0].mean(axis=0)) / scale[scale > 0.0]
    made = np.column_stack((np.ones(y.size), columns))
    hold = RIDGE * y.size * np.diag([0.0, *np.ones(columns.shape[1])])
    weight = np.ones(y.size)
    fit = y
    for _ in range(ROUNDS):
        weighted = made * weight[:, None]
        fit = made @ np.linalg.solve(weighted.T @ made + hold, weighted.T @ y)
        beside = np.abs(y - fit)
        spread = 1.4826 * float(np.median(beside))
        if spread <= 0.0:
            break
        weight = np.minimum(1.0, HUBER * spread / np.maximum(beside, 1e-12))
    return fit


def _steps(left: FloatArray, part: NDArray[np.intp], step: float) -> list[tuple[Step, bool]]:
    """Return the step at each cell of a stretch with `SIDE` cells before and after it, and whether it is sharp."""
    values = left[part]
    n = values.size - 2 * SIDE
    means = np.convolve(values, np.full(SIDE, 1.0 / SIDE), "valid")
    near = np.convolve(values, np.full(NEAR, 1.0 / NEAR), "valid")
    size = means[SIDE + 1 :][:n] - means[:n]
    beside = near[SIDE + 1 :][:n] - near[SIDE - NEAR :][:n]
    times = (part[SIDE : SIDE + n] + 0.5) * step
    return [
        (Step(float(t), float(s)), bool(b / s >= SHARP))
        for t, s, b in zip(times, size, beside, strict=True)
        if np.isfinite(s) and s != 0.0
    ]


def _scatter(left: FloatArray, parts: Sequence[NDArray[np.intp]]) -> float:
    """Return the robust deviation of what is left in one cell, by its changes from cell to cell: steps hardly move it."""
    change = np.concatenate([np.diff(left[part]) for part in parts])
    change = change[np.isfinite(change)]
    return 1.4826 * float(np.median(np.abs(change))) / math.sqrt(2.0) if change.size else math.nan


def _flag(view: EngineView, one: Step, step: float) -> QualityFlag:
    said = sentence(
        "{itt} {moved} by {size} at {at} in steady running while Ng and fuel flow did not: its sensor is in doubt.",
        itt=view.names.in_text(view.name_of("itt"), begins=True),
        moved="rose" if one.size_c > 0 else "fell",
        size=Quantity(abs(one.size_c), "degC", is_difference=True),
        at=clock_text(one.time_s),
    )
    return QualityFlag("itt_inconsistent", view.name_of("itt"), one.time_s - step, one.time_s + step, said)
