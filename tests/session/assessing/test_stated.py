"""What was said beside the samples stands in the text, on the paper and in the window."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from debrief.analysis.model import EarlierRun
from debrief.report.formats.text import assessment_text
from debrief.session.assessing.file_assessment import Choices, assess_file, assess_recording, read_recording
from debrief.session.assessing.user_inputs import stated

DEMO = Path(__file__).parents[3] / "demo_flights"
NORMAL = DEMO / "01_cool_normal_start.csv"


def test_nothing_said_is_nothing_told():
    assessment = assess_file(NORMAL)
    assert stated(assessment) == ()
    assert "Starter rest" not in assessment_text(assessment)


def test_a_rest_that_a_person_stated_is_told_with_the_verdict_that_hangs_on_it():
    assessment = assess_file(NORMAL, Choices(starter_rest_s=600.0))
    assert stated(assessment) == (("Starter rest", "10 min before the recording, as entered"),)
    assert "Starter rest: 10 min before the recording, as entered." in assessment_text(assessment)


def test_a_rest_of_the_file_and_runs_of_the_history_are_told_as_such(tmp_path):
    file = tmp_path / "told.csv"
    file.write_text("# starter-rest-before-s: 86400\n" + NORMAL.read_text(encoding="utf-8"), encoding="utf-8")
    assert stated(assess_file(file)) == (("Starter rest", "24 h before the recording, from the file"),)
    runs = [
        EarlierRun(-900.0, -880.0, 20.0, 20.0, 20.0, "battery", source="history", file_name="one.csv"),
        EarlierRun(-400.0, -375.0, 25.0, 25.0, 25.0, "battery", source="history", file_name="two.csv"),
    ]
    known = assess_recording(read_recording(NORMAL), Choices(), runs)
    assert stated(known) == (
        (
            "Starter rest",
            "6 min 15 s before the recording, by the flights kept (the last run in two.csv, 2 runs)",
        ),
    )


@pytest.mark.parametrize(("source", "words"), [("option", "as stated"), ("preamble", "from the file")])
def test_an_altimeter_setting_is_told_with_who_said_it(source, words):
    assessment = assess_file(NORMAL)
    identity = replace(
        assessment.recording.identity, altimeter_setting_hpa=1018.5, altimeter_setting_source=source
    )
    told = replace(assessment, recording=replace(assessment.recording, identity=identity))
    assert stated(told) == (("Altimeter", f"1018.5 hPa, {words}"),)
