"""The measured values of one start attempt, each with bounds where sampling limits it."""

from __future__ import annotations

import numpy as np

from debrief.analysis import atmosphere
from debrief.analysis.attempts import Attempt, resting_volts
from debrief.analysis.bounds import bounded, coasted, driven, idle_bounds, light_off_bounds
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import in_start, time_above
from debrief.analysis.hung import Hang
from debrief.analysis.intervals import from_pairs, intersect, total_s
from debrief.analysis.light_off import Fuel
from debrief.analysis.model import FuelPeriod, Measure
from debrief.analysis.traces import Trace

INRUSH_NEEDS_HZ = 8.0
RATE_OVER_S = 1.0
FUEL_BEFORE = "fuel was already on where its recording begins"
AGREE_WITHIN = 0.2
"""Slope and drop from rest may differ by this part of the drop; common practice, no source."""


def missing(unit: str, why: str) -> Measure:
    """Return a measure without a value, and why."""
    return Measure(None, unit, why=why)


def fuel_period(view: EngineView, attempt: Attempt, fuel: Fuel, until: float) -> FuelPeriod:
    """Return one fuel period with its peak and the Ng at which fuel came."""
    ng, itt = view.trace("ng"), view.trace("itt")
    at = low = high = peak = peak_s = None
    if ng is not None and fuel.began_inside:
        pass  # fuel was on before: nobody knows at which Ng it came
    elif ng is not None and fuel.source != "light_off":
        at = ng.at(fuel.on_s)
        bounds = bounded(ng, fuel.on_s if fuel.on_low_s is None else fuel.on_low_s, fuel.on_s)
        low, high = bounds or (None, None)
    elif ng is not None:
        # Fuel is only bounded: it came between the engagement and the light-off.
        bounds = bounded(ng, fuel.on_low_s if fuel.on_low_s is not None else fuel.on_s, fuel.on_s)
        low, high = bounds or (None, None)
    if itt is not None and fuel.light_off_s is not None:
        top = itt.peak(from_pairs([(fuel.light_off_s, until)]))
        if top is not None:
            peak_s, peak = top[0], top[1]
    return FuelPeriod(
        fuel.on_s,
        fuel.on_low_s,
        fuel.off_s,
        fuel.off_low_s,
        fuel.seen_light_off_s,
        peak,
        peak_s,
        at,
        low,
        high,
        fuel.source,
    )


def slope(trace: Trace, begin: float, end: float) -> tuple[float, float] | None:
    """Return the least-squares slope and its uncertainty between two instants, [unit/s].

    None with fewer than three samples. The uncertainty is one standard error: from the residuals, but at
    least from the recorder's step taken as evenly distributed (step / sqrt(12)).
    """
    part = trace.between(begin, end)
    t, v = trace.time_s[part], trace.values[part]
    if t.size < 3:
        return None
    x = t - t.mean()
    sxx = float((x * x).sum())
    if sxx <= 0:
        return None
    fitted = float((x * v).sum()) / sxx
    residual = v - v.mean() - fitted * x
    spread = float(np.sqrt((residual * residual).sum() / max(t.size - 2, 1)))
    spread = max(spread, 2.0 * trace.half_resolution / np.sqrt(12.0))
    return fitted, spread / float(np.sqrt(sxx))


def steepest(trace: Trace, begin: float, end: float) -> Measure | None:
    """Return the fastest rise over one second (or one interval where that is longer) in the stretch."""
    part = trace.between(begin, end)
    t, v = trace.time_s[part], trace.values[part]
    if t.size < 2:
        return None
    j = np.searchsorted(t, t + RATE_OVER_S - 1e-9)
    j = np.minimum(np.maximum(j, np.arange(t.size) + 1), t.size - 1)
    span = t[j] - t
    good = span >= RATE_OVER_S - 1e-9
    if not good.any():
        return None
    rate = (v[j][good] - v[good]) / span[good]
    k = int(np.argmax(rate))
    half = 2.0 * trace.half_resolution / float(span[good][k])
    value = float(rate[k])
    return Measure(value, "", value - half, value + half)


def measure_start(
    view: EngineView, attempt: Attempt, periods: tuple[FuelPeriod, ...], until: float, following: float
) -> dict[str, Measure]:
    """Return every measure of the attempt by name. A name is always there; `why` says why a value is not."""
    out: dict[str, Measure] = {}
    fuel = periods[-1] if periods else None
    on = attempt.runs[0].start_s if attempt.runs else None
    _temperatures(view, attempt, fuel, on, until, following, out)
    _surroundings(view, attempt, out)
    _volts(view, attempt, fuel, out)
    _speeds(view, attempt, fuel, on, out)
    _times(view, attempt, fuel, out)
    return out


def _temperatures(
    view: EngineView,
    attempt: Attempt,
    fuel: FuelPeriod | None,
    on: float | None,
    until: float,
    following: float,
    out: dict[str, Measure],
) -> None:
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
    window = from_pairs([(attempt.begin_s, attempt.window_end_s)])
    for limit in view.profile.limits:
        if limit.channel == "itt" and limit.when == "start" and not limit.below:
            for row in limit.allowed:
                # As the limit counts: a run in progress where the start window ends counts to its end.
                part = itt.clip(attempt.begin_s, itt.not_above_from(attempt.window_end_s, row.level))
                above = in_start(time_above(part, row.level), window, following)
                cut = bool(above.cut(above.high[:, 0], above.high[:, 1]).any())
                out[f"time_above_{row.level:g}"] = Measure(
                    total_s(above.estimate), "s", total_s(above.low), None if cut else total_s(above.high)
                )


def _surroundings(view: EngineView, attempt: Attempt, out: dict[str, Measure]) -> None:
    begin = attempt.begin_s
    oat = view.value("oat", begin)
    out["oat"] = Measure(oat, "degC") if oat is not None else missing("degC", "OAT not recorded")
    palt = view.value("palt", begin)
    out["pressure_altitude"] = (
        Measure(palt, "ft") if palt is not None else missing("ft", "pressure altitude not recorded")
    )
    if oat is not None and palt is not None:
        out["density_altitude"] = Measure(float(atmosphere.density_altitude_ft(palt, oat)), "ft")
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


def _volts(view: EngineView, attempt: Attempt, fuel: FuelPeriod | None, out: dict[str, Measure]) -> None:
    volts, amps = view.trace("bus_volts"), view.trace("battery_amps")
    run = attempt.runs[0] if attempt.runs else None
    for name, unit in (("rest_bus_volts", "V"), ("min_bus_volts", "V"), ("bus_volts_recovery", "V")):
        out[name] = missing(unit, "bus voltage not recorded" if volts is None else "no starter engagement")
    out["inrush_current"] = missing("A", "battery current not recorded" if amps is None else "no engagement")
    out["source_resistance"] = missing("mohm", "needs bus voltage and battery current")
    if run is None:
        return
    end = view.end_s if run.end_s is None else run.end_s
    if run.inferred:
        # Nobody recorded when the starter let go: only up to light-off is it sure to be driving.
        end = fuel.light_off_s if fuel is not None and fuel.light_off_s is not None else run.start_s + 5.0
    if volts is not None:
        rest = resting_volts(view, run.start_s, run.start_low_s)
        if rest is not None:
            half = volts.half_resolution
            out["rest_bus_volts"] = Measure(rest, "V", rest - half, rest + half)
        else:
            out["rest_bus_volts"] = missing("V", "no sample before the starter")
        cranking = [(run.start_s + 1.0, end)]
        if not run.inferred:
            ends = [view.end_s if r.end_s is None else r.end_s for r in attempt.runs]
            cranking = [(r.start_s + 1.0, e) for r, e in zip(attempt.runs, ends, strict=True)]
        low = volts.negated().peak(from_pairs(cranking))
        if _lost(volts, run.start_s, run.start_s + 1.0):
            # A recorder that the starter pulls down records nothing just where the voltage is lowest.
            out["min_bus_volts"] = missing("V", "voltage lost at starter on")
        elif low is None:
            lost = volts.unseen(from_pairs([(run.start_s, end)]), 0.5)
            out["min_bus_volts"] = missing("V", "voltage lost" if len(lost) else "no sample while cranking")
        else:
            # The second may have begun with the last sample off: what the voltage was then is possible too.
            early = None if run.start_low_s is None else bounded(volts, run.start_low_s + 1.0, end)
            least = -low[2] if early is None else min(-low[2], early[0])
            # Between samples it may sag on by less than the recorder shows as a step.
            least -= volts.half_resolution
            out["min_bus_volts"] = Measure(-low[1], "V", least, -low[1] + volts.half_resolution)
        after = volts.values[volts.between(end + 1.0, end + 6.0)]
        if after.size and run.end_s is not None:
            out["bus_volts_recovery"] = Measure(float(np.median(after)), "V")
        else:
            out["bus_volts_recovery"] = missing("V", "no sample after the starter")
    if amps is not None:
        channel = view.channel("battery_amps")
        interval = None if channel is None else channel.interval_s
        if interval is None or interval > 1.0 / INRUSH_NEEDS_HZ + 1e-9:
            out["inrush_current"] = missing("A", "needs 8 samples per second")
        else:
            part = np.abs(amps.values[amps.between(run.start_s, run.start_s + 1.0)])
            if part.size:
                out["inrush_current"] = Measure(float(part.max()), "A")
    if volts is not None and amps is not None:
        out["source_resistance"] = _source_resistance(
            view, run.start_s, end, fuel, out["rest_bus_volts"].value
        )


def _lost(volts: Trace, begin: float, end: float) -> bool:
    """Return whether a gap in the voltage takes in both instants."""
    k = int(np.searchsorted(volts.time_s, begin, side="right")) - 1
    return 0 <= k < volts.gap.size and bool(volts.gap[k]) and float(volts.time_s[k + 1]) > end


def _source_resistance(
    view: EngineView, on: float, off: float, fuel: FuelPeriod | None, rest: float | None
) -> Measure:
    """Return the resistance of battery and cables, [mohm].

    Notes
    -----
    The slope of volts on discharge current from 1 s after starter on until fuel, where the current varies
    at least 20 %; else (V_rest - V) / (I - I_rest) from medians: r = (E - V)/I, the definition of
    internal resistance. None with external power or the generator on, and at an ammeter's stop. The slope
    is the resistance only while voltage against current is one line: where a battery fades as it cranks,
    slope and drop from rest disagree, and neither is given.
    """
    for name in ("external_power", "generator_on"):
        if view.held(name, on + 1.0):
            return missing("mohm", f"{name.replace('_', ' ')} on")
    volts, amps = view.trace("bus_volts"), view.trace("battery_amps")
    assert volts is not None
    assert amps is not None
    if _lost(volts, on, on):
        return missing("mohm", "voltage lost at starter on")
    stop = off if fuel is None else min(off, fuel.on_s)
    part = amps.between(on + 1.0, stop)
    times, current = amps.time_s[part], np.abs(amps.values[part])
    if current.size < 4:
        return missing("mohm", "too few current samples before fuel")
    top = float(current.max())
    stuck = current >= top - 2.0 * amps.half_resolution
    if int(stuck.sum()) > max(3, current.size // 3):
        times, current = times[~stuck], current[~stuck]
        if current.size < 4:
            return missing("mohm", "the ammeter stood at its stop")
        top = float(current.max())
    at = volts.at_each(times)
    seen = np.isfinite(at)
    at, current = at[seen], current[seen]
    if current.size < 4:
        return missing("mohm", "too few voltage samples before fuel")
    before = np.abs(amps.values[amps.between(on - 5.0, on - 1e-6)])
    drop: float | None = None
    if rest is not None and before.size:
        flow = float(np.median(current) - np.median(before))
        drop = 1000.0 * (rest - float(np.median(at))) / flow if flow > 0 else None
    if top > 0 and (top - float(current.min())) / top >= 0.2:
        x = current - current.mean()
        fitted = float((x * at).sum() / (x * x).sum())
        error = at - at.mean() - fitted * x
        spread = 1000.0 * float(np.sqrt((error * error).sum() / max(current.size - 2, 1) / (x * x).sum()))
        value = -1000.0 * fitted
        if drop is not None and abs(value - drop) > max(AGREE_WITHIN * drop, 2.0 * spread):
            return missing(
                "mohm",
                f"slope ({value:.1f}) and drop from rest ({drop:.1f}) disagree: the battery changed while cranking",
            )
        return Measure(value, "mohm", value - 2.0 * spread, value + 2.0 * spread)
    if drop is None:
        return missing("mohm", "no resting voltage, or no discharge current seen")
    return Measure(drop, "mohm")


def _speeds(
    view: EngineView, attempt: Attempt, fuel: FuelPeriod | None, on: float | None, out: dict[str, Measure]
) -> None:
    ng, itt = view.trace("ng"), view.trace("itt")
    rules = view.profile.start
    for name, unit in (
        ("ng_at_fuel", "%"),
        ("ng_rate_at_fuel", "%/s"),
        ("max_motoring_ng", "%"),
        ("ng_acceleration", "%/s"),
        ("starter_cutout_ng", "%"),
        ("ng_at_starter_on", "%"),
    ):
        out[name] = missing(unit, view.missing_because("ng") if ng is None else "not in this attempt")
    if ng is None:
        return
    inferred = fuel is not None and fuel.source == "light_off"
    if fuel is not None and fuel.ng_at_fuel_low_pct is not None:
        if inferred:
            out["ng_at_fuel"] = Measure(
                None,
                "%",
                fuel.ng_at_fuel_low_pct,
                fuel.ng_at_fuel_high_pct,
                True,
                "no fuel signal: fuel came between the engagement and the light-off",
            )
        else:
            out["ng_at_fuel"] = Measure(
                fuel.ng_at_fuel_pct, "%", fuel.ng_at_fuel_low_pct, fuel.ng_at_fuel_high_pct
            )
    elif fuel is not None:
        out["ng_at_fuel"] = missing("%", FUEL_BEFORE if _before(fuel) else "no Ng sample where fuel came")
    if fuel is not None and _before(fuel):
        out["ng_rate_at_fuel"] = missing("%/s", FUEL_BEFORE)
    elif fuel is not None and not inferred and rules.stable_for_s is not None:
        fitted = slope(ng, fuel.on_s - rules.stable_for_s - 1e-9, fuel.on_s)
        if fitted is None:
            out["ng_rate_at_fuel"] = missing("%/s", "fewer than three Ng samples just before fuel")
        else:
            out["ng_rate_at_fuel"] = Measure(fitted[0], "%/s", fitted[0] - fitted[1], fitted[0] + fitted[1])
    if on is not None:
        before_s = attempt.runs[0].start_low_s
        bounds = bounded(ng, on if before_s is None else before_s, on)
        value = ng.at(on)
        if bounds is not None and value is not None:
            least = None if before_s is None else coasted(ng, before_s, on)
            low = bounds[0] if least is None else min(bounds[0], least - ng.half_resolution)
            out["ng_at_starter_on"] = Measure(value, "%", low, bounds[1], attempt.starter_inferred)
        # Motored: turned by the starter alone, so until it lit, or until the starter let go. Where ITT cannot
        # show when it lit, only until fuel came is sure.
        last = None if attempt.starter_inferred else attempt.runs[0].end_s
        fuelled = attempt.fuels[0].on_s if itt is None and attempt.fuels else None
        ends = [x for x in (attempt.first_light_off_s, last, fuelled) if x is not None]
        motored_to = min(ends) if ends else attempt.end_s
        motored = ng.peak(from_pairs([(on, motored_to)]))
        if motored is not None:
            low = motored[1] - ng.half_resolution
            reached = bounded(ng, on, motored_to)
            high: float | None = motored[2] if reached is None else max(motored[2], reached[1])
            if motored_to == fuelled:
                high = None
            elif motored_to == last:
                on_until = attempt.runs[0].start_s + attempt.runs[0].duration_low_s
                most = driven(ng, on_until, motored_to)
                if high is not None and most is not None:
                    high = max(high, most + ng.half_resolution)
            elif itt is not None and attempt.first_light_off_s == motored_to:
                # It may have lit a sample sooner or later, with Ng rising all the time.
                sooner, later = light_off_bounds(itt, motored_to)
                reached = bounded(ng, on, later)
                high = motored[2] if reached is None else max(motored[2], reached[1])
                before = ng.peak(from_pairs([(on, max(sooner, on))]))
                low = low if before is None else min(low, before[1] - ng.half_resolution)
            out["max_motoring_ng"] = Measure(motored[1], "%", low, high, attempt.starter_inferred)
        released = attempt.runs[-1].end_s
        if released is not None:
            at = ng.at(released)
            if at is not None:
                out["starter_cutout_ng"] = Measure(at, "%")
        elif attempt.starter_inferred:
            out["starter_cutout_ng"] = missing("%", "no starter channel")
    if attempt.first_light_off_s is not None:
        stop = attempt.idle_s if attempt.idle_s is not None else attempt.end_s
        rate = steepest(ng, attempt.first_light_off_s, stop)
        if rate is not None:
            out["ng_acceleration"] = Measure(rate.value, "%/s", rate.low, rate.high)


def _before(fuel: FuelPeriod) -> bool:
    """Return whether fuel was already on at its first sample."""
    return fuel.on_low_s is None and fuel.source != "light_off"


def _times(view: EngineView, attempt: Attempt, fuel: FuelPeriod | None, out: dict[str, Measure]) -> None:
    itt, ng, rules = view.trace("itt"), view.trace("ng"), view.profile.start
    lit = fuel.light_off_s if fuel is not None else None
    if fuel is None:
        out["fuel_on"] = missing("s", "no fuel in this attempt")
    elif _before(fuel):
        out["fuel_on"] = missing("s", FUEL_BEFORE)
    elif fuel.source == "light_off":
        out["fuel_on"] = Measure(None, "s", fuel.on_low_s, fuel.on_s, True, "no fuel signal: only bounded")
    else:
        out["fuel_on"] = Measure(fuel.on_s, "s", fuel.on_low_s, fuel.on_s, fuel.source != "fuel_on")
    inferred = fuel is not None and fuel.source == "light_off"
    if fuel is None or lit is None:
        unseen = attempt.lit and "the light-off was not recorded"
        out["fuel_to_light_off"] = missing("s", unseen or "no light-off in this attempt")
    elif inferred:
        out["fuel_to_light_off"] = missing("s", "no fuel signal")
    elif _before(fuel):
        out["fuel_to_light_off"] = missing("s", FUEL_BEFORE)
    else:
        early, late = (lit, lit) if itt is None else light_off_bounds(itt, lit)
        begin = fuel.on_s if fuel.on_low_s is None else fuel.on_low_s
        out["fuel_to_light_off"] = Measure(
            lit - fuel.on_s, "s", max(early - fuel.on_s, 0.0), max(late - begin, lit - fuel.on_s)
        )
    if lit is None or attempt.idle_s is None:
        why = "never lit" if not attempt.lit else "the light-off was not recorded"
        out["light_off_to_idle"] = missing("s", why if lit is None else "idle not reached")
    else:
        early, late = (lit, lit) if itt is None else light_off_bounds(itt, lit)
        low = high = attempt.idle_s
        if ng is not None and rules.idle_ng_pct is not None:
            low, high = idle_bounds(ng, attempt.idle_s, rules.idle_ng_pct - (rules.idle_tolerance_pct or 0.0))
        out["light_off_to_idle"] = Measure(
            attempt.idle_s - lit, "s", max(low - late, 0.0), high - min(early, lit)
        )
    if not attempt.runs:
        out["starter_total"] = missing("s", "no starter engagement")
    elif attempt.starter_inferred:
        out["starter_total"] = missing("s", "no starter channel: the release was not recorded")
    else:
        highs = [r.duration_high_s for r in attempt.runs]
        out["starter_total"] = Measure(
            sum(r.duration_s for r in attempt.runs),
            "s",
            sum(r.duration_low_s for r in attempt.runs),
            None if any(h is None for h in highs) else sum(h for h in highs if h is not None),
        )


def abort_measures(view: EngineView, attempt: Attempt, cut: Fuel, until: float) -> dict[str, Measure]:
    """Return how the abort was flown: each level crossing to the cut, motoring kept, ITT at release."""
    out: dict[str, Measure] = {}
    itt = view.trace("itt")
    off = cut.off_s
    if off is None:
        return out
    off_low = off if cut.off_low_s is None else cut.off_low_s
    for limit in view.profile.limits:
        if itt is None or limit.channel != "itt" or limit.when != "start" or limit.below:
            continue
        for row in limit.allowed:
            part = itt.clip(attempt.begin_s, off)
            rows = intersect(time_above(part, row.level).estimate, from_pairs([(attempt.begin_s, off)]))
            if len(rows):
                first = float(rows[0, 0])
                before, after = _samples_beside(itt, first)
                out[f"cut_after_{row.level:g}"] = Measure(
                    off - first, "s", max(off_low - after, 0.0), off - before
                )
    if not attempt.starter_inferred and view.channel("starter") is not None:
        kept = low = 0.0
        for run in attempt.runs:
            end = view.end_s if run.end_s is None else run.end_s
            kept += max(end - max(run.start_s, off), 0.0)
            low += max(run.start_s + run.duration_low_s - max(run.start_s, off), 0.0)
        high = kept + (off - off_low)
        cut_by_edge = any(r.end_s is None for r in attempt.runs)
        out["motored_after_cut"] = Measure(kept, "s", low, None if cut_by_edge else high)
        released = attempt.runs[-1].end_s if attempt.runs else None
        if itt is not None and released is not None and released > off:
            value = itt.at(released)
            out["itt_at_starter_release"] = (
                Measure(value, "degC") if value is not None else missing("degC", "no ITT sample there")
            )
        else:
            out["itt_at_starter_release"] = missing("degC", "the starter was not motoring after the cut")
    return out


def first_cue(
    view: EngineView, attempt: Attempt, hang: Hang | None
) -> tuple[float, float, float, str] | None:
    """Return the first sign that the attempt goes wrong: time, its bounds, and in words; None without one.

    Notes
    -----
    The earliest of: ITT passing the lowest level of a start limit; the hang; the light-off wait running out;
    the bus below the cranking minimum from 1 s after starter on. A cue is what the profile names, not what a
    crew should have seen: gauges lag and eyes move.
    """
    rules = view.profile.start
    cues: list[tuple[float, float, float, str]] = []
    itt, volts = view.trace("itt"), view.trace("bus_volts")
    window = from_pairs([(attempt.begin_s, attempt.end_s)])
    levels = [
        limit.allowed[0].level
        for limit in view.profile.limits
        if limit.channel == "itt" and limit.when == "start" and not limit.below
    ]
    if itt is not None and levels:
        rows = time_above(itt.clip(attempt.begin_s, attempt.end_s), min(levels)).within(window).estimate
        if len(rows):
            at = float(rows[0, 0])
            cues.append((at, *_samples_beside(itt, at), f"ITT passed {min(levels):g} °C"))
    if hang is not None and hang.start_s is not None:
        # A hang is seen once it has lasted as long as the rule asks, not when it begins.
        seen = hang.start_s + ((rules.hung_for_s or 0.0) if hang.reason == "stagnated" else 0.0)
        cues.append(
            (seen, seen, seen, "Ng had stopped gaining" if hang.reason == "stagnated" else "idle was late")
        )
    fuel = attempt.last_fuel
    if (
        fuel is not None
        and rules.light_off_within_s is not None
        and fuel.source != "light_off"
        and itt is not None
    ):
        due = fuel.on_s + rules.light_off_within_s
        stop = view.end_s if fuel.off_s is None else fuel.off_s
        if (fuel.light_off_s is None or fuel.light_off_s > due) and due <= stop:
            low = due if fuel.on_low_s is None else fuel.on_low_s + rules.light_off_within_s
            cues.append((due, low, due, "no light-off in the time the profile allows"))
    if (
        volts is not None
        and rules.min_bus_volts is not None
        and attempt.runs
        and not attempt.starter_inferred
    ):
        run = attempt.runs[0]
        end = view.end_s if run.end_s is None else run.end_s
        low_rows = (
            time_above(volts.clip(run.start_s, end).negated(), -rules.min_bus_volts)
            .within(from_pairs([(run.start_s + 1.0, end)]))
            .estimate
        )
        if len(low_rows):
            at = float(low_rows[0, 0])
            cues.append((at, *_samples_beside(volts, at), f"the bus fell below {rules.min_bus_volts:g} V"))
    return min(cues, default=None)


def _samples_beside(trace: Trace, time_s: float) -> tuple[float, float]:
    """Return the sample times around an instant."""
    k = int(np.searchsorted(trace.time_s, time_s, side="right"))
    return float(trace.time_s[max(k - 1, 0)]), float(trace.time_s[min(k, trace.time_s.size - 1)])
