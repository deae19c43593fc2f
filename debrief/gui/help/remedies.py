"""What a person can do about something that was not judged: which command of the window tells it."""

from __future__ import annotations

from debrief.analysis.model import NotJudged
from debrief.words.channels import channel_symbol

_REST = "It can be told: File, Starter rest before the recording; or by keeping the engine's earlier flights in the history."


def cure_words(item: NotJudged) -> str:
    """Return how it can be told in one sentence; empty where nothing in the window can."""
    if item.what == "rest before the first starter run":
        return _REST
    if item.what == "every limit":
        return "It can be told: File, Engine profile."
    if item.channel is not None and "not recorded" in item.why:
        return f"If the file has {channel_symbol(item.channel)} under another name, it can be told: File, Columns."
    return ""
