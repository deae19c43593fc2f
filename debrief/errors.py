"""What may be told to the user, apart from what is a bug."""

from __future__ import annotations

from debrief.words.clean import in_lines
from debrief.words.shortened import shortened


class UserError(Exception):
    """A problem that the user can do something about, worded for the user.

    The text is one sentence or two: what is wrong, where, and what to do. The command line prints it
    on standard error and exits with 2; the window shows it and stays usable. Everything else that is
    raised is a bug and is never shown as if it were the user's fault. A text of more than
    `debrief.words.shortened.MAX_MESSAGE_CHARS` loses its middle. It may quote a file: as text it holds no password
    and nothing that acts.
    """

    def __init__(self, text: str = "") -> None:
        # In this order: half a password would not be known as one.
        super().__init__(shortened(in_lines(text)))
