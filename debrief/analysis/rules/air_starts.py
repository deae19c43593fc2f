"""Starts in the air, of which the rules for starts on the ground do not hold unless the profile says so."""

from __future__ import annotations

from collections.abc import Mapping

from debrief.analysis.model import NotJudged, Start
from debrief.analysis.rules.fuel_rules import fuel_returns
from debrief.analysis.rules.rule_event import by_fuel
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import contains
from debrief.analysis.starts.attempts import Found
from debrief.recording.model import FloatArray

IN_THE_AIR = "in the air: the profile does not say that its rules of starts on the ground hold there"
PLACE_UNSEEN = (
    "whether it was in the air is not recorded, and the profile does not say that its rules of starts on the ground "
    "hold there"
)

Aloft = Mapping[int, str]
"""Why the rules of starts on the ground do not hold, by the number of each start of which that is so."""


def aloft_of(view: EngineView, starts: tuple[Start, ...], airborne: FloatArray | None) -> Aloft:
    """Return the starts for which the profile's rules of starts on the ground do not hold, and why.

    Notes
    -----
    These rules are the least and the advised Ng at fuel and its stability, the highest Ng at starter on, residual
    heat, and motoring between a cut and fuel again: in the air the airflow turns and cools the engine. They hold for
    every start where ``start.air_starts`` is ``as_ground``. A relight of which no channel tells where it was
    is taken as one in the air, but for the motoring, which it has `surely` to be; any other start as one on the ground.
    """
    if view.profile.start.air_starts == "as_ground":
        return {}
    out = {}
    for start in starts:
        if airborne is not None and contains(airborne, start.begin_s):
            out[start.number] = IN_THE_AIR
        elif airborne is None and start.kind == "relight":
            out[start.number] = PLACE_UNSEEN
    return out


def surely(aloft: Aloft) -> frozenset[int]:
    """Return the numbers of those that were in the air for sure."""
    return frozenset(number for number, why in aloft.items() if why == IN_THE_AIR)


def not_judged_aloft(
    view: EngineView, found: Found, starts: tuple[Start, ...], aloft: Aloft
) -> list[NotJudged]:
    """Return what the profile asks of starts on the ground and was not judged of these.

    Where nobody moved the fuel, as in a relight by the igniters, there is nothing to ask about it.
    """
    rules, out = view.profile.start, []

    def add(start: Start, what: str, channel: str) -> None:
        why = aloft[start.number]
        out.append(NotJudged(what, why, None, channel, start.begin_s, start.end_s, view.engine))

    for start in starts:
        if start.number not in aloft:
            continue
        runs = [r for r in start.starter_runs if not r.inferred and r.start_low_s is not None]
        if rules.max_engage_ng_pct is not None and runs and view.trace("ng") is not None:
            add(start, "Ng at starter on", view.name_of("ng"))
        if all(period.began_inside for period in start.fuel_periods):
            continue
        if rules.fuel_control != "automatic" and view.trace("ng") is not None:
            if rules.min_fuel_ng_pct is not None:
                add(start, "Ng at fuel", view.name_of("ng"))
            if rules.stable_ng_rate_pct_per_s is not None:
                add(start, "whether Ng had stabilised", view.name_of("ng"))
        if rules.max_residual_itt_c is not None and view.trace("itt") is not None:
            add(start, "residual heat", view.name_of("itt"))
    owners = by_fuel(starts)
    again = {owners[after.on_s].number for _, after, *_ in fuel_returns(view, found) if after.on_s in owners}
    flying = surely(aloft)
    for start in starts:
        if start.number in again and start.number in flying:
            add(start, "motoring between fuel cut-off and fuel again", "starter")
    return out
