"""Temperatures of one start attempt: residual, peak, rise, and time above the profile's levels."""

from __future__ import annotations

from debrief.analysis.model import FuelPeriod, Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs, total_s
from debrief.analysis.signal.point_readings import missing, steepest
from debrief.analysis.signal.sampling_bounds import bounded
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.edge_bounds import StartWindow


def temperatures(
    view: EngineView,
    attempt: Attempt,
    fuel: FuelPeriod | None,
    on: float | None,
    until: float,
    counted: StartWindow,
    out: dict[str, Measure],
) -> None:
    """Add residual and highest ITT, its rise and the time above each start level to `out`."""
    itt = view.trace("itt")
    names = ("residual_itt_starter_on", "residual_itt_fuel_on", "peak_itt", "itt_rise_rate")
    if itt is None:
        for name in names:
            out[name] = missing("degC/s" if name.endswith("rate") else "degC", "ITT not recorded")
        return

    def reading(time_s: float | None, before_s: float | None, what: str) -> Measure:
        if time_s is None:
            return missing("degC", f"no {what} in this attempt")
        value = itt.at(time_s)
        if value is None:
            return missing("degC", f"no ITT sample at {what}")
        # It came on between the last sample off and the first on: so did the temperature then.
        bounds = bounded(itt, time_s if before_s is None else before_s, time_s)
        return Measure(value, "degC", *(bounds or (None, None)))

    low_s = attempt.runs[0].start_low_s if attempt.runs else None
    out["residual_itt_starter_on"] = reading(on, low_s, "starter on")
    if fuel is None:
        out["residual_itt_fuel_on"] = reading(None, None, "fuel on")
    else:
        out["residual_itt_fuel_on"] = reading(fuel.on_s, fuel.on_low_s, "fuel on")
    if not attempt.lit or attempt.first_light_off_s is None:
        out["peak_itt"] = missing("degC", "never lit")
        out["itt_rise_rate"] = missing("degC/s", "never lit")
    else:
        top = itt.peak(from_pairs([(attempt.begin_s, until)]))
        if top is None:
            out["peak_itt"] = missing("degC", "no ITT sample in this attempt")
        else:
            out["peak_itt"] = Measure(top[1], "degC", top[1] - itt.half_resolution, top[2])
        rate = steepest(itt, attempt.first_light_off_s, until)
        out["itt_rise_rate"] = (
            missing("degC/s", "too few ITT samples after light-off")
            if rate is None
            else Measure(rate.value, "degC/s", rate.low, rate.high)
        )
    for limit in view.profile.limits:
        if limit.channel == "itt" and limit.when == "start" and not limit.below:
            for row in limit.allowed:
                above = counted.above(itt, row.level)
                cut = bool(above.cut(above.high[:, 0], above.high[:, 1]).any())
                out[f"time_above_{row.level:g}"] = Measure(
                    total_s(above.estimate), "s", total_s(above.low), None if cut else total_s(above.high)
                )
