"""One time cell: clock times, dates and instants in the forms that recorders write."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, timedelta, timezone, tzinfo

from debrief.recording.csv.cells import MAX_TIME_CHARS

NS = 1_000_000_000
FIRST_YEAR, LAST_YEAR = 1900, 2199
"""Years outside are damage, and nanoseconds since 1970 would not hold them."""

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_ISO = re.compile(r"^(?P<y>\d{4})(?P<s>[-/.])(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})(?:[Tt _]+(?P<rest>.+))?$")
_BASIC = re.compile(r"^(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})(?:[Tt _](?P<rest>.+))?$")
_PAIR = re.compile(
    r"^(?P<a>\d{1,2})(?P<s>[-/.])(?P<b>\d{1,2})(?P=s)(?P<y>\d{4}|\d{2})(?:[Tt _,]+(?P<rest>.+))?$"
)
_NAMED = re.compile(
    r"^(?P<d>\d{1,2})[- ](?P<n>[A-Za-z]{3})[A-Za-z]*[- ](?P<y>\d{4}|\d{2})(?:[Tt _,]+(?P<rest>.+))?$"
)
_ZONE = r"(?P<z>(?P<utc>[Zz]|UTC|GMT)|(?P<sign>[+-])(?P<zh>\d{2})(?::?(?P<zm>\d{2}))?)?$"
_CLOCK = re.compile(
    r"^(?P<h>\d{1,4}):(?P<mi>\d{2})(?::(?P<s>\d{2})(?:[.,](?P<f>\d+)|:(?P<ms>\d{3}))?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*" + _ZONE
)
_MINUTES = re.compile(r"^(?P<mi>\d{1,4}):(?P<s>\d{2})[.,](?P<f>\d+)$")
_COMPACT = re.compile(r"^(?P<h>\d{2})(?P<mi>\d{2})(?P<s>\d{2})(?:[.,](?P<f>\d+))?\s*" + _ZONE)


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
class _Match:
    """Where the parts of a cell stand: name to (begin, end)."""

    spans: dict[str, tuple[int, int]]
    month: int | None


def century(year: int) -> int:
    """Return what a two-digit year lacks: 2000 up to 69, 1900 from 70."""
    return 2000 if year < 70 else 1900


def _find(text: str, month_first: bool) -> _Match | None:
    """Return the parts of a cell that looks like a time, whatever their values; None for anything else."""
    if len(text) > MAX_TIME_CHARS:
        return None
    begin = len(text) - len(text.lstrip())
    body = text.strip()
    spans: dict[str, tuple[int, int]] = {}
    month: int | None = None
    rest: str | None = body
    at = begin
    for pattern in (_ISO, _BASIC, _PAIR, _NAMED):
        match = pattern.match(body)
        if match is None:
            continue
        names = {"y": "y", "d": "d"}
        if pattern is _PAIR:
            names = {"y": "y", "a": "m" if month_first else "d", "b": "d" if month_first else "m"}
        elif pattern is _NAMED:
            if match["n"].lower() not in _MONTHS:
                return None
            month = _MONTHS.index(match["n"].lower()) + 1
        else:
            names["m"] = "m"
        for group, name in names.items():
            spans[name] = (begin + match.start(group), begin + match.end(group))
        rest = match["rest"]
        at = begin + match.start("rest") if rest is not None else at
        break
    if rest is None:
        return _Match(spans, month)
    match = _CLOCK.match(rest) or (_COMPACT.match(rest) if spans else _MINUTES.match(rest))
    if match is None:
        return None
    for name, value in match.groupdict().items():
        if value is not None and name != "z":
            key = "f" if name == "ms" else name
            spans[key] = (at + match.start(name), at + match.end(name))
    return _Match(spans, month)


def stamp_spans(text: str, *, month_first: bool) -> tuple[dict[str, tuple[int, int]], int, int, int] | None:
    """Return where the digits of a cell stand, and what its letters say.

    Returns
    -------
    dict, int, int, int
        Part to (begin, end): ``y m d h mi s f zh zm``, and ``utc``; the named month or 0; 1 for PM, 0 for
        AM, -1 for neither; the sign of the offset. None where the cell is no time.
    """
    found = _find(text, month_first)
    if found is None:
        return None
    spans = found.spans
    half = -1
    if "half" in spans:
        half = int(text[spans["half"][0]] in "Pp")
    sign = -1 if "sign" in spans and text[spans["sign"][0]] == "-" else 1
    kept = {name: span for name, span in spans.items() if name not in ("half", "sign")}
    return kept, found.month or 0, half, sign


def read_stamp(text: str, *, month_first: bool = False) -> Stamp | None:
    """Return a time cell read, or None where it is no time.

    Parameters
    ----------
    text : str
        ISO 8601 and RFC 3339 forms, ``31.12.2024 23:59:59,5``, ``12/31/24``, ``31-Dec-2024``,
        ``20241231T235959Z``, ``hh:mm``, ``hh:mm:ss(.f)``, ``hh:mm:ss:mmm``, ``mm:ss.f``, with AM or PM.
    month_first : bool
        How to read ``1/2/2024``.

    Notes
    -----
    Second 60 of a leap second is kept as 60 seconds: it falls on the second that follows. The offset
    ``-00:00`` means that UTC is known and the local offset is not (RFC 3339, 4.3); it counts as UTC. With an
    impossible offset it is no time: without its offset it would be another.
    """
    taken = stamp_spans(text, month_first=month_first)
    if taken is None:
        return None
    spans, month, half, sign = taken

    def number(name: str) -> int:
        begin, end = spans[name]
        return int(text[begin:end])

    day: date | None = None
    if "y" in spans:
        year = number("y")
        if spans["y"][1] - spans["y"][0] == 2:
            year += century(year)
        if not FIRST_YEAR <= year <= LAST_YEAR:
            return None
        try:
            day = date(year, month or number("m"), number("d"))
        except ValueError:
            return None
    if "mi" not in spans:
        return Stamp(day, 0, None, -2) if day else None
    hours = number("h") if "h" in spans else 0
    minutes, seconds = number("mi"), number("s") if "s" in spans else 0
    if half >= 0:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + 12 * half
    if ("h" in spans and minutes > 59) or seconds > 60 or (day is not None and hours > 24):
        return None
    fraction = text[slice(*spans["f"])] if "f" in spans else ""
    nanoseconds = ((hours * 60 + minutes) * 60 + seconds) * NS + int((fraction + "0" * 9)[:9])
    zone: tzinfo | None = UTC if "utc" in spans else None
    if "zh" in spans:
        zone_hours, zone_minutes = number("zh"), number("zm") if "zm" in spans else 0
        if zone_hours > 23 or zone_minutes > 59:
            return None
        zone = timezone(sign * timedelta(hours=zone_hours, minutes=zone_minutes))
    return Stamp(day, nanoseconds, zone, -1 if "s" not in spans else len(fraction))


def day_month_pair(text: str) -> tuple[int, str, int] | None:
    """Return the numbers of a date such as ``1/2/2024`` and what stands between, or None for other forms."""
    match = _PAIR.match(text.strip())
    return (int(match["a"]), match["s"], int(match["b"])) if match else None
