"""The story as a list: a shape on a line, what happened, when, and the numbers beneath."""

from __future__ import annotations

from PySide6.QtCore import (
    QLineF,
    QRectF,
    QSignalBlocker,
    QSize,
    Qt,
    Signal,
    Slot,
)
from PySide6.QtGui import (
    QContextMenuEvent,
    QFocusEvent,
    QMouseEvent,
    QPainter,
    QPen,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from debrief.gui.background.guarded import guarded, painted_cell
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.shapes import draw_shape
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.tables import LEFT, RIGHT, Index
from debrief.session.session import Session
from debrief.session.texts.definitions_page import entry_titled
from debrief.session.texts.story import StoryStep
from debrief.words.clock import ELAPSED, Clock

_RAIL = 22
_MOST_KEPT = 2000
SIZED_AT_ONCE = 20
"""Steps whose words are measured within the turn of the event loop that asks for it."""

_WRAP = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap


class _StepDelegate(QStyledItemDelegate):
    """Paints one step."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._heights: dict[tuple[object, ...], int] = {}
        self._title_heights: dict[tuple[object, ...], float] = {}
        self._clock = ELAPSED

    def use_clock(self, clock: Clock) -> None:
        """Tell the moments of the steps so."""
        if clock != self._clock:
            self._clock = clock
            self._title_heights.clear()

    def _step(self, index: Index) -> StoryStep:
        step = index.data(Qt.ItemDataRole.UserRole)
        assert isinstance(step, StoryStep)
        return step

    def _detail_height(self, step: StoryStep, width: float) -> float:
        if not step.detail:
            return 0.0
        metrics = self._theme.metrics(12)
        return metrics.boundingRect(QRectF(0, 0, width, 1000), int(_WRAP), step.detail).height()

    def _time_width(self, step: StoryStep) -> float:
        if not step.shows_time:
            return 0.0
        return self._theme.metrics(12).horizontalAdvance(self._clock.text(step.time_s)) + 8

    def _title_height(self, step: StoryStep, width: float) -> float:
        """Return the height of the title, wrapped beside the time."""
        key = (step.title, step.shape, step.time_s, step.shows_time, width, self._theme.scale)
        height = self._title_heights.get(key)
        if height is None:
            if len(self._title_heights) > _MOST_KEPT:
                self._title_heights.clear()
            height = self._title_heights[key] = self._measured_title(step, width)
        return height

    def _measured_title(self, step: StoryStep, width: float) -> float:
        metrics = self._theme.metrics(13, bold=step.shape != "circle")
        room = QRectF(0, 0, width - self._time_width(step), 1000)
        if metrics.horizontalAdvance(step.title) <= room.width():
            return float(self._theme.px(19))
        lines = round(metrics.boundingRect(room, int(_WRAP), step.title).height() / metrics.height())
        return self._theme.px(19) + max(lines - 1, 0) * metrics.height()

    def _text_width(self, full: float) -> float:
        return full - _RAIL - self._theme.px(16) - 8

    def height(self, step: StoryStep, width: int) -> int:
        """Return the height that the words need at the list's width, [px]."""
        theme = self._theme
        if step.shape == "heading":
            return theme.px(32)
        # Asked for each step many times while the window is laid out; measuring words takes long.
        key = (step.title, step.detail, step.shape, step.time_s, step.shows_time, width, theme.scale)
        height = self._heights.get(key)
        if height is None:
            room = self._text_width(width)
            detail = self._detail_height(step, room)
            if len(self._heights) > _MOST_KEPT:
                self._heights.clear()
            height = self._heights[key] = round(self._title_height(step, room) + detail + theme.px(10))
        return height

    @guarded(QSize())
    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Return the list's width and the height that the words need there."""
        owner = self.parent()
        assert isinstance(owner, StoryList)
        return owner.row_size(index.row())

    @painted_cell
    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw rail, shape, title, time and detail."""
        theme, step = self._theme, self._step(index)
        rect = QRectF(option.rect)
        state = option.state
        chosen = bool(state & QStyle.StateFlag.State_Selected)
        ground = "selection" if chosen else "panel"
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color("selection"))
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.drawRoundedRect(rect.adjusted(2, 1, -2, -1), 5, 5)
            # The tint alone is hardly told from the panel.
            painter.fillRect(
                QRectF(rect.left() + 2, rect.top() + 4, 3, rect.height() - 8), theme.color("ink")
            )
        if state & QStyle.StateFlag.State_HasFocus:
            painter.setPen(QPen(theme.color("ink"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(rect.adjusted(3, 2, -3, -2), 5, 5)
        if step.shape == "heading":
            self._paint_heading(painter, rect, step)
        else:
            self._paint_step(painter, rect, step, index, ground)

    def _paint_heading(self, painter: QPainter, rect: QRectF, step: StoryStep) -> None:
        theme = self._theme
        box = rect.adjusted(10, theme.px(8), -10, 0)
        theme.write(painter, box, step.title, 13, bold=True, flags=LEFT)
        theme.write(painter, box, step.detail, 12, "muted", flags=RIGHT)

    def _paint_step(
        self, painter: QPainter, rect: QRectF, step: StoryStep, index: Index, ground: str
    ) -> None:
        theme = self._theme
        x = rect.left() + _RAIL - 2
        middle = rect.top() + theme.px(5) + theme.px(19) / 2
        model = index.model()
        rows = model.rowCount()
        above = index.row() > 0 and self._step(model.index(index.row() - 1, 0)).shape != "heading"
        below = index.row() < rows - 1 and self._step(model.index(index.row() + 1, 0)).shape != "heading"
        painter.setPen(QPen(theme.color("hairline"), 1))
        painter.drawLine(QLineF(x, rect.top() if above else middle, x, rect.bottom() if below else middle))
        draw_shape(painter, step.shape, x, middle, theme.px(6), theme, ground)
        left = rect.left() + _RAIL + theme.px(16) - 4
        right = rect.right() - 8
        title = QRectF(left, rect.top() + theme.px(5), right - left, theme.px(19))
        if step.shows_time:
            theme.write(painter, title, self._clock.text(step.time_s), 12, "muted", flags=RIGHT)
        room = self._text_width(rect.width())
        tall = self._title_height(step, room)
        flags: int | Qt.AlignmentFlag = LEFT
        box = title
        if tall > title.height():
            title.setHeight(tall)
            box, flags = QRectF(left, title.top() + 1, room - self._time_width(step), tall), int(_WRAP)
        theme.write(painter, box, step.title, 13, bold=step.shape != "circle", flags=flags)
        if step.detail:
            box = QRectF(left, title.bottom(), room, rect.bottom() - title.bottom())
            theme.write(painter, box, step.detail, 12, "muted", flags=int(_WRAP))


def _tip(session: Session, step: StoryStep) -> str:
    """Return what the mouse is told of a row: the finding in full, or the step with its detail, and the time of day."""
    words = f"{step.title}: {step.detail}" if step.detail else step.title
    if step.event is not None:
        words = step.event.message
    if not step.shows_time:
        return words
    clock = session.clock
    at = " ".join(filter(None, (clock.text(step.time_s), clock.beside)))
    other = clock.other(step.time_s)
    return f"{words}\nAt {at}" + (f" ({other})" if other else "")


class StoryList(QListWidget):
    """All steps; as tall as they need, so that the panel around it scrolls as one.

    Signals
    -------
    row_shown
        The current row is to be brought into view.
    why_wanted
        A finding was double-clicked, or Enter was pressed on it.
    menu_wanted : QPoint, int, float
        Where on the screen a menu is asked for, of which row, and its time, [s].
    """

    row_shown = Signal()
    why_wanted = Signal()
    menu_wanted = Signal(object, object, float)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._quiet = False
        self._is_old = False
        self.setAccessibleName("What happened")
        self._delegate = _StepDelegate(theme, self)
        self._sizes: list[QSize] = []
        self._sizes_of: tuple[int, float] = (0, 0.0)
        self.setItemDelegate(self._delegate)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setUniformItemSizes(False)
        self.currentRowChanged.connect(self._row_changed)
        self.itemClicked.connect(self._clicked)
        self.itemActivated.connect(self._activated)
        replay.session_changed.connect(self._session_changed)
        replay.selection_changed.connect(self._selection_changed)
        replay.position_changed.connect(self._position_changed)
        replay.clock_changed.connect(self._clock_changed)
        theme.changed.connect(self._resize)

    def explained(self) -> tuple[str, str] | None:
        """Return the entry of the chosen row: of its finding, else of what its title names."""
        item = self.currentItem()
        step = None if item is None else item.data(Qt.ItemDataRole.UserRole)
        if not isinstance(step, StoryStep):
            return None
        return entry_titled(step.title) if step.event is None else ("event", step.event.kind)

    @Slot()
    def _session_changed(self) -> None:
        self._quiet = True
        self.clear()
        self._sizes = []
        session = self._replay.session
        self._delegate.use_clock(self._replay.clock)
        if session is not None:
            # All rows at once: a row that is added to a list on screen costs as much as a hundred here.
            self.addItems([""] * len(session.story))
            quiet = QSignalBlocker(self.model())
            for row, step in enumerate(session.story):
                self.item(row).setData(Qt.ItemDataRole.UserRole, step)
            quiet.unblock()
            self._replay.turns.take(self._name_rows)
        self._quiet = False
        self._is_old = True
        if self.isVisible():
            self._size_soon()

    @Slot()
    def _clock_changed(self) -> None:
        """Leave the times other room, and say them to who hears or points."""
        self._delegate.use_clock(self._replay.clock)
        self._sizes = []
        self._name_rows()
        self._size_soon()

    @Slot()
    def _name_rows(self) -> None:
        """Say each step to a screen reader, and what was found to the mouse."""
        session = self._replay.session
        if session is None or self.count() != len(session.story):
            return
        quiet = QSignalBlocker(self.model())
        for row, step in enumerate(session.story):
            item = self.item(row)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, step.spoken(session.clock))
            item.setToolTip(plain_tip(_tip(session, step)))
        quiet.unblock()

    def row_size(self, row: int) -> QSize:
        """Return the size of a row, [px]; all are measured when the first is asked for."""
        width, session = self.viewport().width(), self._replay.session
        if session is None or row >= len(session.story):
            return QSize(width, 1)
        lasts = not self._theme.is_changing and self._sizes_of != (width, self._theme.scale)
        if lasts or len(self._sizes) != len(session.story):
            self._sizes_of = (width, self._theme.scale)
            self._sizes = [QSize(width, self._delegate.height(step, width)) for step in session.story]
        return self._sizes[row]

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Take the height of the steps, which is not worked out while nobody looks."""
        super().showEvent(event)
        if self._is_old:
            self._size_soon()

    @guarded()
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Take the focus without choosing anything: Qt would make the first row current."""
        self._quiet = True
        super().focusInEvent(event)
        self._quiet = False

    @Slot()
    def _selection_changed(self) -> None:
        session = self._replay.session
        if session is None or session.selected is None or session.selected >= self.count() or self._is_old:
            return
        self._quiet = True
        self.setCurrentRow(session.selected)
        self._quiet = False
        self.row_shown.emit()

    @Slot(float)
    def _position_changed(self, time_s: float) -> None:
        """Mark the step that the playhead is in: the one that was chosen only while it is there."""
        session = self._replay.session
        if session is None or self.count() != len(session.story) or self._is_old:
            return
        row = session.step_in_play
        row = -1 if row is None else row
        if row == self.currentRow():
            return
        self._quiet = True
        self.setCurrentRow(row)
        self._quiet = False

    @Slot(int)
    def _row_changed(self, row: int) -> None:
        if not self._quiet and row >= 0:
            self._replay.choose(row)

    @Slot(QListWidgetItem)
    def _clicked(self, item: QListWidgetItem) -> None:
        # A second click on the chosen step goes back there: the row has not changed.
        session = self._replay.session
        row = self.row(item)
        if session is not None and abs(self._replay.position_s - session.story[row].time_s) > 1e-6:
            self._replay.choose(row)

    @Slot(QListWidgetItem)
    def _activated(self, item: QListWidgetItem) -> None:
        session = self._replay.session
        if session is not None and session.story[self.row(item)].event is not None:
            self.why_wanted.emit()

    @guarded()
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Ask for the menu of the row under the mouse, or by the keys for the current one."""
        session = self._replay.session
        by_key = event.reason() == QContextMenuEvent.Reason.Keyboard
        item = self.currentItem() if by_key else self.itemAt(event.pos())
        if session is None or item is None:
            return
        middle = self.viewport().mapToGlobal(self.visualItemRect(item).center())
        row = self.row(item)
        self.menu_wanted.emit(middle if by_key else event.globalPos(), row, session.story[row].time_s)

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose a row; the right button only asks for its menu."""
        if event.button() == Qt.MouseButton.RightButton:
            event.accept()
        else:
            super().mousePressEvent(event)

    def _size_soon(self) -> None:
        """Take the height now, or where many steps are to be measured, in a turn of the event loop of its own."""
        if self.count() > SIZED_AT_ONCE:
            self._replay.turns.take(self._resize)
        else:
            self._resize()

    @Slot()
    def _resize(self) -> None:
        was_old, self._is_old = self._is_old, False
        self.scheduleDelayedItemsLayout()
        self.setFixedHeight(max(self._content_height(), 1))
        if was_old:
            # To make a row current lays all of them out: not before their heights are known.
            self._selection_changed()
            self._position_changed(self._replay.position_s)

    def _content_height(self) -> int:
        return sum(self.row_size(row).height() for row in range(self.count())) + 2

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the height that the words need at the new width."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._size_soon()
