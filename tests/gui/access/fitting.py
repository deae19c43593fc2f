"""What of a window is cut: parts that leave what they lie in or lie on each other, and words that have no room. No test module."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractScrollArea,
    QCheckBox,
    QComboBox,
    QFileDialog,
    QLabel,
    QListView,
    QRadioButton,
    QScrollArea,
    QSizeGrip,
    QStyle,
    QStyleOptionComboBox,
    QTableView,
    QWidget,
)

from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import ElidedLabel
from debrief.gui.widgets.scrolled import Scrolled
from tests.gui.user import Painted, plain, shown_text, words_painted

ROOM = QSize(1280, 720)
"""The smallest screen, [px]."""
MOST_ROWS = 60


def cut(root: QWidget, *, scrolls: bool = False) -> Iterator[str]:
    """Give what is cut in a window; the whole of it may scroll, and parts of it sideways, only where that is said."""
    needed = root.minimumSizeHint().expandedTo(root.size())
    if needed.width() > ROOM.width() or needed.height() > ROOM.height():
        yield f"the window needs {needed.toTuple()} of {ROOM.toTuple()}"
    if isinstance(root, QFileDialog):
        return  # Qt's own: what is in it is not ours to lay out
    for widget in [root, *root.findChildren(QWidget)]:
        if not widget.isVisible() or widget.window() is not root:
            continue
        yield from _leaving(widget)
        yield from _on_each_other(widget)
        yield from _words_cut(widget)
        if isinstance(widget, QScrollArea):
            yield from _out_of_reach(widget)
            yield from () if scrolls else _hidden(widget)


def named(widget: QWidget) -> str:
    """Return what a widget is called in a fault."""
    words = widget.accessibleName() or shown_text(widget) or widget.objectName()
    return f"{type(widget).__name__} {words[:50]!r}"


def _is_content(widget: QWidget) -> bool:
    """Whether it is what a scroll area moves."""
    parent = widget.parentWidget()
    above = parent.parentWidget() if parent is not None else None
    return isinstance(above, QAbstractScrollArea) and above.viewport() is parent


def _leaving(widget: QWidget) -> Iterator[str]:
    parent = widget.parentWidget()
    if widget.isWindow() or parent is None or _is_content(widget):
        return
    if not parent.rect().contains(widget.geometry()) and not widget.geometry().isEmpty():
        yield f"{named(widget)} at {widget.geometry().getRect()} leaves {named(parent)} of {parent.size().toTuple()}"


def _on_each_other(parent: QWidget) -> Iterator[str]:
    """Give which children lie on each other; what lets the mouse through is meant to lie on what is beneath it."""
    if isinstance(parent, QAbstractScrollArea | QComboBox):
        return
    children = [
        one
        for one in parent.children()
        if isinstance(one, QWidget)
        and one.isVisible()
        and not one.isWindow()
        and not one.testAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        and not isinstance(one, QSizeGrip)
    ]
    for one, other in combinations(children, 2):
        both = one.geometry().intersected(other.geometry())
        if both.width() > 1 and both.height() > 1:
            yield f"{named(one)} and {named(other)} lie on each other in {both.getRect()}"


def _out_of_reach(area: QScrollArea) -> Iterator[str]:
    """Give what no scrolling shows."""
    content, port = area.widget(), area.viewport()
    if content is None:
        return
    for side, bar, whole, room in (
        ("right", area.horizontalScrollBar(), content.width(), port.width()),
        ("bottom", area.verticalScrollBar(), content.height(), port.height()),
    ):
        if whole - room > bar.maximum() or (bar.maximum() > 0 and not bar.isVisible()):
            yield f"{named(area)}: {whole - room} px at the {side} cannot be scrolled to"


def _hidden(area: QScrollArea) -> Iterator[str]:
    """Give by how much it scrolls sideways, and the whole window up and down."""
    aside = area.horizontalScrollBar().maximum()
    if aside > 0:
        yield f"{named(area)} scrolls sideways by {aside}"
    if isinstance(area, Scrolled) and area.verticalScrollBar().maximum() > 0:
        yield f"the whole window scrolls by {area.verticalScrollBar().maximum()}"


def _words_cut(widget: QWidget) -> Iterator[str]:
    metrics = widget.fontMetrics()
    if isinstance(widget, ElidedLabel | ChoiceBox):
        return  # cut with an ellipsis, and told whole
    if isinstance(widget, QLabel) and widget.text():
        margin = widget.margin()
        room = widget.contentsRect().adjusted(margin, margin, -margin, -margin)
        if widget.wordWrap() or widget.textFormat() == Qt.TextFormat.RichText:
            needed = widget.heightForWidth(widget.width())
            if needed > widget.height() + 1:
                yield f"{named(widget)} is {widget.height()} high and needs {needed}"
        else:
            lines = plain(widget.text()).split("\n")
            needed = max(metrics.horizontalAdvance(line) for line in lines)
            if needed > room.width() + 1:
                yield f"{named(widget)} has {room.width()} and needs {needed}"
            if metrics.height() * len(lines) > room.height() + 2:
                yield f"{named(widget)} is {room.height()} high and needs {metrics.height() * len(lines)}"
    elif isinstance(widget, QCheckBox | QRadioButton):
        if widget.sizeHint().width() > widget.width() + 1:
            yield f"{named(widget)} has {widget.width()} and needs {widget.sizeHint().width()}"
    elif isinstance(widget, QAbstractButton) and widget.text():
        needed = metrics.horizontalAdvance(plain(widget.text()))
        if needed > widget.width() or metrics.height() > widget.height():
            yield f"{named(widget)} is {widget.size().toTuple()} and needs {(needed, metrics.height())}"
    elif isinstance(widget, QComboBox) and widget.currentText():
        option = QStyleOptionComboBox()
        widget.initStyleOption(option)
        field = widget.style().subControlRect(
            QStyle.ComplexControl.CC_ComboBox, option, QStyle.SubControl.SC_ComboBoxEditField, widget
        )
        needed = metrics.horizontalAdvance(widget.currentText())
        if needed > field.width() + 1 and widget.toolTip() != widget.currentText():
            yield f"{named(widget)} has {field.width()} and needs {needed}: {widget.currentText()!r}"
    elif isinstance(widget, QAbstractItemView):
        yield from _cells_cut(widget)


def _cells_cut(view: QAbstractItemView) -> Iterator[str]:
    """Give the cells in view that are cut, and that no tooltip tells whole."""
    model, port = view.model(), view.viewport().rect()
    if model is None:
        return
    columns = 1
    if isinstance(view, QTableView):
        columns, header = model.columnCount(), view.horizontalHeader()
        beyond = header.length() - port.width() - view.horizontalScrollBar().maximum()
        if beyond > 1:
            yield f"{named(view)}: {beyond} px of its columns cannot be seen"
    for row in range(min(model.rowCount(), MOST_ROWS)):
        for column in range(columns):
            index = model.index(row, column)
            rect = view.visualRect(index)
            text = str(index.data() or "")
            if not text or rect.isEmpty() or not port.intersects(rect):
                continue
            needed = view.sizeHintForIndex(index)
            if isinstance(view, QListView) and view.wordWrap():
                needed.setWidth(0)
            is_cut = needed.width() > rect.width() + 1 or needed.height() > rect.height() + 1
            if is_cut and plain(text) not in str(index.data(Qt.ItemDataRole.ToolTipRole) or ""):
                yield f"{named(view)}: {text!r} has {rect.size().toTuple()} and needs {needed.toTuple()}"


def painted_cut(root: QWidget) -> Iterator[str]:
    """Give the words that parts paint themselves beyond their edge, or on each other."""
    found: dict[QWidget, list[Painted]] = {}
    with words_painted() as painted:
        root.grab()
    for one in painted:
        if isinstance(one.on, QWidget) and one.text.strip():
            found.setdefault(one.on, []).append(one)
    for widget, words in found.items():
        room = QRectF(widget.rect()).adjusted(-1, -1, 1, 1)
        for one in words:
            if not room.contains(_inked(one)) and one.text not in widget.toolTip():
                yield f"{named(widget)} paints {one.text!r} at {one.rect.getRect()} beyond {widget.size().toTuple()}"
        for one, other in combinations(words, 2):
            both = _inked(one).intersected(_inked(other))
            if both.width() > 2 and both.height() > 2:
                yield f"{named(widget)} paints {one.text!r} and {other.text!r} on each other"


def _inked(words: Painted) -> QRectF:
    """Return where the letters are: a line is higher than most of them."""
    return words.rect.adjusted(0, 3, 0, -3)
