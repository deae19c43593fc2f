"""Long work of one piece on a thread of its own, so that whoever waits for it can break it off."""

from __future__ import annotations

import threading
from collections.abc import Callable, Generator
from functools import partial
from typing import Generic, TypeVar

Told = TypeVar("Told")
Made = TypeVar("Made")

_LOOK_S = 0.05


class _BrokenOff(Exception):
    """Nobody waits for the work any more."""


class _Work(threading.Thread, Generic[Made]):
    """Does the work, and keeps what it made or what went wrong."""

    def __init__(self, work: Callable[[Callable[[], None]], Made], stopped: threading.Event) -> None:
        super().__init__(name="apart")
        self._work = work
        self._stopped = stopped
        self.ended = threading.Event()
        self.made: list[Made] = []
        self.error: BaseException | None = None

    def run(self) -> None:
        try:
            self.made.append(self._work(partial(_between, self._stopped)))
        except _BrokenOff:
            pass
        except BaseException as error:
            # Handed over: it is raised where it is waited for.
            self.error = error
        finally:
            self.ended.set()


def _between(stopped: threading.Event) -> None:
    """Raise when nobody waits any more.

    What was made may go on calling it when it works out a part that was left for later: it knows nothing of the
    thread, so that a recording is freed when it is closed.
    """
    if stopped.is_set():
        raise _BrokenOff


def apart(work: Callable[[Callable[[], None]], Made], told: Told) -> Generator[Told, None, Made]:
    """Do the work and return what it made; yields `told` again and again meanwhile.

    Parameters
    ----------
    work : callable
        Takes a callable, which it calls now and then between two parts; when this generator was closed that
        raises, and the work ends there.
    told : object
        What is said of it while it goes on.

    Raises
    ------
    BaseException
        What the work raised.
    """
    stopped = threading.Event()
    thread = _Work(work, stopped)
    thread.start()
    try:
        yield told
        while not thread.ended.wait(_LOOK_S):
            yield told
    except BaseException:
        stopped.set()
        raise
    finally:
        thread.join()
    if thread.error is not None:
        raise thread.error
    return thread.made.pop()
