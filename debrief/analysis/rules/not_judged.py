"""What ``[start]`` asks of an attempt and the recording cannot tell."""

from __future__ import annotations

from collections.abc import Iterator

from debrief.analysis.model import (
    FuelPeriod,
    NotJudged,
    Start,
)
from debrief.analysis.rules.fuel_rules import heat_unseen
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import FUEL_BEFORE
from debrief.analysis.starts.attempts import Found
from debrief.profile.gaps import (
    ABORT,
    BURNING,
    CRANKING_VOLTS,
    ENGAGING,
    HUNG,
    IDLE_AND_HANG,
    LIGHT_OFF,
    NG_AT_FUEL,
    OUTCOME,
    PURGE,
    RESIDUAL,
    RESTING_VOLTS,
    SHOWN_BY_NG,
    STABILISED,
    TOO_SLOW,
    lacking,
)


def not_judged(
    view: EngineView, start: Start, aloft: bool = False, idle_unseen: str | None = None
) -> list[NotJudged]:
    """Return what ``[start]`` asks of this attempt and the recording cannot tell.

    `idle_unseen` is why nobody can tell whether it reached idle, None where it can be told.
    Of a start `aloft` the rules of starts on the ground are left out: `debrief.analysis.rules.air_starts` tells them.
    """
    rules, names = view.profile.start, view.names
    out: list[NotJudged] = []

    def add(what: str, why: str | None, channel: str, core: bool = False) -> None:
        text = why or f"{names.in_text(channel)} was not recorded"
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
            add("light-off", None, "itt")
        if rules.max_residual_itt_c is not None and fuelled:
            add("residual heat", None, "itt")
    elif last is not None and last.on_low_s is None and last.source != "light_off":
        if rules.light_off_within_s is not None and not unmoved:
            add("time from fuel to light-off", FUEL_BEFORE, "fuel_on")
        if rules.max_residual_itt_c is not None and start.kind != "relight" and not aloft:
            add("residual heat", FUEL_BEFORE, "fuel_on")
    elif last is not None and last.light_off_s is None and start.idle_s is not None:
        if rules.light_off_within_s is not None:
            add("light-off", f"idle was reached, and {names.itt} does not show when it lit", "itt")
    elif last is not None and last.source == "light_off" and rules.light_off_within_s is not None:
        add("time from fuel to light-off", "no fuel signal", "fuel_on")
    if not aloft and any(heat_unseen(view, period) for period in start.fuel_periods):
        passed = f"{names.itt} passed it between the samples beside fuel on: it may have lit by then"
        add(RESIDUAL, passed, "itt")
    engaged, most = start.measures["ng_at_starter_on"], rules.max_engage_ng_pct
    driven = bool(start.starter_runs) and not start.starter_runs[0].inferred and not aloft
    if driven and most is not None and engaged.value is None and (engaged.high or 0.0) > most:
        add(ENGAGING, engaged.why, "ng")
    if idle_unseen is not None and fuelled:
        add(IDLE_AND_HANG, idle_unseen, "ng", core=True)
    if start.starter_runs:
        for key, name in (("min_bus_volts_before", "rest_bus_volts"), ("min_bus_volts", "min_bus_volts")):
            measure = start.measures[name]
            if getattr(rules, key) is not None and measure.value is None:
                what = "resting voltage" if name == "rest_bus_volts" else "cranking voltage"
                add(what, measure.why, "bus_volts")
    if rules.purge_s is not None and len(start.fuel_periods) > 1 and view.channel("starter") is None:
        add(
            "motoring between fuel cut-off and fuel again",
            view.missing_because("starter", "starter"),
            "starter",
        )
    if start.outcome == "incomplete":
        edge = "ends before it is" if start.end_s >= view.end_s else "begins after it was"
        add("outcome of the start", f"the recording {edge} decided", "ng", core=fuelled)
    if start.outcome == "unknown":
        lit = any(period.light_off_s is not None for period in start.fuel_periods)
        why = idle_unseen if lit else "motoring or no light-off; fuel may be in the engine"
        add(OUTCOME, why, "ng" if lit else "fuel_on", core=True)
    for what, channel, core in _asked(view, start, manual, aloft):
        absent = lacking(view.profile, what)
        if absent is not None:
            add(what, absent, channel, core)
    return out


def _asked(view: EngineView, start: Start, manual: bool, aloft: bool) -> Iterator[tuple[str, str, bool]]:
    """Return what of this start would be judged, had the profile the numbers: what, of which channel, whether it is core."""
    fuelled, ng, itt = bool(start.fuel_periods), view.trace("ng"), view.trace("itt")
    lit = any(period.light_off_s is not None for period in start.fuel_periods)
    if fuelled and ng is not None and manual:
        yield NG_AT_FUEL, "ng", False
        yield STABILISED, "ng", False
    if (
        fuelled
        and itt is not None
        and not all(p.began_inside or p.source == "light_off" for p in start.fuel_periods)
    ):
        yield LIGHT_OFF, "itt", False
        if not aloft:
            yield RESIDUAL, "itt", False
    if lit and ng is not None:
        # A hang that came to idle is a caution.
        for what in (HUNG, TOO_SLOW):
            yield what, "ng", start.outcome != "completed"
    if start.starter_runs and view.trace("bus_volts") is not None:
        yield RESTING_VOLTS, "bus_volts", False
        yield CRANKING_VOLTS, "bus_volts", False
    if start.starter_runs and ng is not None and not aloft and not start.starter_runs[0].inferred:
        yield ENGAGING, "ng", False
    if len(start.fuel_periods) > 1:
        yield PURGE, "starter", False
    cut = any(period.light_off_s is not None and period.off_s is not None for period in start.fuel_periods)
    if cut and not aloft and start.outcome in ("aborted", "hung", "flamed_out", "unknown"):
        yield ABORT, "starter", False


def not_judged_between(view: EngineView, found: Found) -> list[NotJudged]:
    """Return what the profile lacks the numbers for and belongs to no one start.

    Starts that only Ng shows are asked about where nothing else shows the starter and Ng moved.
    """
    out = []

    def add(what: str, channel: str) -> None:
        why = lacking(view.profile, what)
        if why is not None:
            out.append(NotJudged(what, why, None, view.name_of(channel), 0.0, view.end_s, view.engine))

    ng = view.trace("ng")
    if ng is not None and view.channel("starter") is None and bool((ng.values > view.turning_pct).any()):
        add(SHOWN_BY_NG, "ng")
    if view.trace("itt") is not None and any(f.off_s is not None and not f.off_inferred for f in found.fuels):
        add(BURNING, "itt")
    return out
