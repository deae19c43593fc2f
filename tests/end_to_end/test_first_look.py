"""What is seen first of a demo flight holds what is told of it first."""

from __future__ import annotations

import pytest

from debrief.session.session import Session, prepare
from tests.demo_assessing import DEMOS, assessed


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_first_view_shows_the_playhead_and_the_chosen_finding(path):
    assessment = assessed(path)
    session = Session(path, assessment, prepare(assessment))
    framing = session.framing
    assert framing.begin_s <= session.playback.position_s <= framing.end_s
    if session.selected is None:
        return
    event = session.story[session.selected].event
    assert event is None or framing.begin_s <= event.start_s <= framing.end_s
