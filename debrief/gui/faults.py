"""How an error of a job is told: a sentence for the user, or a fault of the program with details to copy."""

from __future__ import annotations

import logging
import traceback

from debrief.errors import UserError

log = logging.getLogger(__name__)

BUG = (
    "The program failed here; this is its fault, not the recording's, and nothing was changed. "
    "Copy the details to report it."
)


def told_of(error: BaseException, bug: str = BUG) -> tuple[str, str]:
    """Return the words for an error, and details to copy, which only a fault of the program has; log that."""
    if isinstance(error, UserError):
        return str(error), ""
    details = "".join(traceback.format_exception(error))
    log.error("A fault of the program:\n%s", details)
    return bug, details
