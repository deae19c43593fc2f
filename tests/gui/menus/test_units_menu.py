"""Units chosen in the window: lanes, gauges, tables, verdict and paper follow; it is remembered; data stay."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.gui.style.settings import Settings
from debrief.session.session import Session, prepare
from debrief.words.display_units import parse_units
from tests.session import assessment_maker as made

DEMO = Path(__file__).parents[3] / "demo_flights" / "05_hot_start_aborted_motored.csv"


@pytest.fixture
def opened(desk, qtbot):
    from debrief.session.assessing.file_assessment import assess_file

    assessment = assess_file(DEMO)
    desk.window.replay.show(Session(DEMO, assessment, prepare(assessment)))
    return desk


def choose(desk, qtbot, words: str) -> Session:
    before = desk.window.replay.session
    desk.user.takes("View", "Units", words)
    qtbot.waitUntil(lambda: desk.window.replay.session is not before, timeout=20000)
    return desk.window.replay.session


def test_temperatures_of_the_whole_window_follow_the_choice(opened, qtbot):
    session = choose(opened, qtbot, "Temperature in °F")
    peak = session.assessment.canonical.starts[0].peak_itt_c
    assert session.assessment.starts[0].peak_itt_c == pytest.approx(peak * 1.8 + 32)
    assert "1886 °F" in session.sentence
    assert "°C" not in session.sentence
    lane = next(lane for lane in session.lanes if lane.plan.name == "itt")
    assert lane.plan.label == "ITT °F"
    gauge = next(one for one in session.prepared.instruments if one.name == "itt")
    assert gauge.unit == "degF"
    opened.window.views.show_starts()
    table = opened.user.table("Measures of the chosen start")
    qtbot.waitUntil(lambda: bool(table.rows))
    texts = {text for row in table.rows for text in row}
    assert "Time above 1886 °F" in texts
    assert f"{peak * 1.8 + 32:.0f} °F" in texts
    assert not opened.user.sees("°C")


def test_the_view_and_the_place_are_kept_when_the_units_change(opened, qtbot):
    opened.window.views.show_starts()
    opened.window.replay.seek(31.0)
    session = choose(opened, qtbot, "Temperature in °F")
    assert session.playback.position_s == pytest.approx(31.0)
    qtbot.waitUntil(lambda: opened.window.view == "starts")
    back = choose(opened, qtbot, "Temperature in °C")
    assert back.assessment is back.assessment.canonical


def test_the_choice_is_remembered_and_holds_for_the_next_recording(desk, qtbot):
    desk.user.takes("View", "Units", "Pressure in bar")
    desk.user.takes("View", "Units", "Altitude in m")
    assert Settings().units == parse_units("bar,m")
    desk.assessments[DEMO.name] = made.hot_start()
    desk.window.open_path(DEMO)
    qtbot.waitUntil(lambda: desk.window.replay.session is not None, timeout=20000)
    assert desk.window.replay.session.assessment.units == parse_units("bar,m")


def test_a_setting_that_cannot_be_read_is_as_none(debrief_home):
    (debrief_home / "window.ini").write_text("[General]\nunits=cubits\n", encoding="utf-8")
    assert Settings().units.are_canonical
    (debrief_home / "window.ini").write_text("[General]\nunits=bar\n", encoding="utf-8")
    assert Settings().units == parse_units("bar")


def test_judging_again_by_a_profile_keeps_the_units_and_the_numbers(opened, qtbot):
    shown = choose(opened, qtbot, "Temperature in °F")
    opened.window.desk.use_profile("tarn-tg7")
    qtbot.waitUntil(lambda: opened.window.replay.session is not shown, timeout=20000)
    again = opened.window.replay.session
    assert again.assessment.units == shown.assessment.units
    assert again.assessment.starts[0].peak_itt_c == shown.assessment.starts[0].peak_itt_c
    assert again.assessment.canonical.recording.channels["itt"].unit == "degC"
