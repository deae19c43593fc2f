"""ITT against Ng of completed starts: what is kept of each, and the normal range of one engine's.

The recordings themselves stay where they are, so of each completed start a small trace is kept: the ITT at
each whole percent of Ng on the way up. Nothing here loads the database.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.history.usual.baseline import MIN_STARTS, USUAL_IS_NOT_A_LIMIT, Band, power_words
from debrief.recording.model import Channel, FloatArray
from debrief.session.drawing.envelope import gap_breaks
from debrief.session.limits.cursor_measure import interpolated
from debrief.words.display_units import ShownUnits

LOW_PERCENT, HIGH_PERCENT = 5.0, 95.0
"""Percentiles that bound the band; between them lie the middle 90 %."""

Key = tuple[str, int, int]
"""SHA-256, engine and number of a start."""


def _nothing() -> FloatArray:
    return np.zeros(0)


@dataclass(frozen=True, eq=False)
class UsualPlane:
    """The normal range of ITT against Ng for one start's engine.

    Attributes
    ----------
    ng_pct : (n,) float array
        Whole percents of Ng at which enough starts have a value, rising, [%].
    low_c, middle_c, high_c : (n,) float array
        5th, 50th and 95th percentile of ITT there, [degC]; ITT differences are compared as recorded.
    count : int
        Starts that it is made of; 0 without a band.
    words : str
        How it was made, or why there is none, in a sentence or two.
    """

    words: str
    count: int = 0
    ng_pct: FloatArray = field(default_factory=_nothing)
    low_c: FloatArray = field(default_factory=_nothing)
    middle_c: FloatArray = field(default_factory=_nothing)
    high_c: FloatArray = field(default_factory=_nothing)

    @property
    def enough(self) -> bool:
        """Whether there is a band to draw."""
        return self.ng_pct.size > 0

    def shown(self, units: ShownUnits) -> UsualPlane:
        """Return the same with its temperatures in the units to show."""
        low, middle, high = (units.values(edge, "degC") for edge in (self.low_c, self.middle_c, self.high_c))
        return replace(self, low_c=low, middle_c=middle, high_c=high)


def rising_trace(assessment: Assessment, start: Start) -> dict[int, float]:
    """Return the ITT at each whole percent of Ng from fuel on to idle of a completed start, [degC].

    Notes
    -----
    At the first crossing of each percent on the way up; Ng and ITT are straight lines between samples.
    Across a gap nothing is claimed. Empty for a start that was not completed, and where Ng is not in % or
    ITT not in degC.
    """
    recording = assessment.recording
    ng, itt = recording.get("ng", start.engine), recording.get("itt", start.engine)
    if start.outcome != "completed" or start.fuel_on_s is None or start.idle_s is None:
        return {}
    if ng is None or itt is None or ng.unit != "%" or itt.unit != "degC" or itt.time_s.size == 0:
        return {}
    itt_breaks = gap_breaks(itt.time_s, assessment.starts)
    out: dict[int, float] = {}
    for percent, time_s in _crossings(ng, assessment, start.fuel_on_s, start.idle_s):
        value = interpolated(itt, itt_breaks, time_s)
        if value is not None and np.isfinite(value):
            out[percent] = value
    return out


def _crossings(ng: Channel, assessment: Assessment, begin_s: float, end_s: float) -> list[tuple[int, float]]:
    """Return (whole percent, time of its first crossing) on the way up between two instants."""
    first, last = np.searchsorted(ng.time_s, (begin_s, end_s + 1e-9))
    times, values = ng.time_s[first:last], ng.values[first:last]
    if times.size < 2:
        return []
    gaps = gap_breaks(ng.time_s, assessment.starts)[first : last - 1]
    out: list[tuple[int, float]] = []
    highest = float(values[0])
    for i in range(times.size - 1):
        low, high = float(values[i]), float(values[i + 1])
        if not (np.isfinite(low) and np.isfinite(high)):
            continue
        if high > highest:
            if not gaps[i] and high > low:
                for percent in range(int(np.floor(max(highest, low))) + 1, int(np.floor(high)) + 1):
                    share = (percent - low) / (high - low)
                    out.append((percent, float(times[i] + share * (times[i + 1] - times[i]))))
            highest = high
    return out


def trace_text(trace: Mapping[int, float]) -> str:
    """Return a trace as it is kept: JSON of Ng and ITT, the latter to a tenth of a degree."""
    return json.dumps([list(trace), [round(value, 1) for value in trace.values()]], separators=(",", ":"))


def trace_of(text: str) -> dict[int, float]:
    """Return a kept trace."""
    percents, values = json.loads(text)
    return {int(percent): float(value) for percent, value in zip(percents, values, strict=True)}


def usual_plane(band: Band, traces: Mapping[Key, Mapping[int, float]]) -> UsualPlane:
    """Return the band of ITT against Ng from the starts that make the band of the peak ITT.

    Parameters
    ----------
    band : Band
        Of ``peak_itt``: its members are the starts that count, by the same rules as every other normal range.
    traces : mapping
        Kept traces by start; members without one are counted and said.
    """
    starts = f"completed {power_words(band.power)}starts of {band.engine}"
    found = [traces[key] for key in band.members if traces.get(key)]
    lacking = band.count - len(found)
    if len(found) < MIN_STARTS:
        # Those of other days count, also later ones: a band is the same for each start of its stretch.
        words = f"No normal range: {band.count} of {MIN_STARTS} other {starts} are kept in the history"
        if lacking:
            words += f", {lacking} of them without a trace: add their files again"
        return UsualPlane(f"{words}.", len(found))
    percents, low, middle, high = [], [], [], []
    for percent in range(min(map(min, found)), max(map(max, found)) + 1):
        values = [trace[percent] for trace in found if percent in trace]
        if len(values) >= MIN_STARTS:
            edges = np.percentile(values, (LOW_PERCENT, 50.0, HIGH_PERCENT))
            percents.append(float(percent))
            low.append(float(edges[0]))
            middle.append(float(edges[1]))
            high.append(float(edges[2]))
    if not percents:
        return UsualPlane("No normal range: the other starts have no speed in common.", len(found))
    without = f" ({lacking} more are kept without a trace)" if lacking else ""
    since = f", since {band.since}" if band.since else ""
    words = (
        f"Shaded: at each Ng the middle 90 % of {len(found)} other {starts}{since}{without}, as recorded. "
        f"{USUAL_IS_NOT_A_LIMIT}"
    )
    arrays = (np.asarray(part) for part in (percents, low, middle, high))
    return UsualPlane(words, len(found), *arrays)
