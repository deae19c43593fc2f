"""What lies between a start and the one behind it, said as a pilot would: earlier, later, higher, lower."""

from __future__ import annotations

from collections.abc import Mapping

from debrief.session.comparing.compared_start import ComparedStart
from debrief.session.comparing.start_curves import INSTANT_WORDS, Instant
from debrief.words.numbers import decimals_for, number, unit_words

_READ = ("itt", "ng")


def since_words(instant: Instant, since_s: float) -> str:
    """Return where a time from an instant on is, such as ``4.0 s after fuel on``."""
    words = INSTANT_WORDS[instant]
    if abs(since_s) < 0.05:
        return f"At {words}"
    return f"{number(abs(since_s), 1)} s {'after' if since_s > 0 else 'before'} {words}"


def fuel_words(compared: ComparedStart) -> str:
    """Return how fuel came beside the compared start, such as ``Fuel came 11.0 s and 9.0 % Ng earlier``.

    Notes
    -----
    Seconds are counted from starter on in each, so they do not depend on where both are aligned. Empty where
    neither is known of both.
    """
    seconds = _between(_after_starter(compared.own.moments), _after_starter(compared.other.moments))
    said = fuel_came(seconds, _between(compared.own.ng_at_fuel_pct, compared.other.ng_at_fuel_pct))
    return f"Fuel {said}." if said else ""


def fuel_came(seconds: float | None, speed: float | None) -> str:
    """Return how fuel came, such as ``came 11.0 s and 9.0 % Ng earlier``; empty where neither is known.

    Parameters
    ----------
    seconds : float or None
        How much later after starter on than in the other start, [s].
    speed : float or None
        How much higher Ng was, [%].
    """
    (length, when), (percent, at) = (
        _side(seconds, "s", "earlier", "later"),
        _side(speed, "%", "earlier", "later"),
    )
    if when and when == at:
        return f"came {length} s and {percent} % Ng {when}"
    said = []
    if seconds is not None:
        said.append(f"{length} s {when}" if when else "at the same time after starter on")
    if speed is not None:
        said.append(
            f"at {percent} % {'lower' if at == 'earlier' else 'higher'} Ng" if at else "at the same Ng"
        )
    return f"came {' and '.join(said)}" if said else ""


def higher_words(difference: float, unit: str) -> str:
    """Return a difference as ``434 °C higher``, ``0.3 V lower`` or ``the same``."""
    amount, side = _side(difference, unit, "lower", "higher")
    return f"{amount} {unit_words(unit)} {side}" if side else "the same"


def reading_words(compared: ComparedStart, time_s: float) -> str:
    """Return how ITT and Ng are beside the compared start at a time of the recording on the table.

    ``8.0 s after fuel on: ITT 140 °C higher, Ng 9.0 % lower.`` Unknown is said; empty outside both.
    """
    since = compared.since_instant(time_s)
    if since is None:
        return ""
    return f"{since_words(compared.instant, since)}: {_difference(compared, time_s)}."


def _difference(compared: ComparedStart, time_s: float) -> str:
    """Return the differences at a time alone, such as ``ITT 140 °C higher, Ng 9.0 % lower``."""
    since = compared.since_instant(time_s)
    if since is None:
        return ""
    parts, unknown = [], []
    for name in _READ:
        symbol, unit = compared.own.names.symbol(name), compared.own.unit(name)
        between = compared.reading(name, since)[2]
        if between is None or unit is None:
            unknown.append(symbol)
            continue
        amount, side = _side(between, unit, "lower", "higher")
        parts.append(f"{symbol} {amount} {unit_words(unit)} {side}" if side else f"{symbol} the same")
    if unknown:
        parts.append(f"{' and '.join(unknown)} not known in both")
    return ", ".join(parts)


def moment_forms(compared: ComparedStart, time_s: float) -> tuple[str, ...]:
    """Return what is said at a time, in ever shorter forms where there is less room."""
    if compared.problem:
        return (compared.problem,)
    reading, fuel = reading_words(compared, time_s), fuel_words(compared)
    return (f"{reading} {fuel}".strip(), reading or fuel, _difference(compared, time_s) or fuel)


def _after_starter(moments: Mapping[str, float]) -> float | None:
    starter, fuel = moments.get("starter_on"), moments.get("fuel_on")
    return None if starter is None or fuel is None else fuel - starter


def _between(own: float | None, other: float | None) -> float | None:
    return None if own is None or other is None else own - other


def _side(difference: float | None, unit: str, less: str, more: str) -> tuple[str, str]:
    """Return a difference without its sign, and to which side it is; no side where it rounds to nothing."""
    if difference is None:
        return "", ""
    decimals = decimals_for(unit)
    amount = round(abs(difference), decimals)
    return number(amount, decimals), "" if amount == 0 else less if difference < 0 else more
