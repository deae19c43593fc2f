"""What surrounded a start: air, altitude and wind."""

from __future__ import annotations

import numpy as np

from debrief.analysis.measures import atmosphere
from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.starts.attempts import Attempt


def surroundings(view: EngineView, attempt: Attempt, out: dict[str, Measure]) -> None:
    """Add air, altitudes and wind at the opening of the attempt to `out`."""
    begin = attempt.begin_s
    oat = view.value("oat", begin)
    out["oat"] = Measure(oat, "degC") if oat is not None else missing("degC", "OAT not recorded")
    height = out["pressure_altitude"] = _pressure_altitude(view, begin)
    if oat is not None and height.value is not None:
        dense = [
            None if x is None else float(atmosphere.density_altitude_ft(x, oat))
            for x in (height.value, height.low, height.high)
        ]
        out["density_altitude"] = Measure(dense[0], "ft", dense[1], dense[2], inferred=height.inferred)
    else:
        out["density_altitude"] = missing("ft", "needs OAT and pressure altitude")
    speed = view.value("wind_speed", begin)
    # An angle is read as recorded: a straight line from 359 to 1 degrees would pass through south.
    source, heading = (_last_reading(view, n, begin) for n in ("wind_from", "heading"))
    if speed is None or source is None or heading is None:
        out["headwind"] = missing("kt", "needs wind speed, wind direction and heading")
        out["crosswind"] = out["headwind"]
    else:
        head, cross = atmosphere.wind_components_kt(speed, source, heading)
        out["headwind"] = Measure(float(head), "kt")
        out["crosswind"] = Measure(float(cross), "kt")


def _pressure_altitude(view: EngineView, time_s: float) -> Measure:
    """Return the pressure altitude as recorded, else from the altitude and a stated altimeter setting.

    The setting is told in steps: half of one on each side is open. Without one no pressure altitude is claimed.
    """
    palt = view.value("palt", time_s)
    if palt is not None:
        return Measure(palt, "ft")
    altitude, told = view.value("altitude", time_s), view.recording.identity
    if altitude is None:
        return missing("ft", "pressure altitude not recorded")
    if told.altimeter_setting_hpa is None:
        return missing("ft", "altitude was recorded, but neither pressure altitude nor the altimeter setting")
    half = 0.5 * told.altimeter_setting_step_hpa
    value, low, high = (
        float(atmosphere.pressure_altitude_ft(altitude, told.altimeter_setting_hpa + x))
        for x in (0.0, half, -half)
    )
    if not np.isfinite(value):
        return missing("ft", "the altimeter setting is none that occurs")
    return Measure(value, "ft", low, high, inferred=True)


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
