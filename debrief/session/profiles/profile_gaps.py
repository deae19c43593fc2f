"""What cannot be judged with a profile as it stands, for whoever writes it."""

from __future__ import annotations

from debrief.profile.gaps import gaps
from debrief.profile.model import EngineProfile

ALL_THERE = "Nothing: all keys that something is judged by are there."


def gap_lines(profile: EngineProfile) -> list[str]:
    """Return a line for each thing that is not judged, with the keys that are absent; one line where there is none."""
    by_reason: dict[str, list[str]] = {}
    for gap in gaps(profile):
        by_reason.setdefault(gap.why, []).append(gap.what)
    lines = [f"{', '.join(what)}: {why}" for why, what in by_reason.items()]
    return [line[:1].upper() + line[1:] for line in lines] or [ALL_THERE]
