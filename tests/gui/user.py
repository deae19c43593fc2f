"""A person before the window: finds things by their words, clicks, types, and reads what is shown.

Knows nothing of how a widget is made: a thing is found by its accessible name, its text, its label, its title or its
object name, and only while it can be seen.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QAbstractListModel, QEvent, QPoint, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import (
    QAction,
    QColor,
    QHelpEvent,
    QImage,
    QKeySequence,
    QPainter,
    QTextDocument,
    QWheelEvent,
)
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractScrollArea,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QListWidget,
    QMainWindow,
    QMenu,
    QPlainTextEdit,
    QTableView,
    QTextEdit,
    QToolTip,
    QWidget,
)

if TYPE_CHECKING:
    from debrief.gui.shell.window import Window

LEFT, RIGHT = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton
NONE = Qt.KeyboardModifier.NoModifier
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
W = TypeVar("W", bound=QWidget)
WAIT_S = 20.0


def plain(text: str) -> str:
    """Return a text of a button or menu without the mark of its letter."""
    return text.replace("&&", "\0").replace("&", "").replace("\0", "&")


def choose_unit(menu: QMenu, unit: str) -> None:
    """Choose a unit in the menu of units."""
    next(action for action in menu.actions() if action.data() == unit).trigger()


def until(ready: Callable[[], object], seconds: float = WAIT_S) -> None:
    """Let the event loop run until something is so."""
    end = time.monotonic() + seconds
    while not ready():
        assert time.monotonic() < end, "it did not come about"
        QApplication.processEvents()
        time.sleep(0.0005)


def busy(window: Window) -> bool:
    """Whether a window is still at work in the background, or has put work off to later turns."""
    parts = (window.desk, window.history, window.report, window.starts, window.importer)
    return any(part.jobs.count for part in parts) or bool(window.replay.turns.count)


def shown_text(widget: QWidget) -> str:
    """Return the words that a widget shows, a cell or an entry on a line; those that it paints itself are not here."""
    if isinstance(widget, QLabel):
        if widget.textFormat() != Qt.TextFormat.RichText:
            return widget.text()
        document = QTextDocument()
        document.setHtml(widget.text())
        return document.toPlainText()
    if isinstance(widget, QAbstractButton):
        return plain(widget.text())
    if isinstance(widget, QLineEdit):
        return widget.text()
    if isinstance(widget, QTextEdit | QPlainTextEdit):
        return widget.toPlainText()
    if isinstance(widget, QComboBox):
        return widget.currentText()
    if isinstance(widget, QTableView):
        return "\n".join("\t".join(row) for row in Table(widget).rows)
    if isinstance(widget, QListWidget):
        items = (widget.item(row) for row in range(widget.count()))
        return "\n".join(item.text() for item in items if not item.isHidden())
    return ""


def image_of(widget: QWidget) -> QImage:
    """Return the picture of a widget."""
    QApplication.processEvents()
    return widget.grab().toImage()


def pixels(picture: QImage | QWidget) -> NDArray[np.uint32]:
    """Return the pixels of a picture, a row of it in a row, as 0xrrggbb."""
    image = picture if isinstance(picture, QImage) else image_of(picture)
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    rows = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.bytesPerLine() // 4)
    return rows[:, : image.width()] & 0xFFFFFF


def colours(picture: QImage | QWidget) -> set[str]:
    """Return the colours in a picture, as ``#rrggbb``."""
    return {f"#{pixel:06x}" for pixel in np.unique(pixels(picture))}


def of_colour(picture: NDArray[np.uint32], ink: QColor, ground: QColor) -> NDArray[np.bool_]:
    """Return which pixels are of a colour, or of its edge on a ground, where the two are mixed."""
    parts = np.stack([picture >> shift & 0xFF for shift in (16, 8, 0)], axis=-1).astype(float)
    base = np.array(ground.getRgb()[:3], float)
    way = np.array(ink.getRgb()[:3], float) - base
    share = (parts - base) @ way / (way @ way)
    beside = np.abs(parts - base - share[..., None] * way).max(axis=-1)
    found: NDArray[np.bool_] = (share > 0.35) & (beside < 12)
    return found


@dataclass(frozen=True)
class Painted:
    """Words that a widget painted: where, [px of the widget], in which colour, and on what: the widget, or a picture."""

    text: str
    rect: QRectF
    colour: str
    on: object


@contextmanager
def words_painted() -> Iterator[list[Painted]]:
    """Collect the words that are painted meanwhile, wherever."""
    found: list[Painted] = []
    draw = QPainter.drawText

    def drawing(painter: QPainter, *args: Any) -> Any:
        text = next(arg for arg in args if isinstance(arg, str))
        metrics = painter.fontMetrics()
        if isinstance(args[0], QRectF | QRect):
            flags = int(next((arg for arg in args[1:] if not isinstance(arg, str)), 0))
            rect = QRectF(painter.boundingRect(QRectF(args[0]).toAlignedRect(), flags, text))
        else:
            at = args[0] if isinstance(args[0], QPoint | QPointF) else QPointF(*args[:2])
            rect = QRectF(metrics.boundingRect(text)).translated(QPointF(at))
        place = painter.worldTransform().mapRect(rect)
        found.append(Painted(text, place, painter.pen().color().name(), painter.device()))
        return draw(painter, *args)

    QPainter.drawText = drawing  # type: ignore[method-assign,assignment]
    try:
        yield found
    finally:
        QPainter.drawText = draw  # type: ignore[method-assign]


def painted(widget: QWidget) -> list[Painted]:
    """Return the words that a widget paints anew, in their order."""
    QApplication.processEvents()
    with words_painted() as found:
        widget.grab()
    return found


def painted_anew(widget: QWidget) -> list[Painted]:
    """Return the words that a widget paints when nothing of it is kept from before."""
    QApplication.processEvents()
    size = widget.size()
    with words_painted() as found:
        widget.resize(size.width() + 1, size.height())
        widget.resize(size)
        widget.grab()
    return found


def tip_at(widget: QWidget, at: QPoint) -> str:
    """Return what a widget says under the mouse when it rests there."""
    QApplication.sendEvent(widget, QHelpEvent(QEvent.Type.ToolTip, at, widget.mapToGlobal(at)))
    QToolTip.hideText()
    document = QTextDocument()
    document.setHtml(widget.toolTip())
    return document.toPlainText()


def wheel(widget: QWidget, at: QPointF, steps: int = 1, modifiers: Qt.KeyboardModifier = NONE) -> None:
    """Turn the wheel over a place of a widget, away from oneself."""
    event = QWheelEvent(
        at, widget.mapToGlobal(at), QPoint(), QPoint(0, 120 * steps),
        Qt.MouseButton.NoButton, modifiers, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)


def drag(
    widget: QWidget,
    first: QPoint,
    last: QPoint,
    button: Qt.MouseButton = LEFT,
    modifiers: Qt.KeyboardModifier = NONE,
) -> None:
    """Press a button of the mouse, move, let go."""
    QTest.mousePress(widget, button, modifiers, first)
    QTest.mouseMove(widget, last)
    QTest.mouseRelease(widget, button, modifiers, last)


class Table:
    """A table or list as it is read: headings, rows that are not hidden, cells that are clicked."""

    def __init__(self, view: QAbstractItemView) -> None:
        self.view = view

    def _rows(self) -> list[int]:
        hidden = getattr(self.view, "isRowHidden", lambda row: False)
        return [row for row in range(self.view.model().rowCount()) if not hidden(row)]

    @property
    def _columns(self) -> range:
        model = self.view.model()
        return range(1 if isinstance(model, QAbstractListModel) else model.columnCount())

    @property
    def headings(self) -> list[str]:
        """The titles of the columns."""
        model = self.view.model()
        return [str(model.headerData(i, Qt.Orientation.Horizontal) or "") for i in self._columns]

    @property
    def rows(self) -> list[list[str]]:
        """The texts of all rows."""
        index = self.view.model().index
        return [[str(index(row, i).data() or "") for i in self._columns] for row in self._rows()]

    @property
    def choices(self) -> list[str]:
        """The first text of each row that can be chosen, so without headings between them."""
        index = self.view.model().index
        return [str(index(row, 0).data() or "") for row in self._rows() if index(row, 0).flags()]

    def row(self, which: int | str) -> list[str]:
        """Return the texts of a row, by its place or by a text in it."""
        return self.rows[which if isinstance(which, int) else self.place(which)]

    def place(self, text: str) -> int:
        """Return the place of the row that has a cell of this text."""
        (place,) = (place for place, row in enumerate(self.rows) if text in row)
        return place

    def at(self, row: int | str, column: int = 0) -> QPoint:
        """Return the middle of a cell, in the view's viewport, scrolled to."""
        place = row if isinstance(row, int) else self.place(row)
        index = self.view.model().index(self._rows()[place], column)
        self.view.scrollTo(index)
        return self.view.visualRect(index).center()

    def clicks(self, row: int | str, column: int = 0, button: Qt.MouseButton = LEFT) -> None:
        """Click a cell."""
        QTest.mouseClick(self.view.viewport(), button, NONE, self.at(row, column))

    def double_clicks(self, row: int | str, column: int = 0) -> None:
        """Double-click a cell."""
        at = self.at(row, column)
        QTest.mouseClick(self.view.viewport(), LEFT, NONE, at)
        QTest.mouseDClick(self.view.viewport(), LEFT, NONE, at)


class User:
    """Before one window, dialog or part of it."""

    def __init__(self, root: QWidget) -> None:
        self.root = root

    # --- finding ----------------------------------------------------------------------------------------

    def all_called(self, name: str, kind: type[W] = QWidget) -> list[W]:  # type: ignore[assignment]
        """Return what is seen and called so: accessible name, text, label, title or object name."""
        inside = [self.root, *self.root.findChildren(QWidget)]
        labels = {
            one.buddy(): plain(one.text())
            for one in inside
            if isinstance(one, QLabel) and one.buddy() is not None
        }

        def names(one: QWidget) -> tuple[str, ...]:
            text = shown_text(one) if isinstance(one, QLabel | QAbstractButton) else ""
            title = one.windowTitle().removesuffix("[*]") if one.isWindow() else ""
            return (one.accessibleName(), text, title, one.objectName(), labels.get(one, ""))

        return [one for one in inside if isinstance(one, kind) and one.isVisible() and name in names(one)]

    def find(self, name: str, kind: type[W] = QWidget) -> W:  # type: ignore[assignment]
        """Return the one thing that is called so."""
        QApplication.processEvents()
        found = self.all_called(name, kind)
        if len(found) > 1:  # a label and what it names: the latter is meant
            found = [one for one in found if not isinstance(one, QLabel)]
        assert len(found) == 1, f"{len(found)} things called {name!r} are seen: {found}"
        return found[0]

    def has(self, name: str) -> bool:
        """Whether something called so can be seen."""
        return bool(self.all_called(name))

    def part(self, name: str) -> User:
        """Return the same person, who looks at one part only."""
        return User(self.find(name))

    def dialog(self, title: str) -> User:
        """Return the person before a dialog or window of this title."""
        QApplication.processEvents()
        found = [
            one
            for one in QApplication.topLevelWidgets()
            if one.isVisible() and one.windowTitle().removesuffix("[*]") == title
        ]
        assert len(found) == 1, f"{len(found)} windows are titled {title!r}"
        return User(found[0])

    def table(self, name: str) -> Table:
        """Return the table or list called so."""
        return Table(self.find(name, QAbstractItemView))

    # --- reading ----------------------------------------------------------------------------------------

    def reads(self, name: str) -> str:
        """Return the words that the thing called so shows, or says to a screen reader where it paints them."""
        thing = self.find(name)
        return shown_text(thing) or thing.accessibleDescription() or User(thing).words

    @property
    def words(self) -> str:
        """All that can be read, a thing on a line; what is painted is not here."""
        seen = [one for one in [self.root, *self.root.findChildren(QWidget)] if one.isVisible()]
        seen = [one for one in seen if not isinstance(one, QHeaderView | QAbstractSpinBox)]
        return "\n".join(filter(None, map(shown_text, seen)))

    def sees(self, text: str) -> bool:
        """Whether these words are shown."""
        return text in self.words

    def waits_for(self, text: str) -> None:
        """Wait until these words are shown."""
        until(lambda: self.sees(text))

    # --- doing ------------------------------------------------------------------------------------------

    def clicks(self, name: str, button: Qt.MouseButton = LEFT) -> None:
        """Click the middle of what is called so; it must be there to be clicked."""
        thing = self.find(name)
        assert thing.isEnabled(), f"{name!r} cannot be used now"
        target = thing.viewport() if isinstance(thing, QAbstractScrollArea) else thing
        QTest.mouseClick(target, button, NONE, target.rect().center())

    def presses(self, keys: str, on: str | None = None) -> None:
        """Press keys, as ``Ctrl+Shift+N``, where the focus of the window is or on what is called so."""
        target = self.find(on) if on is not None else self.root.focusWidget() or self.root
        QTest.keySequence(target, QKeySequence(keys))

    def types(self, text: str, into: str | None = None) -> None:
        """Type letters where the focus is, or anew into a field."""
        target = self.root.focusWidget() or self.root
        if into is not None:
            target = self.find(into)
            target.setFocus(Qt.FocusReason.MouseFocusReason)
            QTest.keySequence(target, QKeySequence("Ctrl+A"))
            if not text:
                QTest.keyClick(target, Qt.Key.Key_Delete)
        QTest.keyClicks(target, text)

    def chooses(self, text: str, box: str) -> None:
        """Choose an entry of a box by the arrow keys."""
        found = self.find(box, QComboBox)
        index = found.findText(text)
        assert index >= 0, f"{text!r} is none of {[found.itemText(i) for i in range(found.count())]}"
        found.setFocus()
        step = Qt.Key.Key_Down if index > found.currentIndex() else Qt.Key.Key_Up
        for _ in range(abs(index - found.currentIndex())):
            QTest.keyClick(found, step)

    def follows(self, link: str, page: str) -> None:
        """Click a link in a text."""
        text = self.find(page, QTextEdit)
        cursor = text.document().find(link)
        while not cursor.isNull() and not cursor.charFormat().isAnchor():
            cursor = text.document().find(link, cursor)
        assert not cursor.isNull(), f"{page} has no link {link!r}"
        text.setTextCursor(cursor)
        text.ensureCursorVisible()
        # The last letter of the link stands before the end of what was found.
        QTest.mouseClick(text.viewport(), LEFT, NONE, text.cursorRect(cursor).center() - QPoint(3, 0))

    def menu(self, *path: str) -> QAction:
        """Return the entry of the menus under these texts, as they read when they are opened."""
        assert isinstance(self.root, QMainWindow)
        return entry_of(self.root.menuBar(), *path)

    def takes(self, *path: str) -> None:
        """Choose an entry of the menus."""
        action = self.menu(*path)
        assert action.isEnabled(), f"{path} cannot be chosen now"
        action.trigger()

    def leaves(self, name: str) -> None:
        """Move the mouse off what is called so."""
        QApplication.sendEvent(self.find(name), QEvent(QEvent.Type.Leave))


def entries(menu: QMenu) -> dict[str, QAction]:
    """Return what a menu offers once it is opened, by its text."""
    menu.aboutToShow.emit()
    return {plain(one.text()): one for one in menu.actions() if one.isVisible() and one.text()}


def entry_of(menu: QWidget, *path: str) -> QAction:
    """Return an entry below a menu or a bar of menus."""
    for step in path:
        if isinstance(menu, QMenu):
            menu.aboutToShow.emit()
        found = [one for one in menu.actions() if plain(one.text()) == step and one.isVisible()]
        assert len(found) == 1, f"{step!r} is none of {[plain(one.text()) for one in menu.actions()]}"
        if step is not path[-1]:
            menu = found[0].menu()
    return found[0]


def has_room_for_its_text(widget: QWidget) -> bool:
    """Whether a label or button of one line shows its text whole."""
    return widget.fontMetrics().horizontalAdvance(plain(shown_text(widget))) <= widget.width()


def rgb(colour: QColor | str) -> str:
    """Return a colour as pictures tell it."""
    return QColor(colour).name()
