"""Choosing the time column of a file and making its time base."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone

import numpy as np
from numpy.typing import NDArray

from debrief.errors import UserError
from debrief.recording.clock.time_base import (
    CLOCK_SET_S,
    backwards_throughout,
    spread,
    tie_groups,
    typical_step,
    unwrapped,
)
from debrief.recording.clock.time_candidates import RawTime, candidates_of, unnamed_time
from debrief.recording.clock.told_date import NO_DATE, ToldDate
from debrief.recording.csv.table import Table
from debrief.recording.lexicon import load, squeeze
from debrief.recording.matching.maps import ColumnMap, columns_told
from debrief.recording.median import median
from debrief.recording.model import FloatArray
from debrief.words.asked import Asked, Doubt, hint_of
from debrief.words.remedies import BY_PLACE, RATE, TIME_COLUMN, advised

MAX_CLOCK_SETS = 20_000
"""So often a clock may step back: each is mended by the rows around it, which takes 17 µs. Once a second would be enough
for five hours."""


@dataclass(frozen=True)
class TimeBase:
    """The time base of a recording.

    Attributes
    ----------
    time_s : (rows kept,) float array
        Strictly increasing, from the first sample.
    keep : (rows,) bool array
        Rows of the table that have a place in it.
    columns : mapping of int to str
        Columns that serve as ``time`` or ``date``.
    column : int or None
        The column that the times are from; None where the rate was stated.
    """

    time_s: FloatArray
    keep: NDArray[np.bool_]
    source: str
    start: datetime | None
    columns: Mapping[int, str]
    decisions: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    column: int | None = None


class NoTimeColumn(UserError):
    """A file without a column of times; `asked` is whether a column that only rises is the time."""

    def __init__(self, text: str, asked: Asked | None) -> None:
        super().__init__(text)
        self.asked = asked


@dataclass
class _Told:
    decisions: list[str] = field(default_factory=list)
    repairs: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)


def make_time_base(
    table: Table,
    names: Sequence[str],
    alternatives: Sequence[tuple[str, ...]],
    units: Sequence[str],
    maps: Sequence[ColumnMap],
    rate_hz: float | None,
    file_name: str,
    date_told: ToldDate = NO_DATE,
    *,
    has_header: bool = True,
) -> TimeBase:
    """Return the time base of a table; `date_told` is what the preamble says of the date.

    Raises
    ------
    UserError
        No time column and no rate, no readable time, a rate that is no positive number, or time running
        backwards throughout.
    """
    if rate_hz is not None and not (np.isfinite(rate_hz) and 0 < rate_hz <= 1e6):
        raise UserError(f"The rate {rate_hz:g} Hz is not possible: give samples per second above 0.")
    told = _Told()
    mapped = next((m for m in maps if m.channel == "time"), None)
    taken = {m.column for m in maps if m.channel != "time"}
    candidates = candidates_of(table, names, alternatives, units, mapped, taken, told.decisions, date_told)
    if mapped is not None and not candidates:
        raise UserError(
            f'{file_name}: the column "{names[mapped.column]}" that is mapped to time holds no readable times.'
        )
    if not candidates:
        if rate_hz is None:
            asked = unnamed_time(table, names)
            told_what = "{file} has no time column: name one{name} or give the samples per second{rate}.{hint} {columns}"
            if not has_header:
                # Said at once: whoever told the time alone would be refused again for want of a channel.
                told_what = (
                    "{file} has no time column and no names of columns: say which is the time{name}, or the samples per "
                    "second{rate}, and what the others are{others}.{hint} {columns}"
                )
            raise NoTimeColumn(
                advised(
                    told_what, file=file_name, name=TIME_COLUMN, rate=RATE, others=BY_PLACE, hint=hint_of(asked),
                    columns=columns_told(names, "time"),
                ),
                asked,
            )  # fmt: skip
        count = table.rows
        return TimeBase(
            np.arange(count) / rate_hz, np.ones(count, dtype=bool), f"stated rate {rate_hz:g} Hz", None, {},
            (f"no time column; rows are {1 / rate_hz:g} s apart by the stated rate",),
        )  # fmt: skip
    if rate_hz is not None:
        told.decisions.append(f"the stated rate of {rate_hz:g} Hz was not used: the file has a time column")
    chosen = _chosen(candidates, told)
    told.decisions.extend(chosen.notes)
    told.questions.extend(chosen.questions)
    return _repaired(table, names, chosen, candidates, told, file_name)


def _quality(raw: RawTime) -> tuple[float, float, float, int]:
    """Return what ranks a candidate: share of steps that lead on, fineness, sureness of name, place."""
    finite = raw.seconds[np.isfinite(raw.seconds)]
    steps = np.diff(finite)
    good = float(np.mean(steps > 0)) if steps.size else 0.0
    complete = finite.size / max(raw.seconds.size, 1)
    return (round(good * complete, 2), -raw.resolution_s, raw.confidence, -raw.column)


def _chosen(candidates: Sequence[RawTime], told: _Told) -> RawTime:
    chosen = max(candidates, key=_quality)
    length = _length(chosen)
    for other in candidates:
        if other is chosen or other.column == chosen.with_date:
            continue
        difference = abs(_length(other) - length)
        if difference > max(1.5 * max(chosen.resolution_s, other.resolution_s), 0.01 * max(length, 1.0)):
            words = (
                f'the time columns "{chosen.name}" and "{other.name}" disagree: {length:.6g} s against '
                f'{_length(other):.6g} s; "{chosen.name}" was taken, {_why(chosen, other)}'
            )
            answers = ((chosen.column, ""), (other.column, ""))
            told.questions.append(Asked(Doubt("two_times", (words,), "time", answers)))
        else:
            told.decisions.append(f'"{other.name}" is a second time column; "{chosen.name}" was taken')
    return chosen


def _length(raw: RawTime) -> float:
    finite = raw.seconds[np.isfinite(raw.seconds)]
    if finite.size < 2:
        return 0.0
    return float(np.sum(np.clip(np.diff(finite), 0, None)))


def _why(chosen: RawTime, other: RawTime) -> str:
    one, two = _quality(chosen), _quality(other)
    if one[0] != two[0]:
        return "since more of its steps lead on"
    if one[1] != two[1]:
        return "since its clock is finer"
    if one[2] != two[2]:
        return "since its name is surer"
    return "since it comes first"


def _repaired(
    table: Table,
    names: Sequence[str],
    chosen: RawTime,
    candidates: Sequence[RawTime],
    told: _Told,
    file_name: str,
) -> TimeBase:
    keep = np.isfinite(chosen.seconds)
    lost = int(keep.size - np.count_nonzero(keep))
    if not np.any(keep):
        raise UserError(f'{file_name}: no cell of the time column "{chosen.name}" can be read as a time.')
    if lost:
        left = "was" if lost == 1 else "were"
        told.repairs.append(
            f"{lost} of {keep.size} rows had no readable time and {left} left out: "
            + table.book.told(np.flatnonzero(~keep))
        )
    seconds = chosen.seconds[keep]
    if seconds.size > 2 and backwards_throughout(seconds) and not (chosen.clock_only and seconds.size < 4):
        raise UserError(
            f'{file_name}: the time in "{chosen.name}" runs backwards from row to row; sort the rows by time.'
        )
    steps = np.diff(seconds)
    sets = int(np.count_nonzero((steps < 0) | (steps > CLOCK_SET_S)))
    if sets > MAX_CLOCK_SETS:
        raise UserError(
            advised(
                '{file}: the time in "{name}" steps back or leaps by more than a day {sets} times; sort the rows by time, '
                "or name another column{how}.",
                file=file_name,
                name=chosen.name,
                sets=f"{sets:,}",
                how=TIME_COLUMN,
            )
        )
    rows = np.flatnonzero(keep)

    def place(row: int) -> str:
        return table.book.told(rows[row : row + 1])

    unwrapped_ = unwrapped(
        seconds, clock_only=chosen.clock_only, resolution_s=chosen.resolution_s, place=place
    )
    told.repairs.extend(unwrapped_.repairs)
    time_s = unwrapped_.time_s
    if chosen.what in ("clock time", "date and time", "epoch"):
        _tell_jumps(time_s, told, place)
    repeated = _repeated_rows(table, keep, time_s)
    if np.any(repeated):
        count = int(np.count_nonzero(repeated))
        what = (
            "1 row repeats the row before and was"
            if count == 1
            else f"{count} rows repeat the row before and were"
        )
        told.repairs.append(f"{what} dropped: {table.book.told(rows[repeated])}")
        keep = keep.copy()
        keep[np.flatnonzero(keep)[repeated]] = False
        time_s = time_s[~repeated]
    resolution = chosen.resolution_s
    starts, _ = tie_groups(time_s)
    if starts.size > 1:
        resolution = min(resolution, max(typical_step(time_s[starts]), 1e-9))
    even = spread(time_s, resolution)
    told.repairs.extend(even.repairs)
    time_s = even.time_s
    start = chosen.first
    if start is not None and start.tzinfo is None:
        start = _with_offset(start, table, names, told)
    if start is None:
        start = next((c.first for c in candidates if c.first is not None and _agrees(c, chosen)), None)
    if start is not None:
        start += timedelta(seconds=float(time_s[0]))
    time_s = time_s - time_s[0]
    if time_s.size > 1 and not np.all(np.diff(time_s) > 0):
        time_s = _nudged(time_s)
    columns = {c.column: "time" for c in candidates}
    columns |= {c.with_date: "date" for c in candidates if c.with_date is not None}
    return TimeBase(
        time_s,
        keep,
        f'column "{chosen.name}", {chosen.what}',
        start,
        columns,
        tuple(told.decisions),
        tuple(told.repairs),
        tuple(told.questions),
        chosen.column,
    )


JUMP_S = 1800.0


def _tell_jumps(time_s: FloatArray, told: _Told, place: Callable[[int], str]) -> None:
    """Say where a clock leaps ahead: a pause of the recorder and a clock set forward look the same."""
    steps = np.diff(time_s)
    for index in np.flatnonzero(steps > JUMP_S)[:3].tolist():
        told.decisions.append(
            f"the clock leaps ahead by {steps[index] / 3600:.1f} h after {place(index)}: taken as a pause of the "
            "recorder, not as a clock that was set"
        )


_OFFSET = re.compile(r"^(?:UTC|GMT)?\s*([+-])(\d{1,2}):?(\d{2})?$", re.IGNORECASE)


def _with_offset(start: datetime, table: Table, names: Sequence[str], told: _Told) -> datetime:
    """Return a local start with the offset from UTC that a column of the file tells, if one does."""
    for column, name in enumerate(names):
        if squeeze(name) not in load().utc_offset:
            continue
        texts = {text.strip() for text in table.columns[column].texts() if text.strip()}
        match = _OFFSET.match(texts.pop()) if len(texts) == 1 else None
        if match is None or int(match[2]) > 23 or int(match[3] or 0) > 59:
            told.questions.append(f'"{name}" tells no single offset from UTC; the start stays local time')
            continue
        minutes = int(match[2]) * 60 + int(match[3] or 0)
        told.decisions.append(f'the offset from UTC is that of "{name}"')
        return start.replace(tzinfo=timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes)))
    return start


def _agrees(other: RawTime, chosen: RawTime) -> bool:
    """Whether another column's first value stands in the first row of the chosen one."""
    rows = np.flatnonzero(np.isfinite(other.seconds))
    return bool(rows.size) and int(rows[0]) == int(np.flatnonzero(np.isfinite(chosen.seconds))[0])


def _repeated_rows(table: Table, keep: NDArray[np.bool_], time_s: FloatArray) -> NDArray[np.bool_]:
    """Return which of the kept rows equal the row before in every cell.

    Where a clock is coarser than the sampling, equal neighbours are samples of an engine that stood still,
    so they stay; unless every row of such a time is a copy, as after joining a file to itself.
    """
    rows = np.flatnonzero(keep)
    ties = np.flatnonzero(np.diff(time_s) == 0) + 1
    repeated = np.zeros(rows.size, dtype=bool)
    if not ties.size:
        return repeated
    consecutive = rows[ties] - rows[ties - 1] == 1
    ties = ties[consecutive]
    same = np.ones(ties.size, dtype=bool)
    for column in table.columns:
        if not np.any(same):
            return repeated
        same &= column.same_as_before(rows[ties].astype(np.int64))
    _, sizes = tie_groups(time_s)
    if median(sizes) >= 2 and not np.all(same):
        return repeated
    repeated[ties[same]] = True
    return repeated


def _nudged(time_s: FloatArray) -> FloatArray:
    """Return times made strictly increasing by the least float step, after rounding took it away."""
    out = time_s.copy()
    for index in range(1, out.size):
        if out[index] <= out[index - 1]:
            out[index] = np.nextafter(out[index - 1], np.inf)
    return out
