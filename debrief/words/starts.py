"""What one of several starts is called, and the only one: nobody counts to one."""

from __future__ import annotations


def start_named(number: int, count: int, *, begins: bool = False) -> str:
    """Return what a start of an engine is called inside a sentence, or where one begins.

    Parameters
    ----------
    number : int
        From 1.
    count : int
        How many starts of this engine the recording holds.

    Examples
    --------
    >>> start_named(1, 1), start_named(2, 3, begins=True)
    ('the start', 'Start 2')
    """
    words = "the start" if count == 1 else f"start {number}"
    return f"{words[0].upper()}{words[1:]}" if begins else words


def in_start(number: int | None, count: int) -> str:
    """Return `` in start 2`` for what can only be in a start; nothing where there is one, or it is in none."""
    return "" if number is None or count == 1 else f" in {start_named(number, count)}"


def start_title(number: int, count: int) -> str:
    """Return what heads a start: ``Start``, or ``Start 2`` of several."""
    return "Start" if count == 1 else f"Start {number}"
