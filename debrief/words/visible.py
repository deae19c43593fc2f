"""Control characters made visible, so that a text from a file can neither steer a terminal nor hide its neighbours."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_HIDDEN = frozenset(["Cc", "Cf", "Cs", "Zl", "Zp"])
"""Unicode's general categories of what steers, joins, reverses or breaks a text without being seen."""


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
        marks, C1 controls, invisible joiners and spaces of no width, line and paragraph separators, halves of
        surrogate pairs. The same object where nothing is to be shown.

    Notes
    -----
    Doing it twice changes nothing. Data files (JSON, CSV, the history) hold texts as they were.

    References
    ----------
    ECMA-48 (control sequences); Unicode Standard Annex 9 (directional formatting characters) and chapter 23.2.

    Examples
    --------
    >>> visible("N1\x1b[8m")
    'N1␛[8m'
    """
    if text.isascii() and text.isprintable():  # nearly all of them
        return text
    return "".join(
        one if one in keep else _shown(one) if unicodedata.category(one) in _HIDDEN else one for one in text
    )


@lru_cache(maxsize=256)
def _shown(one: str) -> str:
    code = ord(one)
    if code < 0x20:
        return chr(0x2400 + code)
    return "\u2421" if code == 0x7F else f"<U+{code:04X}>"
