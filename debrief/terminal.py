"""The one way in which a command speaks: nothing that it prints steers the terminal or holds a password."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TextIO

from debrief.errors import UserError
from debrief.words.clean import in_lines, one_line
from debrief.words.reasons import reason
from debrief.words.shortened import shortened
from debrief.words.visible import visible


def prepare_streams() -> None:
    """Let no strange character in a file name or header stop the output."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")


def is_utf8() -> bool:
    """Whether standard output takes every character."""
    return (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "") == "utf8"


class StreamLost(UserError):
    """Standard output is closed or full: what was to be printed there is lost."""


@contextmanager
def _standard_output() -> Iterator[TextIO]:
    """Give standard output, flushed at the end of the block.

    Raises
    ------
    StreamLost
        It is closed or full.
    BrokenPipeError
        Who read it has gone away.
    """
    if sys.stdout is None:
        raise StreamLost("Standard output is closed: open it, or send it to a file.")
    try:
        yield sys.stdout
        sys.stdout.flush()
    except BrokenPipeError:
        _silence(sys.stdout)
        raise
    except OSError as error:
        _silence(sys.stdout)
        raise StreamLost(f"Standard output could not be written: {reason(error)}.") from None


def _silence(stream: TextIO) -> None:
    """Send the rest of a stream nowhere: what is left in its buffer would fail once more at the end."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def flush() -> None:
    """Have standard output written, if there is any; see `say` for what is raised."""
    if sys.stdout is not None:
        with _standard_output():
            pass


def say(line: str) -> None:
    """Print one line on standard output and flush it; a line break that it holds is shown, and makes none.

    Raises
    ------
    StreamLost
        It is closed or full.
    BrokenPipeError
        Who read it has gone away.
    """
    with _standard_output() as out:
        print(visible(line), file=out)


def say_lines(text: str) -> None:
    """Print a text, in lines that the program made, on standard output and flush it; see `say`."""
    with _standard_output() as out:
        print(visible(text, keep="\n").removesuffix("\n"), file=out)


def say_data(text: str | Iterable[str]) -> None:
    """Print what other programs read, whole or in pieces, as it is: nothing in it acts, see `words.visible.inert_json`."""
    with _standard_output() as out:
        for piece in [text] if isinstance(text, str) else text:
            out.write(piece)
        out.write("\n")


def send(data: bytes, *, readable: bool) -> None:
    """Write data to standard output, for a file or another program; see `say` for what else is raised.

    Parameters
    ----------
    data : bytes
    readable : bool
        Whether it is text in UTF-8, which a terminal gets with its control characters shown.

    Raises
    ------
    UserError
        Standard output is a terminal and the data are no text.
    """
    with _standard_output() as out:
        out.flush()
        if out.isatty():
            if not readable:
                raise UserError(
                    "This cannot be shown on a terminal: send it to a file or to another program."
                )
            data = visible(data.decode("utf-8", "replace"), keep="\r\n\t").encode()
        out.buffer.write(data)


class Account:
    """Tells what a command has done. Where standard output is lost it goes on, on standard error.

    Attributes
    ----------
    code : int
        The command's exit code as far as telling goes: 2 where standard output was closed or full, 0 also where
        who read it went away: everything is done then, and told.
    """

    def __init__(self) -> None:
        self.code = 0
        self._say: Callable[[str], None] = say_lines

    def tell(self, *lines: str) -> None:
        """Print lines, wherever they can be; a line break that one of them holds is shown, and makes none."""
        text = "\n".join(map(visible, lines))
        try:
            self._say(text)
        except BrokenPipeError:
            self._go_on("Nobody reads standard output any more", text)
        except StreamLost as lost:
            self.code = 2
            self._go_on(str(lost).rstrip("."), text)

    def _go_on(self, why: str, text: str) -> None:
        complain(f"{why}; it goes on, and the rest is told here.")
        self._say = lambda lines: complain_at_length(lines + "\n")
        self._say(text)


def complain(problem: object) -> None:
    """Print one line on standard error: what went wrong, or what the user should know.

    Parameters
    ----------
    problem : object
        A `UserError` or a sentence; its line breaks become spaces.
    """
    text = problem.at("command_line") if isinstance(problem, UserError) else problem
    complain_at_length(f"debrief: {shortened(one_line(text))}\n")


def complain_at_length(text: str) -> None:
    """Print lines on standard error, such as a traceback. Where nobody takes them the exit code has to tell."""
    if sys.stderr is not None:
        try:
            print(in_lines(text), end="", file=sys.stderr, flush=True)
        except OSError:
            _silence(sys.stderr)


_QUIET_S = 2.0


@contextmanager
def waiting(what: str) -> Iterator[None]:
    """Say on a terminal that work goes on, from two seconds on, and that it can be ended.

    Parameters
    ----------
    what : str
        The file, or what is done. Nothing is shown where standard error is no terminal.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    import threading
    import time

    done, begun = threading.Event(), time.monotonic()
    text = ""

    def show() -> None:
        nonlocal text
        while not done.wait(1.0 if text else _QUIET_S):
            text = (
                f"debrief: {one_line(shortened(what, 50))}: {time.monotonic() - begun:.0f} s, Ctrl-C ends it"
            )
            sys.stderr.write(f"\r{text}")
            sys.stderr.flush()

    thread = threading.Thread(target=show, name="waiting", daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()
        if text:
            with contextlib.suppress(OSError):
                sys.stderr.write("\r" + " " * len(text) + "\r")
                sys.stderr.flush()
