"""What has one name has it everywhere."""

import re
from pathlib import Path

from debrief.analysis.model import Assessment
from debrief.gui.story.story_facts import factor_words
from debrief.session.lanes.lane_events import start_marks
from tests.demo_assessing import DEMOS, assessed

DEFINITIONS = Path(__file__).parents[2] / "resources" / "definitions.md"


def demo(number: str) -> Assessment:
    return assessed(next(path for path in DEMOS if path.name.startswith(number)))


def test_fuel_is_cut_off_at_the_marks_and_in_every_definition():
    kinds = {mark.kind for start in demo("05").starts for mark in start_marks(start)}
    assert "fuel cut-off" in kinds
    assert not re.search(r"\bfuel cut\b(?!-off)", DEFINITIONS.read_text("utf-8"), re.IGNORECASE)


def test_what_contributed_says_on_which_side_of_its_reference_it_lay():
    sides = {factor.kind: factor_words(factor)[2] for factor in demo("17").starts[0].factors}
    assert sorted(sides.values()) == ["above 35", "above 8", "below 18"]
