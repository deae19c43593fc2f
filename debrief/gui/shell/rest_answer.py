"""The answer to an open question of the verdict: how long the starter had rested before the recording."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from debrief.errors import UserError
from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout
from debrief.session.assessing.starter_rest import FIRST_START_TODAY_S
from debrief.words.durations import seconds_of
from debrief.words.numbers import length_text

_FIELD_PX = 62


class RestField(QLineEdit):
    """A length of time; Escape empties it and gives the keys back.

    Signals
    -------
    left
        The keys are wanted elsewhere.
    """

    left = Signal()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave by Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.clear()
            self.left.emit()
        else:
            super().keyPressEvent(event)


class RestAnswer(QWidget):
    """A field for the rest, a button for the usual answer, and below why an answer cannot be used.

    Parameters
    ----------
    engine : int or None
        Which engine is asked about; None where there is one.

    Signals
    -------
    told : object, float
        The engine, and the rest in seconds.
    left
        The keys are wanted elsewhere.
    """

    told = Signal(object, float)
    left = Signal()

    def __init__(self, theme: Theme, engine: int | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._engine = engine
        which = "" if engine is None else f", engine {engine}"
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=2)
        row: QHBoxLayout = row_layout(spacing=6)
        if engine is not None:
            row.addWidget(PlainLabel(f"Engine {engine}:"))
        first = made_button(
            "First start today",
            self._first_clicked,
            role="small",
            name=f"First start today{which}",
            tip=f"The starter had rested over night: counts as {length_text(FIRST_START_TODAY_S)}",
        )
        self._field = RestField()
        self._field.setObjectName("answer")
        self._field.setPlaceholderText("e.g. 30")
        self._field.setFixedWidth(theme.px(_FIELD_PX))
        self._field.setAccessibleName(f"Starter rest before the recording, minutes{which}")
        self._field.setToolTip(
            plain_tip(
                "How long the starter had rested when the recording began: 30 (minutes), 1 h 10, 90 s or 1:30; then "
                "Enter. The engine's earlier flights in the history tell it by themselves"
            )
        )
        for part in (PlainLabel("Starter rested before this:"), self._field, PlainLabel("min, or"), first):
            row.addWidget(part)
        column.addLayout(row)
        self._why = WrappedLabel(role="problem")
        self._why.hide()
        column.addWidget(self._why)
        self._field.returnPressed.connect(self._entered)
        self._field.textEdited.connect(self._why.hide)
        self._field.left.connect(self.left)

    @property
    def engine(self) -> int | None:
        """Which engine is asked about; None where there is one."""
        return self._engine

    def take_over(self, before: RestAnswer) -> None:
        """Go on with what is being typed into the one that stood here before."""
        self._field.setText(before._field.text())
        if before._field.hasFocus():
            self._field.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _first_clicked(self) -> None:
        self.told.emit(self._engine, FIRST_START_TODAY_S)

    @Slot()
    def _entered(self) -> None:
        """Tell the answer, or say beside it why it cannot be used and keep it there to be mended."""
        try:
            seconds = seconds_of(self._field.text(), in_minutes=True)
        except UserError as error:
            self._why.setText(str(error))
            self._why.show()
            self._field.selectAll()
            return
        self.told.emit(self._engine, seconds)
