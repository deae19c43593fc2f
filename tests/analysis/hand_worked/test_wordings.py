"""Checks of what an event and the verdict say: a wrong number in a sentence is as bad as a wrong number."""

from __future__ import annotations

from dataclasses import replace

from tests.analysis.fault_making import Analysis, close
from tests.analysis.hand_worked.test_arithmetic import CHART, ONE
from tests.analysis.hand_worked.test_judging import NO_DUTY, event, one, plateau, running
from tests.analysis.recording_making import PROFILE, normal_start


def test_the_message_says_who_for_how_long_and_what_is_allowed(lab: Analysis) -> None:
    hot = running(plateau(20.0))
    (none,) = lab.judge(hot, 60, one("itt", (800, 0))).events
    assert none.message.startswith("ITT was above 800 °C for 20.0 s")
    assert "20.0 s, not allowed at any time; peak 900 °C." in none.message
    assert none.evidence.rule == "ITT above 800 °C at no time."
    total = lab.judge(hot, 60, one("itt", (800, 5), count="total")).events[0]
    assert "20.0 s, 5 s allowed; peak" in total.message
    assert total.evidence.rule.endswith("no longer than 5 s (in total).")
    maybe = lab.judge(running(plateau(5.0)), 60, one("itt", (800, 5))).events[0]
    assert maybe.message.startswith("ITT was above 800 °C for 5.0 s (")  # the bounds decide
    assert "5 s allowed; peak" in maybe.message
    a = lab.judge(normal_start(1060), 80, replace(PROFILE, starter=NO_DUTY))
    assert a.events[0].message.startswith("ITT was above 1030 °C for ")
    assert " s in the start, " in a.events[0].message


def test_a_hot_start_names_its_band_by_the_curve(lab: Analysis) -> None:
    # Above 830 from 24 to 40 s with a top of 1080 for 8 s: by its curve in band I only, since II asks for
    # 10 s; the action is that band's.
    itt = [(0, 15), (23, 15), (24, 830), (26, 1080), (34, 1080), (36, 830), (48, 560), (80, 540)]
    limit = replace(CHART, band_method="curve")
    profile = replace(PROFILE, starter=NO_DUTY, limits=(limit,))
    found = lab.judge(normal_start() | {"itt": itt}, 80, profile, curve=True).events
    assert [(e.band, e.band_action) for e in found if e.kind == "hot_start"] == [("I", ONE.action)]
    # After 12 s the edge of I is 885; the peak lies 195 degC beyond it.
    assert close(found[0].band_past_edge_value, 1080 - (920 - 90 * 6 / 14), 0.5)


def test_the_sentence_counts_right_and_says_undetermined(lab: Analysis) -> None:
    say = lab.verdict.sentence_of
    two = [event(lab, "limit"), event(lab, "limit", "oil_press_low", at=5.0)]
    assert "more" not in say("exceeded", two, [], [])
    assert say("within", [], [], []) == "Nothing exceeded in what was recorded."
    cold = normal_start() | {"itt": [(0, 15)], "ng": [(0, 0), (10, 0), (17, 20), (40, 20), (55, 3)]}
    silent = {k: v for k, v in cold.items() if k != "fuel_on"}
    failed = lab.judge(silent, 80, replace(PROFILE, starter=NO_DUTY))
    assert failed.starts[0].outcome == "unknown"
    assert failed.sentence.startswith(
        "Cannot be told: motoring or no light-off; fuel may be in the engine, so there is no verdict on the outcome of the start"
    )
    assert failed.sentence.endswith("Nothing exceeded in what was recorded.")


def test_a_starter_run_points_at_the_table_of_its_source(lab: Analysis) -> None:
    traces = {
        "ng": [(0, 0), (10, 0), (15, 20), (60, 20)], "itt": [(0, 15)], "bus_volts": [(0, 25)],
        "fuel_on": [(0, 0)], "starter": [(0, 0), (10, 1), (60, 0)], "external_power": [(0, 1)],
    }  # fmt: skip
    (found,) = lab.judge(traces, 70).events
    assert found.evidence.profile_key == "starter.external_duty"
