"""Making time strictly increasing: ties spread, repeated rows dropped, a clock set back or past midnight."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.median import median
from debrief.recording.model import FloatArray

DAY_S = 86400.0
CLOCK_SET_S = DAY_S
"""A step forward of more than this is a clock that was set, not a gap."""


@dataclass(frozen=True)
class Repaired:
    """A strictly increasing time base and what was done for it.

    Attributes
    ----------
    time_s : (n,) float array
        Seconds from the first sample.
    repairs : tuple of str
        One sentence each.
    """

    time_s: FloatArray
    repairs: tuple[str, ...]


def printed_resolution(values: FloatArray) -> float:
    """Return the coarsest power of ten, at most 1, of which all values are multiples: the printed step.

    Values with more than nine decimals count as exact to 1e-9.
    """
    finite = values[np.isfinite(values)]
    few = finite[:2000]
    for decimals in range(10):
        if _whole(few * 10.0**decimals) and _whole(finite * 10.0**decimals):
            return float(10.0**-decimals)
    return 1e-9


TIES_ARE_THE_RULE = 0.1
"""Share of rows with the time of the row before from which on the clock is coarser than the sampling."""
MULTIPLES = 0.95
"""Share of the steps that must be multiples of a clock's step: a recorder may print a false one."""


def clock_step(time_s: FloatArray, printed_s: float) -> float:
    """Return the smallest step that the clock makes, [s], which may be coarser than the step that it prints.

    Parameters
    ----------
    time_s : (n,) float array
        In row order, as found; ties and steps back allowed, no NaN.
    printed_s : float
        The smallest step that the cells can tell, [s].

    Notes
    -----
    ``10:00:07.000`` tells milliseconds of a clock that may count in whole seconds. Only where rows share a time does
    it matter, and only the values tell it: where ties are the rule, the usual step between different times is the
    clock's, if nearly all others are multiples of it. A rare tie is spread within a second at most.
    """
    steps = np.diff(time_s)
    if not steps.size or np.all(steps):
        return printed_s
    ties = int(np.count_nonzero(steps == 0))
    steps = steps[(steps > 0) & (steps < CLOCK_SET_S)]
    if not steps.size:
        return printed_s
    usual = median(steps)
    counts = steps / usual
    off = np.abs(counts - np.round(counts)) * usual
    if np.count_nonzero(off < max(0.01 * usual, 0.5 * printed_s)) < MULTIPLES * steps.size:
        return printed_s
    rule = ties >= TIES_ARE_THE_RULE * time_s.size
    return max(printed_s, usual if rule else min(usual, 1.0))


def _whole(scaled: FloatArray) -> bool:
    return bool(np.all(np.abs(scaled - np.round(scaled)) < np.maximum(1e-6, np.abs(scaled) * 1e-12)))


def backwards_throughout(time_s: FloatArray) -> bool:
    """Whether most steps of at least two lead back: the rows are in the wrong order, not a clock set back."""
    steps = np.diff(time_s)
    back = int(np.count_nonzero(steps < 0))
    return back > 0 and back > 0.5 * int(np.count_nonzero(steps))


def typical_step(time_s: FloatArray) -> float:
    """Return the median of the positive steps, [s]; 1 where there is none."""
    steps = np.diff(time_s)
    steps = steps[(steps > 0) & (steps < CLOCK_SET_S)]
    return median(steps) if steps.size else 1.0


def row_place(row: int) -> str:
    """Return where a row, from 0, stands, where no file is at hand that would tell its line."""
    return f"row {row + 1}"


def unwrapped(
    time_s: FloatArray, *, clock_only: bool, resolution_s: float, place: Callable[[int], str] = row_place
) -> Repaired:
    """Return times that never step back, keeping the order of the rows.

    Parameters
    ----------
    time_s : (n,) float array
        In row order, finite, ties allowed.
    clock_only : bool
        Times of day without a date: a step back by more than 12 h is midnight.
    resolution_s : float
        Smallest step the clock can tell, [s].
    place : callable
        Names the place of a row, from 0, in the file.

    Notes
    -----
    After any other step back, and after a step forward of more than a day, the time goes on from the row
    before by the interval of the rows around it, since the row order is what is known to be true.
    """
    if time_s.size < 2:
        return Repaired(time_s - (time_s[0] if time_s.size else 0.0), ())
    repairs: list[str] = []
    steps = np.diff(time_s)
    if clock_only:
        midnight = np.flatnonzero(steps < -DAY_S / 2)
        if midnight.size:
            # A 12-hour clock without AM and PM rolls over by half a day as well.
            steps = steps.copy()
            steps[midnight] += DAY_S
            repairs.append(_times("the clock passed midnight", midnight.size) + "; a day was added")
    back = np.flatnonzero(steps < 0)
    ahead = np.flatnonzero(steps > CLOCK_SET_S)
    if back.size or ahead.size:
        steps = steps.copy()
        usual = typical_step(time_s)
        for index in (*back.tolist(), *ahead.tolist()):
            size = float(steps[index])
            steps[index] = _around(steps, index, usual)
            if len(repairs) < 12:
                way, order = (
                    ("stepped back", "the rows keep their order and ")
                    if size < 0
                    else ("was set forward", "")
                )
                repairs.append(
                    f"the clock {way} by {_span(abs(size))} after {place(index)}; {order}the time goes on by "
                    f"{_span(float(steps[index]))}"
                )
        if back.size + ahead.size > 12:
            repairs.append(f"{back.size + ahead.size} such steps of the clock in all")
    if back.size or ahead.size or repairs:
        out = np.zeros(time_s.size)
        np.cumsum(steps, out=out[1:])
        return Repaired(out, tuple(repairs))
    return Repaired(time_s - float(time_s[0]), tuple(repairs))


def _around(steps: FloatArray, index: int, usual: float) -> float:
    near = steps[max(0, index - 10) : index + 11]
    near = near[(near > 0) & (near < CLOCK_SET_S)]
    return median(near) if near.size else usual


def _times(what: str, count: int) -> str:
    return what if count == 1 else f"{what} {count} times"


def _span(seconds: float) -> str:
    if seconds >= 2 * 3600:
        return f"{seconds / 3600:.1f} h"
    return f"{seconds:.6g} s"


def tie_groups(time_s: FloatArray) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first row and the size of each run of rows with one time."""
    starts = np.flatnonzero(np.concatenate([[True], np.diff(time_s) != 0])).astype(np.int64)
    sizes = np.diff(np.concatenate([starts, [time_s.size]])).astype(np.int64)
    return starts, sizes


def spread(time_s: FloatArray, resolution_s: float) -> Repaired:
    """Return the times with ties spread evenly, and how many rows that moved.

    Parameters
    ----------
    time_s : (n,) float array
        Never decreasing.
    resolution_s : float
        Smallest step of the clock, [s]. Rows of one time are spread over it, or up to the next time where
        that is nearer, the first staying where it is.

    Notes
    -----
    Where the clock is coarser than the sampling, the first and last group are usually not full. They take
    the spacing of a full group; the first one then ends where the second begins, since its rows were the
    last of their second.
    """
    starts, sizes = tie_groups(time_s)
    if time_s.size == 0 or int(sizes.max()) == 1:
        return Repaired(time_s, ())
    first_times = time_s[starts]
    room = np.full(starts.size, resolution_s)
    room[:-1] = np.minimum(room[:-1], np.diff(first_times))
    usual = int(median(sizes))
    per_row = sizes.astype(np.float64)
    shift = np.zeros(starts.size)
    if usual > 1:
        for edge in {0, starts.size - 1}:
            if sizes[edge] < usual:
                per_row[edge] = usual
        if sizes[0] < usual and starts.size > 1 and first_times[1] - first_times[0] <= resolution_s * 1.5:
            shift[0] = (usual - sizes[0]) / usual
    offset = (np.arange(time_s.size) - np.repeat(starts, sizes)).astype(np.float64)
    out = np.repeat(first_times + shift * room, sizes) + offset * np.repeat(room / per_row, sizes)
    moved = int(np.count_nonzero(offset))
    rows = (
        "1 row had the time of the row before and was"
        if moved == 1
        else f"{moved} rows had the time of the row before and were"
    )
    note = f"{rows} spread within the clock's {_span(resolution_s)}"
    return Repaired(out, (note,))
