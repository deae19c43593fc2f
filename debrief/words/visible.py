"""Control characters made visible, so that a text from a file can neither steer a terminal nor hide its neighbours."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_HIDDEN = frozenset(["Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"])
"""Unicode's general categories of what steers, joins, reverses or breaks a text without being seen, and of what no
standard gives a shape (unassigned, private use)."""

_MARKS = frozenset(["Mn", "Me"])
MARKS_AT_MOST = 4
"""On one letter; the languages that pile up most of them need three or four."""

_BLANK = (
    (0x034F, 0x034F),
    (0x115F, 0x1160),
    (0x17B4, 0x17B5),
    (0x180B, 0x180F),
    (0x2800, 0x2800),
    (0x3164, 0x3164),
    (0xFE00, 0xFE0F),
    (0xFFA0, 0xFFA0),
    (0xE0000, 0xE0FFF),
)
"""Letters, marks and signs that show nothing: of Unicode's property Default_Ignorable_Code_Point those of other
categories than `_HIDDEN` (fillers, variation selectors), and the pattern of braille without a dot."""

_SYMBOL = re.compile("<U\\+[0-9A-F]{4,6}>|[\u2400-\u241f\u2421]")
_PARTING = frozenset(chr(code) for code in range(0x2400, 0x2422))
"""Symbols of what parts words: control characters."""


def visible(text: str, *, keep: str = "") -> str:
    r"""Return the text with a symbol in place of every character that would act instead of being read.

    Parameters
    ----------
    text : str
        From a recording, a profile, a history or the name of a file.
    keep : str
        Characters that stay, such as the line feeds of a text that the program itself broke into lines.

    Returns
    -------
    str
        C0 controls and DEL as their pictures (Unicode 2400 to 2421), any other as ``<U+202E>``: direction
        marks, C1 controls, invisible joiners and letters, spaces of no width, line and paragraph separators,
        halves of surrogate pairs, what no standard gives a shape; so also a mark without a letter before it and the
        fifth and later marks on one letter, which would cover the lines beside it. The same object where
        nothing is to be shown.

    Notes
    -----
    Doing it twice changes nothing. Letters stay letters, also of scripts that run from the right, and spaces of
    any width stay spaces.

    References
    ----------
    ECMA-48 (control sequences); Unicode Standard Annex 9 (directional formatting characters), Annex 44 (general
    categories, Default_Ignorable_Code_Point) and chapter 23.

    Examples
    --------
    >>> visible("N1\x1b[8m")
    'N1␛[8m'
    """
    if text.isascii() and text.isprintable():  # nearly all of them
        return text
    odd = {one for one in set(text) if one not in keep and _acts(one)}
    marks = any(unicodedata.category(one) in _MARKS for one in set(text) - odd)
    if not odd and not marks:
        return text
    if not marks:
        return "".join(_symbol(one) if one in odd else one for one in text)
    return _with_few_marks(text, odd)


def without_symbols(text: str) -> str:
    """Return a name as its reader would type it: without what is hidden in it, shown or not; to compare names by."""
    if text.isascii() and text.isprintable() and "<U+" not in text:
        return text
    return " ".join(_SYMBOL.sub(lambda found: " " if found[0] in _PARTING else "", visible(text)).split())


def acting(symbol: str) -> int:
    """Return the code of the control character that a picture of one stands for; of any other character its own."""
    code = ord(symbol)
    return 0x7F if code == 0x2421 else code - 0x2400 if 0x2400 <= code < 0x2420 else code


def inert_json(text: str) -> str:
    r"""Return JSON text in which every character that would act is escaped: the data stay the same when read.

    Parameters
    ----------
    text : str
        Made by `json.dumps`; its own line feeds stay.

    Examples
    --------
    >>> inert_json('{"aircraft": "a\u202eb"}')
    '{"aircraft": "a\\u202eb"}'
    """
    if text.isascii() and "\x7f" not in text:  # the rest of C0 has been escaped
        return text
    for one in {one for one in set(text) if one != "\n" and _acts(one)}:
        units = one.encode("utf-16-be", "surrogatepass").hex()
        text = text.replace(one, "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4)))
    return text


@lru_cache(maxsize=4096)
def _acts(one: str) -> bool:
    code = ord(one)
    return unicodedata.category(one) in _HIDDEN or any(low <= code <= high for low, high in _BLANK)


def _symbol(one: str) -> str:
    code = ord(one)
    if code < 0x20:
        return chr(0x2400 + code)
    return "\u2421" if code == 0x7F else f"<U+{code:04X}>"


def _with_few_marks(text: str, odd: set[str]) -> str:
    out: list[str] = []
    free = 0  # how many marks the letter before may still carry
    for one in text:
        if one in odd or one == "\n":
            out.append(_symbol(one) if one in odd else one)
            free = 0
        elif unicodedata.category(one) not in _MARKS:
            out.append(one)
            free = MARKS_AT_MOST
        elif free:
            out.append(one)
            free -= 1
        else:
            out.append(_symbol(one))
    return "".join(out)
