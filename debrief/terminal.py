"""The one way in which a command speaks: nothing that it prints steers the terminal or holds a password."""

from __future__ import annotations

import errno
import os
import sys

from debrief.errors import UserError
from debrief.words.clean import in_lines, one_line
from debrief.words.visible import visible


def say(text: str, *, end: str = "\n") -> None:
    """Print a text of the program, in lines that the program made, on standard output and flush it."""
    print(visible(text, keep="\n"), end=end, flush=True)


def say_data(text: str) -> None:
    """Print what other programs read, as it is: nothing in it acts, see `words.visible.inert_json`."""
    print(text, flush=True)


def send(data: bytes, *, readable: bool) -> None:
    """Write data to standard output, for a file or another program.

    Parameters
    ----------
    data : bytes
    readable : bool
        Whether it is text in UTF-8, which a terminal gets with its control characters shown.

    Raises
    ------
    UserError
        Standard output is a terminal and the data are no text.
    OSError
        It is closed, or cannot be written.
    """
    if sys.stdout is None:
        raise OSError(errno.EBADF, os.strerror(errno.EBADF))
    sys.stdout.flush()
    if sys.stdout.isatty():
        if not readable:
            raise UserError("This cannot be shown on a terminal: send it to a file or to another program.")
        data = visible(data.decode("utf-8", "replace"), keep="\r\n\t").encode()
    sys.stdout.buffer.write(data)
    sys.stdout.buffer.flush()


def complain(problem: object) -> None:
    """Print one line on standard error: what went wrong, or what the user should know.

    Parameters
    ----------
    problem : object
        A `UserError` or a sentence; its line breaks become spaces.
    """
    print(f"debrief: {one_line(problem)}", file=sys.stderr, flush=True)


def complain_at_length(text: str) -> None:
    """Print lines on standard error, such as a traceback."""
    print(in_lines(text), end="", file=sys.stderr, flush=True)
