"""Bounds in words: the lower rounded down, the upper up, and the value between them."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.words.numbers import (
    bounded,
    bounds,
    clock_bounds,
    clock_text,
    duration_text,
    number,
    value_text,
)

SECONDS = st.floats(0.0, 1e5, allow_nan=False)


def numbers(text: str) -> list[float]:
    return [float(word) for word in re.findall(r"\d+\.?\d*", text)]


def test_bounds_are_rounded_outward() -> None:
    assert duration_text(2.2, 2.125, 2.25) == "2.2 s (2.1 to 2.3)"
    assert bounds(19.71, 19.75, 1) == ("19.7", "19.8")
    assert bounds(-0.35, -0.31, 1) == ("\N{MINUS SIGN}0.4", "\N{MINUS SIGN}0.3")
    assert duration_text(3.0, 2.89, None) == "at least 2.8 s"


def test_a_bound_that_is_a_printed_number_stays_that_number() -> None:
    # 2.1 and 0.3 have no exact binary: neither may become 2.0 or 0.4
    assert bounds(2.1, 0.1 + 0.2, 1) == ("2.1", "0.3")
    assert bounds(1179.0, 1180.0, 0) == ("1179", "1180")


def test_bounds_that_are_one_number_are_not_printed() -> None:
    assert duration_text(2.25, 2.25, 2.25) == "2.2 s"
    assert bounded("847 °C", 847.0, 847.0, 0) == "847 °C"
    assert bounded("847 °C", 846.5, 847.5, 0) == "847 °C (846 to 848)"
    assert bounded(value_text(None, "V"), None, None, 1) == "not known"


def test_times_of_the_clock_are_rounded_outward_too() -> None:
    assert clock_bounds(59.96, 60.04) == ("0:59.9", "1:00.1")
    assert clock_bounds(-3.25, -3.25) == ("\N{MINUS SIGN}0:03.3", "\N{MINUS SIGN}0:03.2")
    assert clock_text(-3.3) == "\N{MINUS SIGN}0:03.3"


@given(st.lists(SECONDS, min_size=3, max_size=3), st.integers(0, 3))
def test_a_value_never_reads_outside_its_bounds(values: list[float], decimals: int) -> None:
    low, value, high = sorted(values)
    said = number(value, decimals)
    a, b = bounds(low, high, decimals)
    assert float(a) <= float(said) <= float(b)
    # outward by less than one step: no wider than the printed digits make it
    step = 10.0**-decimals
    assert low - step < float(a) <= low + 1e-5 * step + math.ulp(low)
    assert high - 1e-5 * step - math.ulp(high) <= float(b) < high + step


@given(st.lists(SECONDS, min_size=3, max_size=3))
def test_a_printed_duration_lies_between_its_printed_bounds(values: list[float]) -> None:
    low, value, high = sorted(values)
    said, *edges = numbers(duration_text(value, low, high))
    assert not edges or edges[0] <= said <= edges[1]


@pytest.mark.parametrize("value", [math.inf, math.nan])
def test_what_is_not_finite_is_not_known(value: float) -> None:
    assert bounds(value, value, 1) == ("not known", "not known")
