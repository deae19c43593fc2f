"""The line of a tried level in its lane, and the grip by which it is moved."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractSlider, QWidget

from debrief.analysis.model import LevelResult
from debrief.gui.background.guarded import guarded, painted
from debrief.gui.lanes.lanes_view import LanesView
from debrief.gui.lanes.shown_lanes import Placed
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.why.trying import Trying
from debrief.session.evidence.why_page import result_words
from debrief.session.limits.trial import LimitTrial
from debrief.words.channels import base_name
from debrief.words.numbers import number, plain, unit_words

_WIDE, _TALL = 26, 20
_TITLE = 24
_MOST_STEPS = 100_000


class TrialLine(QWidget):
    """Lies over the lanes and lets all but its grip through to them."""

    def __init__(self, trying: Trying, replay: Replay, lanes: LanesView, theme: Theme) -> None:
        super().__init__(lanes)
        self._words_left = True
        self._trying = trying
        self._lanes = lanes
        self._theme = theme
        self._result: LevelResult | None = None
        self._engine = 1
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents, True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._grip = Grip(theme, lanes)
        self._grip.valueChanged.connect(self._moved)
        self._grip.installEventFilter(self)
        trying.changed.connect(self._changed)
        trying.judged.connect(self._judged)
        lanes.arranged.connect(self._place)
        replay.position_changed.connect(self._keep_off)
        self.hide()
        self._grip.hide()

    @Slot(float)
    def _keep_off(self, time_s: float) -> None:
        """Put the words on the side where the playhead, whose value stands beside it, is not."""
        left = self._lanes.x_of(time_s) - self.x() > self.width() / 2
        if left != self._words_left:
            self._words_left = left
            self.update()

    def show_engine(self, engine: int) -> None:
        """Take which engine the lanes are of."""
        self._engine = engine

    @property
    def grip(self) -> QAbstractSlider:
        """By which the line is moved."""
        return self._grip

    @Slot()
    def _changed(self) -> None:
        if not self._trying.is_on:
            self._result = None
        self._place()

    @Slot(object)
    def _judged(self, result: LevelResult) -> None:
        self._result = result
        self.update()

    def _placed(self) -> Placed | None:
        """Return where the lane of the tried channel lies; None where it is not shown."""
        trial = self._trying.trial
        if trial is None or trial.result.engine != self._engine:
            return None
        return self._lanes.placed(base_name(trial.result.channel))

    @Slot()
    def _place(self) -> None:
        """Follow the lane and the level."""
        trial, placed = self._trying.trial, self._placed()
        shown = trial is not None and placed is not None
        self.setVisible(shown)
        self._grip.setVisible(shown)
        # What is written in the lane leaves the grip its room: a level is named beside it, never under it.
        name = base_name(trial.result.channel) if shown and trial is not None else None
        self._lanes.keep_free(name, self._theme.px(_WIDE) + 4.0)
        if trial is None or placed is None:
            return
        self.setGeometry(placed.rect.toAlignedRect())
        grip, step = self._grip, trial.step
        wide, tall = self._theme.px(_WIDE), self._theme.px(_TALL)
        y = min(max(placed.y_of(self._trying.level), placed.rect.top()), placed.rect.bottom())
        grip.setGeometry(round(placed.rect.right()) - wide - 2, round(y - tall / 2), wide, tall)
        grip.blockSignals(True)
        grip.step = step
        low, high = (round(value / step) for value in (placed.low, placed.high))
        value = round(self._trying.level / step)
        if high - low <= _MOST_STEPS:
            grip.setRange(min(low, value), max(high, value))
        grip.setValue(value)
        grip.blockSignals(False)
        unit = unit_words(trial.limit.unit)
        grip.setAccessibleName(f"Tried level of {trial.symbol}, {unit}")
        grip.setAccessibleDescription(
            "Up and down arrow move the level, only as a trial; Escape goes back to the profile's"
        )
        grip.is_on = self._trying.is_on
        grip.raise_()
        grip.update()
        self.update()

    @Slot(int)
    def _moved(self, steps: int) -> None:
        self._trying.try_numbers(steps * self._grip.step, self._trying.seconds)

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Move the level with the grip."""
        placed = self._placed()
        if (
            placed is not None
            and event.type() == QEvent.Type.MouseMove
            and isinstance(event, QMouseEvent)
            and event.buttons() & Qt.MouseButton.LeftButton
        ):
            y = self._lanes.mapFromGlobal(event.globalPosition()).y()
            self._grip.setValue(round(placed.value_at(y) / self._grip.step))
            return True
        return False

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the tried level, dashed, with what it came to; nothing while nothing is tried."""
        trial, placed = self._trying.trial, self._placed()
        if trial is None or placed is None or not self._trying.is_on:
            return
        theme = self._theme
        y = placed.y_of(self._trying.level) - placed.rect.top()
        inside = min(max(y, 1.0), self.height() - 1.0)
        pen = QPen(theme.color("caution"), 2)
        pen.setDashPattern([5.0, 3.0])
        painter.setPen(pen)
        for left, right in self._stretches(trial):
            painter.drawLine(QPointF(left, inside), QPointF(right, inside))
        text = self._words(trial)
        metrics = theme.metrics(12, bold=True)
        size = QRectF(0, 0, metrics.horizontalAdvance(text) + 12, metrics.height() + 4)
        top = inside - size.height() - 3 if inside > size.height() + 4 else inside + 3
        left = 6.0 if self._words_left else max(self.width() - size.width() - theme.px(_WIDE) - 8, 2.0)
        if self._words_left and top < theme.px(_TITLE):
            top = max(inside + 3, theme.px(_TITLE))  # the lane's title stands there
        box = size.translated(left, top)
        painter.setPen(QPen(theme.color("caution"), 1, Qt.PenStyle.DashLine))
        painter.setBrush(theme.color("panel"))
        painter.drawRoundedRect(box, 3, 3)
        theme.write(painter, box, text, 12, "ink", bold=True, flags=Qt.AlignmentFlag.AlignCenter)

    def _stretches(self, trial: LimitTrial) -> list[tuple[float, float]]:
        """Return where the limit applies in what is in view, [px]; the whole lane where nothing of it is in view."""
        edge, out = self.x(), []
        for window in trial.result.windows:
            left, right = (self._lanes.x_of(time_s) - edge for time_s in (window.start_s, window.end_s))
            if right > 0 and left < self.width():
                out.append((max(left, 0.0), min(right, float(self.width()))))
        return out or [(0.0, float(self.width()))]

    def _words(self, trial: LimitTrial) -> str:
        unit = unit_words(trial.limit.unit)
        text = f"TRIAL {plain(round(self._trying.level, 6))} {unit}".rstrip()
        result = self._result
        if result is not None and (result.level, result.allowed_s) == (
            self._trying.level,
            self._trying.seconds,
        ):
            text += f": {number(result.duration_s, 1)} s, {result_words(result.result)}"
        return text


class Grip(QAbstractSlider):
    """A box with an arrow up and one down: no finding and no limit has this shape.

    A slider to a screen reader and the keyboard, whose value is the level in its steps.
    """

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self.step = 1.0
        self.is_on = False
        self.setOrientation(Qt.Orientation.Vertical)
        self.setSingleStep(1)
        self.setPageStep(10)
        self.setCursor(Qt.CursorShape.SizeVerCursor)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setToolTip("Drag to try another level; nothing is saved (Esc goes back)")

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return its size."""
        return QSize(self._theme.px(_WIDE), self._theme.px(_TALL))

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take it."""
        event.accept()

    @guarded()
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let it go."""
        event.accept()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move by a step, with Shift by ten."""
        way = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(Qt.Key(event.key()))
        if way is None:
            event.ignore()
            return
        ten = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        self.setValue(self.value() + way * (self.pageStep() if ten else self.singleStep()))

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the box and its arrows."""
        theme = self._theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        focused = self.hasFocus()
        painter.setPen(QPen(theme.color("ink"), 2 if focused else 1))
        painter.setBrush(theme.color("tint_caution" if self.is_on else "panel"))
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        painter.drawRoundedRect(box, 4, 4)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.color("ink"))
        x, y, half = box.center().x(), box.center().y(), theme.px(4)
        for way in (-1, 1):
            tip, foot = y + way * theme.px(7), y + way * theme.px(2.5)
            painter.drawPolygon(
                QPolygonF([QPointF(x - half, foot), QPointF(x, tip), QPointF(x + half, foot)])
            )
