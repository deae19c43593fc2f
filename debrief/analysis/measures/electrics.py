"""Voltage and current of one start attempt, and what the battery and its cables resist."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, middle, nearest, stretch, taken
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.measures.source_resistance import SLOPE, source_resistance
from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.model import Measure, Start, StarterRun
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs
from debrief.analysis.signal.point_readings import STARTER_BEFORE, missing
from debrief.analysis.signal.sampling_bounds import bounded
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.engagements import resting_stretch, resting_volts

INRUSH_NEEDS_HZ = 8.0
SETTLED_S = 1.0
"""From then on after the starter has come on its voltage counts, [s]: before, the inrush pulls it down."""
SAG_S = 1.5
"""The voltage is lowest within so long after the first second: a first sample that comes later does not show it, [s]."""


def electrics(c: StartContext) -> dict[str, Measured]:
    """Return resting, cranking and recovered voltage, the inrush and the source resistance."""
    volts, amps = c.view.trace("bus_volts"), c.view.trace("battery_amps")
    rest = _rest(c, volts)
    resistance, formula = missing("mohm", "needs bus voltage and battery current"), SLOPE
    if volts is not None and amps is not None and c.on_s is not None:
        resistance, formula = source_resistance(
            c, volts, amps, rest.measure.value, resistance_stretch(c.view, c.attempt)
        )
    return {
        "rest_bus_volts": rest,
        "min_bus_volts": _lowest(c, volts),
        "bus_volts_recovery": _recovered(c, volts),
        "inrush_current": _inrush(c, amps),
        "source_resistance": Measured(resistance, formula, read=partial(_while_cranking, c)),
    }


def _no_volts(volts: Trace | None) -> Measure:
    return missing("V", "bus voltage not recorded" if volts is None else "no starter engagement")


def _rest(c: StartContext, volts: Trace | None) -> Measured:
    of = partial(Measured, formula="median", keys=("start.min_bus_volts_before",))
    if volts is None or c.on_s is None:
        return of(_no_volts(volts))
    value, doubt = resting_volts(c.view, c.on_s, c.on_low_s), volts.doubt
    if value is None:
        return of(missing("V", "no sample before the starter"))
    return of(Measure(value, "V", value - doubt, value + doubt), read=lambda: c.starter_on() + _at_rest(c))


def _at_rest(c: StartContext) -> Readings:
    """Return the samples of the voltage before the starter that are its median."""
    if c.on_s is None:
        return ()
    begin, end = resting_stretch(c.view, c.on_s, c.on_low_s)
    return middle(c.view, "bus_volts", begin, end, "middle by size before the starter")


def _lowest(c: StartContext, volts: Trace | None) -> Measured:
    """Return the lowest voltage from 1 s after each engagement."""
    of, on = partial(Measured, formula="lowest sample", keys=("start.min_bus_volts",)), c.on_s
    if volts is None or on is None:
        return of(_no_volts(volts))
    windows, end = cranking_windows(c.view, c.attempt.runs, c.lit_s), driven_until(c.view, c.attempt)
    low = volts.negated().peak(from_pairs(windows))
    if _lost(volts, on, on + SETTLED_S):
        # A recorder that the starter pulls down records nothing just where the voltage is lowest.
        return of(missing("V", "voltage lost at starter on"))
    if low is None:
        lost = volts.unseen(from_pairs([(on, end)]), 0.5)
        return of(missing("V", "voltage lost" if len(lost) else "no sample while cranking"))
    # The second may have begun with the last sample off: what the voltage was then is possible too.
    early = None if c.on_low_s is None else bounded(volts, c.on_low_s + SETTLED_S, end)
    # Between samples it may sag on by less than the recorder shows as a step.
    least: float | None = (-low.high if early is None else min(-low.high, early[0])) - volts.half_resolution
    why = None
    if c.on_low_s is None and not c.attempt.starter_inferred:
        least, why = None, STARTER_BEFORE
    elif c.attempt.starter_inferred:
        # It was sure to be driving up to light-off only: it may have pulled the bus lower after that.
        least, why = None, "when the starter let go was not recorded: it may have been lower"
    elif _first_unseen(volts, windows) > SAG_S:
        least, why = None, "sampled too seldom: it may have been lower before the first sample"
    return of(
        Measure(-low.value, "V", least, -low.low, why=why),
        read=partial(
            around,
            c.view,
            "bus_volts",
            windows[0][0],
            windows[-1][1],
            low.time_s,
            "lowest with its neighbours",
        ),
    )


def _first_unseen(volts: Trace, windows: Sequence[tuple[float, float]]) -> float:
    """Return the longest time from where the lowest voltage counts to the first sample there, [s]."""
    firsts = [(begin, volts.time_s[volts.between(begin, end)]) for begin, end in windows]
    return max((float(times[0]) - begin for begin, times in firsts if times.size), default=0.0)


def _recovered(c: StartContext, volts: Trace | None) -> Measured:
    of = partial(Measured, formula="median")
    if volts is None or not c.attempt.runs:
        return of(_no_volts(volts))
    begin, end = recovery_stretch(c.view, c.attempt, c.counted.following[1])
    after = volts.values[volts.between(begin, end)]
    if not after.size or c.attempt.runs[-1].end_s is None:
        return of(missing("V", "no sample after the starter"))
    what = "middle by size 1 to 6 s after the release"
    return of(
        Measure(float(np.median(after)), "V"),
        read=lambda: c.starter_off() + middle(c.view, "bus_volts", begin, end, what),
    )


def _inrush(c: StartContext, amps: Trace | None) -> Measured:
    """Return the strongest current of the first second."""
    of, on = partial(Measured, formula="largest absolute sample"), c.on_s
    channel = c.view.channel("battery_amps")
    if amps is None or channel is None or on is None:
        return of(missing("A", "battery current not recorded" if amps is None else "no engagement"))
    if channel.interval_s is None or channel.interval_s > 1.0 / INRUSH_NEEDS_HZ + 1e-9:
        return of(missing("A", "needs 8 samples per second"))
    part = amps.between(on, on + 1.0)
    if part.stop <= part.start:
        return of(missing("A", "no engagement"))
    top = part.start + int(np.argmax(np.abs(amps.values[part])))
    read = partial(taken, c.view, "battery_amps", (top,), "strongest of the first second", part)
    return of(Measure(abs(float(amps.values[top])), "A"), read=read)


def driven_until(view: EngineView, attempt: Attempt) -> float:
    """Return until when the first run of the starter is sure to have driven, [s]."""
    lit_s = None if attempt.last_fuel is None else attempt.last_fuel.seen_light_off_s
    return _driven_until(view, attempt.runs[0], lit_s)


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
    return [(run.start_s + SETTLED_S, _driven_until(view, run, lit_s)) for run in _told(runs)]


def voltage_dips(start: Start) -> list[tuple[float, float]]:
    """Return the first second of each engagement, whose voltage counts for nothing, [s]."""
    dips = [(run.start_s, run.start_s + SETTLED_S, run.end_s) for run in _told(start.starter_runs)]
    return [(begin, end if off is None else min(end, off)) for begin, end, off in dips]


def _told(runs: Sequence[StarterRun]) -> Sequence[StarterRun]:
    """Return the engagements that are known: of inferred ones the first."""
    return runs[:1] if runs and runs[0].inferred else runs


def recovery_stretch(view: EngineView, attempt: Attempt, following_s: float) -> tuple[float, float]:
    """Return from 1 s to 6 s after the starter's last release, but not into the next attempt."""
    last = attempt.runs[-1]
    end = driven_until(view, attempt) if last.inferred else view.end_s if last.end_s is None else last.end_s
    return end + 1.0, min(end + 6.0, float(np.nextafter(following_s, -np.inf)))


def resistance_stretch(view: EngineView, attempt: Attempt) -> tuple[float, float]:
    """Return where volts are held against current: from 1 s after starter on to the last sample before fuel came first."""
    off = driven_until(view, attempt)
    fuel = [f.on_s if f.on_low_s is None else f.on_low_s for f in attempt.fuels[:1]]
    return attempt.runs[0].start_s + SETTLED_S, min([off, *fuel])


def _lost(volts: Trace, begin: float, end: float) -> bool:
    """Return whether a gap in the voltage takes in both instants."""
    k = int(np.searchsorted(volts.time_s, begin, side="right")) - 1
    return 0 <= k < volts.gap.size and bool(volts.gap[k]) and float(volts.time_s[k + 1]) > end


def _while_cranking(c: StartContext) -> Readings:
    """Return current and voltage of the stretch that tells the resistance, and the voltage at rest."""
    amps, begin, end = c.view.trace("battery_amps"), *resistance_stretch(c.view, c.attempt)
    if amps is None:
        return ()
    part = amps.between(begin, end)
    if part.stop <= part.start:
        return ()
    size = np.abs(amps.values[part])
    ends = part.start + int(np.argmin(size)), part.start + int(np.argmax(size))
    beside = [nearest(c.view, "bus_volts", float(amps.time_s[k]), "") for k in ends]
    volts = [found[0].index[0] for found in beside if found]
    return (
        stretch(c.view, "battery_amps", begin, end, "first, least, most, last while cranking", ends)
        + stretch(c.view, "bus_volts", begin, end, "at the same instants", volts)
        + _at_rest(c)
    )
