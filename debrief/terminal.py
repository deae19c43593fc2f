"""The one way in which a command speaks: nothing that it prints steers the terminal or holds a password."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence

from debrief.words.secrets import redacted, secrets_in
from debrief.words.visible import visible


def say(text: str, *, end: str = "\n") -> None:
    """Print a text of the program, in lines, on standard output and flush it."""
    print(_clean(text), end=end, flush=True)


def complain(problem: object, arguments: Iterable[str] = ()) -> None:
    """Print one line on standard error: what went wrong, or what the user should know.

    Parameters
    ----------
    problem : object
        A `UserError` or a sentence; its line breaks become spaces.
    arguments : iterable of str
        Those of the command, so that a password among them is hidden.
    """
    print(f"debrief: {one_line(problem, arguments)}", file=sys.stderr, flush=True)


def one_line(problem: object, arguments: Iterable[str] = ()) -> str:
    """Return a problem as one line that can be shown to anybody."""
    return visible(redacted(" ".join(str(problem).split()), secrets_in(arguments)))


def shown_arguments(arguments: Sequence[str]) -> str:
    """Return the arguments of a command for the log, without the passwords in them."""
    return visible(redacted(repr(list(arguments)), secrets_in(arguments)))


def _clean(text: str) -> str:
    return visible(redacted(text), keep="\n")
