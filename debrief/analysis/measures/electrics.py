"""Voltage and current of one start attempt, and what the battery and its cables resist."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.analysis.model import Measure, StarterRun
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.sampling_bounds import bounded
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.engagements import resting_volts

INRUSH_NEEDS_HZ = 8.0
AGREE_WITHIN = 0.2
"""Slope and drop from rest may differ by this part of the drop; common practice, no source."""


def electrics(view: EngineView, attempt: Attempt, following: float, out: dict[str, Measure]) -> None:
    """Add resting, cranking and recovered voltage, the inrush and the source resistance to `out`."""
    volts, amps = view.trace("bus_volts"), view.trace("battery_amps")
    run = attempt.runs[0] if attempt.runs else None
    for name, unit in (("rest_bus_volts", "V"), ("min_bus_volts", "V"), ("bus_volts_recovery", "V")):
        out[name] = missing(unit, "bus voltage not recorded" if volts is None else "no starter engagement")
    out["inrush_current"] = missing("A", "battery current not recorded" if amps is None else "no engagement")
    out["source_resistance"] = missing("mohm", "needs bus voltage and battery current")
    if run is None:
        return
    end = driven_until(view, attempt)
    if volts is not None:
        rest = resting_volts(view, run.start_s, run.start_low_s)
        if rest is not None:
            half = volts.half_resolution
            out["rest_bus_volts"] = Measure(rest, "V", rest - half, rest + half)
        else:
            out["rest_bus_volts"] = missing("V", "no sample before the starter")
        low = volts.negated().peak(from_pairs(cranking_windows(view, attempt.runs, _lit_s(attempt))))
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
        after = volts.values[volts.between(*recovery_stretch(view, attempt, following))]
        if after.size and attempt.runs[-1].end_s is not None:
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
        out["source_resistance"] = _source_resistance(view, attempt, out["rest_bus_volts"].value)


def driven_until(view: EngineView, attempt: Attempt) -> float:
    """Return until when the first run of the starter is sure to have driven, [s]."""
    return _driven_until(view, attempt.runs[0], _lit_s(attempt))


def _lit_s(attempt: Attempt) -> float | None:
    return None if attempt.last_fuel is None else attempt.last_fuel.seen_light_off_s


def _driven_until(view: EngineView, run: StarterRun, lit_s: float | None) -> float:
    if not run.inferred:
        return view.end_s if run.end_s is None else run.end_s
    # Nobody recorded when the starter let go: only up to light-off is it sure to be driving.
    return run.start_s + 5.0 if lit_s is None else lit_s


def cranking_windows(
    view: EngineView, runs: Sequence[StarterRun], lit_s: float | None
) -> list[tuple[float, float]]:
    """Return from 1 s after each engagement to its release, where the lowest voltage counts.

    `lit_s` is the last light-off, up to which an engagement that is only inferred is sure to have driven.
    """
    counted = runs[:1] if runs and runs[0].inferred else runs
    return [(run.start_s + 1.0, _driven_until(view, run, lit_s)) for run in counted]


def recovery_stretch(view: EngineView, attempt: Attempt, following_s: float) -> tuple[float, float]:
    """Return from 1 s to 6 s after the starter's last release, but not into the next attempt."""
    last = attempt.runs[-1]
    end = driven_until(view, attempt) if last.inferred else view.end_s if last.end_s is None else last.end_s
    return end + 1.0, min(end + 6.0, float(np.nextafter(following_s, -np.inf)))


def resistance_stretch(view: EngineView, attempt: Attempt) -> tuple[float, float]:
    """Return where volts are held against current: from 1 s after starter on until fuel came first."""
    off = driven_until(view, attempt)
    return attempt.runs[0].start_s + 1.0, min([off, *(f.on_s for f in attempt.fuels[:1])])


def _lost(volts: Trace, begin: float, end: float) -> bool:
    """Return whether a gap in the voltage takes in both instants."""
    k = int(np.searchsorted(volts.time_s, begin, side="right")) - 1
    return 0 <= k < volts.gap.size and bool(volts.gap[k]) and float(volts.time_s[k + 1]) > end


def _source_resistance(view: EngineView, attempt: Attempt, rest: float | None) -> Measure:
    """Return the resistance of battery and cables, [mohm].

    Notes
    -----
    The slope of volts on discharge current from 1 s after starter on until fuel, where the current varies
    at least 20 %; else (V_rest - V) / (I - I_rest) from medians: r = (E - V)/I, the definition of
    internal resistance. None with external power or the generator on, and at an ammeter's stop. The slope
    is the resistance only while voltage against current is one line: where a battery fades as it cranks,
    slope and drop from rest disagree, and neither is given.
    """
    on = attempt.runs[0].start_s
    for name in ("external_power", "generator_on"):
        if view.held(name, on + 1.0):
            return missing("mohm", f"{name.replace('_', ' ')} on")
    volts, amps = view.trace("bus_volts"), view.trace("battery_amps")
    assert volts is not None
    assert amps is not None
    if _lost(volts, on, on):
        return missing("mohm", "voltage lost at starter on")
    part = amps.between(*resistance_stretch(view, attempt))
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
