"""One wording of every number and name, shared by messages, screen, paper and JSON text.

No other place rounds on its own.
"""

from __future__ import annotations

import math

from debrief.words.display_units import CHOICES

_MOST_DECIMALS = 6
_RESIDUE = 1e-6
"""Part of what a value is read against: nearer to it is the rounding of floats, and reads as equal."""
_EXACT = 1e-9
_SLACK = 1e-6
"""Part of the last printed digit by which a bound may miss it: 2.1 in binary is a little less or more than 2.1."""

_SHOWN_ONLY = frozenset(unit for units in CHOICES.values() for unit in units[1:]) | {"degF/s", "m/s"}

_DECIMALS = {
    "degC": 0, "degF": 0, "%": 1, "V": 1, "A": 0, "rpm": 0, "psi": 0, "kt": 0, "ft": 0, "ft/min": 0,
    "s": 1, "kg/h": 0, "deg": 0, "%/s": 2, "degC/s": 0, "mohm": 1, "lbf ft": 0, "N m": 0,
    "": 0, "kt/s": 2, "km/h/s": 2, "mph/s": 2, "degF/s": 0, "bar": 2, "kPa": 0, "lb/h": 0, "m": 0, "km/h": 0, "mph": 0, "m/s": 1,
}  # fmt: skip

_UNIT_WORDS = {
    "degC": "°C", "degF": "°F", "degC/s": "°C/s", "degF/s": "°F/s", "0/1": "", "0/1/2": "", "deg": "°", "mohm": "mΩ",
    "lbf ft": "lbf·ft", "N m": "N·m",
}  # fmt: skip


def unit_words(unit: str) -> str:
    """Return the unit as printed: ``degC`` becomes ``°C``."""
    return _UNIT_WORDS.get(unit, unit)


def number(value: float | None, decimals: int) -> str:
    """Return a number with fixed decimals and a true minus sign; ``not known`` for None or not finite."""
    if value is None or not math.isfinite(value):
        return "not known"
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "\N{MINUS SIGN}")


def signed(value: float, decimals: int) -> str:
    """Return a number as `number` does, with a plus sign where it has no minus."""
    text = number(value, decimals)
    return text if text.startswith("\N{MINUS SIGN}") else f"+{text}"


def bounds(low: float, high: float, decimals: int) -> tuple[str, str]:
    """Return a lower and an upper bound as printed: the lower rounded down, the upper up.

    What lies between the two never reads outside them: a value between them is printed by `number` with as many
    decimals, or more, and falls between.
    """
    return number(_down(low, decimals), decimals), number(-_down(-high, decimals), decimals)


def _down(value: float, decimals: int) -> float:
    """Return the value rounded down to so many decimals; what is not finite as it is."""
    scale = 10.0**decimals
    return math.floor(value * scale + _SLACK) / scale if math.isfinite(value * scale) else value


def range_text(low: float, high: float, unit: str) -> str:
    """Return the bounds of a value without it, rounded outward as they are behind it: ``25 to 29 °C``; empty where both print alike."""
    a, b = bounds(low, high, decimals_for(unit))
    return "" if a == b else f"{a} to {b} {unit_words(unit)}".rstrip()


def bounded(text: str, low: float | None, high: float | None, decimals: int, unit: str = "") -> str:
    """Return the words of a value with its bounds behind them: ``9.8 % (9.4 to 9.9)``.

    `text` has no unit where `unit`, as printed, is given. The bounds are left out where one is not known, where
    both are the same number, and where they print like the value.
    """
    whole = f"{text} {unit}".rstrip()
    if low is None or high is None or low == high:
        return whole
    a, b = bounds(low, high, decimals)
    return whole if a == b else f"{whole} ({a} to {b})"


def decimals_for(unit: str) -> int:
    """Return how many decimals a value in this unit is printed with."""
    return _DECIMALS.get(unit, 1)


def value_text(value: float | None, unit: str) -> str:
    """Return the value with its unit, such as ``1087 °C``, ``9.8 %``, ``2.9 s``; a count has the decimals that it needs."""
    text = number(value, decimals_for(unit)) if unit or value is None else plain(round(value, 2))
    words = unit_words(unit)
    if not words or value is None:
        return text
    return f"{text}°" if words == "°" else f"{text} {words}"


def beside(value: float, reference: float, unit: str) -> str:
    """Return the value with enough decimals that it reads on its own side of an unequal reference.

    The reference is printed by `reference_beside`, which is `plain` wherever that is enough: a value above it
    never reads equal to it or below it.
    """
    return f"{number_beside(value, reference, unit)} {unit_words(unit)}".rstrip()


def number_beside(value: float, reference: float, unit: str) -> str:
    """Return the value as `beside` prints it, without its unit."""
    return number(value, decimals_beside(value, reference, unit))


def decimals_beside(value: float, reference: float, unit: str) -> int:
    """Return how many decimals `beside` prints the value with."""
    return _decimals(value, reference, unit)[0]


def reference_beside(value: float, reference: float, unit: str) -> str:
    """Return the reference, without its unit, as it is to be printed where the value is printed by `beside`.

    As `plain` prints it; only where a converted reference would then read on the wrong side of the value it
    has as many decimals as the value.
    """
    decimals = _decimals(value, reference, unit)[1]
    return plain(reference, unit) if decimals is None else number(reference, decimals)


def _decimals(value: float, reference: float, unit: str) -> tuple[int, int | None]:
    """Return the decimals of the value, and those of the reference where `plain` would belie it."""
    least, words = decimals_for(unit), plain(reference, unit)
    equal = max(least, len(words.partition(".")[2]))
    if not math.isfinite(value - reference) or abs(value - reference) <= _RESIDUE * max(abs(reference), 1.0):
        return equal, None
    is_above = value > reference
    printed = float(words.replace("\N{MINUS SIGN}", "-"))
    for decimals in range(least, _MOST_DECIMALS + 1):
        rounded = float(f"{value:.{decimals}f}")
        if rounded != printed and (rounded > printed) == is_above:
            return decimals, None
        if words == plain(reference):
            continue  # with all digits that it has
        other = float(f"{reference:.{decimals}f}")
        if rounded != other and (rounded > other) == is_above:
            return decimals, decimals
    return equal, None


def plain(value: float, unit: str | None = None) -> str:
    """Return a profile value as a person writes it: ``830``, ``0.3``, with no superfluous zeros.

    A number in a unit that is only shown in was converted: 80 psi are 5.515805... bar, 8 kt 14.816 km/h. It has
    no more decimals than values in that unit, so that both are rounded alike and a value never reads on the
    wrong side of it. So has any other number that six digits do not hold; without a unit it has four digits. The
    exact number is in the data.
    """
    text = f"{value:g}"
    if not math.isfinite(value):
        return text.replace("-", "\N{MINUS SIGN}")
    if unit in _SHOWN_ONLY or abs(float(text) - value) > _EXACT * abs(value):
        decimals = max(0, 3 - math.floor(math.log10(abs(value)))) if unit is None else decimals_for(unit)
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace("-", "\N{MINUS SIGN}")


def duration_text(value: float | None, low: float | None = None, high: float | None = None) -> str:
    """Return ``2.9 s (2.8 to 3.0)``, or ``at least 2.8 s`` where the recording's edge cuts it.

    The bounds are rounded outward, and left out where they print like the value.
    """
    if value is None:
        return "not known"
    if high is None and low is not None:
        return f"at least {bounds(low, low, 1)[0]} s"
    return bounded(number(value, 1), low, high, 1, "s")


def brief_duration(
    value: float | None, low: float | None = None, high: float | None = None, allowed_s: float | None = None
) -> str:
    """Return ``2.9 s``, or ``at least 2.8 s`` where the recording's edge cuts it: for a headline, which has no bounds.

    It reads on its own side of an unequal `allowed_s`.
    """
    if value is None:
        return "not known"
    at_least = high is None and low is not None
    if allowed_s is None:
        return duration_text(value, low, high) if at_least else duration_text(value)
    if not at_least or low is None:
        return beside(value, allowed_s, "s")
    if low <= allowed_s < value:
        return f"{beside(value, allowed_s, 's')} or more"
    decimals = decimals_beside(low, allowed_s, "s")
    while low > allowed_s and decimals < _MOST_DECIMALS and float(bounds(low, low, decimals)[0]) <= allowed_s:
        decimals += 1
    return f"at least {bounds(low, low, decimals)[0]} s"


def length_text(seconds: float) -> str:
    """Return how long something lasted as a person says it: ``35 s``, ``23 min 41 s``, ``10 h 20 s``, ``2 h``."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{count} {unit}" for count, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if count]
    return " ".join(parts) or "0 s"


def long_time_text(value: float, low: float | None = None, high: float | None = None) -> str:
    """Return ``23 min 41 s (23 min 40 s to 23 min 42 s)``, the bounds rounded outward.

    The bounds are left out where they print like the value; without an upper one it is "at least".
    """
    if high is None and low is not None:
        return f"at least {length_text(math.floor(low))}"
    if low is None or high is None:
        return length_text(value)
    text, a, b = length_text(value), length_text(math.floor(low)), length_text(math.ceil(high))
    return text if a == b == text else f"{text} ({a} to {b})"


def clock_text(time_s: float | None, decimals: int = 1) -> str:
    """Return the time from the recording's first sample as ``0:19.4`` or ``1:02:03.0``."""
    if time_s is None or not math.isfinite(time_s):
        return "not known"
    return _clock(round(time_s * 10**decimals), decimals)


def clock_bounds(low_s: float, high_s: float, decimals: int = 1) -> tuple[str, str]:
    """Return two times as the clock shows them, the earlier rounded down and the later up."""
    scale = 10**decimals
    return (
        _clock(math.floor(low_s * scale + _SLACK), decimals),
        _clock(math.ceil(high_s * scale - _SLACK), decimals),
    )


def _clock(ticks: int, decimals: int) -> str:
    """Return a whole number of the clock's smallest steps as the clock shows it."""
    sign = "\N{MINUS SIGN}" if ticks < 0 else ""
    scale = 10**decimals
    ticks = abs(ticks)
    whole, part = divmod(ticks, scale)
    minutes, seconds = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    tail = f"{seconds:02d}" + (f".{part:0{decimals}d}" if decimals else "")
    return f"{sign}{hours}:{minutes:02d}:{tail}" if hours else f"{sign}{minutes}:{tail}"
