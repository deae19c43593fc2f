"""When a sentence tells what sampling leaves open."""

from __future__ import annotations

import pytest

from debrief.words.display_units import parse_units
from debrief.words.sampling import after_text, highest_bound, lowest_bound, reading_text


@pytest.mark.parametrize(
    ("value", "low", "high", "said"),
    [
        (731, 729, 735, ""),
        (731, 729, 768, "at least "),
        (731, 729, None, "at least "),  # the recording's edge cuts it
        (731, None, None, ""),
    ],
)
def test_a_peak_that_may_have_been_higher_is_at_least(
    value: float, low: float | None, high: float | None, said: str
) -> None:
    assert highest_bound(value, low, high, "degC") == said


@pytest.mark.parametrize(
    ("low", "high", "said"), [(19.3, 19.6, ""), (10.2, 21.0, "at most "), (None, 21.0, "at most "), (None, None, "")]
)  # fmt: skip
def test_a_lowest_value_that_may_have_been_lower_is_at_most(
    low: float | None, high: float | None, said: str
) -> None:
    assert lowest_bound(19.5, low, high, "V") == said


@pytest.mark.parametrize("hidden", [2.0, 9.0, 11.0, 40.0])
def test_what_matters_is_the_same_in_other_units(hidden: float) -> None:
    to = parse_units("degF")
    value, high = (to.value(one, "degC") for one in (731.0, 731.0 + hidden))
    assert highest_bound(731, 731, 731 + hidden, "degC") == highest_bound(value, value, high, "degF")


@pytest.mark.parametrize(
    ("value", "low", "high", "said"),
    [
        (0.8, 0.5, 1.2, "0.8 s after fuel"),  # 4 a second
        (0.0, 0.0, 10.0, "within 10 s of fuel"),
        (5.0, 5.0, 15.0, "5 to 15 s after fuel"),
        (1.0, None, None, "1.0 s after fuel"),
        (60.0, 56.0, 64.0, "60.0 s after fuel"),  # nobody minds
    ],
)
def test_a_time_between_coarse_samples_is_said_by_its_bounds(
    value: float, low: float | None, high: float | None, said: str
) -> None:
    assert after_text(value, low, high, "fuel") == said


def test_bounds_that_are_said_hold_the_value_and_are_rounded_outward() -> None:
    assert reading_text(16.8, 12.916, 16.884, "%") == "12.9 to 16.9 %"
    assert reading_text(16.8, 16.6, 16.9, "%") == "16.8 %"
