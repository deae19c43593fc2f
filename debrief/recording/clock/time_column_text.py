"""Reading a whole time column: clock times, dates, ISO 8601, epoch, serial days, elapsed time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone, tzinfo

import numpy as np
from numpy.typing import NDArray

from debrief.recording.clock.carried_dates import carry
from debrief.recording.clock.start_dates import reads_two_ways
from debrief.recording.clock.time_base import row_place
from debrief.recording.clock.time_cell import NS, day_month_pair
from debrief.recording.clock.time_cells import read_stamps
from debrief.recording.csv.cells import read_cell
from debrief.recording.median import median
from debrief.recording.model import FloatArray

DAY_S = 86400.0


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
    either_way : bool
        Whether its dates can be read with the day or the month first: then they tell days passed, but no date.
    notes, questions : tuple of str
    """

    nanoseconds: NDArray[np.int64]
    valid: NDArray[np.bool_]
    dated: bool
    zoned: bool
    zone: tzinfo | None
    resolution_s: float
    either_way: bool = False
    notes: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()


def needs_order(texts: Sequence[str]) -> bool:
    """Whether the cells hold dates such as 1/2/2024, where day and month could be either way round."""
    return any(day_month_pair(text) for text in texts[:50])


def month_first(texts: Sequence[str]) -> bool | None:
    """Return whether the month comes first in ``a/b/year`` dates; None where the file does not tell."""
    for text in dict.fromkeys(t.strip().split(" ")[0] for t in dict.fromkeys(texts)):
        pair = day_month_pair(text)
        if pair is None:
            continue
        first, between, second = pair
        if between == "." or first > 12:
            return False  # points are only used with the day first
        if second > 12:
            return True
    return None


def read_clock(
    texts: Sequence[str], days: Sequence[str] | None = None, place: Callable[[int], str] = row_place
) -> ClockColumn | None:
    """Return a column of clock times or instants read, or None where fewer than half of the cells are times.

    Parameters
    ----------
    texts : sequence of str
        The cells.
    days : sequence of str, optional
        Cells of a date column beside it.
    place : callable
        Names the place of a row, from 0, in the file.
    """
    notes: list[str] = []
    questions: list[str] = []
    order = either_way = False
    dates = days if days is not None else texts
    if needs_order(dates):
        found = month_first(dates)
        two = next(filter(None, map(reads_two_ways, dict.fromkeys(dates))), None)
        either_way = found is None and two is not None
        if either_way and two is not None:
            questions.append(
                f'the date "{next(t for t in dates if t.strip()).strip()}" can be read with the day or the month '
                f"first ({two[0]} or {two[1]}), so when the recording began is not known"
            )
        order = bool(found)
        notes.append("dates were read with the " + ("month" if order else "day") + " first")
    stamps = read_stamps(texts, month_first=order)
    valid, dated, day = stamps.valid, stamps.dated & stamps.valid, stamps.day
    blank = ~dated
    if days is not None:
        beside = read_stamps(days, month_first=order)
        dated, day = beside.valid & beside.dated, beside.day
        blank = _blank(days)
    timed = stamps.valid & (stamps.decimals > -2)
    carried = carry(timed, dated, blank, day, stamps.nanoseconds, place)
    if carried.note:
        notes.append(carried.note)
    if carried.conflict:
        questions.append(
            f"the dates contradict the clock ({carried.conflict}); none was carried to other rows"
        )
        if days is not None and np.count_nonzero(timed & dated) < 0.5 * np.count_nonzero(timed):
            undated = read_clock(texts)
            return undated and replace(undated, questions=(*undated.questions, *questions))
    dated, day = carried.dated, carried.day
    if days is not None:
        valid = timed & dated
        dated = valid
    total = int(np.count_nonzero(valid))
    if total < max(1, 0.5 * sum(map(bool, texts))):
        return None
    has_date, has_zone = bool(np.any(dated & valid)), bool(np.any(stamps.zoned & valid))
    if has_date and not np.all(dated[valid]):
        notes.append("times without a date among times with one were left out")
        valid = valid & dated
    if has_zone and not np.all(stamps.zoned[valid]):
        notes.append("times without an offset among times with one were left out")
        valid = valid & stamps.zoned
    if not np.any(valid):
        return None
    nanoseconds = np.where(dated, day, 0) * (86400 * NS) + stamps.nanoseconds
    nanoseconds -= np.where(stamps.zoned, stamps.offset_s, 0) * NS
    zone: tzinfo | None = None
    if has_zone:
        offset = int(stamps.offset_s[valid][0])
        zone = timezone(timedelta(seconds=offset)) if offset else UTC
    finest = int(np.max(stamps.decimals[valid]))
    resolution = {-2: DAY_S, -1: 60.0}.get(finest, 10.0 ** -max(finest, 0))
    return ClockColumn(
        nanoseconds, valid, has_date, has_zone, zone, resolution, either_way, tuple(notes), tuple(questions)
    )


def _blank(texts: Sequence[str]) -> NDArray[np.bool_]:
    """Return which cells hold nothing or a mark for it."""
    known = {text: read_cell(text).kind == "missing" for text in set(texts)}
    return np.fromiter((known[text] for text in texts), bool, len(texts))


def start_instant(column: ClockColumn, first_ns: int) -> datetime | None:
    """Return the instant of the first sample; None for clock times without a date, or one that reads two ways."""
    if not column.dated or column.either_way:
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
    step = median(steps[steps > 0]) if np.any(steps > 0) else 0.0
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
