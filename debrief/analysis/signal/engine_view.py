"""What the detectors look at: the channels of one engine as traces, and the profile."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.model import Start
from debrief.analysis.signal.bursts import bursts
from debrief.analysis.signal.cells import Cells
from debrief.analysis.signal.dead_pick_up import nothing, unseen_below
from debrief.analysis.signal.interval_sets import EMPTY
from debrief.analysis.signal.switch_edges import held_at
from debrief.analysis.signal.traces import Trace, gap_mask
from debrief.profile.gaps import OUTCOME, lacking
from debrief.profile.model import EngineProfile
from debrief.recording.model import Channel, FloatArray, Recording
from debrief.words.channels import CANONICAL, ChannelNames, base_name
from debrief.words.sentence import joined
from debrief.words.starts import in_start

LIGHT_OFF_RISE_C = 40.0
"""Used only to find the flame when the profile gives no `light_off_rise_c`."""

COOLED_ITT_C = 300.0
"""Below this ITT an engine has cooled after an abort."""


def go_on() -> None:
    """Do nothing between two parts of the work."""


@dataclass(eq=False)
class EngineView:
    """The channels of one engine.

    `between` is called whenever a trace is asked for, that is before all that takes long; what it raises ends
    the work.

    A channel whose unit is not the canonical one (rpm without a reference) is listed in `unscaled` and
    treated as not recorded, since no limit in percent can be judged on it.
    """

    recording: Recording
    profile: EngineProfile
    engine: int
    start_windows: FloatArray = field(default_factory=lambda: EMPTY)
    _traces: dict[str, Trace] = field(default_factory=dict)
    _gaps: dict[int, NDArray[np.bool_]] = field(default_factory=dict)
    _cells: dict[float, Cells] = field(default_factory=dict)
    _channels: dict[str, Channel | None] = field(default_factory=dict)
    between: Callable[[], None] = go_on
    disbelieved: Mapping[str, str] = field(default_factory=dict)
    """Channels that show nothing of the engine in the whole recording, each with why: treated as not recorded."""
    start_count: int = 0
    """How many starts were found: the only one is not counted in words."""

    def in_start(self, start: Start | None) -> str:
        """Return `` in start 2`` for what can only be in a start; nothing where there is one, or it is in none."""
        return in_start(None if start is None else start.number, self.start_count)

    def channel(self, name: str) -> Channel | None:
        """Return the channel of this engine in its canonical unit, or None."""
        if name not in self._channels:
            self._channels[name] = self._usable(name)
        return self._channels[name]

    def _usable(self, name: str) -> Channel | None:
        channel = self.recording.get(name, self.engine)
        if channel is None or not channel.time_s.size or name in self.disbelieved:
            return None
        wanted = CANONICAL.get(base_name(channel.name))
        return None if wanted is not None and channel.unit != wanted else channel

    def missing_because(self, name: str, subject: str = "") -> str:
        """Return why `channel` gives None: a statement of its subject, or what stands alone behind the name."""
        verb = f"{subject} was " if subject else ""
        channel = self.recording.get(name, self.engine)
        if channel is None or not channel.time_s.size:
            return f"{verb}not recorded"
        if name in self.disbelieved:
            return joined(" ", filter(None, [subject, self.disbelieved[name]]))
        return f"{verb}recorded in {channel.unit} and the profile gives no reference to turn it into {CANONICAL[name]}"

    def trace(self, name: str) -> Trace | None:
        """Return the trace of the channel, made once, or None where it was not recorded."""
        self.between()
        found = self._traces.get(name)
        if found is None:
            channel = self.channel(name)
            if channel is None:
                return None
            found = self._traces[name] = Trace.of(channel, self.gaps(channel.time_s))
        return found

    def with_start_windows(self, windows: FloatArray) -> EngineView:
        """Return a view with the shorter gap limit inside the starts; this one where that makes no other gaps.

        Traces in which it makes none are kept, with what was worked out for them.
        """
        view = EngineView(
            self.recording,
            self.profile,
            self.engine,
            windows,
            between=self.between,
            disbelieved=self.disbelieved,
        )
        clocks = {id(c.time_s): c.time_s for c in self.recording.channels.values()}
        same = {k for k, t in clocks.items() if np.array_equal(view.gaps(t), self.gaps(t))}
        if len(same) == len(clocks):
            return self
        view._traces.update({n: trace for n, trace in self._traces.items() if id(trace.time_s) in same})
        return view

    def gaps(self, time_s: FloatArray) -> NDArray[np.bool_]:
        """Return which intervals of these sample times are gaps; channels that share their times share it."""
        if id(time_s) not in self._gaps:
            self._gaps[id(time_s)] = gap_mask(time_s, self.start_windows)
        return self._gaps[id(time_s)]

    def cells(self, step_s: float) -> Cells:
        """Return the cells of this length, with the means that were made of them."""
        found = self._cells.get(step_s)
        if found is None:
            found = self._cells[step_s] = Cells(step_s, int(self.end_s // step_s))
        return found

    def held(self, name: str, time_s: float) -> float | None:
        """Return the value a discrete channel holds at this instant."""
        return held_at(self.channel(name), time_s)

    def value(self, name: str, time_s: float, within_s: float = 2.0) -> float | None:
        """Return the interpolated value at an instant, else the nearest sample at most `within_s` away."""
        trace = self.trace(name)
        if trace is None:
            return None
        value = trace.at(time_s)
        if value is not None:
            return value
        k = int(np.searchsorted(trace.time_s, time_s))
        near = [i for i in (k - 1, k) if 0 <= i < trace.time_s.size]
        best = min(near, key=lambda i: abs(trace.time_s[i] - time_s))
        return float(trace.values[best]) if abs(trace.time_s[best] - time_s) <= within_s else None

    @property
    def height(self) -> Trace | None:
        """What tells differences of height: pressure altitude, else altitude, None where neither was recorded."""
        palt = self.trace("palt")
        return self.trace("altitude") if palt is None else palt

    @cached_property
    def idle_unseen(self) -> str | None:
        """Why nobody can tell when it reached idle: no Ng, or no idle in the profile; None where it can be told."""
        if self.trace("ng") is None:
            return self.missing_because("ng", "Ng")
        return lacking(self.profile, OUTCOME)

    @cached_property
    def ng_unseen_below(self) -> float | None:
        """The speed up to which the pick-up of Ng reads nothing, [%]; None where it shows no such speed."""
        ng = self.trace("ng")
        return None if ng is None else unseen_below(ng)

    @cached_property
    def turning_pct(self) -> float:
        """Ng from which on the engine turns, [%]: the profile's, without it any that the recorder tells from zero."""
        ng, stopped = self.trace("ng"), self.profile.start.stopped_ng_pct
        if stopped is not None:
            return stopped
        return 0.0 if ng is None else nothing(ng)

    @property
    def light_off_rise_c(self) -> float:
        """The rise of ITT that a flame is found by, [degC]; what rests on it is not sure where the profile has none."""
        own = self.profile.start.light_off_rise_c
        return LIGHT_OFF_RISE_C if own is None else own

    @property
    def hottest_residual_c(self) -> float:
        """Above this ITT more than residual heat is in the engine, [degC]: the profile's, else where an abort has cooled."""
        own = self.profile.start.max_residual_itt_c
        return COOLED_ITT_C if own is None else own

    @cached_property
    def flame(self) -> Trace | None:
        """ITT as light-offs are read from it: without short bursts of corrupt readings."""
        itt = self.trace("itt")
        if itt is None:
            return None
        index = bursts(itt)
        return itt.without(index) if index.size else itt

    @cached_property
    def standing_s(self) -> FloatArray:
        """Times of the Ng samples below the profile's standing speed, [s]."""
        ng, stopped = self.trace("ng"), self.profile.start.stopped_ng_pct
        return EMPTY[:, 0] if ng is None or stopped is None else ng.time_s[ng.values < stopped]

    @cached_property
    def start_levels(self) -> dict[float, tuple[str, ...]]:
        """Each level above which ITT is limited in starts, [degC], with the key paths of its rows in the profile."""
        out: dict[float, tuple[str, ...]] = {}
        for limit in self.profile.limits:
            if limit.channel == "itt" and limit.when == "start" and not limit.below:
                for n, row in enumerate(limit.allowed, 1):
                    out[row.level] = (*out.get(row.level, ()), f"limits.{limit.id}.allowed[{n}]")
        return out

    @property
    def names(self) -> ChannelNames:
        """What this engine's channels are called."""
        return self.recording.names.of_engine(self.engine)

    def name_of(self, channel: str) -> str:
        """Return the channel name as the recording has it, with the engine number where there is one."""
        found = self.recording.get(channel, self.engine)
        return found.name if found is not None else channel

    @property
    def end_s(self) -> float:
        """End of the recording, [s]."""
        return self.recording.duration_s
