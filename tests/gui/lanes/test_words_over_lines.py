"""Words in the lanes can be read: no trace strikes a title through, and the playhead runs beneath what is written."""

import pytest
from PySide6.QtWidgets import QApplication

from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import painted_anew, pixels


def shown(desk, number):
    session = desk.show(assessed(next(path for path in DEMOS if path.stem.startswith(number))))
    desk.window.resize(1280, 720)
    for _ in range(4):
        QApplication.processEvents()
    return session


def rgb(theme, role):
    return theme.color(role).rgb() & 0xFFFFFF


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_no_trace_strikes_a_title_through(desk, choice):
    desk.theme.choose(choice)
    shown(desk, "06")
    (unit,) = (word for word in painted_anew(desk.window.lanes) if word.text == "Bus V")
    box = unit.rect.toRect()
    inside = pixels(desk.window.lanes)[box.top() : box.bottom(), box.left() : box.right() - 2]
    assert not (inside == rgb(desk.theme, "voltage")).any()


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_the_playhead_runs_beneath_titles_and_names_of_phases(desk, choice):
    desk.theme.choose(choice)
    shown(desk, "01")
    lanes, replay = desk.window.lanes, desk.window.replay
    framing = replay.session.framing
    found = 0
    for text in ("Temperature", "Motoring"):
        (word,) = (word for word in painted_anew(lanes) if word.text == text)
        first = lanes.x_of(framing.begin_s)
        per_s = (lanes.x_of(framing.end_s) - first) / framing.span_s
        middle = word.rect.center().x()
        replay.seek(framing.begin_s + (middle - first) / per_s)
        QApplication.processEvents()
        x, picture = round(lanes.x_of(replay.position_s)), pixels(lanes)
        ink = rgb(desk.theme, "ink")
        rows = picture[round(word.rect.center().y()) - 6 : round(word.rect.center().y()) + 6]
        struck = (rows[:, x - 1 : x + 2] == ink).all(axis=0)
        assert not struck.any(), text
        below = picture[round(word.rect.bottom()) + 30 : round(word.rect.bottom()) + 40, x - 1 : x + 2]
        found += bool((below == ink).all(axis=0).any())
    assert found  # the line itself is there
