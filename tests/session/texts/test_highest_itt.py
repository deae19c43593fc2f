"""Peak ITT is what a person asks first: a row of the story, a mark in the lanes and in the text."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.report.formats.text import assessment_text
from debrief.session.assessing.file_assessment import Choices, assess_file, assess_recording, read_recording
from debrief.session.lanes.lane_events import marks
from debrief.session.texts.in_units import in_units
from debrief.session.texts.story import story
from debrief.words.display_units import parse_units

DEMO = Path(__file__).parents[3] / "demo_flights"


def rows(assessment, title: str) -> list[tuple[float, str]]:
    return [(step.time_s, step.detail) for step in story(assessment) if step.title == title]


@pytest.mark.parametrize("name", ["01_cool_normal_start", "02_early_fuel_hot"])
def test_each_start_has_its_peak_with_the_time_above_the_start_levels(name):
    assessment = assess_file(DEMO / f"{name}.csv")
    (start,) = assessment.starts
    ((time_s, detail),) = rows(assessment, "Peak ITT")
    assert time_s == start.peak_itt_s
    assert detail.startswith(f"{start.peak_itt_c:.0f} °C")
    passed = {
        level: measure.value
        for level in (830, 920, 1030)
        if (measure := start.measures[f"time_above_{level}"]).value
    }
    assert detail.count(" for ") == len(passed)
    for level, seconds in passed.items():
        assert f"{level} for {seconds:.1f} s" in detail
    assert start.peak_itt_s in [mark.time_s for mark in marks(assessment) if mark.kind == "peak"]
    text = " ".join(assessment_text(assessment).split())
    assert f"peak {start.peak_itt_c:.0f} °C at" in text
    assert ("(above 830 for" in text) == bool(passed)


def test_a_level_is_named_in_the_unit_that_is_shown():
    assessment = in_units(assess_file(DEMO / "02_early_fuel_hot.csv"), parse_units("degF"))
    ((_, detail),) = rows(assessment, "Peak ITT")
    assert detail.startswith("2154 °F, above 1526 for 5.1 s")


def test_without_a_profile_the_highest_is_told_with_its_time():
    recording = read_recording(DEMO / "01_cool_normal_start.csv")
    bare = assess_recording(recording.__class__(**{**vars(recording), "profile_name": None}), Choices())
    assert bare.profile is None
    itt = recording.channels["itt"]
    top = int(itt.values.argmax())
    found = rows(bare, "Highest ITT") or rows(bare, "Peak ITT")
    assert [time_s for time_s, _ in found] == [itt.time_s[top]]
    assert found[0][1].startswith(f"{itt.values[top]:.0f} °C")
    assert [mark.time_s for mark in marks(bare) if mark.kind == "peak"] == [itt.time_s[top]]
    assert f"{itt.values[top]:.0f} °C at 0:33.5" in assessment_text(bare)
