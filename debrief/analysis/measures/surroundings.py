"""What surrounded a start: air, altitude and wind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, nearest
from debrief.analysis.evidence.measured import LINE, Measured
from debrief.analysis.measures import atmosphere
from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import missing

_ANGLES = ("wind_from", "heading")
_OPENING = "the opening of the attempt"


def surroundings(c: StartContext) -> dict[str, Measured]:
    """Return air, altitudes and wind at the opening of the attempt."""
    value = c.view.value("oat", c.attempt.begin_s)
    measure = Measure(value, "degC") if value is not None else missing("degC", "OAT not recorded")
    oat = Measured(measure, LINE, ("factors.oat_c",), _samples(c, "oat"))
    altitude = _pressure_altitude(c)
    return {
        "oat": oat,
        "pressure_altitude": altitude,
        "density_altitude": _density_altitude(altitude, oat),
        **_wind(c),
    }


def _samples(c: StartContext, *names: str) -> Callable[[], Readings]:
    """Return what looks up the samples of these channels at the opening of the attempt."""
    view, begin = c.view, c.attempt.begin_s
    return lambda: sum(
        (nearest(view, n, begin, _OPENING) if n in _ANGLES else c.at(n, begin, _OPENING) for n in names), ()
    )


def _pressure_altitude(c: StartContext) -> Measured:
    """Return the pressure altitude as recorded, else from the altitude and a stated altimeter setting.

    The setting is told in steps: half of one on each side is open. Without one no pressure altitude is claimed.
    """
    view, begin = c.view, c.attempt.begin_s
    palt, told = view.value("palt", begin), view.recording.identity
    if palt is not None:
        return Measured(Measure(palt, "ft"), LINE, read=_samples(c, "palt"))
    altitude = view.value("altitude", begin)
    if altitude is None:
        return Measured(missing("ft", "pressure altitude not recorded"), LINE)
    formula = f"{LINE}; plus the standard height of the stated altimeter setting"
    if told.altimeter_setting_hpa is None:
        why = "altitude was recorded, but neither pressure altitude nor the altimeter setting"
        return Measured(missing("ft", why), formula)
    half = 0.5 * told.altimeter_setting_step_hpa
    value, low, high = (
        float(atmosphere.pressure_altitude_ft(altitude, told.altimeter_setting_hpa + x))
        for x in (0.0, half, -half)
    )
    if not np.isfinite(value):
        return Measured(missing("ft", "the altimeter setting is none that occurs"), formula)
    return Measured(Measure(value, "ft", low, high, inferred=True), formula, read=_samples(c, "altitude"))


def _density_altitude(altitude: Measured, oat: Measured) -> Measured:
    height, degrees = altitude.measure, oat.measure.value
    measure = missing("ft", "needs OAT and pressure altitude")
    if degrees is not None and height.value is not None:
        value, low, high = (
            None if x is None else float(atmosphere.density_altitude_ft(x, degrees))
            for x in (height.value, height.low, height.high)
        )
        measure = replace(height, value=value, low=low, high=high)
    return Measured(
        measure,
        "altitude at which the standard atmosphere has the density ratio σ = δ / θ, of pressure ratio and temperature ratio",
        ("factors.density_altitude_ft",),
        lambda: altitude.read() + oat.read(),
    )


def _wind(c: StartContext) -> dict[str, Measured]:
    begin = c.attempt.begin_s
    speed = c.view.value("wind_speed", begin)
    # An angle is read as recorded: a straight line from 359 to 1 degrees would pass through south.
    source, heading = (_last_reading(c.view, n, begin) for n in _ANGLES)
    head = cross = missing("kt", "needs wind speed, wind direction and heading")
    if speed is not None and source is not None and heading is not None:
        head, cross = (Measure(float(x), "kt") for x in atmosphere.wind_components_kt(speed, source, heading))
    read = _samples(c, "wind_speed", *_ANGLES)
    return {
        "headwind": Measured(head, "wind speed × cos(wind from − heading)", ("factors.tailwind_kt",), read),
        "crosswind": Measured(cross, "wind speed × sin(wind from − heading)", (), read),
    }


def _last_reading(view: EngineView, name: str, time_s: float) -> float | None:
    """Return the value of the nearest sample within 2 s, or None."""
    trace = view.trace(name)
    if trace is None:
        return None
    near = trace.between(time_s - 2.0, time_s + 2.0)
    if near.stop == near.start:
        return None
    best = near.start + int(np.argmin(np.abs(trace.time_s[near] - time_s)))
    return float(trace.values[best])
