"""How far ITT stayed below the lowest level that it must not stay above: the least in the flight, and by density altitude."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside, index_at, nearest, taken
from debrief.analysis.evidence.measured import LINE, Measured
from debrief.analysis.flight.itt_levels import IttLevel
from debrief.analysis.flight.outside_air import OutsideAir, outside_air
from debrief.analysis.flight.steady_windows import phase_at, step_of
from debrief.analysis.flight_model import MarginPoint
from debrief.analysis.model import Measure, Phase
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs, mask
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import frozen

CLASS_FT = 500.0
POWERED = ("climb", "cruise")
SWITCHED = ("bleed", "separator", "generator_on")


def itt_margins(
    view: EngineView,
    levels: Sequence[IttLevel],
    phases: Sequence[Phase],
    suspect: Callable[[str, float], bool],
) -> dict[str, Measured]:
    """Return the smallest ITT margin while running, when it was, and in what air.

    The evidence names the phase and holds what was switched on.
    """
    found = _smallest(view, levels)
    if found is None:
        itt = view.trace("itt")
        no_level = f"the profile has no limit of running {view.names.itt} that applied"
        why = view.missing_because("itt", view.names.itt) if itt is None else no_level
        time_s, margin = None, missing("degC", why)
        level = None
    else:
        level, time_s, margin = found
    if time_s is not None and suspect("itt", time_s):
        margin = Measure(
            margin.value, "degC", margin.low, margin.high, sensor_suspect=True, is_difference=True
        )
    air = OutsideAir() if time_s is None else _air_at(view, time_s)
    of_air = partial(_in_air, view, time_s, air, margin)
    keys = () if level is None else (level.key,)
    return {
        "itt_margin_smallest": Measured(
            margin,
            f"smallest over the running limits of (lowest level of severity limit − highest sample of {view.names.itt} where it applied)",
            keys,
            partial(_proof, view, level, time_s, phases),
        ),
        "itt_margin_smallest_at": Measured(
            missing("s", margin.why or "") if time_s is None else Measure(time_s, "s"),
            "time of that sample",
            keys,
            partial(_proof, view, level, time_s, phases),
        ),
        "itt_margin_smallest_density_altitude": of_air(
            "density_altitude_ft",
            "ft",
            "altitude at which the standard atmosphere has the density ratio σ = δ / θ, of pressure ratio and temperature ratio",
        ),
        "itt_margin_smallest_isa_deviation": of_air(
            "isa_deviation_c",
            "degC",
            "static air temperature − standard temperature at the pressure altitude",
        ),
    }


def _smallest(view: EngineView, levels: Sequence[IttLevel]) -> tuple[IttLevel, float, Measure] | None:
    itt = view.trace("itt")
    if itt is None:
        return None
    found = []
    for level in levels:
        top = itt.peak(level.rows)
        if top is not None:
            value, low, high = (level.level_c - x for x in (top.value, top.high, top.low))
            found.append((level, top.time_s, Measure(value, "degC", low, high, is_difference=True)))
    return min(found, key=lambda one: one[2].value or 0.0, default=None)


def _air_at(view: EngineView, time_s: float) -> OutsideAir:
    return outside_air(view, {n: view.value(n, time_s) for n in ("palt", "altitude", "oat", "ias")})


def _in_air(
    view: EngineView,
    time_s: float | None,
    air: OutsideAir,
    margin: Measure,
    name: str,
    unit: str,
    formula: str,
) -> Measured:
    value = getattr(air, name)
    is_difference = name == "isa_deviation_c"
    if value is None or not np.isfinite(value):
        why = margin.why or air.why.get(name, "the air is outside of the standard atmosphere")
        return Measured(missing(unit, why), formula)
    static = air.why.get("oat_c") is None
    return Measured(
        Measure(float(value), unit, inferred=not static, is_difference=is_difference),
        f"{formula}; {LINE}",
        (),
        partial(_air_read, view, time_s),
    )


def _air_read(view: EngineView, time_s: float | None) -> Readings:
    out = nearest(view, "itt", 0.0 if time_s is None else time_s, "the smallest margin")
    for name in ("palt", "altitude", "oat", "ias"):
        out += beside(view, name, time_s, "the smallest margin")
    return out


def _proof(
    view: EngineView, level: IttLevel | None, time_s: float | None, phases: Sequence[Phase]
) -> Readings:
    if level is None or time_s is None:
        return ()
    row = level.rows[int(np.searchsorted(level.rows[:, 1], time_s, side="left"))]
    phase = phase_at(phases, time_s)
    what = "smallest margin with its neighbours" + ("" if phase is None else f", phase {phase}")
    out = around(view, "itt", float(row[0]), float(row[1]), time_s, what)
    for name in SWITCHED:
        k = index_at(view, name, time_s)
        out += () if k is None else taken(view, name, (k,), "what it was then")
    return out + beside(view, "generator_amps", time_s, "the smallest margin")


def margin_curve(
    view: EngineView, itt: Trace | None, levels: Sequence[IttLevel], phases: Sequence[Phase]
) -> list[MarginPoint]:
    """Return the least margin in each class of 500 ft of density altitude in climb and cruise.

    Parameters
    ----------
    itt : Trace or None
        Without the samples that cannot be believed.

    Notes
    -----
    Of means over 10 s. OAT is taken as static where nothing says that it is total, as in steady windows.
    """
    powered = from_pairs((p.start_s, p.end_s) for p in phases if p.name in POWERED)
    if itt is None or not len(powered) or not levels:
        return []
    step = step_of(view)
    cells = view.cells(step)
    of = {
        n: cells.means(trace)[0]
        for n in ("palt", "altitude", "oat", "ias")
        if (trace := view.trace(n)) is not None
    }
    density = outside_air(view, of).density_altitude_ft
    if density is None:
        return []
    middle = frozen((np.arange(cells.count) + 0.5) * step)
    lowest = np.full(cells.count, np.inf)
    for level in levels:
        lowest = np.where(mask(level.rows, middle), np.minimum(lowest, level.level_c), lowest)
    margin = lowest - cells.means(itt)[0]
    known = np.flatnonzero(np.isfinite(margin) & np.isfinite(density) & mask(powered, middle))
    # The least of each class stands first behind its edge.
    places = np.floor(density[known] / CLASS_FT)
    order = known[np.lexsort((margin[known], places))]
    _, first = np.unique(np.floor(density[order] / CLASS_FT), return_index=True)
    return [
        MarginPoint(
            view.engine, CLASS_FT * float(np.floor(density[k] / CLASS_FT)), float(margin[k]), float(middle[k])
        )
        for k in order[first].tolist()
    ]
