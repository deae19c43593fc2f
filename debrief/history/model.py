"""Values that the history hands out. Nothing here loads the database."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from debrief.errors import UserError
from debrief.history.measures import Kept
from debrief.words.events import VERDICTS, FindingSpec
from debrief.words.visible import visible

_NO_VALUES: Mapping[str, Kept] = MappingProxyType({})


def _show(row: object, *names: str) -> None:
    """Make texts visible as they come: a history may hold what this program never wrote."""
    for name in names:
        value = getattr(row, name)
        if value is not None:
            object.__setattr__(row, name, visible(value))


@dataclass(frozen=True)
class Flight:
    """A kept recording, as listed. `start` is as the file or the user told it; None where undated.

    `engines` are the names under which it is trended; `untrended` says why it is not, or is empty.
    """

    sha256: str
    file_name: str
    aircraft: str | None
    engine_serial: str | None
    start: str | None
    duration_s: float
    profile: str | None
    verdict: str
    sentence: str
    starts: int
    events: int
    engines: tuple[str, ...]
    untrended: str
    added_at: str
    start_epoch_s: float | None = None
    path: str = ""
    """Where the file was when it was kept."""
    finding: FindingSpec = VERDICTS["within"]
    """The word for what was found, as the verdict's sentence begins, with its sign."""
    listed: str = VERDICTS["within"].title
    """The same where the sentence has no room: with cautions that the word does not tell."""

    def __post_init__(self) -> None:
        _show(self, "file_name", "aircraft", "engine_serial", "profile", "sentence")


@dataclass(frozen=True)
class PastStart:
    """One start of the history with its numbers. `at_epoch_s` is None where the recording is undated.

    `excluded` is the reason why a person left it out of the normal range, or None.
    """

    sha256: str
    engine: int
    number: int
    engine_key: str | None
    at_epoch_s: float | None
    kind: str
    outcome: str
    power: str
    values: Mapping[str, Kept] = field(default_factory=lambda: _NO_VALUES)
    excluded: str | None = None
    file_name: str = ""

    def __post_init__(self) -> None:
        _show(self, "excluded", "file_name")


LONGEST_NOTE = 1_000_000
"""Characters."""


def require_note_text(text: str) -> None:
    """Refuse what is no note.

    Raises
    ------
    UserError
        It is empty, or longer than a history takes.
    """
    if not text.strip():
        raise UserError("An empty note is not kept: write something, or remove the note.")
    if len(text) > LONGEST_NOTE:
        raise UserError(f"A note has at most {LONGEST_NOTE} characters, this one {len(text)}: write less.")


@dataclass(frozen=True)
class Note:
    """An instructor's or technician's note. `time_s` is None where it belongs to the whole flight.

    `version` tells which change made it so; `changed_at` is for people to read and decides nothing.
    Its words are a person's own, to be edited again: they stay as they are and are made visible where they are shown.
    """

    note_id: str
    sha256: str
    text: str
    author: str = ""
    time_s: float | None = None
    event_kind: str | None = None
    changed_at: str = ""
    version: str = ""


@dataclass(frozen=True)
class Maintenance:
    """A maintenance action: what is usual is learnt anew from here, unless it was taken back."""

    action_id: str
    engine_key: str
    at_epoch_s: float
    what: str
    author: str = ""
    withdrawn: bool = False

    def __post_init__(self) -> None:
        _show(self, "what", "author")
