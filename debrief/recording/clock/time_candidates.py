"""Which columns of a file may be its time, each read in its own form."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from debrief.recording.clock.time_base import clock_step, printed_resolution
from debrief.recording.clock.time_cell import NS, read_stamp
from debrief.recording.clock.time_column_text import ClockColumn, numeric_time, read_clock, start_instant
from debrief.recording.clock.told_date import NO_DATE, ToldDate
from debrief.recording.csv.cells import is_time_word
from debrief.recording.csv.table import Column, Table
from debrief.recording.lexicon import ACCEPTED, Words, load, split_unit, squeeze
from debrief.recording.matching.maps import ColumnMap
from debrief.recording.median import median
from debrief.recording.model import FloatArray
from debrief.words.asked import Asked, Doubt, Kind
from debrief.words.units import Unit, find_unit

NO_TIME_HOLDS = 1e19
"""Beyond nanoseconds since 1970 in any year that is meant."""


_ELAPSED = ("elapsed", "relative", "run time", "session")
"""Words of a clock that does not tell the time of day."""

_EXCEL_EPOCH = datetime(1899, 12, 30)


@dataclass(frozen=True)
class RawTime:
    """A candidate time column, read but not repaired.

    Attributes
    ----------
    seconds : (rows,) float array
        From the column's first value; NaN where the cell is no time.
    first : datetime or None
        The instant of its first value.
    """

    column: int
    name: str
    seconds: FloatArray
    what: str
    confidence: float
    resolution_s: float
    clock_only: bool
    first: datetime | None
    told: bool = False
    with_date: int | None = None
    notes: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()


def _time_confidence(name: str, alternatives: Sequence[str], table: Mapping[str, float]) -> float:
    best = 0.0
    for text in (name, *alternatives):
        for base, unit in split_unit(text):
            key = squeeze(base)
            if key in table and (not unit or (found := find_unit(unit)) is None or found.quantity == "time"):
                best = max(best, table[key])
    return best


def _time_unit(name: str, units_cell: str) -> Unit | None:
    for text in (units_cell, *(unit for _, unit in split_unit(name)), name):
        unit = find_unit(text) if text.strip() else None
        if unit is not None and unit.quantity == "time":
            return unit
    squeezed = name.casefold().replace("_", " ").split()
    for word in squeezed[::-1]:
        unit = find_unit(word)
        if unit is not None and unit.quantity == "time" and len(word) > 1:
            return unit
    return None


def candidates_of(
    table: Table,
    names: Sequence[str],
    alternatives: Sequence[tuple[str, ...]],
    units: Sequence[str],
    mapped: ColumnMap | None,
    taken: set[int],
    decisions: list[str],
    date_told: ToldDate = NO_DATE,
) -> list[RawTime]:
    """Return every column that may be the time; only the mapped one where a person named it.

    `date_told` is what the preamble says of the date: it goes with clock times that no column of dates is beside.
    """
    lexicon = load()
    dates = [
        c
        for c, name in enumerate(names)
        if (sure := _time_confidence(name, alternatives[c], lexicon.date)) >= ACCEPTED
        or (sure > 0 and _holds_dates(table.columns[c]))
    ]
    out: list[RawTime] = []
    for column, name in enumerate(names):
        if mapped is not None and column != mapped.column:
            continue
        if column in taken:
            continue
        confidence = 1.0 if mapped else _time_confidence(name, alternatives[column], lexicon.time)
        if column in dates and not mapped:
            confidence = max(confidence, ACCEPTED)
        text = table.columns[column].is_text
        if confidence < ACCEPTED and not text:
            continue
        if text:
            raw = _from_text(
                table, column, name, units[column], confidence, dates, mapped is not None, date_told
            )
            if raw is None and confidence >= ACCEPTED:
                raw = _from_numbers(table, column, name, confidence, units[column], mapped)
        else:
            raw = _from_numbers(table, column, name, confidence, units[column], mapped)
        if raw is None:
            continue
        steps = np.diff(raw.seconds[np.isfinite(raw.seconds)])
        if mapped is None and steps.size and not np.any(steps != 0):
            decisions.append(f'"{name}" never moves and was not used as time')
            continue
        out.append(raw)
    return out


def _from_text(
    table: Table,
    column: int,
    name: str,
    units_cell: str,
    confidence: float,
    dates: Sequence[int],
    mapped: bool,
    date_told: ToldDate,
) -> RawTime | None:
    texts = table.columns[column].texts()
    filled = [text for text in texts[:200] if text.strip()]
    if confidence < ACCEPTED:
        # An unnamed column counts only where its cells are plainly clock times.
        if not filled or sum(map(is_time_word, filled)) < 0.9 * len(filled):
            return None
        confidence = ACCEPTED

    def place(row: int) -> str:
        return table.book.told(np.array([row]))

    clock = read_clock(texts, place=place)
    with_date = None
    if clock is not None and not clock.dated:
        for other in sorted(dates, key=lambda c: abs(c - column)):
            if other == column:
                continue
            joined = read_clock(texts, _date_texts(table.columns[other]), place)
            if joined is not None and joined.dated:
                clock, with_date = joined, other
                break
            if joined is not None and len(joined.questions) > len(clock.questions):
                clock = joined  # the same times, with the reason why they have no date
    if clock is None or clock.resolution_s >= 86400.0:
        return None
    if not clock.dated and date_told.day and _is_time_of_day(clock, name):
        clock = _with_told(clock, texts, date_told, place)
    if not clock.dated:
        clock = replace(
            clock, questions=(*clock.questions, *_no_dates(table, [c for c in dates if c != column]))
        )
    raw = _from_clock(clock, column, name, confidence, with_date, mapped)
    return _minutes_or_hours(raw, units_cell) if clock.resolution_s == 60.0 and not clock.dated else raw


def _is_time_of_day(clock: ClockColumn, name: str) -> bool:
    """Whether clock times are those of a day: an elapsed clock begins at zero or says what it is."""
    read = clock.nanoseconds[clock.valid]
    if any(word in name.casefold() for word in _ELAPSED) or int(read[0]) < 60 * NS:
        return False
    return clock.resolution_s < 60.0 or not np.all(np.diff(read) != 0)


def _with_told(
    clock: ClockColumn, texts: Sequence[str], told: ToldDate, place: Callable[[int], str]
) -> ClockColumn:
    """Return clock times with the preamble's date as that of the first of them."""
    first = int(np.flatnonzero(clock.valid)[0])
    days = [told.day if row == first else "" for row in range(len(texts))]
    dated = read_clock(texts, days, place)
    if dated is None or not dated.dated:
        return clock
    note = f'the date is the preamble\'s {told.key} "{told.text}", taken as that of the first row'
    return replace(dated, notes=(*dated.notes, note))


def _holds_dates(column: Column) -> bool:
    """Whether the first cells of a column of text are dates alone."""
    texts = [text for text in column.texts()[:20] if text.strip()] if column.is_text else []
    stamps = [read_stamp(text) or read_stamp(text, month_first=True) for text in texts]
    return bool(stamps) and all(stamp is not None and stamp.decimals == -2 for stamp in stamps)


def _no_dates(table: Table, dates: Sequence[int]) -> list[str]:
    """Return what must be asked about columns of dates whose first cell is none."""
    firsts = (next((text for text in _date_texts(table.columns[c]) if text.strip()), "") for c in dates)
    return [
        f'"{text.strip()}" is not a date, so when the recording began is not known'
        for text in firsts
        if text and read_stamp(text) is None and read_stamp(text, month_first=True) is None
    ]


def _date_texts(column: Column) -> list[str]:
    """Return the cells of a date column; numbers such as 20310501 without the decimals of a float."""
    if column.is_text:
        return column.texts()
    return ["" if value != value else f"{value:.0f}" for value in column.numbers(Words()).values.tolist()]


def _minutes_or_hours(raw: RawTime, units_cell: str) -> RawTime:
    """Return a column of ``a:b`` cells as minutes and seconds where the file says so, else as hours and minutes.

    Where every row has another cell and the file says nothing, it could be either, which is asked.
    """
    words = f"{raw.name} {units_cell}".casefold()
    if "mm:ss" in words or any(word in words for word in _ELAPSED):
        return replace(
            raw,
            seconds=raw.seconds / 60.0,
            resolution_s=1.0,
            clock_only=False,
            what="minutes and seconds",
            notes=(*raw.notes, f'"{raw.name}" was read as minutes and seconds'),
        )
    steps = np.diff(raw.seconds[np.isfinite(raw.seconds)])
    if "hh:mm" in words or not np.all(steps != 0):
        return raw
    question = f'"{raw.name}" was read as hours and minutes; if it is minutes and seconds, write hh:mm:ss'
    return replace(raw, questions=(*raw.questions, question))


def _from_clock(
    clock: ClockColumn, column: int, name: str, confidence: float, with_date: int | None, mapped: bool
) -> RawTime:
    first = int(clock.nanoseconds[clock.valid][0])
    seconds = np.where(clock.valid, (clock.nanoseconds - first) / NS, np.nan)
    start = start_instant(clock, first)
    if start is not None and start.tzinfo is None and _is_utc(name):
        start = start.replace(tzinfo=UTC)
    what = "date and time" if clock.dated else "clock time"
    step = clock_step(seconds[clock.valid], clock.resolution_s)
    return RawTime(
        column, name, seconds, what, confidence, step, not clock.dated, start, mapped,
        with_date, clock.notes, clock.questions,
    )  # fmt: skip


def _is_utc(name: str) -> bool:
    words = name.casefold().replace("_", " ").replace("(", " ").replace(")", " ").split()
    return any(word in ("utc", "gmt", "zulu") for word in words)


def _from_numbers(
    table: Table, column: int, name: str, confidence: float, units_cell: str, mapped: ColumnMap | None
) -> RawTime | None:
    values = table.columns[column].numbers(Words()).values
    if np.any(np.abs(values) > NO_TIME_HOLDS):
        values = np.where(np.abs(values) > NO_TIME_HOLDS, np.nan, values)
    finite = values[np.isfinite(values)]
    if finite.size < max(1, 0.5 * values.size) and mapped is None:
        return None
    if finite.size == 0:
        return None
    unit = mapped.unit if mapped is not None and mapped.unit is not None else _time_unit(name, units_cell)
    how = numeric_time(values, unit.name if unit else None, name)
    first = float(finite[0])
    start: datetime | None = None
    if how.kind == "epoch":
        start = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=first * how.seconds_per_unit)
    elif how.kind == "serial days":
        start = _EXCEL_EPOCH + timedelta(microseconds=round(first * 86400e6))
    seconds = (values - first) * how.seconds_per_unit
    resolution = printed_resolution(values) * how.seconds_per_unit
    if how.kind == "serial days":
        # Days in floating point carry about 1e-11: good for a tenth of a millisecond.
        seconds = np.round(seconds, 4)
        resolution = 1e-3
    resolution = clock_step(seconds[np.isfinite(seconds)], resolution)
    words, ways = (
        f'"{name}" tells no unit of time ({how.why})',
        f': --map time="{name}:ms" or --map time="{name}:s"',
    )
    doubt = Doubt("time_unit", (words,), "time", ((column, "ms"), (column, "s")), ways)
    questions = () if how.sure else (Asked(doubt),)
    return RawTime(
        column, name, seconds, how.kind, confidence, resolution, False, start, mapped is not None, None,
        (f'time from "{name}": {how.why}',), questions,
    )  # fmt: skip


def unnamed_time(table: Table, names: Sequence[str]) -> Asked | None:
    """Return the question whether the first column of numbers that only rise is the time; None without one."""
    for column, name in enumerate(names):
        if table.columns[column].is_text:
            continue
        numbers = table.columns[column].numbers(Words())
        values = numbers.values
        if values.size < 3 or not numbers.is_whole or numbers.largest > NO_TIME_HOLDS:
            continue
        if np.all(np.diff(values) > 0):
            if np.array_equal(values - values[0], np.arange(values.size)):
                continue
            steps = np.diff(values)
            step, told = float(median(steps)), numeric_time(values, None, name)
            even = bool(np.allclose(steps, step, rtol=1e-6, atol=0.0))
            in_seconds = told.kind == "elapsed" and told.sure
            kind: Kind = "rises_evenly" if even and in_seconds else "only_rises"
            words = f'"{name or f"#{column + 1}"}" only rises' + (
                f", by {step:g} from row to row" if even else ""
            )
            way = f': --map time="#{column + 1}" if it is the time in seconds.'
            return Asked(Doubt(kind, (words,), "time", ((column, "s"),), way))
    return None
