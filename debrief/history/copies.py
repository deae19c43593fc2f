"""Whole copies of an SQLite history that are kept beside it: before a new form, and once a week.

A copy is made under a temporary name, checked and counted against what it was made from, flushed to disk and
only then named, so that one that was cut off never looks whole. Nothing here loads SQLAlchemy.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

_NAME = re.compile(r"\.(?:form-\d+|week)-(\d{8}-\d{6})(?:-\d+)?$")


@dataclass(frozen=True)
class Copy:
    """A whole copy: its file, and when it was made (UTC)."""

    file: Path
    made: datetime

    @property
    def day(self) -> str:
        """The day it was made, as ``2031-05-04``."""
        return self.made.date().isoformat()


def copies_of(place: str | Path) -> tuple[Copy, ...]:
    """Return the whole copies that are kept of a history, the newest first."""
    source = Path(place)
    found = []
    try:
        names = sorted(source.parent.glob(f"{_literal(source.name)}.*"))
    except OSError:
        return ()
    for file in names:
        match = _NAME.fullmatch(file.name.removeprefix(source.name))
        if match is not None:
            found.append(Copy(file, datetime.strptime(match[1], "%Y%m%d-%H%M%S")))
    return tuple(sorted(found, key=lambda copy: (copy.made, copy.file.name), reverse=True))


def newest_copy(place: str | Path) -> Copy | None:
    """Return the newest whole copy of a history; None where there is none."""
    return next(iter(copies_of(place)), None)


def _literal(name: str) -> str:
    return re.sub(r"([\[\]*?])", r"[\1]", name)
