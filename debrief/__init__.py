"""Debrief a turbine engine start or flight from its recording."""

__version__ = "0.1.0"
