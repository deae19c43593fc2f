"""What findings, what was not judged and the profile's keys are called, alike in the window, the text and on the paper."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from debrief.analysis.measures.factors import is_bad
from debrief.analysis.model import Assessment, Event, NotJudged, Start
from debrief.profile.model import EngineProfile
from debrief.words.asked import Asked
from debrief.words.channels import USUAL_NAMES, ChannelNames
from debrief.words.events import EVENTS, Found, event_title, finding
from debrief.words.numbers import plain, unit_words, value_text
from debrief.words.profile_keys import key_title
from debrief.words.sampling import after_text, highest_bound, lowest_bound, reading_text

NO_FACTOR = "No contributing factor found among those checked."
"""Said of a bad start that was examined, so that "none" differs from "not examined"."""

FROM_ONE_SECOND = "(after the first second)"
"""Stands beside the lowest voltage of a start: the inrush of the first second is not in it."""

_COLUMNS = "To fix: File, Columns."

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

    What fuel found, too little speed or too much heat, stands at the first sample with fuel, not at the last one without
    it, where the bounds begin. A pause that was too short stands where it ended: the starter or the fuel came then.
    """
    if event.kind in ("early_fuel", "residual_heat") and event.peak_s is not None:
        return event.peak_s
    return (
        event.end_s
        if event.kind == "fuel_reintroduced" or event.reason == "rest_too_short"
        else event.start_s
    )


def itt_unit(start: Start) -> str:
    """Return the unit in which the temperatures of a start are shown."""
    peak = start.measures.get("peak_itt")
    return "degC" if peak is None else peak.unit


def severity_words(event: Found) -> str:
    """Return the word for a finding, the same as the verdict has: "Exceeded" is only said of the engine's limits.

    A rule of the procedure that was not kept is "Procedure", a start that never lit or that hung "Start failed".
    """
    return finding(event).title


def no_factor(assessment: Assessment, start: Start, events: Sequence[Event] | None = None) -> str:
    """Return the sentence for a bad start with no factor; empty where there is one or none was looked for."""
    known = assessment.events if events is None else events
    if assessment.profile is None or start.factors or not is_bad(start, known):
        return ""
    return NO_FACTOR


@dataclass(frozen=True)
class KeySaid:
    """A key of the profile in words, its value, empty where it has none, and its line, None where it is not known."""

    words: str
    value: str = ""
    line: int | None = None

    def text(self, place: str = "") -> str:
        """Return the words, behind them in brackets the value and where it stands."""
        behind = ", ".join(filter(None, (self.value, place)))
        return f"{self.words} ({behind})" if behind else self.words

    def __str__(self) -> str:
        """Return all of it, the line as that of the profile."""
        return self.text("" if self.line is None else f"line {self.line} of the profile")


def key_words(
    key: str,
    profile: EngineProfile | None,
    line: int | None = None,
    names: ChannelNames = USUAL_NAMES,
) -> str:
    """Return a key of the profile in words, with its value and its line there, as `key_said` has them."""
    return str(key_said(key, profile, line, names))


def key_said(
    key: str,
    profile: EngineProfile | None,
    line: int | None = None,
    names: ChannelNames = USUAL_NAMES,
) -> KeySaid:
    """Return a key of the profile in words, its value and its line there.

    Parameters
    ----------
    key : str
        With or without its table, such as ``start.purge_s``, or ``limits.itt-start``.
    profile : EngineProfile or None
        Where its value and line are looked up; without it the line is the one that is known.
    line : int or None
        The line where that is known better: of a limit that of the level that decides, not where it begins.
    names : ChannelNames
        What the recording beside it calls its channels.
    """
    table, _, name = key.rpartition(".")
    words, unit = (f"limit {name}", "") if table == "limits" else key_title(name, names)
    tables = (table,) if table else ("start", "starter", "abort", "factors", "flight", "shutdown", "life")
    for one in tables:
        begins = None if profile is None else profile.lines.get(f"{one}.{name}")
        if profile is None or begins is None:
            continue
        held = getattr(getattr(profile, one, None), name, None)
        shown = unit_words(profile.units.of(unit))
        number = (
            f"{plain(held, profile.units.of(unit))} {shown}".rstrip()
            if isinstance(held, (int, float))
            else ""
        )
        return KeySaid(words, number, line or begins)
    return KeySaid(words, line=line)


def keys_in_words(text: str, profile: EngineProfile | None, names: ChannelNames = USUAL_NAMES) -> str:
    """Return a text of the page of definitions with the profile's keys, which it has in backticks, in words."""
    return _KEY.sub(lambda m: f"{m[1] or 'the '}{key_words(m[2], profile, names=names)}", text)


def bound_words(start: Start, measure: str) -> str:
    """Return what stands before an extreme of a start that the recording may not hold: ``at least ``, ``at most ``; else nothing."""
    found = start.measures.get(measure)
    if found is None or found.value is None:
        return ""
    words = lowest_bound if measure.startswith("min_") else highest_bound
    return words(found.value, found.low, found.high, found.unit)


def after_words(start: Start, measure: str, what: str) -> str:
    """Return a time that is measured from something else: ``1.0 s after fuel``; empty where it is not known."""
    found = start.measures.get(measure)
    if found is not None and found.value is not None:
        return after_text(found.value, found.low, found.high, what)
    first, last = (getattr(start, name) for name in _ENDS[measure])
    return "" if first is None or last is None else after_text(last - first, None, None, what)


_ENDS = {"fuel_to_light_off": ("fuel_on_s", "light_off_s"), "light_off_to_idle": ("light_off_s", "idle_s")}


def fuel_words(start: Start) -> str:
    """Return the Ng at fuel with its unit, by its bounds where sampling leaves more open than matters."""
    found = start.measures.get("ng_at_fuel")
    if found is None or found.value is None:
        return value_text(start.ng_at_fuel_pct, "%")
    return reading_text(found.value, found.low, found.high, found.unit)
