"""Which fields an engine profile has, for a form: by table, with words, unit and kind. No values."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from debrief.profile.limits import BAND_METHODS, COUNT, PHASES, WHEN
from debrief.profile.model import AbortRules, FactorRules, FlightRules, StartRules
from debrief.words.channels import CANONICAL
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
    Field("approved_data", "Approved data", "flag", "only with a source that a person has checked"),
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
    Field("reset_after_s", "Rest that begins the order anew, s"),
    Field("reset_counts", "What begins it anew", "choice", choices=("rest", "successful_start")),
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
    Field("id", "Identification", "text"),
    Field("event", "Finding", "text", "such as hot_start; small letters and underscores"),
    Field("channel", "Channel", "choice", choices=_CHANNELS),
    Field("when", "Applies", "choice", choices=WHEN),
    Field("unit", "Unit", "text"),
    Field("count", "Time counted", "choice", "total: summed; longest: one run", choices=COUNT),
    Field(
        "allowed", "Allowed", "rows", "above, or below for a minimum; mildest first",
        columns=(
            Column("above", "Above"), Column("below", "Below"), Column("seconds", "Seconds"),
            Column("severity", "Severity", "choice", ("", "limit", "caution")),
        ),
    ),
    Field("rejoin_s", "Break that does not end a run, s", hint="2 unless given"),
    Field(
        "where", "Only while", "rows",
        columns=(
            Column("channel", "Channel", "text"), Column("above", "Above"), Column("below", "Below"),
            Column("equals", "Equals"), Column("unit", "Unit", "text"),
        ),
    ),
    Field("phases", "Only in phases", "texts", ", ".join(PHASES)),
    Field("after_takeoff_s", "From take-off power on for, s"),
    Field("reference", "Reference", "text", "chapter of the manual"),
    Field("band_method", "Method of the bands", "choice", choices=BAND_METHODS),
    Field("band_base", "Level that the bands count from"),
    Field(
        "bands", "Bands of the manual's chart", "rows", "lower edges, level and seconds: 930 at 30, 1030 at 10",
        columns=(Column("name", "Name", "text"), Column("points", "Edge", "points"),
                 Column("action", "Action", "text")),
    ),
)  # fmt: skip


def _of(rules: type) -> tuple[Field, ...]:
    out = []
    for one in fields(rules):
        if one.name == "fuel_control":
            out.append(Field(one.name, "Fuel control", "choice", choices=("manual", "automatic")))
        elif one.name == "air_starts":
            out.append(Field(one.name, "Starts in the air", "choice", choices=("as_ground", "not_judged")))
        else:
            words, unit = key_title(one.name)
            title = f"{words[:1].upper()}{words[1:]}" + (f", {unit}" if unit else "")
            out.append(Field(one.name, title, hint="not judged"))
    return tuple(out)


START = _of(StartRules)
ABORT = _of(AbortRules)
FACTORS = _of(FactorRules)
FLIGHT = _of(FlightRules)
MAX_RATE = tuple(
    Field(name, f"{name}, {unit}/s") for name, unit in CANONICAL.items() if not unit.startswith("0/1")
)
