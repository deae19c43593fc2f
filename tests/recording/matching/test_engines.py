"""Whose engine a column is: sides, numbers and words in its name, its siblings, and what no channel was taken from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.analysis.assess import assess
from debrief.profile.loader import find
from debrief.recording.lexicon import match_name
from debrief.recording.model import Recording
from debrief.recording.reader import read

Write = Callable[..., Path]

ROWS = [(0, 0.0, 15.0, 0), (1, 20.0, 300.0, 1), (2, 60.0, 700.0, 1), (3, 60.5, 690.0, 1), (4, 60.5, 690.0, 1)]


def made(write: Write, headings: str, hot: float = 1.0, **options: object) -> Recording:
    """Return a recording whose columns are, in pairs, Ng, ITT and fuel of the first and of the second engine."""
    values = [
        [t, ng, ng * 0.99, itt, itt * hot, fuel, fuel][: headings.count(",") + 1] for t, ng, itt, fuel in ROWS
    ]
    lines = [headings, *(",".join(f"{v:g}" for v in row) for row in values)]
    return read(write("\n".join(lines) + "\n"), **options)  # type: ignore[arg-type]


PAIRS = [
    ("{}", "{} 2"), ("{}", "{} (2)"), ("{}", "2nd {}"), ("{}1", "{}2"), ("{} 1", "{} 2"), ("#1 {}", "#2 {}"),
    ("{} L", "{} R"), ("L {}", "R {}"), ("{} (L)", "{} (R)"), ("{}_l", "{}_r"), ("{}L", "{}R"),
    ("{} Left", "{} Right"), ("LH {}", "RH {}"), ("{}_lt", "{}_rt"), ("{}_lh", "{}_rh"), ("{} port", "{} starboard"),
    ("Port {}", "Stbd {}"), ("Eng1 {}", "Eng2 {}"), ("{} (ENG 1)", "{} (ENG 2)"), ("E1_{}", "E2_{}"),
    ("Engine II {}", "Engine I {}"), ("No. 1 Engine {}", "No. 2 Engine {}"), ("{} Eng. L", "{} Eng. R"), ("{}", "{} Eng R"),
]  # fmt: skip


@pytest.mark.parametrize(("first", "second"), PAIRS)
@pytest.mark.parametrize("signs", [("Ng", "ITT", "Fuel On"), ("N1", "EGT", "Condition Lever")])
def test_all_ways_to_name_two_engines(
    first: str, second: str, signs: tuple[str, str, str], write: Write
) -> None:
    if first == "{}1":
        signs = ("Ng", "ITT", "Condition Lever")  # a digit behind N1 would be another name
    headings = ",".join(way.format(sign) for sign in signs for way in (first, second))
    recording = made(write, f"Time,{headings}")
    assert set(recording.channels) == {"ng", "ng.2", "itt", "itt.2", "fuel_on", "fuel_on.2"}
    assert not recording.provenance.questions
    assert recording.engines == (1, 2)
    column = {name: channel.column for name, channel in recording.channels.items()}
    swapped = "II" in first
    assert column["itt"] == (second if swapped else first).format(signs[1])


@pytest.mark.parametrize(
    "headings",
    ["ng,ng.2,itt,itt.2", "ng_1,ng_2,itt_1,itt_2", "ng_lt,ng_rt,itt_lt,itt_rt", "ng_l,ng_r,itt_l,itt_r"],
)
def test_the_programs_own_names_carry_engine_and_unit(headings: str, write: Write) -> None:
    recording = made(write, f"time,{headings}", hot=1.5)
    assert recording.channels["itt.2"].values.max() == 1050.0
    assert not recording.provenance.questions


def test_two_probes_and_two_igniters_are_no_second_engine(write: Write) -> None:
    rows = ["Time,Ng,ITT,ITT 1,ITT 2,Ignition,Ignition 2,Gen On,Gen On 2"]
    rows += [f"{t},{ng},{itt},{itt},{itt - 5},0,0,0,0" for t, ng, itt, _ in ROWS]
    recording = read(write("\n".join(rows) + "\n"))
    assert recording.engines == (1,)
    assert not recording.engines_left


def test_a_unit_is_that_of_the_other_engine(write: Write) -> None:
    headings = "Time,Ng L (%),Ng R,ITT L (degC),ITT R"
    recording = made(write, headings, hot=1.5)  # 1050: of itself a hot start in °C or a usual one in °F
    assert recording.channels["itt.2"].values.max() == 1050.0
    assert any("as for the other engine" in said for said in recording.provenance.decisions)
    fahrenheit = made(write, "Time,Ng L (%),Ng R,ITT L (degF),ITT R")
    assert fahrenheit.channels["itt.2"].values.max() == pytest.approx((700 - 32) / 1.8)
    told = made(write, "Time,Ng L (%),Ng R,ITT L,ITT R", hot=1.5, maps=["itt=ITT L:degC"])
    assert told.channels["itt.2"].values.max() == 1050.0


@pytest.mark.parametrize(
    ("headings", "columns"),
    [
        ("Time,Ng,Spare,ITT (degC),ITT 2 (degC)", ('"ITT 2 (degC)"',)),
        ("Time,Ng,Spare,ITT (degC),ITT right (psi)", ('"ITT right (psi)"',)),
        ("Time,Ng,Oil temp right (degC),ITT (degC),ITT right (psi)", ('"ITT right (psi)"',)),
    ],
)
def test_an_engine_without_channels_leaves_the_verdict_open(
    headings: str, columns: tuple[str, ...], write: Write
) -> None:
    recording = made(write, headings)
    assert recording.provenance.questions
    assessed = assess(recording, find("tarn-tg7"))
    (point,) = (one for one in assessed.not_judged if one.what == "engine 2")
    assert point.core
    assert point.engine == 2
    assert all(column in point.why for column in columns)
    assert assessed.verdict != "within"
    assert "engine 2" in assessed.sentence


def test_a_column_that_is_said_to_be_not_used_shows_no_engine(write: Write) -> None:
    recording = made(write, "Time,Ng,Spare,ITT (degC),ITT 2 (degC)", maps=["none=ITT 2 (degC)"])
    assert not recording.engines_left
    assert not recording.provenance.questions


@pytest.mark.parametrize(
    "name", ["Condition Lever On", "Start Lever", "Fuel Cutoff Lever", "Cond Lever Run", "Fuel lever state"]
)
def test_names_of_the_fuel_signal(name: str) -> None:
    assert [m.channel for m in match_name(name)][:1] == ["fuel_on"]
