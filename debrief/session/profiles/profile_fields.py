"""Which fields an engine profile has, for a form: by table, with words, unit and kind. No values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Literal

from debrief.profile.limits import BAND_METHODS, COUNT, PHASES, WHEN
from debrief.profile.model import (
    OAT_IS,
    AbortRules,
    FactorRules,
    FlightRules,
    LifeRules,
    ShutdownRules,
    StartRules,
)
from debrief.words.channels import CANONICAL, channel_words
from debrief.words.events import EVENTS, event_title
from debrief.words.numbers import unit_words
from debrief.words.profile_keys import key_title

Kind = Literal["text", "long_text", "number", "flag", "choice", "texts", "numbers", "spans", "rows"]


@dataclass(frozen=True)
class Column:
    """One key of the rows in a list; `kind` is text, number, choice or points."""

    key: str
    title: str
    kind: Literal["text", "number", "choice", "points"] = "number"
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Field:
    """One key of a table.

    Attributes
    ----------
    key : str
        As in the file; with a dot where it stands in an inner table, such as ``reference_rpm.ng``.
    title, hint : str
        Words, and how it is written.
    kind : str
        ``spans`` are pairs such as arcs, ``rows`` a list of small tables.
    choices : tuple of str
        Of a choice.
    columns : tuple of Column
        Of rows.
    """

    key: str
    title: str
    kind: Kind = "number"
    hint: str = ""
    choices: tuple[str, ...] = ()
    columns: tuple[Column, ...] = ()


CHOICE_WORDS: Mapping[str, str] = {
    "": "not given",
    "manual": "the crew, by hand",
    "automatic": "the engine's control",
    "as_ground": "judged as on the ground",
    "not_judged": "not judged",
    "total": "added up",
    "longest": "each stay beyond the level by itself",
    "start": "in a start",
    "running": "with the engine running",
    "ground": "on the ground",
    "airborne": "in the air",
    "any": "always",
    "rest": "a rest",
    "successful_start": "a start that came to idle",
    "limit": "limit",
    "caution": "caution",
    "peak_vs_time_above": "peak against the time above the base level",
    "curve": "time above each level",
    "static_air": "static air temperature",
    "total_air": "total air temperature, with the ram rise",
}
"""What the words of the file are called."""


def choice_words(word: str) -> str:
    """Return what a word of the file that can be chosen is called; units, channels and findings by their own names."""
    if word in CANONICAL:
        return channel_words(word)
    if word in EVENTS:
        return event_title(word)
    return CHOICE_WORDS.get(word) or unit_words(word)


_SPANS = "from to, from to: 400 to 780, 800 to 820"
_CHANNELS = tuple(CANONICAL)

TOP = (
    Field("name", "Name", "text", "printed on every page"),
    Field("revision", "Revision", "text"),
    Field("aircraft", "Aircraft", "text"),
    Field("engines", "Engine models", "texts", "separated by commas"),
    Field("source", "Source", "long_text", "manual, its revision and date"),
    Field("entered_by", "Entered by", "text", "who typed the numbers"),
    Field("entered_on", "Entered on", "text", "YYYY-MM-DD"),
    Field("checked_by", "Checked by", "text", "who held them against the manual"),
    Field("checked_on", "Checked on", "text", "YYYY-MM-DD"),
    Field("approved_data", "Approved data", "flag", "only with a source that was checked"),
)
ENGINE = (
    Field("reference_rpm.ng", "Ng at 100 %, rpm"),
    Field("reference_rpm.np", "Np at 100 %, rpm"),
    Field("reference_torque.value", "Torque at 100 %"),
    Field("reference_torque.unit", "Unit of that torque", "text", "such as lbf ft or N m"),
)
_DUTY = (Column("run_s", "Run, s"), Column("rest_s", "Rest after it, s"))
STARTER = (
    Field("duty", "Runs and rests, in order", "rows", "the last row repeats", columns=_DUTY),
    Field("external_duty", "The same from external power", "rows", columns=_DUTY),
    Field("reset_after_s", "Rest after which the cycle restarts, s"),
    Field("reset_counts", "What restarts it", "choice", choices=("rest", "successful_start")),
)
GAUGE = (
    Field("unit", "Unit", "text"),
    Field("range", "Range", "spans", "from to: 0 to 1200"),
    Field("green", "Green arcs", "spans", _SPANS),
    Field("yellow", "Yellow arcs", "spans", _SPANS),
    Field("red", "Red arcs", "spans", _SPANS),
    Field("red_lines", "Red lines", "numbers", "separated by commas"),
)
LIMIT = (
    Field("id", "Name of the limit", "text"),
    Field("event", "Finding", "choice", choices=tuple(EVENTS)),
    Field("channel", "Channel", "choice", choices=_CHANNELS),
    Field("when", "Applies", "choice", choices=WHEN),
    Field("unit", "Unit", "text"),
    Field("count", "Time counted", "choice", choices=COUNT),
    Field(
        "allowed", "Allowed", "rows", "above, or below for a minimum; mildest first",
        columns=(
            Column("above", "Above"), Column("below", "Below"), Column("seconds", "Seconds"),
            Column("severity", "Severity", "choice", ("", "limit", "caution")),
        ),
    ),
    Field("rejoin_s", "Gaps shorter than this are bridged, s", hint="2 unless given"),
    Field(
        "where", "Only while", "rows",
        columns=(
            Column("channel", "Channel", "choice", ("", *_CHANNELS)), Column("above", "Above"), Column("below", "Below"),
            Column("equals", "Equals"), Column("unit", "Unit", "text"),
        ),
    ),
    Field("phases", "Only in phases", "texts", ", ".join(PHASES)),
    Field("after_takeoff_s", "From take-off power on for, s"),
    Field("outside_takeoff_s", "Not from take-off power on for, s"),
    Field("reference", "Reference", "text", "chapter of the manual"),
    Field("band_method", "Method of the bands", "choice", choices=BAND_METHODS),
    Field("band_base", "Level that the bands count from"),
    Field(
        "bands", "Bands of the manual's chart", "rows", "lower edges, level and seconds: 930 at 30, 1030 at 10",
        columns=(Column("name", "Name", "text"), Column("points", "Edge", "points"),
                 Column("action", "Action", "text")),
    ),
)  # fmt: skip

POWER_CHECK = (
    Field("name", "Name of the power check", "text"),
    Field("reference", "Reference", "text", "chapter of the manual"),
    Field("bleed", "Only with bleed", "choice", choices=("on", "off")),
    Field("separator", "Only with the separator", "choice", choices=("on", "off")),
    Field("torque_unit", "Unit of torque", "text", "% unless given"),
    Field("unit", "Unit of the highest value", "text", "°C or % unless given"),
    Field(
        "points", "Points of the manual's chart", "rows", "on a grid; the highest ITT or the highest Ng at each",
        columns=(
            Column("torque", "Torque"), Column("pressure_altitude_ft", "Pressure altitude, ft"),
            Column("oat_c", "OAT, °C"), Column("itt", "Highest ITT"), Column("ng", "Highest Ng"),
        ),
    ),
)  # fmt: skip


def _of(rules: type) -> tuple[Field, ...]:
    out = []
    for one in fields(rules):
        if one.name == "fuel_control":
            out.append(Field(one.name, "Fuel control", "choice", choices=("manual", "automatic")))
        elif one.name == "oat_is":
            out.append(Field(one.name, "Recorded OAT is", "choice", choices=OAT_IS))
        elif one.name == "air_starts":
            out.append(Field(one.name, "Starts in the air", "choice", choices=("as_ground", "not_judged")))
        else:
            words, unit = key_title(one.name)
            title = f"{words[:1].upper()}{words[1:]}" + (f", {unit_words(unit)}" if unit else "")
            if one.name == "avoided_np_rpm":
                out.append(Field(one.name, title, "spans", "from to, from to: 500 to 900"))
            else:
                out.append(Field(one.name, title, hint="not judged"))
    return tuple(out)


START = _of(StartRules)
ABORT = _of(AbortRules)
FACTORS = _of(FactorRules)
FLIGHT = _of(FlightRules)
SHUTDOWN = _of(ShutdownRules)
LIFE = _of(LifeRules)
MAX_RATE = tuple(
    Field(name, f"{channel_words(name)}, {unit_words(unit)}/s")
    for name, unit in CANONICAL.items()
    if not unit.startswith("0/1")
)
