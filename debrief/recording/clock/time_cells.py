"""Reading many time cells at once: cells of one shape are taken apart by position, the others one by one.

The result is that of `stamp.read_stamp` for every cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date

import numpy as np
from numpy.typing import NDArray

from debrief.recording.clock.time_cell import FIRST_YEAR, LAST_YEAR, NS, read_stamp, stamp_spans
from debrief.recording.csv.cells import MAX_TIME_CHARS

CHUNK = 65_536
"""So many cells are read at a time: what that takes beside the result stays small."""
MAX_SHAPES = 12
_EPOCH = date(1970, 1, 1).toordinal()
_ZERO, _NINE = ord("0"), ord("9")
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Stamps:
    """Time cells taken apart, one entry per cell; see `stamp.Stamp` for the meaning.

    Attributes
    ----------
    valid, dated, zoned : (n,) bool array
    day : (n,) int64 array
        Days since 1970-01-01 where `dated`.
    nanoseconds : (n,) int64 array
        Since midnight, where `valid`.
    offset_s : (n,) int64 array
        Offset from UTC where `zoned`, [s].
    decimals : (n,) int64 array
    """

    valid: NDArray[np.bool_]
    dated: NDArray[np.bool_]
    zoned: NDArray[np.bool_]
    day: Ints
    nanoseconds: Ints
    offset_s: Ints
    decimals: Ints


def read_stamps(texts: Sequence[str], *, month_first: bool = False) -> Stamps:
    """Return all cells read; those that are no time are not `valid`."""
    count = len(texts)
    out = _none(count)
    for begin in range(0, count, CHUNK):
        some = _read_some(texts[begin : begin + CHUNK], month_first)
        for field in fields(out):
            getattr(out, field.name)[begin : begin + CHUNK] = getattr(some, field.name)
    return out


def _read_some(texts: Sequence[str], month_first: bool) -> Stamps:
    words = list(dict.fromkeys(texts))
    if len(words) < len(texts) // 2:
        # Dates and coarse clocks repeat: each distinct cell is read once.
        number = {word: index for index, word in enumerate(words)}
        at = np.fromiter((number[text] for text in texts), np.int64, len(texts))
        once = _read_some(words, month_first)
        return Stamps(*(getattr(once, field.name)[at] for field in fields(once)))
    out = _none(len(texts))
    for rows in _by_length(texts):
        _read_group(texts, rows, month_first, out)
    return out


def _none(count: int) -> Stamps:
    return Stamps(
        np.zeros(count, dtype=bool),
        np.zeros(count, dtype=bool),
        np.zeros(count, dtype=bool),
        np.zeros(count, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
        np.full(count, -2, dtype=np.int64),
    )


def _by_length(texts: Sequence[str]) -> list[Ints]:
    lengths = np.fromiter(map(len, texts), np.int64, len(texts))
    return [
        np.flatnonzero(lengths == length).astype(np.int64)
        for length in np.unique(lengths[lengths <= MAX_TIME_CHARS]).tolist()
        if length
    ]


def _read_group(texts: Sequence[str], rows: Ints, month_first: bool, out: Stamps) -> None:
    """Read cells of one length, shape by shape."""
    if rows.size < 8:
        _one_by_one(texts, rows, month_first, out)
        return
    try:
        joined = "".join([texts[row] for row in rows.tolist()]).encode("ascii")
    except UnicodeEncodeError:
        _one_by_one(texts, rows, month_first, out)
        return
    cells = np.frombuffer(joined, dtype=np.uint8).reshape(rows.size, -1)
    shape = np.where((cells >= _ZERO) & (cells <= _NINE), np.uint8(_ZERO), cells)
    left = np.ones(rows.size, dtype=bool)
    for _ in range(MAX_SHAPES):
        first = int(np.argmax(left))
        if not left[first]:
            return
        same = left & np.all(shape == shape[first], axis=1)
        chosen = np.flatnonzero(same)
        left &= ~same
        if chosen.size < 8 or not _by_position(
            texts[int(rows[first])], cells[chosen], rows[chosen], month_first, out
        ):
            _one_by_one(texts, rows[chosen], month_first, out)
    _one_by_one(texts, rows[left], month_first, out)


def _one_by_one(texts: Sequence[str], rows: Ints, month_first: bool, out: Stamps) -> None:
    known: dict[str, tuple[int, ...] | None] = {}
    for row in rows.tolist():
        text = texts[row]
        if text not in known:
            stamp = read_stamp(text, month_first=month_first)
            if stamp is None:
                known[text] = None
            else:
                offset = stamp.zone.utcoffset(None) if stamp.zone else None
                known[text] = (
                    stamp.day is not None,
                    stamp.zone is not None,
                    stamp.day.toordinal() - _EPOCH if stamp.day else 0,
                    stamp.nanoseconds,
                    round(offset.total_seconds()) if offset else 0,
                    stamp.decimals,
                )
        fields = known[text]
        if fields is None:
            continue
        out.valid[row] = True
        (
            out.dated[row],
            out.zoned[row],
            out.day[row],
            out.nanoseconds[row],
            out.offset_s[row],
            out.decimals[row],
        ) = fields


def _by_position(sample: str, cells: NDArray[np.uint8], rows: Ints, month_first: bool, out: Stamps) -> bool:
    """Read cells that differ in their digits only; return False where the sample does not show the shape."""
    taken = stamp_spans(sample, month_first=month_first)
    if taken is None:
        return False
    spans, named_month, half, sign = taken

    def number(name: str) -> Ints:
        begin, end = spans[name]
        value = np.zeros(rows.size, dtype=np.int64)
        for column in range(begin, end):
            value = value * 10 + (cells[:, column].astype(np.int64) - _ZERO)
        return value

    valid = np.ones(rows.size, dtype=bool)
    if "zh" in spans:
        zone_hours = number("zh")
        zone_minutes = number("zm") if "zm" in spans else np.zeros(rows.size, dtype=np.int64)
        valid &= (zone_hours <= 23) & (zone_minutes <= 59)
    dated = "y" in spans
    if dated:
        year = number("y")
        if spans["y"][1] - spans["y"][0] == 2:
            year += np.where(year < 70, 2000, 1900)
        month = np.full(rows.size, named_month, dtype=np.int64) if named_month else number("m")
        day = number("d")
        valid &= (year >= FIRST_YEAR) & (year <= LAST_YEAR) & (month >= 1) & (month <= 12)
        months = (np.clip(year, FIRST_YEAR, LAST_YEAR) - 1970) * 12 + np.clip(month, 1, 12) - 1
        starts = months.astype("M8[M]").astype("M8[D]").astype(np.int64)
        length = (months + 1).astype("M8[M]").astype("M8[D]").astype(np.int64) - starts
        valid &= (day >= 1) & (day <= length)
        out.day[rows] = np.where(valid, starts + day - 1, 0)
    decimals = -2
    if "mi" in spans:
        hours = number("h") if "h" in spans else np.zeros(rows.size, dtype=np.int64)
        minutes = number("mi")
        seconds = number("s") if "s" in spans else np.zeros(rows.size, dtype=np.int64)
        fraction = np.zeros(rows.size, dtype=np.int64)
        decimals = -1 if "s" not in spans else 0
        if "f" in spans:
            begin, end = spans["f"]
            decimals = end - begin
            spans["f"] = (begin, min(end, begin + 9))
            fraction = number("f") * 10 ** (9 - min(decimals, 9))
        if half >= 0:
            valid &= (hours >= 1) & (hours <= 12)
            hours = hours % 12 + 12 * half
        elif dated:
            valid &= hours <= 24
        if "h" in spans:
            valid &= minutes <= 59
        valid &= seconds <= 60
        out.nanoseconds[rows] = np.where(valid, ((hours * 60 + minutes) * 60 + seconds) * NS + fraction, 0)
    if "zh" in spans:
        out.zoned[rows] = valid
        out.offset_s[rows] = np.where(valid, (zone_hours * 60 + zone_minutes) * 60 * sign, 0)
    elif "utc" in spans:
        out.zoned[rows] = valid
    out.valid[rows] = valid
    out.dated[rows] = valid & dated
    out.decimals[rows] = np.where(valid, decimals, -2)
    return True
