"""The words of the evidence of a measure: samples, the profile's line, the formula, its entry."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.session.assessing import assess_file
from debrief.session.why import factor_why, measure_why

DEMOS = Path(__file__).parents[2] / "demo_flights"


@pytest.fixture(scope="module")
def hot():
    return assess_file(DEMOS / "05_hot_start_aborted_motored.csv")


def test_a_crossing_is_told_with_the_samples_on_both_sides_and_the_limits_line(hot):
    why = measure_why(hot, hot.starts[0], "cut_after_920")
    assert why.title == "920 °C crossed to fuel cut"
    assert why.value == "2.4 s (2.2 to 2.4)"
    (crossing, cut) = why.samples
    assert crossing[0] == "ITT, beside the first crossing"
    below, above = (float(x.split()[-1]) for x in crossing[1].removesuffix(" °C").split(", "))
    assert below <= 920 < above
    assert cut[0] == "Fuel, before and after the fuel cut"
    assert why.profile == (
        "limit itt-start: above 920 °C for 6 s (line 121 of the profile): limits.itt-start.allowed[2]",
    )
    assert why.formula == "time of the cut - time of the crossing, on the line between its samples"


def test_a_measure_without_a_value_says_why_and_keeps_its_rule(hot):
    why = measure_why(hot, hot.starts[0], "light_off_to_idle")
    assert why.value == "not known: idle not reached"
    assert why.samples == ()
    assert why.rule
    assert why.definition is not None


def test_every_measure_of_every_demo_has_a_rule_a_source_and_an_entry():
    for path in sorted(DEMOS.glob("*.csv")):
        assessment = assess_file(path)
        for start in assessment.starts:
            for name in start.measures:
                why = measure_why(assessment, start, name)
                assert why.rule, name
                assert why.source, name
                assert why.formula, name
                assert why.definition is not None, name


def test_a_factor_is_told_with_the_samples_of_its_measure_and_the_line_of_its_reference():
    assessment = assess_file(DEMOS / "17_everything_against_it.csv")
    start = assessment.starts[0]
    wind = next(factor for factor in start.factors if factor.kind == "tailwind")
    why = factor_why(assessment, start, wind)
    assert why is not None
    assert why.profile == (
        "tailwind that counts as a factor (8 kt, line 48 of the profile): factors.tailwind_kt",
    )
    assert [what.split(",")[0] for what, _ in why.samples] == ["Wind speed", "Wind from", "Heading"]
