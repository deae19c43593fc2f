"""A line of the profile's file, as it is written there."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

from debrief.profile.model import EngineProfile

_LONGEST = 160


def profile_line(profile: EngineProfile | None, line: int | None) -> str:
    """Return the text of a line; empty where the file is gone or is another than the one that judged."""
    if profile is None or line is None:
        return ""
    lines = _lines(profile.path, profile.sha256)
    text = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


@lru_cache(maxsize=4)
def _lines(path: str, sha256: str) -> tuple[str, ...]:
    try:
        data = Path(path).read_bytes() if path else b""
    except OSError:
        return ()
    if hashlib.sha256(data).hexdigest() != sha256:
        return ()
    return tuple(data.decode("utf-8", "replace").splitlines())
