"""Words in the lanes can be read: no trace strikes a title through, and the playhead runs beneath what is written."""

from itertools import pairwise

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


@pytest.mark.parametrize("number", ["01", "12", "17"])
def test_no_number_of_an_axis_stands_on_another(desk, number):
    """Nor do they touch: in a low lane a number between gives way. Strips and titles keep off the numbers as well."""
    shown(desk, number)
    window, seen = desk.window, 0
    for size, scale in (((1280, 720), 1.0), ((1280, 720), 1.4), ((1440, 900), 1.0), ((2560, 1440), 1.2)):
        window.resize(*size)
        desk.theme.set_scale(scale)
        QApplication.processEvents()
        lanes = window.lanes
        edge = lanes.x_of(window.replay.session.framing.begin_s)
        numbers = [one for one in painted_anew(lanes) if one.rect.right() < edge]
        numbers = [one for one in numbers if one.text.replace(".", "").lstrip("-−").isdigit()]
        # The letters alone: a line of text has room above and below them.
        inks = sorted((one.rect.center().y(), one.text) for one in numbers)
        least = 0.75 * numbers[0].rect.height()
        assert all(below - above >= least for (above, _), (below, _) in pairwise(inks)), inks
        seen += len(numbers)
    assert seen > 20
