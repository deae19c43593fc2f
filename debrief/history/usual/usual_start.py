"""The usual start of one engine: at each time the median of its own completed starts, as it is compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from debrief.history.usual.baseline import MIN_STARTS, USUAL_IS_NOT_A_LIMIT, Band, power_words
from debrief.history.usual.kept_curves import KEPT, Kept
from debrief.recording.model import Channel, FloatArray
from debrief.session.comparing.start_curves import INSTANT_WORDS, MOMENTS, Instant, StartCurves, StartKey

NAME = "the usual start of this engine"
_STEP_S = 0.25


@dataclass(frozen=True, eq=False)
class UsualStart:
    """The starts that make what is usual, by the same rules as every other normal range.

    Attributes
    ----------
    band : Band
        Of ``peak_itt``: its members are the starts that count.
    kept : Kept
        Traces of the members; those without are counted and said.
    """

    band: Band
    kept: Kept

    @property
    def name(self) -> str:
        """What it is called."""
        return NAME

    @property
    def key(self) -> StartKey | None:
        """It is no one start."""
        return None

    @property
    def profile(self) -> str:
        """It is of the engine, by whatever profile."""
        return ""

    @cached_property
    def _members(self) -> tuple[StartCurves, ...]:
        return tuple(self.kept[key] for key in self.band.members if key in self.kept)

    @property
    def problem(self) -> str:
        """Why there is none; empty where there is one."""
        if len(self._members) >= MIN_STARTS:
            return ""
        starts = f"completed {power_words(self.band.power)}starts of {self.band.engine}"
        words = f"No usual start: {self.band.count} of {MIN_STARTS} other {starts} are kept in the history"
        lacking = self.band.count - len(self._members)
        return (
            f"{words}, {lacking} of them without traces: add their files again." if lacking else f"{words}."
        )

    def aligned(self, instant: Instant) -> StartCurves:
        """Return the medians, counted from an instant of each start, [s]; without channels where there are too few."""
        members = [one for one in self._members if instant in one.moments]
        said = self.problem
        if not said and len(members) < MIN_STARTS:
            said = f"No usual start aligned at {INSTANT_WORDS[instant]}: only {len(members)} of {MIN_STARTS} have it."
        if said:
            return StartCurves(NAME, MappingProxyType({}), MappingProxyType({}), (0.0, 1.0), said=said)
        zeros = [one.moments[instant] for one in members]
        begin, end = (
            float(np.median([one.frame[edge] - zero for one, zero in zip(members, zeros, strict=True)]))
            for edge in (0, 1)
        )
        # On whole steps from the instant on, so that it is one of them.
        times = np.arange(np.ceil(begin / _STEP_S), np.floor(end / _STEP_S) + 1) * _STEP_S
        channels = {}
        for name in KEPT:
            found = [
                (one.channels[name], zero)
                for one, zero in zip(members, zeros, strict=True)
                if name in one.channels
            ]
            units = {channel.unit for channel, _ in found}
            if len(units) == 1 and len(found) >= MIN_STARTS:
                values = _medians([_at(channel, times + zero) for channel, zero in found])
                channels[name] = Channel(name, units.pop(), times, values)
        moments = {}
        for moment in MOMENTS:
            since = [
                o.moments[moment] - z for o, z in zip(members, zeros, strict=True) if moment in o.moments
            ]
            if len(since) >= MIN_STARTS:
                moments[moment] = float(np.median(since))
        speeds = [one.ng_at_fuel_pct for one in members if one.ng_at_fuel_pct is not None]
        return StartCurves(
            NAME,
            MappingProxyType(channels),
            MappingProxyType(moments),
            (begin, end),
            None,
            ng_at_fuel_pct=float(np.median(speeds)) if len(speeds) >= MIN_STARTS else None,
            said=f"Median of {len(members)} starts. {USUAL_IS_NOT_A_LIMIT}",
        )


def _at(channel: Channel, times_s: FloatArray) -> FloatArray:
    """Return the values on straight lines between samples; NaN in gaps and outside."""
    return np.interp(times_s, channel.time_s, channel.values, left=np.nan, right=np.nan)


def _medians(rows: Sequence[FloatArray]) -> FloatArray:
    """Return the median at each time; NaN where fewer starts than are called usual have a value."""
    every = np.vstack(rows)
    enough = np.isfinite(every).sum(axis=0) >= MIN_STARTS
    out = np.full(every.shape[1], np.nan)
    if enough.any():
        out[enough] = np.nanmedian(every[:, enough], axis=0)
    return out
