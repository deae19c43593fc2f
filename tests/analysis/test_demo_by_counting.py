"""The demo flights' limits and starts against plain counting: milliseconds on the straight line, highest samples."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from debrief.analysis.model import Assessment, Event, LevelResult
from debrief.profile.model import Limit
from tests.demo_assessing import DEMOS, assessed

STEP_S = 0.001


def counted_s(a: Assessment, event: Event, limit: Limit, level: LevelResult) -> float:
    """Return the time beyond a level by counting milliseconds where the limit applied, [s]."""
    channel = a.recording.channels[event.channel or ""]
    sign = -1.0 if limit.below else 1.0
    (result,) = [r for r in a.limits if r.id == limit.id and r.engine == event.engine]
    total = 0.0
    for window in result.windows:
        if event.start_number is not None and window.start_number != event.start_number:
            continue
        end = window.end_s
        if (
            limit.when == "start"
            and sign * (np.interp(end, channel.time_s, channel.values) - level.level) > 0
        ):
            back = (channel.time_s > end) & (sign * (channel.values - level.level) <= 0)
            end = float(channel.time_s[back][0]) if back.any() else a.recording.duration_s
        at = np.arange(window.start_s, end, STEP_S) + 0.5 * STEP_S
        if limit.count == "longest":
            assert level.start_s is not None
            assert level.end_s is not None
            at = at[(at >= level.start_s - 0.5) & (at <= level.end_s + 0.5)]
        beyond = sign * (np.interp(at, channel.time_s, channel.values) - level.level) > 0
        total += float(np.count_nonzero(beyond)) * STEP_S
    return total


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_each_duration_is_that_of_counting_and_lies_between_its_bounds(path: Path) -> None:
    a = assessed(path)
    assert a.profile is not None
    limits = {limit.id: limit for limit in a.profile.limits}
    for event in a.events:
        for level in event.levels:
            limit = limits[event.limit_id or ""]
            assert counted_s(a, event, limit, level) == pytest.approx(level.duration_s, abs=5 * STEP_S)
            assert level.duration_low_s <= level.duration_s + 1e-9
            assert level.duration_high_s is None or level.duration_s <= level.duration_high_s + 1e-9


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_edges_of_each_window_lie_between_their_bounds(path: Path) -> None:
    seen = 0
    for result in assessed(path).limits:
        for w in result.windows:
            assert w.start_low_s <= w.start_s <= (w.start_s if w.start_high_s is None else w.start_high_s)
            assert (w.end_s if w.end_low_s is None else w.end_low_s) <= w.end_s <= w.end_high_s
            seen += 1
    assert seen


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_peak_and_ng_at_fuel_of_each_start_are_read_off_the_samples(path: Path) -> None:
    a = assessed(path)
    itt, ng = a.recording.channels["itt"], a.recording.channels["ng"]
    for start in a.starts:
        inside = (itt.time_s >= start.begin_s) & (itt.time_s <= max(start.end_s, start.window_end_s))
        if start.peak_itt_c is not None:
            assert start.peak_itt_c == float(itt.values[inside].max())
        if start.fuel_on_s is not None and start.ng_at_fuel_pct is not None:
            assert start.ng_at_fuel_pct == pytest.approx(np.interp(start.fuel_on_s, ng.time_s, ng.values))


def test_the_demo_flights_pass_levels_so_that_something_was_counted() -> None:
    assert sum(len(e.levels) for path in DEMOS for e in assessed(path).events) >= 15
