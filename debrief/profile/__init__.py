"""What is allowed: the engine profile, read from TOML and checked."""

from __future__ import annotations

from debrief.profile.fields import ProfileError
from debrief.profile.loader import available, find, load
from debrief.profile.model import EngineProfile, Limit

__all__ = ["EngineProfile", "Limit", "ProfileError", "available", "find", "load"]
