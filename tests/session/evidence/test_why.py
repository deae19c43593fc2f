"""The words of the evidence of a measure: samples, the profile's line, the formula, its entry."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.model import Measure
from debrief.report.content.evidence_tables import NO_LETTERS
from debrief.report.content.flight_pages import summary_section
from debrief.session.document import assessment_document
from debrief.session.evidence.measure_tables import flight_rows
from debrief.session.evidence.why import factor_why, flight_whys, measure_why, value_and_bounds
from debrief.words.numbers import length_text, long_time_text
from tests.demo_assessing import assessed

DEMOS = Path(__file__).parents[3] / "demo_flights"


@pytest.fixture(scope="module")
def hot():
    return assessed(DEMOS / "05_hot_start_aborted_motored.csv")


def test_a_crossing_is_told_with_the_samples_on_both_sides_and_the_limits_line(hot):
    why = measure_why(hot, hot.starts[0], "cut_after_920")
    assert why.title == "920 °C crossed to fuel cut-off"
    assert why.value == "2.4 s (2.2 to 2.4)"
    (crossing, cut) = why.samples
    assert crossing[0] == "ITT, beside the first crossing"
    below, above = (float(x.split()[-1]) for x in (crossing[1][0], crossing[1][1].removesuffix(" °C")))
    assert below <= 920 < above
    assert cut[0] == "Fuel, before and after the fuel cut-off"
    assert why.profile == (
        ("limit itt-start: above 920 °C for 6 s (line 123 of the profile)", "limits.itt-start.allowed[2]"),
    )
    assert why.formula == "time of the cut − time of the crossing, on the line between its samples"


def test_a_measure_without_a_value_says_why_and_keeps_its_rule(hot):
    why = measure_why(hot, hot.starts[0], "light_off_to_idle")
    assert why.value == "not known: idle not reached"
    assert why.samples == ()
    assert why.rule
    assert why.definition is not None


def test_every_measure_of_every_demo_has_a_rule_a_source_and_an_entry():
    for path in sorted(DEMOS.glob("*.csv")):
        assessment = assessed(path)
        for start in assessment.starts:
            for name in start.measures:
                why = measure_why(assessment, start, name)
                assert why.rule, name
                assert why.source, name
                assert why.formula, name
                assert why.definition is not None, name


def test_a_factor_is_told_with_the_samples_of_its_measure_and_the_line_of_its_reference():
    assessment = assessed(DEMOS / "17_everything_against_it.csv")
    start = assessment.starts[0]
    wind = next(factor for factor in start.factors if factor.kind == "tailwind")
    why = factor_why(assessment, start, wind)
    assert why is not None
    assert why.profile == (
        ("tailwind that counts as a factor (8 kt, line 48 of the profile)", "factors.tailwind_kt"),
    )
    assert [what.split(",")[0] for what, _ in why.samples] == ["Wind speed", "Wind from", "Heading"]


def test_the_measures_of_the_flight_are_told_with_their_samples():
    assessment = assessed(DEMOS / "12_flight_overtemperature_in_climb.csv")
    whys = {why.name: why for why in flight_whys(assessment)}
    assert set(whys) == {name for name, one in assessment.flight_measures.items() if one.value}
    for why in whys.values():
        assert why.rule
        assert why.source
        assert why.formula
        assert why.definition is not None
    top = whys["highest_itt_running"]
    assert top.value == "847 °C (845 to 849)"
    ((what, samples),) = top.samples
    assert what == "ITT, highest with its neighbours, of 5686 samples"
    assert samples == ("7:37.75 846", "7:38.00 847", "7:38.25 847 °C")
    assert whys["running_time"].profile[0][0].startswith("idle Ng (58 %")


def test_a_highest_value_that_rests_on_a_spike_is_marked_wherever_it_stands():
    assessment = assessed(DEMOS / "18_speed_signal_spike.csv")
    marked = {name for name, one in assessment.flight_measures.items() if one.sensor_suspect}
    assert marked == {"highest_ng_running"}
    whys = {why.name: why for why in flight_whys(assessment)}
    assert whys["highest_ng_running"].value.endswith("; sensor suspect")
    rows = {row.name: row.value for row in flight_rows(assessment.flight_measures)}
    assert [name for name, text in rows.items() if "sensor suspect" in text] == ["highest_ng_running"]
    told = assessment_document(assessment)["flight"]["measures"]
    assert told["highest_ng_running"]["sensor_suspect"] is True
    assert told["highest_itt_running"]["sensor_suspect"] is False


def test_the_technicians_paper_says_what_the_measures_of_the_flight_were_read_from_and_no_other():
    assessment = assessed(DEMOS / "12_flight_overtemperature_in_climb.csv")
    for reader, told in (("technician", True), ("pilot", False), ("student", False)):
        section = summary_section(assessment, reader, NO_LETTERS)
        assert section is not None
        assert ("7:38.00 847" in str(section.blocks)) is told, reader


def test_hours_of_a_flight_are_said_in_hours_and_minutes_with_bounds_rounded_outward():
    assert length_text(35.4) == "35 s"
    assert length_text(1421.275) == "23 min 41 s"
    assert length_text(59.6) == "1 min"
    assert length_text(36_000.0) == "10 h"
    assert length_text(0.2) == "0 s"
    assert length_text(36_200.0) == "10 h 3 min 20 s"
    assert long_time_text(1421.275, 1421.0, 1421.5) == "23 min 41 s (23 min 41 s to 23 min 42 s)"
    assert long_time_text(60.0, 60.0, 60.0) == "1 min"
    assert long_time_text(3700.0, 3600.9, None) == "at least 1 h"


@given(st.floats(0.0, 200_000.0), st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_printed_bounds_of_a_long_time_hold_the_true_ones(value, under, over):
    text = long_time_text(value, max(value - under, 0.0), value + over)
    said = [_seconds(part) for part in re.findall(r"\d+ (?:h|min|s)(?: \d+ (?:min|s))*", text)]
    assert abs(said[0] - value) <= 0.5
    assert said[1 % len(said)] <= value + (0.5 if len(said) == 1 else 0.0)
    if len(said) == 3:
        assert said[1] <= max(value - under, 0.0)
        assert said[2] >= value + over


def _seconds(text):
    return sum({"h": 3600, "min": 60, "s": 1}[unit] * int(n) for n, unit in re.findall(r"(\d+) (\w+)", text))


def test_running_time_and_time_in_the_air_are_said_so_and_stay_seconds_as_data():
    assert value_and_bounds(Measure(1421.3, "s", 1421.0, 1421.5), is_long=True).startswith("23 min 41 s")
    flight = {
        "running_time": Measure(4000.0, "s", 3999.0, 4001.0),
        "run_down": Measure(14.6, "s", 14.1, 15.1),
    }
    rows = {row.name: row.value for row in flight_rows(flight)}
    assert rows == {
        "running_time": "1 h 6 min 40 s (1 h 6 min 39 s to 1 h 6 min 41 s)",
        "run_down": "14.6 s (14.1 to 15.1)",
    }
    assert flight["running_time"].unit == "s"


def test_where_only_its_bounds_are_known_they_are_said_in_the_same_words():
    unseen = {"running_time": Measure(None, "s", 600.0, 660.5, why="a gap")}
    assert flight_rows(unseen)[0].value == "between 10 min and 11 min 1 s: a gap"
