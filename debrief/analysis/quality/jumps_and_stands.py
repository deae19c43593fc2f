"""A signal that is lost, or a probe that opens: the channel jumps within a step and stands where it came to."""

from __future__ import annotations

import numpy as np

from debrief.analysis.quality.doubt import Doubt, blind_after_s
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import intersect, total_s
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray
from debrief.recording.quality.flags import ZERO
from debrief.words.channels import CANONICAL, ENGINE_CHANNELS
from debrief.words.numbers import clock_text
from debrief.words.sentence import Quantity, Sentence, sentence

JUMP = {"itt": 100.0, "ng": 15.0, "np": 300.0, "torque": 8.0, "bus_volts": 8.0, "oil_temp": 30.0}
"""By how much the channel changes from one sample to the next where it is lost, [unit]."""

WITHIN_S = 2.0
STANDS_STEPS = 3.0
"""It then stays within so many steps of the recorder."""

GONE = 0.05
"""What is left of a value that fell to nothing."""

COLD_C = 150.0
"""A burning engine is hotter: a probe that reads less reads nothing, or the temperature of its cold end."""

FULL = {"itt": 950.0, "ng": 115.0, "torque": 130.0}
"""From where on a value that it stands at, and that nothing exceeds, is the end of its range, [unit]."""

SUDDEN_C_PER_S = 600.0
"""No flame heats a probe so fast, not at light-off either."""

ALIVE = 5
"""A channel that shows fewer values in the whole recording tells nothing by standing still."""

AFTER_S = 5.0
WITNESSES = ("ng", "itt", "torque", "np", "fuel_flow")
KEPT = {"ng": 0.06, "itt": 0.15, "torque": 0.25, "np": 0.10, "fuel_flow": 0.15}
"""By how much of its value another channel may have moved meanwhile, and all the same not share the jump."""

MOST = 2000
"""So many jumps are looked at."""


def jumps_and_stands(view: EngineView, burning: FloatArray) -> list[Doubt]:
    """Return where a channel was lost, to zero or to the end of its range, while the engine ran on.

    Parameters
    ----------
    burning : (m, 2) float array
        Where fuel burned, [s].

    Notes
    -----
    Rule: from one sample to the next, at most 2 s later, the channel changes by `JUMP` or more, and then stays within
    three steps of the recorder for longer than a gap may be. Downward it comes to a twentieth of what it was or less
    (ITT below 150 °C, since an open probe may read its cold end), upward to `FULL` or more, its highest value.
    Meanwhile, over 5 s, most of the other channels of the engine stay where they were; so a fuel cut and a change of
    power are none. ITT that rises faster than 600 °C/s needs no other channel. The numbers are common practice, no source.
    """
    out = []
    for channel, least in JUMP.items():
        if channel not in ENGINE_CHANNELS and view.engine != min(view.recording.engines):
            continue  # of all engines, and told with the first
        trace = view.trace(channel)
        if trace is not None and trace.time_s.size > 3 and len(burning):
            out += _of_channel(view, channel, trace, least, burning)
    return out


def _of_channel(
    view: EngineView, channel: str, trace: Trace, least: float, burning: FloatArray
) -> list[Doubt]:
    t, v = trace.time_s, trace.values
    steps = np.diff(v)
    jumps = np.flatnonzero(np.abs(steps) >= least)
    if not jumps.size:
        return []
    blind = blind_after_s(trace)
    widths = t[jumps + 1] - t[jumps]
    jumps = jumps[widths <= max(WITHIN_S, 0.5 * blind)][:MOST]
    same = max(STANDS_STEPS * 2.0 * trace.half_resolution, 1e-9)
    moves = np.append(np.flatnonzero(np.abs(steps) > same), v.size - 1)
    recorded = view.channel(channel)
    zero = 0.0 if recorded is None else ZERO.get(recorded.column_unit, 0.0)
    out: list[Doubt] = []
    for k in jumps.tolist():
        end = int(moves[np.searchsorted(moves, k, side="right")])
        if out and t[k] < out[-1].end_s:
            continue
        is_last = end == v.size - 1
        until = float(t[end] if is_last else t[end + 1])
        if until - t[k] <= blind or end - k < 2 or np.ptp(v[k + 1 : end + 1]) > same:
            continue
        part = intersect(burning, np.array([[t[k], until]]))
        if not len(part) or total_s(part) <= blind:
            continue
        before, level = float(v[k]), float(v[k + 1])
        if not _comes_to_an_end(channel, before, level, zero, float(v.max())):
            continue
        sudden = channel == "itt" and level - before > SUDDEN_C_PER_S * float(t[k + 1] - t[k])
        if not sudden and not _others_stay(view, channel, float(t[k]), min(until, float(t[k]) + AFTER_S)):
            continue
        out.append(_told(channel, view.names.in_text(view.name_of(channel)), trace, k, until, is_last, zero))
    return out


def _comes_to_an_end(channel: str, before: float, level: float, zero: float, highest: float) -> bool:
    """Return whether it came to where a lost or open sensor stands."""
    if level > before:
        return level >= max(FULL.get(channel, np.inf), highest)
    return level <= (COLD_C if channel == "itt" else zero + GONE * (before - zero))


def _others_stay(view: EngineView, channel: str, begin: float, end: float) -> bool:
    """Return whether most of the other channels stay where they were, and at least one does."""
    stay = moved = 0
    for name in WITNESSES:
        trace = view.trace(name)
        if name == channel or trace is None or not is_alive(trace):
            continue
        before, after = trace.at(begin), trace.at(end)
        if before is None or after is None or before <= 0.1 * trace.values.max():
            continue
        allowed = KEPT[name] * abs(before) + 4.0 * trace.doubt
        stay, moved = (stay + 1, moved) if abs(after - before) <= allowed else (stay, moved + 1)
    return stay > moved


def is_alive(trace: Trace) -> bool:
    """Return whether a channel shows more than a few values in the recording: by standing still it then tells something."""
    return np.unique(trace.values[:: 1 + trace.values.size // 4096]).size >= ALIVE


def _told(channel: str, called: str, trace: Trace, k: int, until: float, is_last: bool, zero: float) -> Doubt:
    begin, before, level = float(trace.time_s[k]), float(trace.values[k]), float(trace.values[k + 1])
    lost = abs(level - zero) <= 1e-6 or (channel != "itt" and level < before)
    template = (
        "{channel} fell from {before} to {level} at {at} and stood there {until} while the engine ran on"
    )
    if not lost:
        template = (
            "{channel} jumped from {before} to {level} at {at} and stood there {until}, as an open probe does"
        )
        if channel != "itt":
            template = "{channel} jumped from {before} to {level} at {at} and stood there {until} while the engine ran on as before"
    why: Sentence = sentence(
        template,
        channel=called,
        before=Quantity(before, CANONICAL[channel], digits=6, has_unit=False),
        level=Quantity(level, CANONICAL[channel], digits=6),
        at=clock_text(float(trace.time_s[k + 1])),
        until="until the end" if is_last else f"until {clock_text(until)}",
    )
    return Doubt(channel, "signal_lost" if lost else "open_thermocouple", begin, until, why)
