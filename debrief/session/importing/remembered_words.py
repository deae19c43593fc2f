"""What is remembered for a kind of file, in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from debrief.recording.matching.remembered import Kept


def day_words(day: str) -> str:
    """Return a day as it is read; empty where none is known.

    Examples
    --------
    >>> day_words("2031-05-04")
    '4 May 2031'
    """
    try:
        when = date.fromisoformat(day)
    except ValueError:
        return ""
    return f"{when.day} {when:%b %Y}"


def remembered_words(kept: Kept, profiles: Mapping[str, str]) -> str:
    """Return what is remembered and since when.

    Parameters
    ----------
    kept : Kept
    profiles : mapping of str to str
        Names of the profiles, by the name of the file.

    Examples
    --------
    >>> remembered_words(Kept(("ng=N1",), 10.0, "tg7", aircraft="ZZ-A", on="2031-05-04"), {"tg7": "Training"})
    'Remembered on 4 May 2031 for this kind of file: columns, 10 samples per second, profile Training, aircraft ZZ-A.'
    """
    parts = ["columns"] if kept.maps else []
    if kept.rate_hz is not None:
        parts.append(f"{kept.rate_hz:g} samples per second")
    if kept.profile is not None:
        parts.append(f"profile {profiles.get(kept.profile, Path(kept.profile).stem)}")
    if kept.aircraft is not None:
        parts.append(f"aircraft {kept.aircraft}")
    serials = [] if kept.engine_serial is None else [(1, kept.engine_serial)]
    serials += kept.engine_serials
    several = len(serials) > 1
    parts += [f"engine {f'{number}, serial ' if several else ''}{text}" for number, text in serials]
    day = day_words(kept.on)
    return f"Remembered{day and f' on {day}'} for this kind of file: {', '.join(parts)}."
