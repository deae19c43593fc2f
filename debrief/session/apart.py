"""Long work of one piece on a thread of its own, so that whoever waits for it can break it off."""

from __future__ import annotations

import threading
from collections.abc import Callable, Generator
from typing import Generic, TypeVar

Told = TypeVar("Told")
Made = TypeVar("Made")

_LOOK_S = 0.05


class _BrokenOff(Exception):
    """Nobody waits for the work any more."""


class _Work(threading.Thread, Generic[Made]):
    """Does the work, and keeps what it made or what went wrong."""

    def __init__(self, work: Callable[[Callable[[], None]], Made]) -> None:
        super().__init__(name="apart")
        self._work = work
        self._stopped = threading.Event()
        self.ended = threading.Event()
        self.made: list[Made] = []
        self.error: BaseException | None = None

    def run(self) -> None:
        try:
            self.made.append(self._work(self._between))
        except _BrokenOff:
            pass
        except BaseException as error:
            # Handed over: it is raised where it is waited for.
            self.error = error
        finally:
            self.ended.set()

    def _between(self) -> None:
        # What was made may call it later, when it works out a part that was left for then.
        if self._stopped.is_set() and not self.ended.is_set():
            raise _BrokenOff

    def stop(self) -> None:
        """Break off at the next call of `between`, and wait for that."""
        self._stopped.set()
        self.join()


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
    thread = _Work(work)
    thread.start()
    try:
        yield told
        while not thread.ended.wait(_LOOK_S):
            yield told
    finally:
        thread.stop()
    if thread.error is not None:
        raise thread.error
    return thread.made[0]
