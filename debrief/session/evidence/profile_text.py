"""A line of the profile, as it is written there."""

from __future__ import annotations

from debrief.profile.model import EngineProfile

_LONGEST = 160


def profile_line(profile: EngineProfile | None, line: int | None) -> str:
    """Return the text of a line; empty where it is not known."""
    if profile is None or line is None:
        return ""
    lines = profile.text.split("\n")
    text = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."
