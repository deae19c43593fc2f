"""Reading the cells of a time column: clock times, dates, ISO 8601, epoch, serial days, elapsed time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import FloatArray

NS = 1_000_000_000
DAY_S = 86400.0
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_ISO = re.compile(r"^(?P<y>\d{4})(?P<s>[-/.])(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})(?:[Tt _]+(?P<rest>.+))?$")
_BASIC = re.compile(r"^(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})(?:[Tt _](?P<rest>.+))?$")
_DAY_FIRST = re.compile(
    r"^(?P<a>\d{1,2})(?P<s>[-/.])(?P<b>\d{1,2})(?P=s)(?P<y>\d{4}|\d{2})(?:[Tt _,]+(?P<rest>.+))?$"
)
_NAMED = re.compile(
    r"^(?P<d>\d{1,2})[- ](?P<n>[A-Za-z]{3})[A-Za-z]*[- ](?P<y>\d{4}|\d{2})(?:[Tt _,]+(?P<rest>.+))?$"
)
_CLOCK = re.compile(
    r"^(?P<h>\d{1,4}):(?P<m>\d{2})(?::(?P<s>\d{2})(?:[.,:](?P<f>\d+))?)?\s*(?P<ap>[AaPp]\.?[Mm]\.?)?"
    r"\s*(?P<z>[Zz]|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?$"
)
_COMPACT_CLOCK = re.compile(
    r"^(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})(?:[.,](?P<f>\d+))?\s*(?P<z>[Zz]|[+-]\d{2}(?::?\d{2})?)?$"
)


@dataclass(frozen=True)
class Stamp:
    """One time cell.

    Attributes
    ----------
    day : date or None
        None for a clock time without a date.
    nanoseconds : int
        Since midnight (may pass 24 h for an elapsed clock).
    zone : tzinfo or None
        None when the cell tells no offset.
    decimals : int
        Printed decimals of the second; -1 where seconds are not printed; -2 for a bare date.
    """

    day: date | None
    nanoseconds: int
    zone: tzinfo | None
    decimals: int


@dataclass(frozen=True)
class ClockColumn:
    """A time column of text, read.

    Attributes
    ----------
    nanoseconds : (n,) int64 array
        Since 1970-01-01 (in UTC where zoned), or since midnight for clock times; where `valid`.
    valid : (n,) bool array
    dated : bool
    zoned : bool
    zone : tzinfo or None
        Of the first valid cell.
    resolution_s : float
        Smallest step that the cells can tell, [s].
    twelve_hours : bool
        Whether AM and PM were used.
    notes, questions : tuple of str
    """

    nanoseconds: NDArray[np.int64]
    valid: NDArray[np.bool_]
    dated: bool
    zoned: bool
    zone: tzinfo | None
    resolution_s: float
    notes: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()


def read_stamp(text: str, *, month_first: bool = False) -> Stamp | None:
    """Return a time cell read, or None where it is no time.

    Parameters
    ----------
    text : str
        ISO 8601 and RFC 3339 forms, ``31.12.2024 23:59:59,5``, ``12/31/24``, ``31-Dec-2024``,
        ``20241231T235959Z``, ``hh:mm``, ``hh:mm:ss(.f)``, with AM or PM.
    month_first : bool
        How to read ``1/2/2024``.

    Notes
    -----
    Second 60 of a leap second is kept as 60 seconds: it falls on the second that follows. The offset
    ``-00:00`` means that UTC is known and the local offset is not (RFC 3339, 4.3); it counts as UTC.
    """
    text = text.strip()
    if not text:
        return None
    day, rest = _day(text, month_first)
    if rest is None:
        return Stamp(day, 0, None, -2) if day else None
    match = _CLOCK.match(rest) or (_COMPACT_CLOCK.match(rest) if day else None)
    if match is None:
        return None
    parts = match.groupdict()
    hours, minutes, seconds = int(parts["h"]), int(parts["m"]), int(parts["s"] or 0)
    fraction = parts["f"] or ""
    half = (parts.get("ap") or "").replace(".", "").lower()
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half == "pm" else 0)
    if minutes > 59 or seconds > 60 or (day and hours > 24):
        return None
    zone = _zone(parts["z"])
    nanoseconds = ((hours * 60 + minutes) * 60 + seconds) * NS + int((fraction + "0" * 9)[:9])
    decimals = -1 if parts["s"] is None else len(fraction)
    return Stamp(day, nanoseconds, zone, decimals)


def _day(text: str, month_first: bool) -> tuple[date | None, str | None]:
    """Return the date at the start of the text and what follows it; ``(None, text)`` without a date."""
    match = _ISO.match(text) or _BASIC.match(text)
    try:
        if match:
            return date(int(match["y"]), int(match["m"]), int(match["d"])), match["rest"]
        match = _DAY_FIRST.match(text)
        if match:
            a, b = int(match["a"]), int(match["b"])
            day, month = (b, a) if month_first else (a, b)
            return date(_year(match["y"]), month, day), match["rest"]
        match = _NAMED.match(text)
        if match and match["n"].lower() in _MONTHS:
            return date(_year(match["y"]), _MONTHS.index(match["n"].lower()) + 1, int(match["d"])), match[
                "rest"
            ]
    except ValueError:
        return None, None
    return None, text


def _year(text: str) -> int:
    year = int(text)
    return year if len(text) == 4 else year + (2000 if year < 70 else 1900)


def _zone(text: str | None) -> tzinfo | None:
    if not text:
        return None
    if text.upper() in ("Z", "UTC", "GMT"):
        return UTC
    digits = text[1:].replace(":", "")
    minutes = int(digits[:2]) * 60 + int(digits[2:4] or 0)
    if minutes >= 24 * 60:
        return None
    return timezone(timedelta(minutes=-minutes if text[0] == "-" else minutes))


def needs_order(texts: Sequence[str]) -> bool:
    """Whether the cells hold dates such as 1/2/2024, where day and month could be either way round."""
    return any(_DAY_FIRST.match(text.strip()) for text in texts[:50])


def month_first(texts: Sequence[str]) -> bool | None:
    """Return whether the month comes first in ``a/b/year`` dates; None where the file does not tell."""
    for text in dict.fromkeys(t.strip().split(" ")[0] for t in texts):
        match = _DAY_FIRST.match(text)
        if match and match["s"] == ".":
            return False  # points are only used with the day first
        if match and int(match["a"]) > 12:
            return False
        if match and int(match["b"]) > 12:
            return True
    return None


def read_clock(texts: Sequence[str], days: Sequence[str] | None = None) -> ClockColumn | None:
    """Return a column of clock times or instants read, or None where fewer than half of the cells are times.

    Parameters
    ----------
    texts : sequence of str
        The cells.
    days : sequence of str, optional
        Cells of a date column beside it.
    """
    notes: list[str] = []
    questions: list[str] = []
    order = False
    dates = days if days is not None else texts
    if needs_order(dates):
        found = month_first(dates)
        if found is None:
            questions.append(
                f'the date "{next(t for t in dates if t.strip()).strip()}" can be read with the day or the month '
                "first; the day was taken as first"
            )
        order = bool(found)
        notes.append("dates were read with the " + ("month" if order else "day") + " first")
    count = len(texts)
    nanoseconds = np.zeros(count, dtype=np.int64)
    valid = np.zeros(count, dtype=bool)
    decimals = -2
    zone: tzinfo | None = None
    zoned = dated = 0
    epoch = date(1970, 1, 1)
    cache: dict[str, int | None] = {}
    read: dict[str, Stamp | None] = {}
    for index, text in enumerate(texts):
        stamp = read[text] if text in read else read.setdefault(text, read_stamp(text, month_first=order))
        if stamp is None or (stamp.decimals == -2 and days is not None):
            continue
        day = stamp.day
        if days is not None:
            day_text = days[index]
            if day_text not in cache:
                other = read_stamp(day_text, month_first=order)
                cache[day_text] = (other.day - epoch).days if other and other.day else None
            number = cache[day_text]
            if number is None:
                continue
        else:
            number = (day - epoch).days if day else 0
        value = number * 86400 * NS + stamp.nanoseconds
        if stamp.zone is not None:
            offset = stamp.zone.utcoffset(None)
            value -= round(offset.total_seconds()) * NS if offset else 0
            zone = zone or stamp.zone
            zoned += 1
        dated += day is not None or days is not None
        decimals = max(decimals, stamp.decimals)
        nanoseconds[index] = value
        valid[index] = True
    total = int(np.count_nonzero(valid))
    if total < max(1, 0.5 * sum(1 for text in texts if text.strip())):
        return None
    if 0 < dated < total or 0 < zoned < total:
        notes.append("some times have a date or offset and others have none")
        if 0 < dated < total:
            has_day = np.array([bool((s := read.get(t)) and s.day) for t in texts], dtype=bool)
            valid &= has_day
    resolution = {-2: DAY_S, -1: 60.0}.get(decimals, 10.0 ** -max(decimals, 0))
    return ClockColumn(
        nanoseconds, valid, dated > 0, zoned > 0, zone, resolution, tuple(notes), tuple(questions)
    )


def start_instant(column: ClockColumn, first_ns: int) -> datetime | None:
    """Return the instant of the first sample; None for clock times without a date."""
    if not column.dated:
        return None
    whole, part = divmod(first_ns, NS)
    naive = datetime(1970, 1, 1) + timedelta(seconds=whole, microseconds=part // 1000)
    if not column.zoned:
        return naive
    return naive.replace(tzinfo=UTC).astimezone(column.zone)


@dataclass(frozen=True)
class NumericTime:
    """How a numeric time column is to be read: `kind`, seconds per unit, and the instant of value 0.

    `kind` is ``elapsed``, ``epoch`` or ``serial days``; `sure` is False where the unit was judged by the
    steps alone.
    """

    kind: str
    seconds_per_unit: float
    why: str
    sure: bool = True


def numeric_time(values: FloatArray, unit: str | None, name: str) -> NumericTime:
    """Return how a numeric time column is to be read.

    Parameters
    ----------
    values : (n,) float array
        As found, NaN where blank.
    unit : str or None
        Canonical time unit told by header, units row or map; ``d`` for days.
    name : str
        Header of the column.

    Notes
    -----
    Numbers within 1990 to 2100 as seconds, milli-, micro- or nanoseconds since 1970 are an epoch; within
    32874 to 73050 (the same years as days since 1899-12-30) with steps far below a day, spreadsheet days.
    Without a unit, elapsed seconds; where the median step is 20 or more, milliseconds, which is asked.
    """
    seconds = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0, "d": DAY_S}
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        return NumericTime("elapsed", 1.0, "nothing to go by")
    low, high = float(finite.min()), float(finite.max())
    steps = np.diff(finite)
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 0.0
    for scale in (1.0, 1e-3, 1e-6, 1e-9):
        if low * scale >= 631_152_000 and high * scale <= 4_102_444_800:
            if unit is not None and abs(seconds[unit] / scale - 1) > 1e-9:
                continue
            words = {1.0: "seconds", 1e-3: "milliseconds", 1e-6: "microseconds", 1e-9: "nanoseconds"}[scale]
            return NumericTime("epoch", scale, f"{words} since 1970-01-01")
    if unit in (None, "d") and low >= 32_874 and high <= 73_050 and 0 < step < 0.02:
        return NumericTime("serial days", DAY_S, "spreadsheet days since 1899-12-30")
    if unit is not None:
        return NumericTime("elapsed", seconds[unit], f"elapsed time in {unit}")
    if step >= 20:
        return NumericTime(
            "elapsed", 1e-3, f"no unit is told; steps of {step:g} were taken as milliseconds", sure=False
        )
    return NumericTime("elapsed", 1.0, "no unit is told; taken as elapsed seconds")
