"""Raw names of channels, events and profile keys put into words, for texts that were made for the data."""

from __future__ import annotations

import re
from collections.abc import Sequence

from debrief.analysis.measures.factors import is_bad
from debrief.analysis.model import Assessment, Event, NotJudged, Start
from debrief.analysis.verdict import is_failed_start
from debrief.profile.model import EngineProfile
from debrief.words.asked import Asked
from debrief.words.channels import CHANNELS, channel_symbol, channel_words
from debrief.words.events import EVENTS, SEVERITY_WORDS, event_title
from debrief.words.numbers import plain, unit_words

NO_FACTOR = "None of the factors that the profile names was outside its reference."
"""Said of a bad start that was examined, so that "none" differs from "not examined"."""

FROM_ONE_SECOND = "from 1 s on"
"""Stands beside the lowest voltage of a start: the inrush of the first second is not in it."""

_NOT_RECORDED = " not recorded"
_COLUMNS = "File, Columns settles it."
_SHORT = ("itt", "ng", "np", "oat", "ias", "palt", "vs", "gs")
_EVENTS = (*(k for k in EVENTS if "_" in k), "overtemp", "overtorque")
_NAMES = (*(k for k in CHANNELS if "_" in k), *_SHORT, *_EVENTS)
_RAW = re.compile(rf"(?<![\w.\-/])({'|'.join(sorted(_NAMES, key=len, reverse=True))})(\.\d+)?(?![\w\-/=])")
_QUOTED = re.compile(r'("[^"]*")')

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
_KEY = re.compile(
    rf"(the profile's )?(?:`(\w+)`|(?<![\w.`])({'|'.join(sorted(_KEYS, key=len, reverse=True))})(?![\w`]))"
)


def in_words(text: str) -> str:
    """Return a text with the raw names of channels and events in words; what stands in quotes is left.

    Examples
    --------
    >>> in_words("oil_temp not recorded")
    'Oil temperature not recorded'
    """
    parts = _QUOTED.split(text)
    return "".join(part if part.startswith('"') else _RAW.sub(_named, part) for part in parts)


def _named(found: re.Match[str]) -> str:
    name, engine = found[1], found[2] or ""
    if name in _SHORT:
        return channel_symbol(name + engine)
    words = event_title(name) if name in EVENTS else channel_words(name + engine)
    before = found.string[: found.start()].rstrip()
    begins = not before or before[-1] in ".:!?"
    return words if begins else words[:1].lower() + words[1:]


def for_window(text: str) -> str:
    """Return a text for a reader at the window: in words, and without options of the command line."""
    if isinstance(text, Asked):
        return f"{in_words(text.doubt.sentence(text.doubt.named or text.doubt.channel))}. {_COLUMNS}"
    return in_words(text)


def not_judged_words(item: NotJudged) -> tuple[str, str]:
    """Return what was not judged, and why, in words."""
    what, why = (
        event_title(item.what) if item.what in EVENTS else in_words(item.what),
        in_words(item.why),
    )
    name = why.removesuffix(_NOT_RECORDED)
    # "Oil temperature high: Oil temperature not recorded" says it twice.
    return what, _NOT_RECORDED.strip() if name != why and what.lower().startswith(name.lower()) else why


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
    """Return a text with the profile's keys, in backticks or bare, in words."""
    return _KEY.sub(lambda m: f"{m[1] or 'the '}{key_words(m[2] or m[3], profile)}", text)
