"""Loads in the story, against the times of ``demo_flights/scenarios/20_flight_to_the_ceiling.toml``."""

from pathlib import Path

import pytest

from debrief.session.assessing.file_assessment import assess_file
from debrief.session.texts.story import story

FLIGHT = Path(__file__).resolve().parents[3] / "demo_flights" / "20_flight_to_the_ceiling.csv"
# From the scenario: what the crew switched, and when.
SWITCHED = (
    ("Generator on", 86.0),
    ("Bleed on", 1620.0),
    ("Bleed off", 1920.0),
    ("Separator on", 1980.0),
    ("Separator off", 2040.0),
    ("Generator load 100 A more", 2100.0),
    ("Generator load 100 A less", 2160.0),
    ("Generator off", 3195.0),
)


def test_the_story_tells_each_load_at_its_time_with_what_it_changed():
    steps = story(assess_file(FLIGHT))
    told = [step for step in steps if step.title.startswith(("Bleed", "Separator", "Generator"))]
    assert [step.title for step in told] == [title for title, _ in SWITCHED]
    assert [step.time_s for step in told] == pytest.approx([at for _, at in SWITCHED], abs=1.5)
    assert [step.time_s for step in steps] == sorted(step.time_s for step in steps)
    by_title = {step.title: step.detail for step in told}
    assert by_title["Bleed on"].startswith("ITT +3")
    assert by_title["Bleed off"].startswith("ITT \N{MINUS SIGN}3")
    # So soon after the start the temperature still settles: nothing can be said of the generator's share.
    assert by_title["Generator on"] == ""
