"""What one cell of a file says: a number, nothing, a time, or a word."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from debrief.words.units import find_unit

MISSING_MARKS = frozenset(
    ["", "-", "--", "---", "----", "-----", "n/a", "na", "#n/a", "n.a.", "nan", "-nan", "+nan", "null", "none",
     "nil", "missing", "*", "**", "***", "****", "?", "??", "???", "....", "...", "#value!", "#div/0!", "#ref!",
     "1.#qnan", "-1.#qnan", "1.#ind", "-1.#ind", "nan(ind)", "-nan(ind)", "<na>", "nat", "xxx", "_", "__"]
)  # fmt: skip
"""Cells that mean "not sampled", in lower case."""

INFINITE_MARKS = frozenset(
    ["inf", "+inf", "-inf", "infinity", "+infinity", "-infinity", "1.#inf", "-1.#inf", "∞", "+∞", "-∞"]
)
"""Cells that a program wrote where it had no finite number, in lower case."""

_PLAIN = r"[+-]?(?:\d+(?:{d}\d*)?|{d}\d+)(?:[eE][+-]?\d+)?"
_GROUPED = r"[+-]?\d{{1,3}}(?:{g}\d{{3}})+(?:{d}\d+)?"
_SPACES = "\u00a0\u202f\u2009"
_SPACE_GROUPS = re.compile(r"^[+-]?\d{1,3}(?:[ '’]\d{3})+(?:[.,]\d+)?$")
_NUMBER = {
    ".": re.compile("^(?:" + _PLAIN.format(d=r"\.") + ")"),
    ",": re.compile("^(?:" + _PLAIN.format(d=",") + ")"),
}
_GROUP = {
    ".": re.compile("^" + _GROUPED.format(g=",", d=r"\.") + "$"),
    ",": re.compile("^" + _GROUPED.format(g=r"\.", d=",") + "$"),
}
_TRANSLATE = str.maketrans(
    {"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "}
)

_TIME_WORD = re.compile(
    r"^(?:"
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}(?:[T_ ].*\d.*)?"  # 2024-05-01 and what may follow
    r"|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}(?:[T_ ].*\d.*)?"
    r"|\d{1,2}[- ][A-Za-z]{3}[- ]\d{2,4}(?:[T_ ].*\d.*)?"
    r"|\d{8}T\d{6}.*"
    r"|[+-]?\d{1,4}:\d{2}(?::\d{2})?(?:[.,:]\d+)?\s*(?:[AaPp][Mm])?(?:Z|[+-]\d{2}:?\d{2})?"
    r")$"
)


@dataclass(frozen=True)
class Cell:
    """What a cell holds: `kind` is ``number``, ``missing``, ``infinite`` or ``word``.

    `value` is the number (NaN otherwise); `suffix` is the unit written after it, as found.
    """

    kind: str
    value: float
    suffix: str = ""


_NAN = float("nan")
_MISSING = Cell("missing", _NAN)
_INFINITE = Cell("infinite", _NAN)
_WORD = Cell("word", _NAN)


MAX_TIME_CHARS = 64
"""No time is written longer, and the pattern takes the square of the length for what is none."""
MAX_KEPT_CHARS = 64
"""Longer cells are read anew each time, since what is kept of 65,536 of them would fill the memory."""


def read_cell(text: str, decimal: str = ".") -> Cell:
    """Return what a cell holds.

    Parameters
    ----------
    text : str
        The cell as found.
    decimal : str
        The file's decimal mark, ``.`` or ``,``; the other one groups thousands where it stands before
        exactly three digits.

    Notes
    -----
    A number may carry a known unit (``612 °C``, ``78 %``). A number too large for a float counts as
    infinite: it is not a value.
    """
    return _read(text, decimal) if len(text) > MAX_KEPT_CHARS else _kept(text, decimal)


@lru_cache(maxsize=65536)
def _kept(text: str, decimal: str) -> Cell:
    return _read(text, decimal)


def _read(text: str, decimal: str) -> Cell:
    cell = text.strip().translate(_TRANSLATE).strip()
    folded = cell.casefold()
    if folded in MISSING_MARKS:
        return _MISSING
    if folded in INFINITE_MARKS:
        return _INFINITE
    match = _NUMBER[decimal].match(cell)
    if match is None:
        return _WORD
    digits, rest = match.group(), cell[match.end() :]
    if not rest:
        return _number(digits.replace(",", ".") if decimal == "," else digits, "")
    if _GROUP[decimal].match(cell):
        group = "," if decimal == "." else "."
        return _number(cell.replace(group, "").replace(",", "."), "")
    if _SPACE_GROUPS.match(cell):
        return _number(re.sub("[ '’]", "", cell).replace(",", "."), "")
    suffix = rest.strip()
    if len(suffix) <= 12 and suffix[:1] not in "0123456789.,:/-+" and find_unit(suffix):
        return _number(digits.replace(",", ".") if decimal == "," else digits, suffix)
    return _WORD


def _number(digits: str, suffix: str) -> Cell:
    value = float(digits)
    return Cell("number", value, suffix) if abs(value) != float("inf") else _INFINITE


def is_time_word(text: str) -> bool:
    """Return whether a cell looks like a clock time or a date, such as ``12:30:05.5`` or ``2024-05-01``."""
    word = text.strip()
    return len(word) <= MAX_TIME_CHARS and _TIME_WORD.match(word) is not None


def is_plain_number(text: str, decimal: str = ".") -> bool:
    """Return whether a cell is a bare number: no unit, no grouping."""
    match = _NUMBER[decimal].match(text.strip())
    return match is not None and match.end() == len(text.strip())
