"""Between which values a lane lies and where its ticks are: the same in the window and on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence

from debrief.profile.model import Gauge
from debrief.recording.model import Channel, FloatArray
from debrief.session.drawing.axes import nice_step, tick_text, ticks
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.limits.instrument_readings import nice_range

Range = tuple[float, float]

_COLD_SHARE = 0.2
"""Of a lane's height: so far below zero takes no whole step."""


def worth_showing(level: float, low: float, high: float) -> bool:
    """Whether the axis is stretched so that a limit line is in view: not where the data stay far away."""
    return level <= max(high * 1.6, high + 0.6 * (high - low))


def usual_range(name: str, channel: Channel, gauge: Gauge | None, levels: Sequence[float]) -> Range:
    """Return the range of the whole recording, at which a lane stands still while its time is zoomed.

    Parameters
    ----------
    name : str
        The channel's, without the engine's number.
    channel : Channel
        With at least one sample.
    gauge : Gauge or None
        The profile's, if it has one.
    levels : sequence of float
        Of the channel's limits, [unit of the channel].
    """
    low, high = float(channel.values.min()), float(channel.values.max())
    near = [level for level in levels if worth_showing(level, low, high)]
    least, most = min([low, *near]), max([high, *near])
    # A little room above and below, so that a peak is not drawn on the frame.
    room = 0.04 * (most - least)
    if gauge is not None and gauge.unit == channel.unit:
        # Noise around nothing is not blown up to the height of the lane.
        most = max(most, gauge.range[0] + 0.25 * (gauge.range[1] - gauge.range[0]))
    elif not near:
        least, most = widened(least, most, least_span(name, channel.unit))
    if -_COLD_SHARE * most < least < 0:
        top = nice_range(0.0, most + room)[1]
        step = nice_step(top, 40)
        return math.floor(least / step) * step, top
    return nice_range(max(0.0, least - room) if least >= 0 else least - room, most + room)


def close_range(name: str, unit: str, usual: Range, values: FloatArray, levels: Sequence[float]) -> Range:
    """Return the range of a stretch alone, with the limit levels near to what was recorded in it.

    Parameters
    ----------
    usual : (float, float)
        The range of the whole recording.
    values : (n,) float array
        What was recorded in the stretch, at least one.
    levels : sequence of float
        Of the limits that apply in it.
    """
    lowest, highest = float(values.min()), float(values.max())
    low, high = widened(lowest, highest, least_span(name, unit, beside_limit=True))
    span = max(high - low, 0.02 * (usual[1] - usual[0]))
    near = [level for level in levels if low - span <= level <= high + span]
    if not near:
        # Without a limit to stand close to, nothing is worth more than a look at its usual size.
        low, high = widened(lowest, highest, least_span(name, unit))
    low, high = min([low, *near]), max([high, *near])
    room = 0.06 * max(high - low, span)
    return nice_range(low - room, high + room)


def value_ticks(low: float, high: float, rows: int) -> tuple[tuple[float, str], ...]:
    """Return the ticks of a lane with room for so many rows of numbers, each with its number."""
    if -_COLD_SHARE * high < low < 0.0:
        low = 0.0  # a little room below zero is not worth a coarser scale
    step = nice_step(high - low, rows)
    return tuple((value, tick_text(value, step)) for value in ticks(low, high, rows))
