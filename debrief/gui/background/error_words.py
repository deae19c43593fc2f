"""How an error is told: a sentence for the user, or a fault of the program with details to copy."""

from __future__ import annotations

import logging
import time
import traceback
from collections.abc import Callable

from debrief.errors import UserError
from debrief.words.clean import in_lines, one_line

log = logging.getLogger(__name__)

BUG = (
    "The program failed here; this is its fault, not the recording's, and nothing was changed. "
    "Copy the details to report it."
)
_QUIET_S = 10.0


def told_of(error: BaseException, bug: str = BUG) -> tuple[str, str]:
    """Return the words for an error, and details to copy, which only a fault of the program has; log that."""
    if isinstance(error, UserError):
        return one_line(error), ""
    details = in_lines("".join(traceback.format_exception(error)))
    log.error("A fault of the program:\n%s", details)
    return bug, details


def kind_of(error: BaseException) -> str:
    """Return what two faults have in common that come from the same line: a timer repeats one many times a second."""
    frames = traceback.extract_tb(error.__traceback__)
    where = f"{frames[-1].filename}:{frames[-1].lineno}" if frames else ""
    return f"{type(error).__name__} at {where}"


class Repeats:
    """Tells a fault from one that only goes on.

    Parameters
    ----------
    clock : callable
        Seconds; injected so that a test can let them pass.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._last_s: dict[str, float] = {}

    def goes_on(self, error: BaseException) -> bool:
        """Return whether a fault of the same kind came within the last ten seconds, which this one prolongs."""
        kind, now = kind_of(error), self._clock()
        before = self._last_s.get(kind)
        self._last_s[kind] = now
        return before is not None and now - before < _QUIET_S
