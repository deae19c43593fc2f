"""Texts of others in widgets that would read more into them: markup, images, shortcuts, control characters.

A text that comes from a file, its name, a profile, a history or a note is shown as it is written. What only the
program itself says may hold markup and shortcuts.
"""

from __future__ import annotations

import re
import textwrap
from html import escape

from debrief.words.visible import visible

_ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"
_LINE = 100
_LONGEST_TIP = 2000
_LONGEST_ENTRY = 100
_LONGEST_WORD = 80
_MARKUP = re.compile("<[A-Za-z!/?]|&[A-Za-z#]")
"""More than Qt takes for markup; Python cannot ask it (`Qt::mightBeRichText`)."""
_LONG_WORDS = re.compile(rf"[^\s/\\]{{{_LONGEST_WORD + 1},}}")


def shortened(text: str, most: int) -> str:
    """Return the text, its middle left out where it is longer than `most`: a name differs at its ends."""
    if len(text) <= most:
        return text
    tail = (most - 1) // 2
    return text[: most - 1 - tail] + _ELLIPSIS + text[-tail:]


def entry(text: str) -> str:
    """Return a text of others for one line of a list, of a box to choose from, or of a title."""
    return shortened(visible(text), _LONGEST_ENTRY)


def unmarked(text: str) -> str:
    """Return a text of others for a button or a menu, where an ampersand would mark a key."""
    return entry(text).replace("&", "&&")


def titled(text: str) -> str:
    """Return a text of others for the title of a window, where ``[*]`` would be the mark of changes."""
    return visible(text).replace("[*]", "[*][*]")


def with_short_words(text: str) -> str:
    """Return a text whose words can be wrapped, each that is too long for any line without its middle."""
    return _LONG_WORDS.sub(lambda found: shortened(found.group(), _LONGEST_WORD), text)


def plain_tip(text: str) -> str:
    """Return a text as a tooltip: its lines wrapped, nothing of it read as markup.

    Notes
    -----
    A tooltip has no format of its own: Qt looks at the text and reads as markup what looks like it, and then loads
    the images that it names.
    """
    shown = visible(text, keep="\n")
    if len(shown) > _LONGEST_TIP:
        shown = shown[: _LONGEST_TIP - 1] + _ELLIPSIS
    lines = [
        line
        for given in shown.split("\n")
        for line in (textwrap.wrap(given, _LINE, break_on_hyphens=False) if len(given) > _LINE else [given])
    ]
    plain = "\n".join(lines)
    return f"<qt>{escape(plain).replace(chr(10), '<br>')}</qt>" if _MARKUP.search(plain) else plain
