"""By the keyboard alone: Tab goes through everything and comes round, one sees where the keys are, and what is chosen."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from numpy.typing import NDArray
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QFileDialog,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QWidget,
)

from tests.gui.access.fitting import named
from tests.gui.access.focusing import SEEN, picture, picture_of, stops, to_be_reached, told_apart
from tests.gui.access.walking import settled, walk


def seen(widget: QWidget) -> bool:
    """Whether all of it is in view, or a part of what is larger than its room."""
    shown, above = widget.visibleRegion().boundingRect(), widget.parentWidget()
    while above is not None and not isinstance(above, QScrollArea):
        above = above.parentWidget()
    is_larger = above is not None and widget.width() > above.viewport().width()
    return shown == widget.rect() or (is_larger and not shown.isEmpty())


def faults(root: QWidget) -> Iterator[str]:
    """Give what Tab does not come to, and where one does not see that it has come."""
    reached: set[QWidget] = set()
    before: tuple[QWidget, NDArray[np.float64]] | None = None
    for here in stops(root):
        reached.add(here)
        if before is not None and before[0].isVisible() and told_apart(before[1], picture(before[0])) < SEEN:
            yield f"one does not see that {named(before[0])} has the keys"
        before = here, picture(here)
    for left in to_be_reached(root) - reached:
        yield f"Tab does not come to {named(left)}"


@pytest.mark.parametrize(
    "colours",
    ["light", pytest.param("dark", marks=pytest.mark.slow), pytest.param("contrast", marks=pytest.mark.slow)],
)
def test_tab_goes_through_everything_and_one_sees_where_it_is(desk, colours):
    desk.window.looks.use_colours(colours)
    settled(desk.window)
    found = {
        f"{name}: {fault}"
        for name, root in walk(desk.window)
        if not isinstance(root, QFileDialog)  # Qt's own
        for fault in faults(root)
    }
    assert found == set()


@pytest.mark.parametrize(
    "colours",
    ["light", pytest.param("dark", marks=pytest.mark.slow), pytest.param("contrast", marks=pytest.mark.slow)],
)
def test_a_chosen_row_is_told_from_the_others(desk, colours):
    """WCAG 2.x, 1.4.11: what tells a state has 3:1 at least, so not a tint alone."""
    desk.window.looks.use_colours(colours)
    settled(desk.window)
    found, looked_at = set(), set()
    for _, root in walk(desk.window):
        for view in root.findChildren(QAbstractItemView):
            if not view.isVisible() or isinstance(root, QFileDialog) or named(view) in looked_at:
                continue
            chosen = view.selectionModel().selectedIndexes() if view.selectionModel() is not None else []
            if not chosen or view.visualRect(chosen[0]).isEmpty():
                continue
            view.clearFocus()
            QApplication.processEvents()
            row = view.visualRect(chosen[0]).united(view.visualRect(chosen[-1]))
            row &= view.viewport().rect()
            looked_at.add(named(view))
            with_it = picture_of(view.viewport(), row)
            blocked = view.selectionModel().blockSignals(True)
            view.clearSelection()
            view.viewport().update()
            without = picture_of(view.viewport(), row)
            view.selectionModel().select(chosen[0], view.selectionModel().SelectionFlag.Select)
            for index in chosen[1:]:
                view.selectionModel().select(index, view.selectionModel().SelectionFlag.Select)
            view.selectionModel().blockSignals(blocked)
            if told_apart(with_it, without) < SEEN:
                found.add(named(view))
    assert len(looked_at) >= 8
    assert found == set()


def test_with_large_text_what_tab_comes_to_is_scrolled_to(desk):
    for _ in range(6):
        desk.window.looks.larger()
    settled(desk.window)
    hidden = {
        f"{name}: {named(here)}"
        for name, root in walk(desk.window)
        if not isinstance(root, QFileDialog)
        for here in stops(root)
        if not seen(here) and isinstance(here, QPushButton | QLineEdit)
    }
    assert hidden == set()
