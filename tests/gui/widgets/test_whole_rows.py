"""A list that scrolls shows no half of a row."""

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QListWidget, QTableWidget

from debrief.gui.style.theme import Theme
from debrief.gui.widgets.whole_rows import WholeRows
from debrief.session.assessing.file_assessment import assess_file
from tests.gui.user import User
from tests.session import assessment_maker as made


@pytest.fixture
def shown(qtbot):
    view = QListWidget()
    qtbot.addWidget(view)
    for number in range(30):
        view.addItem(f"row {number}")
    rows = WholeRows(view, Theme("light"))
    view.resize(200, 100)
    view.show()
    qtbot.waitExposed(view)
    return view, rows


def _uncovered(view, rows):
    """Return the lower edges of the rows that are seen, and where the view ends."""
    height = rows.y() if rows.isVisible() else view.viewport().height()
    rects = [view.visualItemRect(view.item(row)) for row in range(view.count())]
    return [rect for rect in rects if rect.top() < height and rect.bottom() >= 0], height


def test_no_row_is_cut_at_any_height_or_place(shown, qtbot):
    view, rows = shown
    covered = 0
    for height in range(60, 140, 7):
        view.resize(200, height)
        for row in (0, 3, 7, 29):
            view.scrollToItem(view.item(row), QListWidget.ScrollHint.PositionAtTop)
            seen, edge = _uncovered(view, rows)
            assert seen
            assert all(rect.bottom() < edge for rect in seen)
            covered += rows.isVisible()
    assert covered > 3


def test_what_is_covered_can_still_be_clicked_and_has_the_panel_s_colour(shown):
    view, rows = shown
    height = next(h for h in range(60, 140) if view.resize(200, h) or rows.isVisible())
    view.resize(200, height)
    assert rows.testAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    image = view.viewport().grab().toImage()
    assert image.pixelColor(5, image.height() - 1).name() == Theme("light").color("panel").name()


def test_a_row_taller_than_the_view_is_not_covered(qtbot):
    view = QTableWidget(2, 1)
    qtbot.addWidget(view)
    rows = WholeRows(view, Theme("light"))
    view.resize(200, 90)
    view.setRowHeight(0, 400)
    view.show()
    qtbot.waitExposed(view)
    assert view.indexAt(QPoint(1, view.viewport().height() - 1)).row() == 0
    assert not rows.isVisible()


def test_starts_of_three_attempts_fit_a_small_window_without_scrolling(desk, qtbot):
    """A page that was not shown made the window ask for more height than it has."""
    demos = Path(__file__).parents[3] / "demo_flights"
    desk.show(assess_file(demos / "11_three_attempts_without_rest.csv"))
    desk.window.views.show_starts()
    qtbot.waitUntil(desk.window.starts.isVisible)
    assert desk.window.height() == 720
    bar = desk.window.scrolled.verticalScrollBar()
    qtbot.waitUntil(lambda: not bar.isVisible())


def test_the_empty_comparison_of_two_starts_has_no_numbered_columns(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.views.show_starts()
    qtbot.waitUntil(desk.window.starts.isVisible)
    panel = desk.window.starts.overlay
    desk.user.clicks("Two starts")
    qtbot.waitUntil(lambda: User(panel).sees("no other start"))
    assert panel.table.horizontalHeader().isHidden()
