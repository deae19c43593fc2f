"""Rainflow counting against the worked example of ASTM E1049-85 (2017), 5.4.4 and figure 6.

The series and its result are those of the standard as quoted publicly (a second implementation uses them as its
example): ranges 3, 4, 6, 8, 9 with 0.5, 1.5, 0.5, 1.0, 0.5 cycles, none at 1, 2, 5, 7 and 10.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.flight import rainflow as counted
from debrief.analysis.flight.rainflow import rainflow, turning_points

SERIES = (-2, 1, -3, 5, -1, 3, -4, 4, -2)
RESULT = {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}

WHOLE = st.lists(st.integers(-20, 20), max_size=60)


def cycles(values: Sequence[float]) -> dict[float, float]:
    full, half = rainflow(np.array(values, dtype=float))
    out: Counter[float] = Counter()
    for ranges, weight in ((full, 1.0), (half, 0.5)):
        for one in ranges.tolist():
            out[one] += weight
    return dict(out)


def by_the_standard(values: Sequence[float]) -> dict[float, float]:
    """The steps (1) to (6) of 5.4.4 as they are written, point by point, with their starting point S."""
    waiting = turning_points(np.array(values, dtype=float)).tolist()
    out: Counter[float] = Counter()
    read: list[float] = []
    while waiting:
        read.append(waiting.pop(0))
        while len(read) >= 3:
            x, y = abs(read[-1] - read[-2]), abs(read[-2] - read[-3])
            if x < y:
                break
            if len(read) == 3:  # Y includes S: half a cycle, S moves on to its second point
                out[y] += 0.5
                del read[0]
            else:
                out[y] += 1.0
                del read[-3:-1]
    for a, b in itertools.pairwise(read):
        out[abs(b - a)] += 0.5
    return dict(out)


def test_the_worked_example() -> None:
    assert cycles(SERIES) == RESULT


@given(WHOLE)
def test_it_is_what_the_standard_writes_point_by_point(values: list[int]) -> None:
    assert cycles(values) == by_the_standard(values)


@pytest.mark.parametrize("seed", range(6))
def test_long_histories_too_whether_or_not_all_closed_ones_are_taken_at_once(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(seed)
    walks = (
        rng.integers(-9, 10, 3000),  # with many equal ranges
        np.cumsum(rng.integers(-9, 10, 3000)),
        np.concatenate(
            [(-1) ** np.arange(900) * k for k in (np.arange(900, 0, -1), np.arange(900))]
        ),  # a spindle
    )
    monkeypatch.setattr(counted, "FEW", 3)
    for least in (0.05, 0.0005, 2.0):
        monkeypatch.setattr(counted, "LEAST_GAIN", least)
        for walk in walks:
            assert cycles(walk.tolist()) == by_the_standard(walk.tolist())


@given(WHOLE, st.data())
def test_a_value_that_stays_makes_no_cycle_and_neither_does_a_point_on_the_way(
    values: list[int], data: st.DataObject
) -> None:
    more: list[float] = []
    for a, b in zip(values, [*values[1:], None], strict=False):
        more += [a] * data.draw(st.integers(1, 3))
        if b is not None:
            more.append((a + b) / 2)
    assert cycles(more) == cycles(values)


@given(WHOLE)
def test_each_reversal_is_in_one_cycle_and_damage_lies_between_its_bounds(values: list[int]) -> None:
    turns = turning_points(np.array(values, dtype=float))
    found = cycles(values)
    # A full cycle takes two ranges out, a half one is a range.
    assert 2 * sum(found.values()) == max(turns.size - 1, 0)
    if turns.size < 2:
        return
    span = float(np.ptp(turns))
    assert max(found) == span
    damage = sum(count * size**3 for size, count in found.items())
    # Counting each range by itself, range by range, never finds more for a damage that grows with a power above one.
    ranges = np.abs(np.diff(turns))
    assert damage >= 0.5 * float((ranges**3).sum()) - 1e-6
    assert damage <= sum(found.values()) * span**3
    assert cycles([-v for v in values]) == found
    assert cycles([v + 100 for v in values]) == found


def test_the_second_opinion_of_another_implementation() -> None:
    """A public one, where it is at hand; its version counts half cycles as well."""
    other = pytest.importorskip("rainflow", reason="of the extra 'test'")
    rng = np.random.default_rng(5)
    for series in (
        SERIES,
        rng.integers(-9, 10, 500).tolist(),
        rng.normal(size=2000).cumsum().round(3).tolist(),
    ):
        theirs: Counter[float] = Counter()
        for size, _, count, _, _ in other.extract_cycles(series):
            theirs[round(size, 6)] += count
        ours: Counter[float] = Counter()
        for size, count in cycles(series).items():
            ours[round(size, 6)] += count
        assert ours == theirs
