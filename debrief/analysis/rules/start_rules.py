"""The rules of ``[start]`` against each attempt, and against what lies between attempts."""

from __future__ import annotations

from collections.abc import Container

from debrief.analysis.model import (
    Event,
    Start,
)
from debrief.analysis.rules.flame_rules import burning_after_cut, hung
from debrief.analysis.rules.fuel_after_cut import fuel_after_cut
from debrief.analysis.rules.fuel_rules import early_fuel, fuel_reintroduced, light_off, residual_heat
from debrief.analysis.rules.starter_rules import engaged_while_turning, voltage
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.hang_detection import Hang


def of_attempt(view: EngineView, start: Start, hang: Hang | None, aloft: Container[int] = ()) -> list[Event]:
    """Return the events of the rules that look at one attempt.

    `aloft` has the numbers of the starts for which the rules of starts on the ground do not hold.
    """
    flies = start.number in aloft
    return [
        *early_fuel(view, start, flies),
        *light_off(view, start),
        *hung(view, start, hang),
        *voltage(view, start),
        *residual_heat(view, start, flies),
    ]


def of_engine(
    view: EngineView, found: Found, starts: tuple[Start, ...], aloft: Container[int] = ()
) -> list[Event]:
    """Return the events of the rules that look beyond one attempt."""
    return [
        *engaged_while_turning(view, found, starts, aloft),
        *burning_after_cut(view, found, starts),
        *fuel_after_cut(view, found, starts),
        *fuel_reintroduced(view, found, starts, aloft),
    ]
