"""What a reader looks at first when a recording is opened: the finding or the start that matters most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from debrief.analysis.model import Assessment, Event, Start
from debrief.session.texts.highest_itt import highest_itt
from debrief.session.texts.story import StoryStep, start_frame
from debrief.words.events import FINDINGS, event_spec, finding_key

_ENDED_BADLY = ("aborted", "no_light_off", "flamed_out", "hung", "unknown")


@dataclass(frozen=True)
class FirstView:
    """Where a recording opens.

    Attributes
    ----------
    position_s : float
        The playhead, [s]; within the stretch in view.
    begin_s, end_s : float
        The stretch in view, [s].
    step : int or None
        The row of the story that is chosen.
    """

    position_s: float
    begin_s: float
    end_s: float
    step: int | None = None


def first_view(assessment: Assessment, story: Sequence[StoryStep]) -> FirstView:
    """Return the view of what the verdict names first, else of the start that matters most, else of the whole recording."""
    findings = [(_weight(step.event), index) for index, step in enumerate(story) if step.event is not None]
    if findings:
        return _of_finding(assessment, story, min(findings)[1])
    if assessment.starts:
        start = min(assessment.starts, key=_weight_of_start)
        begin, end = start_frame(start)
        # Before the hand acts, so that playing shows the start from its first moment.
        return FirstView(start.begin_s, begin, end)
    # Nothing was judged: the highest temperature is what is asked for first.
    position = next((one.time_s for one in highest_itt(assessment)), 0.0)
    return FirstView(position, 0.0, assessment.recording.duration_s)


def first_engine(assessment: Assessment) -> int:
    """Return the engine that the first view is of: its lanes are to be shown."""
    if assessment.events:
        return min(assessment.events, key=_weight).engine
    return min(assessment.starts, key=_weight_of_start).engine if assessment.starts else 1


def _weight(event: Event) -> tuple[int, int, float]:
    """Return the order in which the verdict names findings: the worst has the least."""
    return list(FINDINGS).index(finding_key(event)), event_spec(event.kind).rank, event.start_s


def _weight_of_start(start: Start) -> tuple[bool, bool, int, float, int]:
    """Return first a start that ended badly, then one with fuel before mere motoring, then the hottest of an engine."""
    hottest = 0.0 if start.peak_itt_c is None else -start.peak_itt_c
    return start.outcome not in _ENDED_BADLY, start.outcome == "motoring", start.engine, hottest, start.number


def _of_finding(assessment: Assessment, story: Sequence[StoryStep], index: int) -> FirstView:
    """Return the view of a finding at its worst moment, in its start where it lies within it."""
    step = story[index]
    event = step.event
    peak_s = None if event is None else event.peak_s
    position = step.time_s if peak_s is None else peak_s
    begin, end = step.begin_s, step.end_s
    moments = (step.time_s, position)
    for start in assessment.starts:
        first, last = start_frame(start)
        own = (start.engine, start.number) == (step.engine, step.start_number)
        if own and first <= min(moments) and max(moments) <= last:
            begin, end = first, last
    return FirstView(position, min(begin, position), max(end, position), index)
