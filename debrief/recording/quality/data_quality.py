"""What is wrong or coarse in recorded data, as flags with a plain sentence each. Numbers only, no files.

Nothing is changed or deleted here: a flag tells what a reader of the result must know. Each kind has its
definition in the function of its name.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from debrief.recording.median import median
from debrief.recording.model import Channel, FloatArray, QualityFlag
from debrief.recording.quality.flags import flag, told
from debrief.recording.quality.recorder_artifacts import coarse, ramped_discrete, saturated
from debrief.recording.quality.sample_faults import dropouts, out_of_range, spikes, stuck
from debrief.recording.quality.signal_loss import lost_signals, open_thermocouples
from debrief.words.numbers import clock_text

GAP_FACTOR = 3.0


GAP_AT_LEAST_S = 2.0


GAP_AROUND_S = 60.0


RESOLUTION_SAMPLES = 32768
STRETCHES = 16
FEW_RESOLUTION_SAMPLES = 1024
"""Enough for a column that nothing is judged by."""


FEW_VALUES = 64
"""Of more values two are one step of the recorder apart."""
NOT_A_MULTIPLE, ROUNDED = 0.1, 0.02
"""Parts of a step, once and for each multiple: cells that were converted and rounded miss a multiple by less."""


MAX_GAPS_LOOKED_AT = 2000
"""So many long intervals are compared with those around them, which takes 15 µs each; later ones with all."""
THREADED_FROM_SAMPLES = 500_000


def resolution(values: FloatArray, most: int = RESOLUTION_SAMPLES) -> float | None:
    """Return the smallest step that the values move in; None where they never move.

    Parameters
    ----------
    values : (n,) float array
    most : int
        So many of the values are looked at.

    Notes
    -----
    The smallest difference between distinct values. Differences below 1e-9 of the value range are rounding
    noise, and six digits are kept, so that 0.1 by subtraction is 0.1. Of few values no two may lie a step apart: there
    it is the step of which every difference is a multiple.
    """
    if values.size > most:
        # Neighbours show the step; a few long stretches of them are as good as all and far quicker.
        each = values.size // STRETCHES
        values = values[: STRETCHES * each].reshape(STRETCHES, each)[:, : most // STRETCHES].ravel()
    ordered = np.sort(values)
    if ordered.size < 2 or ordered[0] == ordered[-1]:
        return None
    steps = ordered[1:] - ordered[:-1]
    least = 1e-9 * float(ordered[-1] - ordered[0])
    steps = steps[steps > least]
    if not steps.size:
        return None
    step = float(steps.min())
    if steps.size < FEW_VALUES:
        step = _common_step(steps, step, least)
    return float(f"{step:.6g}")


def _common_step(steps: FloatArray, step: float, least: float) -> float:
    """Return the greatest step, not below `least`, of which all are multiples, as far as rounded cells tell."""
    while True:
        times = np.round(steps / step)
        over = np.abs(steps - times * step)
        over = over[(over > (NOT_A_MULTIPLE + ROUNDED * times) * step) & (over > least)]
        if not over.size:
            return step
        step = float(over.min())


def flags(
    channels: Mapping[str, Channel], duration_s: float, more: Sequence[QualityFlag] = ()
) -> Generator[float, None, tuple[QualityFlag, ...]]:
    """Return the quality flags of all channels in order of time; yields the progress of `assembly.assemble`.

    Parameters
    ----------
    channels : mapping of str to Channel
        As read: canonical units, or rpm and torque units that no profile has scaled yet.
    duration_s : float
        Length of the recording, [s].
    more : sequence of QualityFlag
        Flags found elsewhere, to be put in order with these.

    Notes
    -----
    At most `flagging.MAX_FLAGS_PER_KIND` of one kind are given for one channel; a last one then counts the rest.
    """
    found: list[QualityFlag] = list(more)
    for times, group in _by_time_array(channels):
        yield 0.7
        found.extend(gaps(times, group))
    judged = _each(lambda channel: _of_one(channel, _running(channel, channels)), list(channels.values()))
    for index, some in enumerate(judged):
        found.extend(some)
        yield 0.75 + 0.25 * index / len(channels)
    return tuple(sorted(found, key=lambda flag: (flag.start_s, flag.end_s, flag.kind, flag.channel)))


def _of_one(channel: Channel, running: Channel | None) -> list[QualityFlag]:
    """Return the flags of one channel, but for gaps, which channels share."""
    if channel.is_discrete:
        return ramped_discrete(channel)
    return [
        *out_of_range(channel),
        *spikes(channel),
        *dropouts(channel),
        *stuck(channel, running),
        *lost_signals(channel, running),
        *open_thermocouples(channel, running),
        *saturated(channel),
        *coarse(channel),
    ]


def _running(channel: Channel, channels: Mapping[str, Channel]) -> Channel | None:
    """Return what shows that the engine of a channel runs: its speed; for the speed itself, its temperature."""
    base, _, number = channel.name.partition(".")
    name = "itt" if base == "ng" else "ng"
    return channels.get(f"{name}.{number}" if number else name)


def _each(
    judge: Callable[[Channel], list[QualityFlag]], channels: Sequence[Channel]
) -> Iterator[list[QualityFlag]]:
    """Yield each channel's flags in order; long channels are judged by two threads, since numpy lets both run."""
    if sum(channel.values.size for channel in channels) < THREADED_FROM_SAMPLES:
        yield from map(judge, channels)
        return
    pool = ThreadPoolExecutor(max_workers=2)
    try:
        yield from pool.map(judge, channels)
    finally:
        pool.shutdown(cancel_futures=True)


def _by_time_array(channels: Mapping[str, Channel]) -> Iterator[tuple[FloatArray, list[Channel]]]:
    groups: dict[int, tuple[FloatArray, list[Channel]]] = {}
    for channel in channels.values():
        groups.setdefault(id(channel.time_s), (channel.time_s, []))[1].append(channel)
    yield from groups.values()


def gap_limit_s(time_s: FloatArray, index: int, at_least_s: float = GAP_AT_LEAST_S) -> float:
    """Return how long the interval after sample `index` may be before it is a gap, [s].

    Notes
    -----
    Three times the median of the other intervals within the surrounding 60 s, at least `at_least_s`; with
    no other interval there, the median of all. Where the sampling changes its rate, the slower side counts,
    so that the first interval of it is no gap.
    """
    half = GAP_AROUND_S / 2
    first = int(np.searchsorted(time_s, time_s[index] - half, side="left"))
    last = int(np.searchsorted(time_s, time_s[index + 1] + half, side="right")) - 1
    before, after = np.diff(time_s[first : index + 1]), np.diff(time_s[index + 1 : last + 1])
    sides = [side for side in (before, after, np.concatenate([before, after])) if side.size]
    usual = max(median(side) for side in sides or [np.diff(time_s)])
    return max(at_least_s, GAP_FACTOR * usual)


def gaps(time_s: FloatArray, channels: Sequence[Channel]) -> list[QualityFlag]:
    """Return the gaps of channels that share their sample times: intervals beyond `gap_limit_s`.

    One flag stands for all channels of these rows; it carries the first one's name. Of very many long intervals
    the later ones are gaps beyond three times the median of all.
    """
    intervals = np.diff(time_s)
    usual = median(intervals) if intervals.size else 0.0
    long = np.flatnonzero(intervals > max(GAP_AT_LEAST_S, 1.5 * usual))
    first, later = long[:MAX_GAPS_LOOKED_AT].tolist(), long[MAX_GAPS_LOOKED_AT:]
    places = [index for index in first if intervals[index] > gap_limit_s(time_s, index)]
    places += later[intervals[later] > max(GAP_AT_LEAST_S, GAP_FACTOR * usual)].tolist()
    others = f" and {len(channels) - 1} more" if len(channels) > 1 else ""

    def word(index: int) -> QualityFlag:
        start, end = float(time_s[index]), float(time_s[index + 1])
        return flag(
            "gap",
            channels[0],
            start,
            end,
            "No sample of {channel}{others} for {seconds} s from {at}.",
            others=others,
            seconds=f"{end - start:.1f}",
            at=clock_text(start),
        )

    return told(places, word)
