"""What ``[start]`` asks of an attempt and the recording cannot tell."""

from __future__ import annotations

from debrief.analysis.model import (
    FuelPeriod,
    NotJudged,
    Start,
)
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import FUEL_BEFORE


def not_judged(view: EngineView, start: Start, aloft: bool = False) -> list[NotJudged]:
    """Return what ``[start]`` asks of this attempt and the recording cannot tell.

    Of a start `aloft` the rules of starts on the ground are left out: `debrief.analysis.rules.air_starts` tells them.
    """
    rules = view.profile.start
    out: list[NotJudged] = []

    def add(what: str, why: str | None, channel: str, core: bool = False) -> None:
        text = why or "not recorded"
        out.append(NotJudged(what, text, None, channel, start.begin_s, start.end_s, view.engine, core))

    fuelled = bool(start.fuel_periods)
    last: FuelPeriod | None = start.fuel_periods[-1] if fuelled else None
    # A flame that came back by itself has no moment at which fuel came.
    unmoved = start.kind == "relight" and last is not None and last.began_inside
    manual = rules.fuel_control != "automatic" and not aloft and not unmoved
    if manual and rules.min_fuel_ng_pct is not None and fuelled and last is not None:
        if start.measures["ng_at_fuel"].high is None:
            add("Ng at fuel", start.measures["ng_at_fuel"].why, "ng")
        elif last.source == "light_off" and (last.ng_at_fuel_high_pct or 0.0) >= rules.min_fuel_ng_pct:
            add("Ng at fuel", "no fuel signal: fuel came between the engagement and the light-off", "fuel_on")
    if manual and rules.stable_ng_rate_pct_per_s is not None and fuelled and start.ng_stable_at_fuel is None:
        rate = start.measures["ng_rate_at_fuel"]
        add("whether Ng had stabilised", rate.why or "the slope is less certain than the criterion", "ng")
    if view.trace("itt") is None:
        if rules.light_off_within_s is not None and fuelled:
            add("light-off", "ITT not recorded", "itt")
        if rules.max_residual_itt_c is not None and fuelled:
            add("residual heat", "ITT not recorded", "itt")
    elif last is not None and last.on_low_s is None and last.source != "light_off":
        if rules.light_off_within_s is not None and not unmoved:
            add("time from fuel to light-off", FUEL_BEFORE, "fuel_on")
        if rules.max_residual_itt_c is not None and start.kind != "relight" and not aloft:
            add("residual heat", FUEL_BEFORE, "fuel_on")
    elif last is not None and last.light_off_s is None and start.idle_s is not None:
        if rules.light_off_within_s is not None:
            add("light-off", "idle was reached, and ITT does not show when it lit", "itt")
    elif last is not None and last.source == "light_off" and rules.light_off_within_s is not None:
        add("time from fuel to light-off", "no fuel signal", "fuel_on")
    if rules.idle_ng_pct is not None and view.trace("ng") is None:
        add("idle and hung start", view.missing_because("ng"), "ng", core=fuelled)
    if start.starter_runs:
        for key, name in (("min_bus_volts_before", "rest_bus_volts"), ("min_bus_volts", "min_bus_volts")):
            measure = start.measures[name]
            if getattr(rules, key) is not None and measure.value is None:
                what = "resting voltage" if name == "rest_bus_volts" else "cranking voltage"
                add(what, measure.why, "bus_volts")
    if rules.purge_s is not None and len(start.fuel_periods) > 1 and view.channel("starter") is None:
        add("motoring between fuel cut and fuel again", view.missing_because("starter"), "starter")
    if start.outcome == "incomplete":
        edge = "ends before it is" if start.end_s >= view.end_s else "begins after it was"
        add("outcome of the start", f"the recording {edge} decided", "ng", core=fuelled)
    if start.outcome == "unknown":
        add(
            "outcome of the start",
            "motoring or no light-off; fuel may be in the engine",
            "fuel_on",
            core=True,
        )
    return out
