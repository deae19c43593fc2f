"""What happened: pure numbers, no Qt, no files, no clock. `assess` is the only door."""

from __future__ import annotations

from debrief.analysis.assess import assess
from debrief.analysis.model import Assessment, Event, Start

__all__ = ["Assessment", "Event", "Start", "assess"]
