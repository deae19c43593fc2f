"""What a profile is called: a copy of a shipped one has its name and revision, so its file is named as well."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

from debrief.profile.model import EngineProfile
from debrief.resources import resource
from debrief.words.visible import without_symbols


def own_file(profile: EngineProfile) -> str:
    """Return the name of the profile's file; empty for a shipped profile and for one that came from no file."""
    if not profile.path:
        return ""
    return "" if is_shipped(Path(profile.path)) else profile.file_name


def is_shipped(path: Path) -> bool:
    """Return whether a file lies among the profiles that the program ships with."""
    return _same_place(path.resolve().parent, resource("profiles"))


def full_name(profile: EngineProfile) -> str:
    """Return name, revision and, unless the program ships with it, the file: never two profiles under one name."""
    parts = [profile.name]
    if profile.revision:
        parts.append(f"revision {profile.revision}")
    file = own_file(profile)
    if file:
        parts.append(f"from {file}")
    return ", ".join(parts)


def same_name(one: str, other: str) -> bool:
    """Return whether two names read the same: in any case, width, spacing or kind of dash, whatever is hidden in them."""
    return _as_read(one) == _as_read(other)


def _as_read(name: str) -> str:
    plain = unicodedata.normalize("NFKC", without_symbols(name)).casefold()
    # Dashes of any length, and the minus sign.
    plain = "".join("-" if unicodedata.category(c) == "Pd" or c == "\N{MINUS SIGN}" else c for c in plain)
    return " ".join(plain.split())


def is_file_of(profile: EngineProfile, file: str | os.PathLike[str]) -> bool:
    """Return whether the profile was read from this file, however its path is written."""
    return bool(profile.path) and _same_place(profile.path, file)


def _same_place(one: str | os.PathLike[str], other: str | os.PathLike[str]) -> bool:
    return os.path.normcase(os.path.realpath(one)) == os.path.normcase(os.path.realpath(other))
