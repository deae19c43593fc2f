"""What a person can do about something that was not judged: which command of the window tells it."""

from __future__ import annotations

from debrief.analysis.model import NotJudged
from debrief.analysis.rules.starter_duty import REST_BEFORE
from debrief.analysis.verdict import EVERY_LIMIT
from debrief.recording.model import Recording
from debrief.words.channels import base_name, channel_symbol

_REST = (
    "Enter it: File, Starter rest before the recording; or add the engine's earlier flights to the history."
)


def cure_words(item: NotJudged, recording: Recording) -> str:
    """Return how it can be told in one sentence; empty where nothing in the window can.

    A channel that is not in the recording may be there under a name that nobody knows.
    """
    if item.what == REST_BEFORE:
        return _REST
    if item.what == EVERY_LIMIT:
        return "It can be told: File, Engine profile."
    if item.channel is not None and recording.get(base_name(item.channel), item.engine) is None:
        return f"If the file has {channel_symbol(item.channel)} under another name, it can be told: File, Columns."
    return ""
