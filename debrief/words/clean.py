"""What goes to a person, a log or a terminal: without passwords, and nothing in it acts."""

from __future__ import annotations

from debrief.words.secrets import redacted
from debrief.words.visible import visible


def one_line(problem: object) -> str:
    """Return a problem as one line that can be shown to anybody; its line breaks become spaces."""
    return visible(" ".join(redacted(str(problem)).split()))


def in_lines(text: str) -> str:
    """Return a text in lines, such as a traceback, as it can be shown or logged."""
    return visible(redacted(text), keep="\n")
