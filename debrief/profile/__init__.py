"""What is allowed: the engine profile, read from TOML and checked."""

from __future__ import annotations

from debrief.profile.model import EngineProfile, Limit

__all__ = ["EngineProfile", "Limit"]
