"""The definitions page: every number that the program can report has an entry, and no entry is without code."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import get_args

import pytest

from debrief.analysis.model import Assessment, Event, LimitResult, Outcome, Start, StartKind, Verdict
from debrief.history.measures import ADJUSTED_PEAK
from debrief.session.texts.definitions import (
    GROUPS,
    MEASURE,
    definition_of,
    measure_title,
    page,
    parse,
    source_text,
)
from debrief.words.events import EVENTS, OUTCOME_WORDS, VERDICTS
from tests.demo_assessing import DEMOS, assessed

ROOT = Path(__file__).parents[1]
CODE = [*(ROOT / "debrief" / "analysis").rglob("*.py"), *(ROOT / "debrief" / "recording").rglob("*.py")]


def names(group: str) -> set[str]:
    return {entry.name for entry in page().entries if entry.group == group}


@cache
def trees() -> tuple[ast.Module, ...]:
    return tuple(ast.parse(path.read_text(encoding="utf-8")) for path in CODE)


def nodes(kind: type[ast.AST]) -> Iterator[ast.AST]:
    for tree in trees():
        yield from (node for node in ast.walk(tree) if isinstance(node, kind))


def strings(node: ast.AST) -> set[str]:
    """Return the text of a literal; a place that is filled in at run time reads ``*``."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return {node.value}
    if isinstance(node, ast.JoinedStr):
        parts = [str(p.value) if isinstance(p, ast.Constant) else "*" for p in node.values]
        return {"".join(parts)}
    if isinstance(node, ast.IfExp):
        return strings(node.body) | strings(node.orelse)
    return set()


def first_arguments(*functions: str, keyword: str = "kind", position: int = 0) -> set[str]:
    """Return the literals handed to these functions as their kind."""
    out: set[str] = set()
    for node in nodes(ast.Call):
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        if name not in functions:
            continue
        given = [k.value for k in node.keywords if k.arg == keyword]
        if not given and len(node.args) > position:
            given = [node.args[position]]
        for value in given:
            out |= strings(value)
    return out


@cache
def measure_literals() -> frozenset[str]:
    """Return the names under which the analysis puts a measure, in all functions that return some."""
    out: set[str] = set()
    for made in nodes(ast.FunctionDef):
        if made.returns is None or ast.unparse(made.returns) != "dict[str, Measured]":
            continue
        for node in ast.walk(made):
            if isinstance(node, ast.Dict | ast.DictComp):
                for key in node.keys if isinstance(node, ast.Dict) else [node.key]:
                    out |= set() if key is None else strings(key)
            elif isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store):
                out |= strings(node.slice)
    return frozenset(out)


@cache
def all_assessed() -> tuple[Assessment, ...]:
    return tuple(map(assessed, DEMOS))


def test_the_demo_flights_report_nothing_that_has_no_entry():
    missing: set[tuple[str, str]] = set()
    kinds: set[str] = set()
    for a in all_assessed():
        for start in a.starts:
            wanted = [(name, MEASURE) for name in start.measures]
            wanted += [(f.kind, "factor") for f in start.factors]
            wanted += [(start.outcome, "outcome"), (start.kind, "start kind")]
            missing |= {w for w in wanted if definition_of(*w) is None}
        kinds |= {e.kind for e in a.events}
        wanted = [(name, MEASURE) for name in a.flight_measures]
        wanted += [(e.kind, "event") for e in a.events]
        wanted += [(q.kind, "quality") for q in a.quality]
        wanted += [(p.name, "phase") for p in a.phases]
        wanted += [(a.verdict, "verdict")]
        missing |= {w for w in wanted if definition_of(*w) is None}
    assert missing == set()
    assert len(kinds) > 8  # the demo flights do show many kinds


def test_every_measure_that_the_code_can_name_has_an_entry_and_no_entry_is_without_code():
    patterns = [re.escape(s).replace(r"\*", "[A-Za-z_]+") for s in measure_literals()]
    assert {"peak_itt", "time_above_*", "highest_*_running"} <= measure_literals()
    for literal in measure_literals():
        pattern = re.escape(literal).replace(r"\*", "[A-Za-z_]+")
        assert any(re.fullmatch(pattern, name) for name in names(MEASURE)), literal
    for name in names(MEASURE) - {ADJUSTED_PEAK}:
        assert any(re.fullmatch(pattern, name) for pattern in patterns), name
    ends = ("itt", "torque", "ng", "np", "oil_temp")
    assert {n for n in names(MEASURE) if n.startswith("highest_")} == {f"highest_{c}_running" for c in ends}
    assert ADJUSTED_PEAK in names(MEASURE)


def test_the_events_of_the_page_are_those_of_the_code():
    assert names("event") == set(EVENTS)
    made = first_arguments("Event") | first_arguments("rule_event", position=1)
    assert len(made) > 7
    assert made <= names("event")


def test_the_outcomes_kinds_and_verdicts_of_the_page_are_those_of_the_model():
    assert names("outcome") == set(get_args(Outcome)) == set(OUTCOME_WORDS)
    assert names("start kind") == set(get_args(StartKind))
    assert names("verdict") == set(get_args(Verdict))


def test_the_quality_flags_of_the_page_are_those_that_the_code_raises():
    raised = first_arguments("QualityFlag", "flag") | first_arguments("Doubt", position=1)
    assert names("quality") == raised


def test_the_phases_of_the_page_are_those_that_the_code_names():
    source = next(path for path in CODE if path.name == "phases.py").read_text(encoding="utf-8")
    found = {n.value for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Constant) and n.value}
    assert names("phase") == set(
        re.findall(r"\w+", "off start ground takeoff climb cruise descent manoeuvring landing shutdown")
    )
    assert names("phase") <= found


def test_the_factors_of_the_page_are_those_that_the_code_checks():
    (checks,) = (
        node.value
        for node in nodes(ast.AnnAssign)
        if isinstance(node.target, ast.Name) and node.target.id == "checks" and node.value is not None
    )
    assert isinstance(checks, ast.List)
    assert names("factor") == {s for row in checks.elts for s in strings(row.elts[0])}


def test_the_numbers_of_events_limits_and_starts_are_fields_of_the_model():
    numbers = {f.name for f in fields(Event)} - {
        "kind", "engine", "message", "channel", "unit", "limit_id", "levels", "band_action", "reference",
        "start_number", "reason", "spans", "evidence", "said",
    }  # fmt: skip
    assert names("event number") == numbers
    # `counted`, `base` and `levels` are for the window: windows, events and their levels tell them in documents.
    runs = {"counted", "base", "levels"}
    results = {f.name for f in fields(LimitResult)} - {"id", "event", "channel", "engine", "unit"} - runs
    assert names("limit result") == results
    times = {f.name for f in fields(Start) if f.name.endswith("_s")} - {"peak_itt_s"} | {"ng_stable_at_fuel"}
    assert names("start time") == times


def test_titles_are_the_words_that_the_program_uses():
    for kind, title in ((kind, row.title) for kind, row in EVENTS.items()):
        assert definition_of(kind, "event").title == title
    for outcome, title in OUTCOME_WORDS.items():
        assert definition_of(outcome, "outcome").title == title
    for verdict, row in VERDICTS.items():
        assert definition_of(verdict, "verdict").title == row.title


def test_every_source_is_in_the_list_of_sources_and_every_listed_one_is_used():
    used = {source for entry in page().entries for source in entry.sources}
    assert used == set(page().sources)


def test_what_it_says_of_a_key_of_the_profile_names_a_key_that_exists():
    from debrief.profile import limits, model

    rules = (model.StartRules, model.StarterRules, model.AbortRules, model.FactorRules, model.FlightRules,
             model.ShutdownRules, model.LifeRules)  # fmt: skip
    known = {f.name for rule in rules for f in fields(rule)} | set(limits.LIMIT_KEYS) | {"max_rate"}
    known |= {f.name for f in fields(Event)} | names(MEASURE) | {"longest", "total", "curve"}
    for entry in page().entries:
        text = " ".join((entry.formula, entry.validity, entry.null_when))
        for name in re.findall(r"`([a-z_]+)`", text):
            assert name in known, (entry.name, name)


def test_no_title_stands_for_two_measures():
    titles = [e.title for e in page().entries if e.group == MEASURE]
    assert len(titles) == len(set(titles))


def test_nothing_on_the_page_says_that_something_is_in_order():
    text = (ROOT / "resources" / "definitions.md").read_text(encoding="utf-8")
    assert not re.search(r"\bno fault\b|\bOK\b|\bairworthy\b|\bsafe\b", text)


def test_a_level_of_the_profile_is_filled_into_the_title():
    found = definition_of("time_above_830")
    assert (found.name, found.title) == ("time_above_830", "Time above 830 °C")
    assert measure_title("cut_after_812.5") == "812.5 °C crossed to fuel cut-off"
    assert measure_title("time_above_-10") == "Time above −10 °C"


def test_a_second_engines_measure_has_the_same_definition():
    assert definition_of("run_down.2") == definition_of("run_down")
    assert definition_of("run_down.x") is None


def test_a_name_of_several_groups_is_told_apart_by_its_group():
    assert definition_of("no_light_off").group == "event"
    assert definition_of("no_light_off", "outcome").group == "outcome"
    assert definition_of("no_light_off", "phase") is None


def test_an_unknown_name_has_no_definition_and_its_title_is_put_in_words():
    assert definition_of("gearbox_chip") is None
    assert measure_title("torque_at_ng") == "Torque at Ng"


def test_the_source_of_a_document_is_told_in_full():
    text = source_text(definition_of("density_altitude", MEASURE))
    assert text == "ICAO Doc 7488: Manual of the ICAO Standard Atmosphere, 3rd edition, 1993"
    assert source_text(definition_of("headwind")) == "common practice, no source"


GOOD = """# Page

Words before the first heading are for people.

## Sources

- here: a book

## Phases

### off

- Title: Off
- In words: it stands
- Formula: nothing
  turns
- Source: here
- Validity: all
- Null when: never
"""


def test_a_line_that_goes_on_is_joined_to_its_bullet():
    (entry,) = parse(GOOD).entries
    assert (entry.formula, entry.group, entry.line) == ("nothing turns", "phase", 11)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("- Validity: all\n", "", "off has no Validity"),
        (
            "- Title: Off\n",
            "- Title: Off\n- Title: On\n",
            "line 14: unknown, empty or repeated label 'Title'",
        ),
        ("- Title: Off", "- Name: Off", "unknown, empty or repeated label 'Name'"),
        ("## Phases", "## Moons", "no group is known for the heading 'Moons'"),
        ("- Null when: never\n", "- Null when: never\n\n### off\n", "off stands twice"),
        ("## Phases\n", "", "stands twice or outside a group"),
    ],
)
def test_a_fault_of_the_page_is_named_with_its_line(old, new, says):
    assert old in GOOD
    with pytest.raises(ValueError, match=re.escape(says)):
        parse(GOOD.replace(old, new))


def test_every_heading_of_the_page_has_entries():
    text = (ROOT / "resources" / "definitions.md").read_text(encoding="utf-8")
    headings = set(re.findall(r"^## (.*)$", text, re.MULTILINE)) - {"Sources"}
    assert headings == set(GROUPS)
