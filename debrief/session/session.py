"""What is open: one recording with its assessment, and where the person looking at it is."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.analysis.verdict import footnotes, next_step
from debrief.profile.model import EngineProfile
from debrief.recording.model import FloatArray, Recording
from debrief.session.assessing.file_assessment import Choices
from debrief.session.lanes.hand_strips import Strip, hand_strips
from debrief.session.lanes.lane_events import Mark, RibbonPart, Span, event_spans, marks, ribbon
from debrief.session.lanes.lane_plan import usual_lanes
from debrief.session.lanes.lane_stack import LaneData, LaneRow, LaneStack, lane_data, prepare_lane
from debrief.session.limits.instrument_readings import Instrument, instruments
from debrief.session.texts.story import StoryStep, story
from debrief.session.time.first_view import first_view
from debrief.session.time.framing import Framing
from debrief.session.time.playback import Playback
from debrief.words.cautions import NOT_APPROVED
from debrief.words.channels import ChannelNames, base_name
from debrief.words.clock import Clock, TimeShown
from debrief.words.events import VERDICTS
from debrief.words.remedies import GIVE_A_PROFILE
from debrief.words.sentence import Sentence, led

_MAIN_CHANNELS = ("itt", "ng", "bus_volts", "torque", "np")
_NO_PROFILE = led(
    f"{VERDICTS['undetermined'].title}:",
    f"no engine profile is chosen, so nothing was judged. {GIVE_A_PROFILE.window}",
)


@dataclass(frozen=True, eq=False)
class Prepared:
    """What is computed once when a recording is opened, off the event loop."""

    lanes: tuple[LaneData, ...]
    instruments: tuple[Instrument, ...]
    story: tuple[StoryStep, ...]
    spans: tuple[Span, ...]
    marks: tuple[Mark, ...]
    ribbon: tuple[RibbonPart, ...]
    strips: tuple[Strip, ...] = ()
    sample_times_s: FloatArray = field(default_factory=lambda: np.zeros(0))
    rate_hz: float | None = None
    """Samples a second of the densest channel, [Hz]."""


def prepare(assessment: Assessment, engine: int = 1, between: Callable[[], None] = lambda: None) -> Prepared:
    """Return everything the views draw of an assessment. Takes a moment for a long recording.

    `between` is called between the lanes; what it raises ends the work.
    """
    shown = instruments(assessment, engine)
    by_name = {instrument.name: instrument for instrument in shown}
    lanes = []
    for shared in usual_lanes(assessment, engine):
        parts = []
        for plan in shared:
            between()
            instrument = by_name.get(plan.name) or Instrument(assessment, plan.name, engine)
            parts.append(lane_data(assessment, plan, instrument))
        lanes.append(replace(parts[0], others=tuple(parts[1:])))
    return Prepared(
        lanes=tuple(lanes),
        instruments=shown,
        story=story(assessment),
        spans=event_spans(assessment, engine),
        marks=marks(assessment, engine),
        ribbon=ribbon(assessment, engine),
        strips=hand_strips(assessment, engine),
        sample_times_s=_sample_times(assessment.recording, engine),
        rate_hz=_rate_hz(assessment.recording),
    )


def _rate_hz(recording: Recording) -> float | None:
    """Return the samples a second of the channel with the shortest interval, [Hz]."""
    # Channels sampled on the same rows share their times: each array is looked at once.
    seen = {id(c.time_s): c for c in recording.channels.values()}
    intervals = [c.interval_s for c in seen.values()]
    shortest = min((i for i in intervals if i), default=None)
    return 1.0 / shortest if shortest is not None else None


def _sample_times(recording: Recording, engine: int) -> FloatArray:
    """Return the times that "next sample" steps through: those of the densest main channel."""
    found = [recording.get(name, engine) for name in _MAIN_CHANNELS]
    channels = [c for c in found if c is not None] or list(recording.channels.values())
    if not channels:
        return np.zeros(0)
    return max(channels, key=lambda c: c.time_s.size).time_s


class Session:
    """An open recording.

    Parameters
    ----------
    path : Path
        The file it was read from.
    assessment : Assessment
        The one source of every number.
    prepared : Prepared
        From `prepare`.
    engine : int
        The engine in view.
    clock : callable
        Of the playback, [s].
    source : Recording, optional
        As read, before a profile scaled it: what another profile is tried on.
    choices : Choices
        What the user said about the file and how to judge it.

    Attributes
    ----------
    path, assessment, prepared, engine, source, choices
        As given.
    playback : Playback
        Where the replay stands.
    framing : Framing
        What part of the time is in view.
    lane_stack : LaneStack
        Which lanes are shown.
    clock : Clock
        How moments are told.
    """

    def __init__(
        self,
        path: Path,
        assessment: Assessment,
        prepared: Prepared,
        engine: int = 1,
        clock: Callable[[], float] = time.monotonic,
        source: Recording | None = None,
        choices: Choices | None = None,
    ) -> None:
        self.path = path
        self.assessment = assessment
        self.source = source if source is not None else assessment.recording
        self.prepared = prepared
        self.engine = engine
        self.choices = choices if choices is not None else Choices()
        self.playback = Playback(assessment.recording.duration_s, prepared.sample_times_s, clock)
        self.framing = Framing(assessment.recording.duration_s)
        self.lane_stack = LaneStack(prepared.lanes)
        self.show_time("elapsed")
        first = first_view(assessment, prepared.story)
        self._selected = first.step
        self.framing.frame(first.begin_s, first.end_s)
        self.playback.seek(first.position_s)

    @property
    def recording(self) -> Recording:
        """The recording as scaled by the profile."""
        return self.assessment.recording

    @property
    def names(self) -> ChannelNames:
        """What the recording calls the channels, those without a number being the chosen engine's."""
        return self.assessment.names(self.engine)

    @property
    def profile(self) -> EngineProfile | None:
        """The profile in use, or None."""
        return self.assessment.profile

    @property
    def story(self) -> tuple[StoryStep, ...]:
        """Steps in order of time."""
        return self.prepared.story

    @property
    def lanes(self) -> tuple[LaneData, ...]:
        """The lanes from top to bottom."""
        return self.lane_stack.lanes

    def lane_choices(self) -> tuple[str, ...]:
        """Return the names of all channels that a lane can show, those shown at first before the others."""
        usual = [name for lane in self.prepared.lanes for name in lane.names]
        mine = {c.name for c in (self.recording.get(name, self.engine) for name in usual) if c is not None}
        channels = self.recording.channels
        own = [name for name, c in channels.items() if c.values.size and not c.is_discrete]
        others = [name for name in own if name not in usual and name not in mine]
        if self.engine != 1:
            others = [name for name in others if "." not in name]
        return tuple(dict.fromkeys((*usual, *others, *self.recording.unmapped)))

    def arrange_lanes(self, rows: Sequence[LaneRow]) -> None:
        """Show the lanes that are remembered; takes a moment where channels have to be prepared."""
        self.lane_stack.arrange(rows, lambda name: prepare_lane(self.assessment, name, self.engine))

    @property
    def selected(self) -> int | None:
        """Index of the chosen step of the story."""
        return self._selected

    @property
    def chosen_start(self) -> Start | None:
        """The start that the chosen step of the story belongs to, or None."""
        step = None if self._selected is None else self.story[self._selected]
        starts = self.assessment.starts
        return next(
            (s for s in starts if step and (s.engine, s.number) == (step.engine, step.start_number)), None
        )

    @property
    def title(self) -> str:
        """Name of the flight: the aircraft where it is known, else the file's name."""
        return self.recording.identity.aircraft or self.path.name

    def show_time(self, wanted: TimeShown) -> None:
        """Tell moments so, where the recording knows its time of day and zone."""
        self.clock = Clock(self.recording.identity.start, self.recording.duration_s, wanted)

    @property
    def sentence(self) -> Sentence:
        """The verdict; without a profile it says what can be done here, not on a command line."""
        return self.assessment.sentence if self.profile is not None else _NO_PROFILE

    @property
    def next_step(self) -> str:
        """What to do after what was, or may have been, exceeded; else empty."""
        return next_step(self.assessment.events, self.profile)

    @property
    def footnotes(self) -> str:
        """What was not checked besides; empty without a profile."""
        return (
            ""
            if self.profile is None
            else footnotes(self.assessment.not_judged, self.recording.has_several_engines)
        )

    @property
    def not_approved(self) -> str | None:
        """The sentence to say while the profile is not approved data, or None."""
        profile = self.profile
        return None if profile is None or profile.approved_data else NOT_APPROVED

    def choose(self, index: int) -> StoryStep | None:
        """Go to a step of the story: move the replay there and bring it into view."""
        if not 0 <= index < len(self.story):
            return None
        self._selected = index
        step = self.story[index]
        self.playback.seek(step.time_s)
        framing = self.framing
        in_view = framing.begin_s <= step.begin_s and step.end_s <= framing.end_s
        # A step that is already in view at a useful size does not make the picture jump.
        if not in_view or step.end_s - step.begin_s < 0.2 * framing.span_s:
            framing.frame(step.begin_s, step.end_s)
        return step

    def row_beside(self, direction: int, findings_only: bool = False) -> int | None:
        """Return the index of the next (+1) or the previous (-1) row of the story, or None where there is none.

        Rows at the time of the playhead are passed one by one from the chosen one. While playing, a row that was passed
        less than half a second ago is no previous one, so that two presses go back two rows.
        """
        position = self.playback.position_s
        chosen = self._selected if self.step_in_play == self._selected else None
        passed = 0.5 * self.playback.rate if direction < 0 and self.playback.playing else 1e-6

        def lies_beside(index: int, step: StoryStep) -> bool:
            if step.shape == "heading" or index == chosen or (findings_only and not step.is_finding):
                return False
            away = (step.time_s - position) * direction
            if abs(away) <= 1e-6 and chosen is not None:
                return (index - chosen) * direction > 0
            return away > passed

        beside = [index for index, step in enumerate(self.story) if lies_beside(index, step)]
        return (beside[0] if direction > 0 else beside[-1]) if beside else None

    @property
    def step_in_play(self) -> int | None:
        """Index of the step that the playhead is in: the chosen one while it is there, else the last before."""
        position, chosen = self.playback.position_s, self._selected
        if chosen is not None:
            step = self.story[chosen]
            event = step.event
            inside = event is not None and event.start_s - 1e-6 <= position <= event.end_s + 1e-6
            if inside or abs(position - step.time_s) < 1e-6:
                return chosen
        return self.step_at(position)

    @property
    def fitted_channel(self) -> str | None:
        """Channel whose lane takes the heights of what is in view: that of the chosen finding while framed."""
        if self._selected is None:
            return None
        step = self.story[self._selected]
        event = step.event
        if event is None or event.channel is None or not step.is_finding:
            return None
        near = self.framing.span_s <= 4 * (step.end_s - step.begin_s)
        shown = self.framing.begin_s <= event.end_s and event.start_s <= self.framing.end_s
        return base_name(event.channel) if near and shown else None

    def finding_at(self, time_s: float, channel: str | None = None) -> int | None:
        """Return the index of the finding whose stretch holds a time, that of a channel before others."""
        found = [
            (step.event.channel != channel, index)
            for index, step in enumerate(self.story)
            if step.event is not None and step.is_finding and step.event.start_s <= time_s <= step.event.end_s
        ]
        return min(found)[1] if found else None

    def step_at(self, time_s: float) -> int | None:
        """Return the index of the last step at or before a time, of the engine in view before others; None before the first."""
        passed = [
            (step.time_s, step.engine == self.engine, index)
            for index, step in enumerate(self.story)
            if step.shape != "heading" and step.shows_time and step.time_s <= time_s + 1e-6
        ]
        return max(passed)[2] if passed else None
