"""The command ``debrief history``."""
