"""What every instrument on screen says, whether it is drawn as a dial or as a tape."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QRectF, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QPainter, QPen, QPixmap, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme
from debrief.session.drawing.axes import share_of
from debrief.session.limits.instrument_readings import Instrument, Reading
from debrief.session.limits.limit_clock import LimitState
from debrief.session.texts.definitions_page import entry_of_channel
from debrief.session.texts.plain_names import FROM_ONE_SECOND
from debrief.words.clock import ELAPSED
from debrief.words.numbers import (
    decimals_for,
    number,
    number_beside,
    plain,
    reference_beside,
    unit_words,
    value_text,
)


class InstrumentWidget(QWidget):
    """One instrument in words; dials and tapes draw it.

    Parameters
    ----------
    instrument : Instrument
        What is shown.
    theme : Theme
        Colours.
    large : bool
        The main gauge: bigger digits and a line for the extreme.

    Signals
    -------
    menu_wanted : QPoint, str, float or None, bool
        Where on the screen, of which channel, when its extreme so far was, and whether that is the lowest.
    """

    menu_wanted = Signal(object, str, object, bool)

    def __init__(
        self, instrument: Instrument, theme: Theme, large: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._instrument = instrument
        self._theme = theme
        self._large = large
        self._reading = Reading(None)
        self._start_marks: tuple[float, ...] = ()
        self._compared: float | None = None
        self._shown = ""
        self.clock = ELAPSED
        """How the moment of the extreme is told."""
        self._scale: QPixmap | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName(instrument.words)
        self.show_reading(self._reading, ())

    @property
    def instrument(self) -> Instrument:
        """What is shown."""
        return self._instrument

    def explained(self) -> tuple[str, str] | None:
        """Return the entry of its channel."""
        return entry_of_channel(self._instrument.label_name)

    @property
    def is_filled(self) -> bool:
        """Whether the digits stand in a filled tag: the limit that applies is exceeded."""
        return self._reading.exceeded

    @property
    def words(self) -> str:
        """The digits, or words in place of them."""
        if self._instrument.channel is None:
            return "not recorded"
        if self._reading.value is None:
            return "no data"
        unit, state = self._instrument.unit, self._reading.running
        if state is not None:
            # Beyond a level it reads beyond it, also where that takes a digit more.
            return number_beside(_told(self._reading.value, state), state.row.level, unit)
        return number(self._reading.value, decimals_for(unit))

    @property
    def used_words(self) -> str:
        """Seconds used of the seconds allowed while a level is passed, else nothing."""
        return next(iter(self.used_forms), "")

    @property
    def used_forms(self) -> tuple[str, ...]:
        """The same in ever shorter forms."""
        state = self._reading.running
        value = self._reading.value
        if state is None or value is None:
            return ()
        side = "below" if state.limit.below else "above"
        level = reference_beside(_told(value, state), state.row.level, state.limit.unit)
        used = number(state.used_s, 1)
        if state.row.seconds == 0:
            return f"{side} {level}: {used} s, none allowed", f"{side} {level}: {used} s"
        return (
            f"{side} {level}: {used} s, {plain(state.row.seconds)} s allowed",
            f"{used} of {plain(state.row.seconds)} s",
        )

    @property
    def extreme_words(self) -> str:
        """The extreme since the start began, up to the playhead; a small instrument has room for few letters."""
        return next(iter(self.extreme_forms), "")

    @property
    def extreme_forms(self) -> tuple[str, ...]:
        """The same in ever shorter forms."""
        reading = self._reading
        if reading.extreme is None:
            return ()
        value = number(reading.extreme, decimals_for(self._instrument.unit))
        lowest = self._instrument.shows_lowest
        small = (f"{'min' if lowest else 'max'} so far {value}", f"{'min' if lowest else 'max'} {value}")
        word = "lowest" if lowest else "highest"
        large = (f"{word} so far {value} at {self.clock.text(reading.extreme_s)}", f"{word} so far {value}")
        return (*large, *small) if self._large else small

    def show_reading(
        self, reading: Reading, start_marks: tuple[float, ...], compared: float | None = None
    ) -> None:
        """Show another moment, and the value of a compared start then; repaints only if something seen has changed."""
        self._reading, self._compared = reading, compared
        if start_marks != self._start_marks:
            self._start_marks = start_marks
            self._scale = None
        pointer = ",".join(
            "" if value is None else f"{self._share(value):.4f}" for value in (reading.value, compared)
        )
        shown = "|".join((self.words, pointer, self.used_words, self.extreme_words, str(start_marks)))
        if shown != self._shown:
            self._shown = shown
            self.update()
            unit = unit_words(self._instrument.unit)
            extreme = self.extreme_words
            if extreme and self._instrument.leaves_out_dip:
                extreme += f" {FROM_ONE_SECOND}"
            parts = (f"{self.words} {unit}".strip(), extreme, self.used_words, self.compared_words)
            self.setAccessibleDescription(", ".join(p for p in parts if p))

    @property
    def compared_words(self) -> str:
        """The value of the compared start at the same moment; nothing where there is none."""
        unit = self._instrument.unit
        return "" if self._compared is None else f"compared start {value_text(self._compared, unit)}"

    def _share(self, value: float) -> float:
        """Return where a value lies on the scale, 0 to 1; a little beyond either end at most."""
        return min(max(share_of(value, *self._instrument.range), -0.02), 1.02)

    @guarded(False)
    def event(self, event: QEvent) -> bool:
        """Say under the mouse all that the gauge says; it is put together only when it is asked for."""
        if event.type() == QEvent.Type.ToolTip:
            self.setToolTip(plain_tip(f"{self.accessibleName()}: {self.accessibleDescription()}"))
        return super().event(event)

    @guarded()
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Ask for the menu, where the mouse is or in the middle."""
        by_key = event.reason() == QContextMenuEvent.Reason.Keyboard
        place = self.mapToGlobal(self.rect().center()) if by_key else event.globalPos()
        extreme_s = self._reading.extreme_s
        self.menu_wanted.emit(place, self._instrument.name, extreme_s, self._instrument.shows_lowest)
        event.accept()

    def paint_focus(self, painter: QPainter) -> None:
        """Draw a frame where the keys are here."""
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self._theme.color("ink"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)

    def restyle(self) -> None:
        """Take the theme's colours and sizes."""
        self._scale = None
        self.update()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Draw the scale anew."""
        super().resizeEvent(event)
        self._scale = None


def _told(value: float, state: LimitState) -> float:
    """Return the value; the level itself at the instant of crossing it, where the line between samples is off by a hair."""
    return state.row.level if math.isclose(value, state.row.level, rel_tol=1e-9) else value
