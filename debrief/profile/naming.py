"""What a profile is called: a copy of a shipped one has its name and revision, so its file is named as well."""

from __future__ import annotations

import os
from pathlib import Path

from debrief.profile.model import EngineProfile
from debrief.resources import resource


def own_file(profile: EngineProfile) -> str:
    """Return the name of the profile's file; empty for a shipped profile and for one that came from no file."""
    if not profile.path:
        return ""
    path = Path(profile.path)
    folder = os.path.normcase(os.path.realpath(path.parent))
    return "" if folder == os.path.normcase(os.path.realpath(resource("profiles"))) else path.name


def full_name(profile: EngineProfile) -> str:
    """Return name, revision and, unless the program ships with it, the file: never two profiles under one name."""
    parts = [profile.name]
    if profile.revision:
        parts.append(f"revision {profile.revision}")
    file = own_file(profile)
    if file:
        parts.append(f"from {file}")
    return ", ".join(parts)


def is_file_of(profile: EngineProfile, file: str | os.PathLike[str]) -> bool:
    """Return whether the profile was read from this file, however its path is written."""
    if not profile.path:
        return False
    return os.path.normcase(os.path.realpath(profile.path)) == os.path.normcase(os.path.realpath(file))
