"""When the starter was engaged: from its signal, or inferred; and the battery's voltage at rest before it."""

from __future__ import annotations

import numpy as np

from debrief.analysis.model import StarterRun
from debrief.analysis.signal.dead_pick_up import nothing
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.switch_edges import OnPeriod, bridged, holding, on_periods
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.power_source import FULL_BATTERY, REST_BEFORE_S, by_current
from debrief.recording.model import FloatArray

STARTER_BRIDGE_S = 1.0
GENERATING = (
    "The starter signal stayed on while the bus stood above its resting voltage: the machine was generating, and the "
    "starter is counted only until then."
)
UNPROVEN = (
    "The recording begins with the starter signal on, and it stayed on near idle: whether the machine was generating "
    "or the starter still engaged is not known, and the starter is counted only until then."
)
NEAR_IDLE = 0.8
"""From this part of idle on no starter turns an engine; common practice, no source."""

GENERATING_FOR_S = 3.0
DROP = 0.02
"""By more than this part a starter pulls the bus down; common practice, no source."""

FALLS_WITHIN_S = 1.0
UNSEEN_FOR_S = 30.0
"""For so long a starter may turn an engine before a pick-up that is dead at low speed shows it; common practice, no source."""

RECOVERY_S = 120.0
"""How long a battery takes to come back after cranking; common practice, no source."""


def resting_stretch(view: EngineView, starter_on_s: float, on_low_s: float | None) -> tuple[float, float]:
    """Return where the voltage before an engagement is read: 5 s up to the last sample with the starter off.

    Of an engagement soon after another only what lies after that one's release.
    """
    last = starter_on_s if on_low_s is None else on_low_s
    begin = starter_on_s - REST_BEFORE_S
    starter = view.channel("starter")
    if starter is not None:
        part = slice(*np.searchsorted(starter.time_s, [begin, last]))
        driven = np.flatnonzero(starter.values[part] > 0.5)
        if driven.size:
            begin = float(starter.time_s[part.start + int(driven[-1]) + 1])
    return begin, last


def resting_volts(view: EngineView, starter_on_s: float, on_low_s: float | None) -> float | None:
    """Return the median bus voltage of the 5 s before the starter, [V]; None without samples there."""
    volts = view.trace("bus_volts")
    if volts is None:
        return None
    part = volts.values[volts.between(*resting_stretch(view, starter_on_s, on_low_s))]
    part = part[np.isfinite(part)]
    return float(np.median(part)) if part.size and on_low_s is not None else None


def _generating_from(view: EngineView, p: OnPeriod, stop: float, rest: float | None) -> float | None:
    """Return from when the bus stands above its resting voltage while the starter bit is still on.

    Where the recording begins with the bit on, nobody saw the bus at rest: then above what a full battery of the
    profile's nominal voltage stands at, with the engine near idle, which no starter turns it to.
    """
    volts = view.trace("bus_volts")
    seen = rest is not None
    if not seen and view.profile.start.nominal_bus_volts is not None:
        rest = FULL_BATTERY * view.profile.start.nominal_bus_volts
    if volts is None or rest is None:
        return None
    margin = max(0.5, 3.0 * volts.noise + 2.0 * volts.half_resolution)
    inrush_s = 0.0 if p.on_low_s is None else 1.0
    for a, b in stretches_above(volts.clip(p.on_s, stop), rest + margin):
        lasts = a >= p.on_s + inrush_s and min(b, stop) - a >= GENERATING_FOR_S
        if lasts and (seen or _near_idle(view, float(a))):
            return float(a)
    return None


def _unproven_from(view: EngineView, p: OnPeriod, stop: float) -> float | None:
    """Return from when a bit that the recording begins with no longer tells of a starter; None where it does.

    Near idle the machine may generate or the starter may be stuck: without a voltage to hold the bus against
    neither is claimed.
    """
    ng, idle = view.trace("ng"), view.profile.start.idle_ng_pct
    if p.on_low_s is not None or ng is None or idle is None:
        return None
    part = ng.between(p.on_s, stop)
    fast = np.flatnonzero(ng.values[part] >= NEAR_IDLE * idle)
    return float(ng.time_s[part.start + int(fast[0])]) if fast.size else None


def _near_idle(view: EngineView, time_s: float) -> bool:
    ng, idle = view.trace("ng"), view.profile.start.idle_ng_pct
    speed = None if ng is None else ng.at(time_s)
    return speed is not None and idle is not None and speed >= NEAR_IDLE * idle


def starter_runs(view: EngineView) -> tuple[list[StarterRun], dict[float, str]]:
    """Return the starter's engagements in order, and sentences about some of them by their start.

    Notes
    -----
    Off-stretches under 1 s are bridged. A bit that stays on while the bus stands above its resting voltage
    (the machine generates) counts only until then. With no starter channel an engagement is inferred where
    Ng leaves rest with a voltage drop or before any ITT rise; its end is then not known.
    """
    channel = view.channel("starter")
    if channel is None:
        return _inferred_runs(view), {}
    out: list[StarterRun] = []
    notes: dict[float, str] = {}
    rested: float | None = None
    for p in bridged(on_periods(channel), STARTER_BRIDGE_S):
        end, end_low = p.off_s, p.off_low_s
        before = resting_volts(view, p.on_s, p.on_low_s)
        if rested is None or not out or p.on_s - (out[-1].end_s or p.on_s) > RECOVERY_S:
            rested = before
        elif before is not None:
            # A battery that has just cranked rests lower than it will stand later, without any generator.
            rested = max(rested, before)
        generating = _generating_from(view, p, view.end_s if end is None else end, rested)
        if generating is not None:
            if p.on_low_s is None and generating <= p.on_s:
                continue  # it generated all the time: the engagement was before the recording
            end = end_low = generating
            notes[p.on_s] = GENERATING
        elif rested is None and view.profile.start.nominal_bus_volts is None:
            unproven = _unproven_from(view, p, view.end_s if end is None else end)
            if unproven is not None:
                end = end_low = unproven
                notes[p.on_s] = UNPROVEN
        high = None if end is None or p.on_low_s is None else end - p.on_low_s
        length = (p.off_low_s if end is None else end) - p.on_s
        stop = p.off_low_s if end is None else end
        power = _power_source(view, p.on_s, stop)
        told = power == "unknown"
        power = by_current(view, p.on_s, p.on_low_s, stop) if told else power
        low = max(end_low - p.on_s, 0.0)
        out.append(
            StarterRun(
                p.on_s,
                end,
                length,
                low,
                high,
                power,
                start_low_s=p.on_low_s,
                power_inferred=told and power != "unknown",
            )
        )
    return out, notes


def _power_source(view: EngineView, begin: float, end: float) -> str:
    """Return ``external`` if external power was connected at any time of the run, else what is known."""
    channel = view.channel("external_power")
    if channel is None:
        return "unknown"
    if len(_overlap(holding(channel, 0.5, np.inf), begin, end)):
        return "external"
    return "battery" if view.held("external_power", begin) is not None else "unknown"


def _overlap(rows: FloatArray, begin: float, end: float) -> FloatArray:
    """Return the rows that meet the stretch."""
    return rows[(rows[:, 0] <= end) & (rows[:, 1] >= begin)] if len(rows) else rows


def _inferred_runs(view: EngineView) -> list[StarterRun]:
    """Return engagements seen from Ng leaving rest, with a voltage drop or before any ITT rise."""
    ng, turning = view.trace("ng"), view.profile.start.stopped_ng_pct
    if ng is None or turning is None:
        return []  # what turning is has no hidden number: see not_judged
    rest = max(0.1 * turning, 2.0 * ng.half_resolution, 3.0 * ng.noise)
    itt, volts = view.trace("itt"), view.trace("bus_volts")
    out: list[StarterRun] = []
    t, v = ng.time_s, ng.values
    at_rest = np.flatnonzero(v <= rest)
    last_at_rest = -1
    for k in np.flatnonzero((v[1:] >= turning) & (v[:-1] < turning)) + 1:
        n = int(np.searchsorted(at_rest, k)) - 1
        if n < 0 or at_rest[n] == last_at_rest:
            continue  # it has not been at rest since it last turned
        j = last_at_rest = int(at_rest[n])
        begin = float(t[j])
        dropped = rose = False
        if volts is not None and view.ng_unseen_below is not None and v[j] <= nothing(ng):
            # It turned before the pick-up showed it: the bus tells since when.
            begin = _pulled_down_from(volts, begin, float(t[k]))
        if volts is not None:
            rested = volts.values[volts.between(begin - REST_BEFORE_S, begin)]
            cranked = volts.values[volts.between(begin, float(t[k]) + 1.0)]
            if rested.size and cranked.size:
                drop = float(np.median(rested) - cranked.min())
                dropped = drop > max(DROP * float(np.median(rested)), 4.0 * volts.half_resolution)
        if itt is not None:
            foot, now = itt.at(begin), itt.at(float(t[k]))
            rose = foot is not None and now is not None and now - foot > 15.0
        if dropped or not rose:
            out.append(StarterRun(begin, None, 0.0, 0.0, None, "unknown", inferred=True, start_low_s=begin))
    return out


def _pulled_down_from(volts: Trace, last_at_rest_s: float, turning_s: float) -> float:
    """Return the last sample of the bus before its deepest fall up to where Ng is seen, else the last Ng at rest, [s]."""
    part = volts.between(last_at_rest_s - UNSEEN_FOR_S, turning_s)
    t, v = volts.time_s[part], volts.values[part]
    if t.size < 2:
        return last_at_rest_s
    fall = v - np.interp(t + FALLS_WITHIN_S, t, v)
    k = int(np.argmax(fall))
    if fall[k] <= max(DROP * float(v[k]), 4.0 * volts.half_resolution):
        return last_at_rest_s
    steps = np.flatnonzero(v[k:-1] - v[k + 1 :] > 0.25 * fall[k])
    return float(t[k + int(steps[0])]) if steps.size else float(t[k])
