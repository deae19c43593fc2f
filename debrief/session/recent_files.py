"""The recordings that were opened last: where they are, of which day, and what their verdict was."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.session.importing.remembered_words import day_words
from debrief.words.events import FindingSpec, headline_key, headline_of

if TYPE_CHECKING:
    from debrief.session.session import Session

MOST_RECENT = 10


@dataclass(frozen=True)
class RecentFile:
    """One recording.

    Attributes
    ----------
    path : str
        Whole path of the file.
    day : str
        Day of the recording, ``2031-05-04``; empty where its file tells none.
    verdict : str
        Key of the word of its verdict (`words.events.headline_of`); empty where nobody knows it.
    """

    path: str
    day: str = ""
    verdict: str = ""

    @property
    def name(self) -> str:
        """Name of the file."""
        return Path(self.path).name

    @property
    def is_there(self) -> bool:
        """Whether the file is where it was."""
        return Path(self.path).is_file()

    @property
    def finding(self) -> FindingSpec | None:
        """The word of its verdict with its sign; None where it is not known."""
        return headline_of(self.verdict)

    def words(self, is_there: bool = True) -> str:
        """Return name, day and verdict in one line; in place of the verdict that the file is missing.

        Examples
        --------
        >>> RecentFile("/a/b.csv", "2031-05-04", "exceeded").words()
        'b.csv · 4 May 2031 · Exceeded'
        >>> RecentFile("/a/b.csv").words(is_there=False)
        'b.csv · no date · not found'
        """
        spec = self.finding
        said = (spec.title if spec is not None else "") if is_there else "not found"
        return " · ".join(filter(None, (self.name, day_words(self.day) or "no date", said)))


def recent_file(session: Session) -> RecentFile:
    """Return what is remembered of the recording on the table."""
    assessment, start = session.assessment, session.recording.identity.start
    return RecentFile(
        str(session.path.resolve()),
        "" if start is None else start.date().isoformat(),
        headline_key(assessment.verdict, assessment.events),
    )


def with_newest(files: Sequence[RecentFile], newest: RecentFile) -> tuple[RecentFile, ...]:
    """Return the list with a file on top, each file once, no more than `MOST_RECENT`."""
    return (newest, *(one for one in files if one.path != newest.path))[:MOST_RECENT]


def recent_text(files: Iterable[RecentFile]) -> str:
    """Return the list as `recent_from` reads it."""
    return json.dumps([asdict(one) for one in files])


def recent_from(text: str) -> tuple[RecentFile, ...]:
    """Return the list that was kept as text; what cannot be read is left out."""
    try:
        rows = json.loads(text)
    except ValueError:
        return ()
    out: list[RecentFile] = []
    names = [one.name for one in fields(RecentFile)]
    for row in rows if isinstance(rows, list) else ():
        kept = [row.get(name, "") for name in names] if isinstance(row, dict) else [""]
        if kept[0] and all(isinstance(value, str) for value in kept):
            out.append(RecentFile(*kept))
    return tuple(out[:MOST_RECENT])
