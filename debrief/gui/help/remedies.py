"""What a person can do about something that was not judged: which command of the window tells it."""

from __future__ import annotations

from dataclasses import dataclass

from debrief.analysis.model import NotJudged
from debrief.analysis.rules.starter_duty import REST_BEFORE
from debrief.analysis.verdict import EVERY_LIMIT
from debrief.recording.model import Recording
from debrief.words.channels import base_name, channel_symbol


@dataclass(frozen=True)
class Cure:
    """A way to settle it: in words, and the command of the menus with the words of its button."""

    words: str
    command: str
    button: str


FIRST_START = "first_start"
"""The command of the button that says so in one click; it stands in no menu."""
_REST = Cure(
    "Enter it: File, Starter rest before the recording; or add the engine's earlier flights to the history.",
    "starter_rest",
    "Starter rest...",
)
_FIRST_START = Cure(_REST.words, FIRST_START, "First start today")
_PROFILE = Cure("To fix: File, Engine profile.", "profile", "Choose a profile...")


def cures_of(item: NotJudged, recording: Recording) -> tuple[Cure, ...]:
    """Return how it can be told; nothing where nothing in the window can.

    A channel that is not in the recording may be there under a name that nobody knows.
    """
    if item.what == REST_BEFORE:
        return (_FIRST_START, _REST)
    if item.what == EVERY_LIMIT:
        return (_PROFILE,)
    if item.channel is not None and recording.get(base_name(item.channel), item.engine) is None:
        words = f"If the file has {channel_symbol(item.channel)} under another name: File, Columns."
        return (Cure(words, "columns", "Columns..."),)
    return ()


def cure_words(item: NotJudged, recording: Recording) -> str:
    """Return how it can be told in one sentence; empty where nothing in the window can."""
    return next((cure.words for cure in cures_of(item, recording)), "")
