"""Which stretch a start's chart shows, and which events lie on it."""

from __future__ import annotations

from debrief.analysis.model import Assessment, Event, Start

_LATER_S = 20.0
"""An event that begins longer after the start's own moments has a page of its own."""


def chart_range(assessment: Assessment, start: Start) -> tuple[float, float]:
    """Return the stretch that the start's chart shows: all its moments with a little around them.

    Notes
    -----
    A shutdown minutes after idle is no moment of the start: it would press the start into a corner.
    """
    moments = [start.starter_off_s, start.idle_s, start.peak_itt_s, start.light_off_s]
    if start.idle_s is None:
        moments.append(start.fuel_off_s)
    begin = max(0.0, start.begin_s - 4.0)
    last = max([start.begin_s + 10.0, *(moment for moment in moments if moment is not None)])
    ends = [event.end_s for event in assessment.events_of(start) if event.start_s <= last + _LATER_S]
    last = max([last, *ends])
    end = last + max(4.0, 0.08 * (last - begin))
    following = assessment.next_start(start)
    end = min(end, assessment.recording.duration_s, end if following is None else following.begin_s)
    return begin, max(end, begin + 1.0)


def apart_events(assessment: Assessment) -> tuple[Event, ...]:
    """Return what was exceeded, or possibly, and lies on no start's chart."""
    ends = {(s.number, s.engine): chart_range(assessment, s)[1] for s in assessment.starts}
    return tuple(
        event
        for event in assessment.events
        if event.severity in ("limit", "possible")
        and event.start_s > ends.get((event.start_number or 0, event.engine), -1.0)
    )
