"""Notes as they are marked in the views of time."""

from __future__ import annotations

from dataclasses import dataclass

from debrief.session.lanes.lane_events import Mark


@dataclass(frozen=True)
class NotePin(Mark):
    """A note at its time: `word` is its number in the list of notes, `text` what it says."""

    text: str = ""
