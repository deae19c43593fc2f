"""A date that stands in some rows only, carried to those that have a clock time without one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.clock.time_base import row_place
from debrief.recording.clock.time_cell import NS

DAY_NS = 86400 * NS
PAUSE_NS = 1800 * NS
"""Over a longer step of the clock another date is believed; within it the dates contradict each other."""


@dataclass(frozen=True)
class Carried:
    """What became of the rows without a date.

    Attributes
    ----------
    dated : (n,) bool array
    day : (n,) int64 array
        Days since 1970-01-01, where `dated`.
    note : str
        What was done; empty where nothing was.
    conflict : str
        Why nothing was done; empty where the dates agree with the clock.
    """

    dated: NDArray[np.bool_]
    day: NDArray[np.int64]
    note: str = ""
    conflict: str = ""


def carry(
    timed: NDArray[np.bool_],
    dated: NDArray[np.bool_],
    blank: NDArray[np.bool_],
    day: NDArray[np.int64],
    nanoseconds: NDArray[np.int64],
    place: Callable[[int], str] = row_place,
) -> Carried:
    """Return the dates with those of blank cells counted on from the date before them.

    Parameters
    ----------
    timed, dated, blank : (n,) bool array
        Where the row has a clock time, a date, and no date at all (a cell that is no date is not blank).
    day : (n,) int64 array
        Days since 1970-01-01, where `dated`.
    nanoseconds : (n,) int64 array
        Since midnight, where `timed`.
    place : callable
        Names the place of a row, from 0, in the file.

    Notes
    -----
    A step of the clock back by more than 12 h is midnight, as for clock times without any date. Rows before
    the first date take it as well, counted back, where the clock runs on into it. Where a later date is not
    the one that was counted, and the clock neither steps back nor pauses for half an hour there, or it is an
    earlier one, the dates contradict each other and nothing is carried.
    """
    rows = np.flatnonzero(timed & (dated | blank))
    known = dated[rows]
    if rows.size == 0 or np.all(known) or not np.any(known):
        return Carried(dated, day)
    steps = np.diff(nanoseconds[rows], prepend=nanoseconds[rows[0]])
    nights = np.cumsum(steps < -DAY_NS // 2)
    places = np.flatnonzero(known)
    last = places[np.maximum(np.searchsorted(places, np.arange(rows.size), side="right") - 1, 0)]
    counted = day[rows[last]] + nights - nights[last]
    # What would be counted for each date from the one before it, where rows without one lie between.
    later = places[1:][np.diff(places) > 1]
    before = places[:-1][np.diff(places) > 1]
    expected = day[rows[before]] + nights[later] - nights[before]
    told = day[rows[later]]
    runs_on = (steps[later] >= 0) & (steps[later] < PAUSE_NS)
    wrong = np.flatnonzero((told < expected) | ((told != expected) & runs_on))
    if wrong.size:
        at = int(wrong[0])
        return Carried(
            dated,
            day,
            conflict=f"{place(int(rows[later[at]]))} says {_iso(int(told[at]))} where the clock has come to "
            f"{_iso(int(expected[at]))}",
        )
    first = int(places[0])
    use = ~known
    if first and not 0 <= int(steps[first]) % DAY_NS < PAUSE_NS:
        use[:first] = False
    if not np.any(use):
        return Carried(dated, day)
    dated, day = dated.copy(), day.copy()
    dated[rows[use]] = True
    day[rows[use]] = counted[use]
    passed = int(np.count_nonzero((steps < -DAY_NS // 2) & use))
    midnight = (
        "" if not passed else "; a day was added at midnight" + (f", {passed} times" if passed > 1 else "")
    )
    others = f"{int(use.sum())} others" if use.sum() > 1 else "1 other"
    note = f"the date stands in {int(known.sum())} of {rows.size} rows and was carried to {others}"
    return Carried(dated, day, note + midnight)


def _iso(day: int) -> str:
    return str(np.datetime64(day, "D"))
