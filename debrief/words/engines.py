"""What one of several engines is called."""

from __future__ import annotations

from collections.abc import Iterable


def engine_of(channel: str) -> int:
    """Return the engine that a channel of an engine is of: 2 of ``itt.2``, 1 of ``itt``."""
    return int(channel.partition(".")[2] or 1)


def measure_of_engine(name: str) -> tuple[str, int]:
    """Return a measure of the whole recording without its engine's number, and that: 2 of ``run_down.2``."""
    own, point, number = name.rpartition(".")
    return (own, int(number)) if point and number in ("2", "3", "4") else (name, 1)


def engine_named(engine: int, *, begins: bool = False) -> str:
    """Return what an engine is called inside a sentence, or where one begins: ``engine 2``, ``Engine 2``."""
    return f"{'E' if begins else 'e'}ngine {engine}"


def engines_named(engines: Iterable[int]) -> str:
    """Return several engines inside a sentence: ``engines 1 and 2``, or the one there is."""
    numbers = [str(engine) for engine in sorted(engines)]
    if len(numbers) == 1:
        return f"engine {numbers[0]}"
    return f"engines {', '.join(numbers[:-1])} and {numbers[-1]}"
