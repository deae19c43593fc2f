"""When a sentence tells what sampling leaves open: the one rule for the verdict, the story, the text and the paper.

A value is said as it was read, and its bounds stand behind a click, as long as the truth cannot be further from it than
matters to a reader. A recorder that looks too seldom hides more: then a peak is "at least", a lowest value "at most", and
a time is said by its bounds.
"""

from __future__ import annotations

import math

from debrief.words.numbers import bounds, decimals_for, unit_words, value_text

_MATTERS = {"degC": 10.0, "degF": 18.0, "V": 1.0, "%": 2.0, "s": 2.0, "psi": 5.0, "bar": 0.35, "kPa": 35.0}
"""What a reader would act on, by unit; in others it is a twentieth of the value."""

_OF_A_TIME = 0.25
"""Part of a length of time below which nobody minds how long it was, however many seconds that is."""


def highest_bound(value: float, low: float | None, high: float | None, unit: str) -> str:
    """Return what stands before a highest value: ``at least `` where it may have been higher by more than matters."""
    unlimited = high is None and low is not None
    return "at least " if unlimited or (high is not None and high - value > _matters(value, unit)) else ""


def lowest_bound(value: float, low: float | None, high: float | None, unit: str) -> str:
    """Return what stands before a lowest value: ``at most `` where it may have been lower by more than matters."""
    unlimited = low is None and high is not None
    return "at most " if unlimited or (low is not None and value - low > _matters(value, unit)) else ""


def is_coarse(value: float, low: float | None, high: float | None, unit: str) -> bool:
    """Return whether the bounds of a reading lie further apart than matters."""
    if low is None or high is None:
        return False
    least = max(_matters(value, unit), _OF_A_TIME * abs(value) if unit == "s" else 0.0)
    return high - low > least


def reading_text(value: float, low: float | None, high: float | None, unit: str) -> str:
    """Return a reading with its unit, ``16.8 %``; where sampling leaves more open than matters its bounds, ``12.9 to 16.9 %``."""
    if low is None or high is None or not is_coarse(value, low, high, unit):
        return value_text(value, unit)
    least, most = bounds(low, high, 0 if unit == "s" else decimals_for(unit))
    return f"{least} to {most} {unit_words(unit)}".rstrip()


def after_text(value_s: float, low_s: float | None, high_s: float | None, what: str) -> str:
    """Return when something came after another: ``1.0 s after fuel``; of coarse samples ``within 10 s of fuel``."""
    if high_s is not None and low_s is not None and is_coarse(value_s, low_s, high_s, "s") and low_s < 1.0:
        return f"within {math.ceil(high_s - 1e-6)} s of {what}"
    return f"{reading_text(value_s, low_s, high_s, 's')} after {what}"


def _matters(value: float, unit: str) -> float:
    return _MATTERS.get(unit, 0.05 * abs(value))
