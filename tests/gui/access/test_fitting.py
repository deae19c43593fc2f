"""On the smallest screen nothing leaves the window, is cut or lies on other things, whatever the size of text."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from debrief.gui.charts.chart_view import ChartView
from debrief.session.comparing.start_curves import start_curves
from tests.demo_assessing import DEMOS
from tests.gui.access.fitting import cut, painted_cut
from tests.gui.access.walking import SEVERAL_STARTS, settled, shown, walk

LEAST_PANE_PX = 30.0
"""Of a chart, at the usual size of text: less shows no shape of a curve."""


def larger(desk, steps: int) -> None:
    for _ in range(steps):
        desk.window.looks.larger()
    settled(desk.window)


def low_charts(root: QWidget, scale: float) -> list[str]:
    return [
        f"{chart.accessibleName()[:40]!r}: pane {pane} is {chart.area(pane).height():.0f} px high"
        for chart in root.findChildren(ChartView)
        if chart.isVisible() and chart.chart is not None
        for pane in range(len(chart.chart.panes))
        if chart.area(pane).height() < LEAST_PANE_PX * scale
    ]


@pytest.mark.parametrize("steps", [0, 2])
def test_nothing_leaves_a_small_window_with_text_up_to_two_steps_larger(desk, steps):
    larger(desk, steps)
    found = {
        f"{name}: {fault}"
        for name, root in walk(desk.window)
        for fault in (*cut(root), *painted_cut(root), *low_charts(root, 1 + steps / 10))
    }
    assert found == set()


def test_the_dials_have_their_room_back_when_a_comparison_ends(desk):
    larger(desk, 6)
    session = shown(desk.window)
    gauges, comparison = desk.window.gauges, desk.window.replay.comparison
    before = gauges.width()
    comparison.choose(start_curves(session.assessment, session.assessment.starts[-1]))
    settled(desk.window)
    assert gauges.width() < before
    comparison.clear()
    settled(desk.window)
    assert gauges.width() == before


@pytest.mark.parametrize("steps", [4, 6])
def test_the_replay_never_scrolls_sideways_with_text_up_to_six_steps_larger(desk, steps):
    """Also while a start is compared, whose bar asked for more than story and dials left."""
    larger(desk, steps)
    places = [
        (name, desk.window.scrolled.horizontalScrollBar().maximum())
        for name, root in walk(desk.window)
        if name.startswith(("replay", "why")) and root is desk.window
    ]
    assert {name for name, _ in places} >= {"replay", "replay, compared"}
    assert [name for name, aside in places if aside > 0] == []


def test_with_text_six_steps_larger_everything_can_be_scrolled_to(desk):
    larger(desk, 6)
    found = {
        f"{name}: {fault}"
        for name, root in walk(desk.window)
        for fault in (*cut(root, scrolls=True), *painted_cut(root), *low_charts(root, 1.6))
    }
    assert found == set()


OFTEN = ("05", "19")
"""Of each run; the others are for the slow one."""


@pytest.mark.parametrize(
    "demo",
    [
        pytest.param(path, id=path.stem[:2], marks=() if path.stem.startswith(OFTEN) else pytest.mark.slow)
        for path in DEMOS
    ],
)
def test_every_demo_flight_fits_in_the_replay_with_text_two_steps_larger(desk, demo):
    larger(desk, 2)
    shown(desk.window, demo)
    for show in (desk.window.views.show_replay, desk.window.views.show_starts):
        show()
        settled(desk.window)
        assert [*cut(desk.window), *painted_cut(desk.window)] == []


def test_what_is_cut_is_found(qtbot):
    """Each kind of fault is told, so that the walks can fail."""
    root = QWidget()
    qtbot.addWidget(root)
    root.resize(300, 200)
    label, button = QLabel("A label of many words in a narrow place", root), QPushButton("Outside", root)
    label.setGeometry(0, 0, 60, 20)
    button.setGeometry(250, 10, 100, 30)
    other = QPushButton("On it", root)
    other.setGeometry(240, 20, 50, 30)
    root.show()
    found = "\n".join(cut(root))
    assert "has 60 and needs" in found
    assert "leaves" in found
    assert "lie on each other" in found
    QVBoxLayout(root)
    root.resize(1300, 200)
    assert any("the window needs" in fault for fault in cut(root))


def test_the_demo_flight_has_what_takes_room(desk):
    """Several starts, and a verdict of several lines: the walk is worth something."""
    session = shown(desk.window)
    assert session.path == SEVERAL_STARTS
    assert len(session.assessment.starts) == 3
