"""Which lanes are shown, in which order, and which channels share one: a list that can be remembered."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from debrief.analysis.model import Assessment
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.lanes.lane_plan import LanePlan, plan_lane
from debrief.session.limits.instrument_readings import Instrument

MOST_IN_LANE = 4
"""Channels that one lane can hold: more could not be told apart."""

_MOST_LANES = 40


@dataclass(frozen=True, eq=False)
class LaneData:
    """What a lane draws: its plan, its samples, its instrument, and the channels that share the lane.

    Attributes
    ----------
    others : tuple of LaneData
        Further channels in the same lane, each with its own axis; none of them has others.
    weight : float or None
        Share of the height; None: the usual one of its channel.
    """

    plan: LanePlan
    envelope: Envelope | None
    instrument: Instrument
    others: tuple[LaneData, ...] = ()
    weight: float | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """All channels of the lane, its own first."""
        return (self.plan.name, *(other.plan.name for other in self.others))


@dataclass(frozen=True)
class LaneRow:
    """One lane as it is remembered: its channels and its share of the height."""

    names: tuple[str, ...]
    weight: float | None = None


def lane_data(assessment: Assessment, plan: LanePlan, instrument: Instrument) -> LaneData:
    """Return what a lane of this plan draws. Takes a moment for a long recording."""
    channel = plan.channel
    envelope = None
    if channel is not None:
        envelope = Envelope(channel.time_s, channel.values, gap_breaks(channel.time_s, assessment.starts))
    return LaneData(plan, envelope, instrument)


def prepare_lane(assessment: Assessment, name: str, engine: int = 1) -> LaneData:
    """Return what a lane of any channel draws. Takes a moment for a long recording."""
    plan = plan_lane(assessment, name, engine)
    return lane_data(assessment, plan, Instrument(assessment, name, engine))


def layout_text(rows: Sequence[LaneRow]) -> str:
    """Return the lanes as a text to remember."""
    return json.dumps([{"names": list(row.names), "weight": row.weight} for row in rows])


def layout_from(text: str) -> tuple[LaneRow, ...]:
    """Return the lanes from a remembered text; nothing where it cannot be read."""
    try:
        entries = json.loads(text)
        rows = []
        for entry in entries[:_MOST_LANES]:
            names = tuple(dict.fromkeys(str(name) for name in entry["names"]))[:MOST_IN_LANE]
            weight = entry["weight"]
            if names:
                rows.append(LaneRow(names, None if weight is None else min(max(float(weight), 0.05), 50.0)))
        return tuple(rows)
    except (ValueError, TypeError, KeyError, AttributeError):
        return ()


class LaneStack:
    """The lanes from top to bottom. At least one stays.

    Parameters
    ----------
    lanes : sequence of LaneData
        As at first.
    """

    def __init__(self, lanes: Sequence[LaneData]) -> None:
        self._first = tuple(lanes)
        self._lanes = list(lanes)

    @property
    def lanes(self) -> tuple[LaneData, ...]:
        """The lanes from top to bottom."""
        return tuple(self._lanes)

    @property
    def names(self) -> tuple[str, ...]:
        """The channel that each lane is named after, from top to bottom."""
        return tuple(lane.plan.name for lane in self._lanes)

    @property
    def layout(self) -> tuple[LaneRow, ...]:
        """The lanes as they are remembered."""
        return tuple(LaneRow(lane.names, lane.weight) for lane in self._lanes)

    @property
    def is_usual(self) -> bool:
        """Whether the lanes are as at first, so that there is nothing to remember."""
        return self.layout == tuple(LaneRow(lane.names, lane.weight) for lane in self._first)

    def find(self, name: str) -> LaneData | None:
        """Return the lane named after a channel, or None."""
        return next((lane for lane in self._lanes if lane.plan.name == name), None)

    def _change(self, name: str, changed: LaneData) -> None:
        self._lanes = [changed if lane.plan.name == name else lane for lane in self._lanes]

    def add(self, lane: LaneData) -> None:
        """Put a lane below the others, unless it is there already."""
        if lane.plan.name not in self.names:
            self._lanes.append(lane)

    def remove(self, name: str) -> None:
        """Take a lane away with all its channels; the last one stays."""
        if len(self._lanes) > 1:
            self._lanes = [lane for lane in self._lanes if lane.plan.name != name]

    def move(self, name: str, direction: int) -> None:
        """Move a lane up (-1) or down (+1)."""
        if name in self.names:
            self.place(name, self.names.index(name) + direction)

    def place(self, name: str, index: int) -> None:
        """Put a lane at this place, counted without it; beyond either end nothing is moved."""
        if name in self.names and 0 <= index < len(self._lanes):
            self._lanes.insert(index, self._lanes.pop(self.names.index(name)))

    def join(self, name: str, other: LaneData) -> bool:
        """Show a further channel in a lane; False where it is there already or the lane is full."""
        lane = self.find(name)
        if lane is None or other.plan.name in lane.names or len(lane.names) >= MOST_IN_LANE:
            return False
        self._change(name, replace(lane, others=(*lane.others, replace(other, others=(), weight=None))))
        return True

    def part(self, name: str, other: str) -> None:
        """Take a further channel out of a lane; the one it is named after stays."""
        lane = self.find(name)
        if lane is not None:
            self._change(name, replace(lane, others=tuple(o for o in lane.others if o.plan.name != other)))

    def resize(self, name: str, weight: float) -> None:
        """Give a lane another share of the height."""
        lane = self.find(name)
        if lane is not None:
            self._change(name, replace(lane, weight=weight))

    def reset(self) -> None:
        """Show the lanes as at first."""
        self._lanes = list(self._first)

    def arrange(self, rows: Sequence[LaneRow], make: Callable[[str], LaneData]) -> None:
        """Show remembered lanes; `make` prepares what is not there yet. No rows: nothing changes."""
        there = {lane.plan.name: replace(lane, others=(), weight=None) for lane in self._first}

        def wanted(name: str) -> LaneData:
            if name not in there:
                there[name] = make(name)
            return there[name]

        lanes: dict[str, LaneData] = {}
        for row in rows:
            first, *others = row.names
            lane = replace(wanted(first), others=tuple(wanted(name) for name in others), weight=row.weight)
            lanes.setdefault(first, lane)
        if lanes:
            self._lanes = list(lanes.values())
