"""The refusal of a flight that the history has already."""

from __future__ import annotations

from debrief.errors import UserError


class SameFlight(UserError):
    """A flight that the history has already from another file: kept twice, its starts would count twice."""
