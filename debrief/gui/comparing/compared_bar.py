"""The line above the lanes that names the compared start and says how the one on the table differs."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QSize, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.lanes.trace import behind_pen
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout, set_ground
from debrief.session.comparing.difference_words import moment_forms
from debrief.session.comparing.start_curves import INSTANT_WORDS, INSTANTS

_WIDE = 560
"""From this width on there is room to say what the instants are for, [px at usual text size]."""


class _Sample(QWidget):
    """How the compared start is drawn: its line in the lanes, its pointer on the dials."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return the room of both signs."""
        return QSize(self._theme.px(52), self._theme.px(16))

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the dashed line and the hollow blade."""
        theme, middle = self._theme, self.height() / 2
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(behind_pen(theme))
        painter.drawLine(QLineF(0, middle, theme.px(28), middle))
        painter.setPen(QPen(theme.color("ink"), 1.3))
        painter.setBrush(theme.color("panel"))
        left, long, wide = theme.px(33), theme.px(16), theme.px(4)
        corners = (
            (left, middle),
            (left + long / 2, middle - wide),
            (left + long, middle),
            (left + long / 2, middle + wide),
        )
        painter.drawPolygon(QPolygonF([QLineF(x, y, x, y).p1() for x, y in corners]))


class ComparedBar(QWidget):
    """Seen only while a start is compared.

    Signals
    -------
    swap_wanted
        The compared start is to be on the table, and the other one behind it.
    """

    swap_wanted = Signal()

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._comparison = replay.comparison
        self._is_presenting = False
        set_ground(self, "panel", "Compared start")
        column = column_layout(self, margins=(14, 4, 10, 4), spacing=1)
        row = row_layout(spacing=8)
        self._sample = _Sample(theme)
        row.addWidget(self._sample)
        self._name = ElidedLabel()
        self._name.setAccessibleName("Which start is compared")
        row.addWidget(self._name, 1)
        self._label = label = PlainLabel("Al&ign at")
        row.addWidget(label)
        self._instant = ChoiceBox(theme)
        self._instant.setAccessibleName("Where both starts are aligned")
        for instant in INSTANTS:
            self._instant.addItem(INSTANT_WORDS[instant], instant)
        self._instant.activated.connect(self._aligned)
        label.setBuddy(self._instant)
        row.addWidget(self._instant)
        self._swap = made_button(
            "Swap",
            self.swap_wanted,
            role="small",
            name="Swap the two starts",
            tip="Show the compared start, with this one behind it (X)",
        )
        row.addWidget(self._swap)
        self._end = made_button(
            "End",
            self._comparison.clear,
            role="small",
            name="End the comparison",
            tip="Take the compared start away (Shift+C)",
        )
        row.addWidget(self._end)
        column.addLayout(row)
        self._words = ElidedLabel()
        self._words.setAccessibleName("How this start differs at the playhead")
        column.addWidget(self._words)
        replay.session_changed.connect(self._changed)
        replay.position_changed.connect(self._say)
        self._comparison.changed.connect(self._changed)
        theme.changed.connect(self._changed)
        self._changed()

    def present(self, presenting: bool) -> None:
        """Leave the room to the words: in a presentation the keys align, swap and end."""
        self._is_presenting = presenting
        self._instant.setVisible(not presenting)
        self._end.setVisible(not presenting)
        self._changed()

    @Slot(int)
    def _aligned(self, index: int) -> None:
        self._comparison.align(INSTANTS[index])

    @Slot()
    def _changed(self) -> None:
        chosen = self._comparison.chosen
        self.setVisible(chosen is not None and self._replay.session is not None)
        if chosen is None:
            return
        # The usual start has no recording.
        self._swap.setVisible(chosen.key is not None and not self._is_presenting)
        self._instant.setCurrentIndex(INSTANTS.index(self._comparison.instant))
        self._sample.updateGeometry()
        self._say()

    @Slot()
    def _say(self) -> None:
        """Say how the two differ at the playhead, as much as there is room for."""
        chosen, shown = self._comparison.chosen, self._comparison.shown
        if chosen is None:
            return
        name = shown.other.name if shown is not None else chosen.name
        said = shown.other.said if shown is not None and shown.is_shown else ""
        whole = f"Compared with {name}"
        self._write(self._name, (f"{whole}. {said}" if said else whole, whole, name))
        if shown is None:
            self._write(self._words, ("This recording has no start to compare.",))
        else:
            self._write(self._words, moment_forms(shown, self._replay.position_s))

    @staticmethod
    def _write(label: ElidedLabel, forms: tuple[str, ...]) -> None:
        """Write the longest of the forms that fits; a screen reader has the first."""
        metrics = label.fontMetrics()
        there = [form for form in forms if form]
        fitting = (form for form in there if metrics.horizontalAdvance(form) <= label.width())
        label.setText(next(fitting, there[-1] if there else ""))
        label.setAccessibleDescription(" ".join(there[:1]))

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Say as much as there is room for."""
        super().resizeEvent(event)
        self._label.setVisible(self.width() >= self._theme.px(_WIDE) and not self._is_presenting)
        self._say()
