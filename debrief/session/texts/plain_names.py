"""What findings, what was not judged and the profile's keys are called, alike in the window, the text and on the paper."""

from __future__ import annotations

import re
from collections.abc import Sequence

from debrief.analysis.measures.factors import is_bad
from debrief.analysis.model import Assessment, Event, NotJudged, Start
from debrief.analysis.verdict import is_failed_start
from debrief.profile.model import EngineProfile
from debrief.words.asked import Asked
from debrief.words.events import EVENTS, SEVERITY_WORDS, event_title
from debrief.words.numbers import plain, unit_words

NO_FACTOR = "None of the factors that the profile names was outside its reference."
"""Said of a bad start that was examined, so that "none" differs from "not examined"."""

FROM_ONE_SECOND = "from 1 s on"
"""Stands beside the lowest voltage of a start: the inrush of the first second is not in it."""

_COLUMNS = "File, Columns settles it."

_KEYS = {
    "min_fuel_ng_pct": ("least Ng for fuel", "%"),
    "advised_fuel_ng_pct": ("advised Ng for fuel", "%"),
    "stable_ng_rate_pct_per_s": ("slope of a stable Ng", "%/s"),
    "stable_for_s": ("time over which Ng is stable", "s"),
    "stopped_ng_pct": ("Ng of a standing engine", "%"),
    "idle_ng_pct": ("idle Ng", "%"),
    "idle_tolerance_pct": ("tolerance of idle", "%"),
    "light_off_within_s": ("longest wait for light-off", "s"),
    "light_off_rise_c": ("rise of ITT that is a light-off", "degC"),
    "idle_within_s": ("longest time from light-off to idle", "s"),
    "hung_ng_rate_pct_per_s": ("least gain of Ng while lit", "%/s"),
    "hung_for_s": ("time that a hang lasts", "s"),
    "start_window_max_s": ("longest time that start limits apply", "s"),
    "nominal_bus_volts": ("nominal voltage", "V"),
    "min_bus_volts_before": ("least resting voltage", "V"),
    "min_bus_volts": ("least voltage from 1 s after starter on", "V"),
    "max_residual_itt_c": ("highest ITT at fuel on", "degC"),
    "max_engage_ng_pct": ("highest Ng to engage the starter", "%"),
    "after_cut_rise_c": ("rise of ITT after the cut", "degC"),
    "purge_s": ("motoring between a fuel cut and fuel again", "s"),
    "motor_for_s": ("motoring after an abort", "s"),
    "reset_after_s": ("rest that begins the order of starter runs anew", "s"),
    "motor_until_itt_c": ("ITT to motor down to after an abort", "degC"),
    "tailwind_kt": ("tailwind that counts as a factor", "kt"),
    "oat_c": ("outside air temperature that counts as a factor", "degC"),
    "density_altitude_ft": ("density altitude that counts as a factor", "ft"),
    "airborne_ias_kt": ("airspeed of flight", "kt"),
    "flight_gate_power_lever_pct": ("power lever at the flight gate", "%"),
    "max_rate": ("fastest change that the engine can make", ""),
    "after_takeoff_s": ("time after take-off", "s"),
    "duty": ("order of starter runs and rests", ""),
    "external_duty": ("order of starter runs from external power", ""),
}
_KEY = re.compile(r"(the profile's )?`(\w+)`")
"""How the page of definitions, and it alone, marks a key of the profile."""


def for_window(text: str) -> str:
    """Return a text of the reader for the window: what a question asks is settled by its menu, not by an option."""
    return f"{text.words} {_COLUMNS}" if isinstance(text, Asked) else text


def for_paper(text: str) -> str:
    """Return a text of the reader for the paper, on which a question is settled by nothing."""
    return text.words if isinstance(text, Asked) else text


def not_judged_title(item: NotJudged) -> str:
    """Return what was not judged, in words."""
    return event_title(item.what) if item.limit_id is not None or item.what in EVENTS else item.what


def moment_of(event: Event) -> float:
    """Return the time that stands beside an event, [s], the same on screen, in the text and on the paper.

    Fuel came at its first sample, not at the last one without it, where the bounds begin.
    """
    return event.peak_s if event.kind == "early_fuel" and event.peak_s is not None else event.start_s


def itt_unit(start: Start) -> str:
    """Return the unit in which the temperatures of a start are shown."""
    peak = start.measures.get("peak_itt")
    return "degC" if peak is None else peak.unit


def severity_words(event: Event) -> str:
    """Return the severity in words, the same as the verdict has: "Exceeded" is only said of the engine's limits.

    A rule of the procedure that was not kept is "Procedure", a start that never lit or that hung "Start failed".
    """
    if is_failed_start(event) and event.severity in ("limit", "possible"):
        return "Start failed" if event.severity == "limit" else "Start possibly failed"
    if event.severity == "limit" and event.event_class == "procedure":
        return "Procedure"
    return SEVERITY_WORDS[event.severity]


def no_factor(assessment: Assessment, start: Start, events: Sequence[Event] | None = None) -> str:
    """Return the sentence for a bad start with no factor; empty where there is one or none was looked for."""
    known = assessment.events if events is None else events
    if assessment.profile is None or start.factors or not is_bad(start, known):
        return ""
    return NO_FACTOR


def key_title(name: str) -> tuple[str, str]:
    """Return a key of the profile in words, without its table, and its unit as printed."""
    return _KEYS.get(name, (name.replace("_", " "), ""))


def key_words(key: str, profile: EngineProfile | None, line: int | None = None) -> str:
    """Return a key of the profile in words, with its value and its line there.

    Parameters
    ----------
    key : str
        With or without its table, such as ``start.purge_s``, or ``limits.itt-start``.
    profile : EngineProfile or None
        Where its value and line are looked up; without it the line is the one that is known.
    line : int or None
        The line where that is known better: of a limit that of the level that decides, not where it begins.
    """
    table, _, name = key.rpartition(".")
    words, unit = (
        (f"limit {name}", "") if table == "limits" else _KEYS.get(name, (name.replace("_", " "), ""))
    )
    tables = (table,) if table else ("start", "starter", "abort", "factors", "flight")
    for one in tables:
        begins = None if profile is None else profile.lines.get(f"{one}.{name}")
        if profile is None or begins is None:
            continue
        held = getattr(getattr(profile, one, None), name, None)
        shown = unit_words(profile.units.of(unit))
        number = (
            f"{plain(held, profile.units.of(unit))} {shown}".rstrip() + ", "
            if isinstance(held, (int, float))
            else ""
        )
        return f"{words} ({number}line {line or begins} of the profile)"
    return words if line is None else f"{words} (line {line} of the profile)"


def keys_in_words(text: str, profile: EngineProfile | None) -> str:
    """Return a text of the page of definitions with the profile's keys, which it has in backticks, in words."""
    return _KEY.sub(lambda m: f"{m[1] or 'the '}{key_words(m[2], profile)}", text)
