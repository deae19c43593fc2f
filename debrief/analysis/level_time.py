"""How long a channel was above a level that a person names: no profile is needed."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.analysis.model import LevelTime, Start
from debrief.analysis.signal.clear_of_noise import with_noise
from debrief.analysis.signal.exceedance import time_above
from debrief.analysis.signal.interval_sets import from_pairs, total_s
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import Channel


def level_time(
    channel: Channel,
    level: float,
    begin_s: float,
    end_s: float,
    start_number: int | None = None,
    trace: Trace | None = None,
) -> LevelTime:
    """Return how long a channel was above a level between two moments, counted as every limit is.

    Parameters
    ----------
    channel : Channel
    level : float
        In the channel's unit. Equal is not above.
    begin_s, end_s : float
        Between which moments, [s].
    start_number : int, optional
        Of the start that they are of.
    trace : Trace, optional
        Of the channel, where it is asked again and again.
    """
    trace = Trace.of(channel) if trace is None else trace
    above = with_noise(trace, level, time_above(trace, level)).within(from_pairs([(begin_s, end_s)]))
    rows = above.estimate
    longest = max(rows.tolist(), key=lambda row: row[1] - row[0], default=None)
    inside = trace.values[trace.between(begin_s, end_s)]
    # Above in the recording's first or last sample: nobody knows for how long before or after.
    is_cut = bool(above.cut(above.high[:, 0], above.high[:, 1]).any())
    return LevelTime(
        channel=channel.name,
        unit=channel.unit,
        level=level,
        begin_s=begin_s,
        end_s=end_s,
        start_number=start_number,
        total_s=total_s(rows),
        total_low_s=total_s(above.low),
        total_high_s=None if is_cut else total_s(above.high),
        runs=len(rows),
        longest_s=0.0 if longest is None else longest[1] - longest[0],
        longest_begin_s=None if longest is None else longest[0],
        longest_end_s=None if longest is None else longest[1],
        highest=float(inside.max()) if inside.size else None,
    )


def level_times(
    channel: Channel, level: float, duration_s: float, starts: Sequence[Start]
) -> list[LevelTime]:
    """Return how long a channel was above a level over all, and in each start to where its limits end to apply."""
    whole = level_time(channel, level, 0.0, duration_s)
    each = (level_time(channel, level, s.begin_s, s.window_end_s, s.number) for s in starts)
    return [whole, *each]
