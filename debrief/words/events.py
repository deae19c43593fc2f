"""The kinds of findings: one row each, and the words for outcomes, severities and verdicts.

To add a kind, add its row here and its rule in ``analysis/``, with an entry in ``resources/definitions.md``. A profile may
name kinds of its own in its limits: they have no row and are the engine's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, Protocol

from debrief.words.channels import within_sentence

EventClass = Literal["engine", "procedure"]


@dataclass(frozen=True)
class EventSpec:
    """What is known of a kind of finding.

    Attributes
    ----------
    kind : str
        As in the data.
    title : str
        For people.
    event_class : "engine" or "procedure"
        Whether it is about a limit of the engine or about how it was handled.
    rank : int
        The worst first in the verdict: 0 heat, 1 fire after shutdown, 2 all others.
    fails_start : "always", "without a reason" or ""
        Whether it says that a start failed, so that no number was exceeded.
    makes_bad : bool
        Whether what contributed is looked for.
    bars_restart : bool
        Whether no start should be attempted after it before the manual is consulted.
    is_leak : bool
        Fuel where none should be, which is a caution and bars a start like more.
    is_rise : bool
        Its level is a rise, not a value: its zero does not move with the unit.
    is_below : bool
        Its peak is the lowest value.
    listed : str
        What it is called in a list, where its title, made small, would read as two things.
    of : str
        The channel that its title names, so that what is said beside it need not.
    """

    kind: str
    title: str
    event_class: EventClass = "engine"
    rank: int = 2
    fails_start: Literal["always", "without a reason", ""] = ""
    makes_bad: bool = False
    bars_restart: bool = False
    is_leak: bool = False
    is_rise: bool = False
    is_below: bool = False
    listed: str = ""
    of: str = ""


EVENTS: Mapping[str, EventSpec] = MappingProxyType(
    {
        row.kind: row
        for row in (
            EventSpec("hot_start", "Hot start", rank=0, makes_bad=True, bars_restart=True),
            EventSpec("hung_start", "Hung start", fails_start="always", makes_bad=True, bars_restart=True),
            EventSpec("no_light_off", "No light-off", "procedure", fails_start="without a reason", makes_bad=True, bars_restart=True),
            EventSpec("early_fuel", "Early fuel", "procedure"),
            EventSpec("low_start_voltage", "Low start voltage", is_below=True),
            EventSpec("residual_heat", "Residual heat"),
            EventSpec("fuel_reintroduced", "Fuel reintroduced", "procedure"),
            EventSpec("motoring_short", "Motoring too short", "procedure"),
            EventSpec("burning_after_cut", "Fire after shutdown", rank=1, makes_bad=True, bars_restart=True, is_rise=True),
            EventSpec("fuel_after_cut", "Fuel after cut-off", is_leak=True),
            EventSpec("starter_overrun", "Starter overrun", "procedure", bars_restart=True),
            EventSpec("overtemp", "Overtemperature", rank=0, makes_bad=True),
            EventSpec("overtorque", "Overtorque"),
            EventSpec("overspeed_ng", "Overspeed, gas generator", listed="gas generator overspeed"),
            EventSpec("overspeed_np", "Overspeed, propeller", listed="propeller overspeed"),
            EventSpec("oil_temp_high", "Oil temperature high", listed="high oil temperature", of="oil_temp"),
            EventSpec("oil_press_low", "Oil pressure low", is_below=True, listed="low oil pressure", of="oil_press"),
            EventSpec("beta_in_flight", "Beta in flight"),
            EventSpec("cut_without_settling", "Fuel cut-off without settling", "procedure"),
        )
    }
)  # fmt: skip
"""By kind, in the order of the documentation."""

_OF_A_PROFILE = EventSpec("", "")

OUTCOME_WORDS = {
    "completed": "Completed",
    "incomplete": "Incomplete in the recording",
    "flamed_out": "Flamed out",
    "hung": "Hung",
    "aborted": "Aborted",
    "no_light_off": "No light-off",
    "motoring": "Dry motoring",
    "unknown": "Outcome not known",
}

Sign = Literal["diamond", "hollow_diamond", "triangle", "circle"]

Severity = Literal["limit", "possible", "caution", "note"]
"""How bad a finding is: also of which colour it is, and of which sign."""

SIGNS: Mapping[str, Sign] = MappingProxyType(
    {"limit": "diamond", "possible": "hollow_diamond", "caution": "triangle", "note": "circle"}
)
"""The shape that stands beside the colour of a severity, on screen and paper."""


@dataclass(frozen=True)
class FindingSpec:
    """The word for a finding, or for a recording, wherever it stands: banner, story, history, text and paper.

    Attributes
    ----------
    title : str
        The word.
    shown_as : str or None
        Of which severity its colour and sign are: "exceeded" and its diamond are said of the engine's limits alone, so a
        rule of procedure that was not kept has those of a caution. Nothing exceeded has none and is never green: it is
        not an approval.
    later : str
        What it is called in a sentence that began with another; empty where that is its title.
    """

    title: str
    shown_as: Severity | None
    later: str = ""

    @property
    def sign(self) -> Sign | None:
        """The shape beside it."""
        return None if self.shown_as is None else SIGNS[self.shown_as]


FINDINGS: Mapping[str, FindingSpec] = MappingProxyType(
    {
        "exceeded": FindingSpec("Exceeded", "limit"),
        "failed": FindingSpec("Start failed", "limit"),
        "possible": FindingSpec("Possibly exceeded", "possible", "Possibly also exceeded"),
        "possibly_failed": FindingSpec("Start possibly failed", "possible"),
        "procedure": FindingSpec("Procedure", "caution", "Also, procedure"),
        "possibly_procedure": FindingSpec("Procedure, possibly", "caution", "Possibly also procedure"),
        "caution": FindingSpec("Caution", "caution"),
        "note": FindingSpec("Note", "note"),
    }
)
"""By key; the word that a sentence, or a list, leads with is the first of these that was found."""

VERDICTS: Mapping[str, FindingSpec] = MappingProxyType(
    {
        "exceeded": FINDINGS["exceeded"],
        "possible": FINDINGS["possible"],
        "undetermined": FindingSpec("Cannot be told", "caution"),
        "within": FindingSpec("Nothing exceeded", None),
    }
)
"""What a verdict is called where nobody knows its findings; else see `headline`."""


class Found(Protocol):
    """What is known of a finding, listed or only counted."""

    @property
    def kind(self) -> str:
        """As in the data."""

    @property
    def event_class(self) -> EventClass:
        """Whether it is about the engine or about how it was handled."""

    @property
    def severity(self) -> Severity:
        """How bad it is."""

    @property
    def reason(self) -> str | None:
        """Why, where its kind has several reasons."""


def is_failed_start(event: Found) -> bool:
    """Return whether a finding is that a start failed: it hung, or never lit. It exceeded no number."""
    fails = event_spec(event.kind).fails_start
    return fails == "always" or (fails == "without a reason" and not event.reason)


def finding_key(event: Found) -> str:
    """Return the key in `FINDINGS` of a finding."""
    sure, maybe = event.severity == "limit", event.severity == "possible"
    if not (sure or maybe):
        return event.severity
    if is_failed_start(event):
        return "failed" if sure else "possibly_failed"
    if event.event_class == "procedure":
        return "procedure" if sure else "possibly_procedure"
    return "exceeded" if sure else "possible"


def finding(event: Found) -> FindingSpec:
    """Return the word for a finding, with its sign and colour."""
    return FINDINGS[finding_key(event)]


def headline(verdict: str, events: Iterable[Found]) -> FindingSpec:
    """Return the word for a whole recording: that of its gravest finding where the verdict rests on one."""
    key = headline_key(verdict, events)
    return FINDINGS.get(key) or VERDICTS[key]


def listed_headline(verdict: str, events: Sequence[Found]) -> str:
    """Return the word for a whole recording where its sentence has no room, with cautions that the word does not tell."""
    title, caution = headline(verdict, events).title, FINDINGS["caution"]
    has_caution = any(finding_key(event) == "caution" for event in events)
    return f"{title}; {caution.title.lower()}" if has_caution and title != caution.title else title


def headline_key(verdict: str, events: Iterable[Found]) -> str:
    """Return the key under which `headline_of` has the word for a whole recording, to be kept."""
    if verdict in ("exceeded", "possible"):
        found = {finding_key(event) for event in events}
        return next((key for key in FINDINGS if key in found), verdict)
    return verdict


def headline_of(key: str) -> FindingSpec | None:
    """Return the word for a whole recording from its key; None where the key is none."""
    return FINDINGS.get(key) or VERDICTS.get(key)


def event_spec(kind: str) -> EventSpec:
    """Return what is known of a kind; of a profile's own kind that it is the engine's, and no more."""
    return EVENTS.get(kind, _OF_A_PROFILE)


def event_title(kind: str) -> str:
    """Return the title of a kind; a profile's own kind is shown in words."""
    return event_spec(kind).title or kind.replace("_", " ").capitalize()


def event_in_list(kind: str) -> str:
    """Return a kind as it stands in a list inside a sentence: ``hot start``, ``propeller overspeed``."""
    return event_spec(kind).listed or within_sentence(event_title(kind))
