"""Messages of bearable length, whatever names and cells they repeat."""

from __future__ import annotations

MAX_MESSAGE_CHARS = 800
"""Some ten lines of a terminal: the names of thirty columns fit, and what is wrong stands at the beginning."""
CUT = " [...] "


def shortened(text: str, most: int = MAX_MESSAGE_CHARS) -> str:
    """Return a text without its middle where it is longer than `most` characters; the same object where not.

    Two thirds of what is kept are its beginning.

    Examples
    --------
    >>> shortened("what is wrong with a very long name, and what to do", 30)
    'what is wrong wi [...] t to do'
    """
    if len(text) <= most:
        return text
    kept = most - len(CUT)
    end = kept // 3
    return f"{text[: kept - end]}{CUT}{text[len(text) - end :]}"


def listed(texts: list[str], most: int, more: str) -> list[str]:
    """Return at most `most` texts, each shortened, and how many more there are: ``and 7 more columns``."""
    out = [shortened(text) for text in texts[:most]]
    return [*out, f"and {len(texts) - most:,} more {more}"] if len(texts) > most else out
