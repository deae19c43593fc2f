"""What may be told to the user, apart from what is a bug."""

from __future__ import annotations

from debrief.words.clean import in_lines
from debrief.words.remedies import Place, text_at
from debrief.words.shortened import shortened


class UserError(Exception):
    """A problem that the user can do something about, worded for the user.

    The text is one sentence or two: what is wrong, where, and what to do. The command line prints it
    on standard error and exits with 2; the window shows it and stays usable. Everything else that is
    raised is a bug and is never shown as if it were the user's fault. A text of more than
    `debrief.words.shortened.MAX_MESSAGE_CHARS` loses its middle. It may quote a file: as text it holds no password
    and nothing that acts. What to do is a value (`debrief.words.remedies`): as text it is worded for the window, and names
    no option; the command line asks for its own words.
    """

    def __init__(self, text: str = "") -> None:
        super().__init__(_shown(text))
        self.said = text

    def at(self, place: Place) -> str:
        """Return the text as it is worded in a place."""
        return _shown(text_at(self.said, place))


def _shown(text: str) -> str:
    # In this order: half a password would not be known as one.
    return shortened(in_lines(text))
