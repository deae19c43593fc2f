"""The kinds of findings: one row each, and the words for outcomes, severities and verdicts.

To add a kind, add its row here and its rule in ``analysis/``, with an entry in ``resources/definitions.md``. A profile may
name kinds of its own in its limits: they have no row and are the engine's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

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
            EventSpec("burning_after_cut", "Burning after the cut", rank=1, makes_bad=True, bars_restart=True, is_rise=True),
            EventSpec("starter_overrun", "Starter overrun", "procedure", bars_restart=True),
            EventSpec("overtemp", "Overtemperature", rank=0, makes_bad=True),
            EventSpec("overtorque", "Overtorque"),
            EventSpec("overspeed_ng", "Overspeed, gas generator", listed="gas generator overspeed"),
            EventSpec("overspeed_np", "Overspeed, propeller", listed="propeller overspeed"),
            EventSpec("oil_temp_high", "Oil temperature high", of="oil_temp"),
            EventSpec("oil_press_low", "Oil pressure low", is_below=True, of="oil_press"),
            EventSpec("beta_in_flight", "Beta in flight"),
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
    "motoring": "Motoring only",
    "unknown": "Outcome not known",
}

Sign = Literal["diamond", "hollow_diamond", "triangle", "circle"]

SIGNS: Mapping[str, Sign] = MappingProxyType(
    {"limit": "diamond", "possible": "hollow_diamond", "caution": "triangle", "note": "circle"}
)
"""The shape that stands beside the colour of a severity, on screen and paper."""

SEVERITY_WORDS = {"limit": "Exceeded", "possible": "Possibly exceeded", "caution": "Caution", "note": "Note"}


@dataclass(frozen=True)
class VerdictSpec:
    """What a verdict is called, also in a list, and of which severity its sign and colour are.

    Nothing exceeded has none and is never green: it is not an approval.
    """

    title: str
    severity: Literal["limit", "possible", "caution"] | None


VERDICTS: Mapping[str, VerdictSpec] = MappingProxyType(
    {
        "exceeded": VerdictSpec("Exceeded", "limit"),
        "possible": VerdictSpec("Possibly exceeded", "possible"),
        "undetermined": VerdictSpec("Cannot be told", "caution"),
        "within": VerdictSpec("Nothing exceeded", None),
    }
)


def event_spec(kind: str) -> EventSpec:
    """Return what is known of a kind; of a profile's own kind that it is the engine's, and no more."""
    return EVENTS.get(kind, _OF_A_PROFILE)


def event_title(kind: str) -> str:
    """Return the title of a kind; a profile's own kind is shown in words."""
    return event_spec(kind).title or kind.replace("_", " ").capitalize()


def event_in_list(kind: str) -> str:
    """Return a kind as it stands in a list inside a sentence: ``hot start``, ``propeller overspeed``."""
    return event_spec(kind).listed or within_sentence(event_title(kind))
