"""The bar of the verdict: as low as its words allow, and all that can be done in it on one line."""

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QApplication

from tests.demo_assessing import DEMOS, assessed

ACTS = ("First start today", "Why: the evidence behind the verdict")


def bar_of(desk, number, size, scale=1.0):
    desk.theme.set_scale(scale)
    desk.window.resize(*size)
    desk.show(assessed(next(path for path in DEMOS if path.stem.startswith(number))))
    for _ in range(4):
        QApplication.processEvents()
    return desk.window.verdict


@pytest.mark.parametrize("scale", [1.0, 1.2, 1.6])
@pytest.mark.parametrize("size", [(1280, 720), (2560, 1440)])
@pytest.mark.parametrize("number", ["01", "06", "12", "17"])
def test_what_can_be_done_stands_on_one_line_inside_the_bar(desk, number, size, scale):
    bar = bar_of(desk, number, size, scale)
    buttons = [desk.user.find(name) for name in ACTS if desk.user.has(name)]
    assert buttons
    middles = {button.mapTo(bar, button.rect().center()).y() for button in buttons}
    assert max(middles) - min(middles) <= 1
    for button in buttons:
        assert bar.rect().contains(button.rect().translated(button.mapTo(bar, QPoint(0, 0))))


@pytest.mark.parametrize(
    ("number", "size", "most"), [("01", (1280, 720), 60), ("06", (1280, 720), 94), ("06", (2560, 1440), 60)]
)
def test_the_bar_is_as_low_as_its_words_allow(desk, number, size, most):
    """A sentence and its footnotes of a line each: two lines of text and the edges, 53 px."""
    assert bar_of(desk, number, size).height() <= most


def test_a_wide_window_after_a_narrow_one_has_the_low_bar_again(desk):
    high = bar_of(desk, "06", (1280, 720)).height()
    desk.window.resize(2560, 1440)
    for _ in range(4):
        QApplication.processEvents()
    assert desk.window.verdict.height() < high
