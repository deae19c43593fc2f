"""Whether the temperature that was recorded can be believed."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from debrief.analysis.model import NotJudged
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.starts.attempts import Found
from debrief.recording.model import QualityFlag
from debrief.words import numbers
from debrief.words.channels import base_name, channel_symbol
from debrief.words.sentence import Quantity, sentence

FLAT_FOR_S = 10.0
NG_MOVED_PCT = 10.0
_DOUBTS = {
    "sensor_sense": "ITT stood still or reads low",
    "open_thermocouple": "ITT reads as an open probe does",
    "signal_lost": "ITT was lost",
}
"""Which flags say that ITT reads low or not at all, so that limits may be missed, and what of it is said."""

TEMPERATURE = "limits on ITT"
"""What is not judged where ITT is in doubt."""


def doubts(quality: Iterable[QualityFlag]) -> list[NotJudged]:
    """Return the core question of each flag that says that ITT reads low or not at all: limits may be missed."""
    return [
        NotJudged(TEMPERATURE, _DOUBTS[q.kind], None, q.channel, q.start_s, q.end_s, core=True)
        for q in quality
        if q.kind in _DOUBTS and base_name(q.channel) == "itt"
    ]


def sense_flags(view: EngineView, found: Found) -> list[QualityFlag]:
    """Return where ITT stands still for 10 s or more while Ng moves by 10 % or more and fuel burns.

    Notes
    -----
    A burning engine that changes speed changes its temperature; a reading that does not move is stuck or
    open, and a limit may be missed. The two numbers are common practice, no source. Where ITT is dead the
    flame cannot be seen, so fuel on (or Ng above idle) stands for burning here.
    """
    itt, ng = view.trace("itt"), view.trace("ng")
    if itt is None or ng is None or itt.time_s.size < 3:
        return []
    step = 2.0 * itt.half_resolution
    changed = np.flatnonzero(np.abs(np.diff(itt.values)) > step) + 1
    edges = np.concatenate(([0], changed, [itt.time_s.size]))
    fuelled = [(f.on_s, view.end_s if f.off_s is None else f.off_s) for f in found.fuels]
    out = []
    stands = np.flatnonzero(itt.time_s[edges[1:] - 1] - itt.time_s[edges[:-1]] >= FLAT_FOR_S)
    for low, high in zip(edges[stands], edges[stands + 1], strict=True):
        begin, end = float(itt.time_s[low]), float(itt.time_s[high - 1])
        if np.ptp(itt.values[low:high]) > step:
            continue
        for on, off in fuelled:
            a, b = max(begin, on), min(end, off)
            if b - a < FLAT_FOR_S:
                continue
            speeds = ng.values[ng.between(a, b)]
            if speeds.size and float(np.ptp(speeds)) >= NG_MOVED_PCT:
                name = view.name_of("itt")
                said = sentence(
                    "{itt} stood at {value} for {seconds} s while Ng moved by {moved}: it reads low or stands "
                    "still, limits may be missed.",
                    itt=channel_symbol(name),
                    value=Quantity(float(itt.values[low]), "degC"),
                    seconds=numbers.number(b - a, 0),
                    moved=Quantity(float(np.ptp(speeds)), "%", is_difference=True),
                )
                out.append(QualityFlag("sensor_sense", name, a, b, said))
    return out
