"""The gauges beside the lanes, and the switches below them: they follow the playhead."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QGridLayout, QLayout, QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.gauges.gauge import LARGE_LEAST, SMALL_LEAST, GaugeWidget
from debrief.gui.gauges.instrument_widget import InstrumentWidget
from debrief.gui.gauges.tape import TapeWidget
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, remove_parts, set_ground
from debrief.gui.widgets.tables import LEFT, RIGHT
from debrief.session.limits.instrument_readings import Discrete, discretes, switch_words
from debrief.session.limits.limit_clock import windows_of

_ROW = 18
_SHORT = {"external_power": "Ext. power", "weight_on_wheels": "On wheels"}


class SwitchList(QWidget):
    """The switches: a filled dot is on, an open one is off; the word says it too."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._switches: tuple[Discrete, ...] = ()
        self._columns = 1
        self.setAccessibleName("Switches")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_switches(self, switches: tuple[Discrete, ...]) -> None:
        """Show these; repaints only when one has changed."""
        if switches == self._switches:
            return
        height = self.sizeHint().height()
        self._switches = switches
        resized = self.sizeHint().height() != height
        self.setAccessibleDescription(", ".join(f"{s.words} {switch_words(s)}" for s in switches))
        if resized:
            self.updateGeometry()
        self.update()

    def _recorded(self) -> list[Discrete]:
        return [s for s in self._switches if s.recorded]

    def _missing_words(self) -> str:
        missing = [s.words.lower() for s in self._switches if not s.recorded]
        return f"not recorded: {', '.join(missing)}" if missing else ""

    @property
    def _in_columns(self) -> int:
        """In how many columns they stand: two where every name has room beside its state."""
        metrics = self._theme.metrics(12)
        widest = max(
            (metrics.horizontalAdvance(f"{_name(s)}  {switch_words(s)}") for s in self._recorded()), default=0
        )
        return 2 if 15 + widest <= (self.width() - 18) / 2 else 1

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return the height of the rows."""
        rows = -(-len(self._recorded()) // self._in_columns) + bool(self._missing_words())
        return QSize(200, self._theme.px(22) + rows * self._theme.px(_ROW) + 6)

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return the same: rows are never cut."""
        return self.sizeHint()

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw what is recorded in two columns, and what is not in a line."""
        theme = self._theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        width = float(self.width())
        top_line = QRectF(0, 0, width, theme.px(20))
        theme.write(painter, top_line, "Switches", 13, bold=True, flags=LEFT)
        row_height = theme.px(_ROW)
        columns = self._in_columns
        column = (width - 18) / columns
        recorded = self._recorded()
        rows = -(-len(recorded) // columns)
        for index, switch in enumerate(recorded):
            left = (index // rows) * (column + 18)
            top = theme.px(22) + (index % rows) * row_height
            on = bool(switch.state)
            painter.setPen(QPen(theme.color("ink"), 1.3))
            painter.setBrush(theme.color("ink") if on else Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(left + 5, top + row_height / 2), 3.6, 3.6)
            box = QRectF(left + 15, top, column - 15, row_height)
            theme.write(painter, box, _name(switch), 12, flags=LEFT)
            theme.write(painter, box, switch_words(switch), 12, "ink" if on else "muted", flags=RIGHT)
        box = QRectF(0, theme.px(22) + rows * row_height, width, row_height)
        words = theme.metrics(12).elidedText(self._missing_words(), Qt.TextElideMode.ElideRight, width)
        theme.write(painter, box, words, 12, "muted", flags=LEFT)


def _name(switch: Discrete) -> str:
    return _SHORT.get(switch.name, switch.words)


class GaugePanel(QWidget):
    """One large dial for the temperature, small ones for the rest, as many as there is room for.

    Signals
    -------
    menu_wanted : QPoint, str, float or None, bool
        Where on the screen, of which channel, when its extreme so far was, and whether that is the lowest.
    """

    menu_wanted = Signal(object, str, object, bool)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._gauges: list[InstrumentWidget] = []
        self._tapes = False
        self._is_presenting = False
        self._lists_switches = True
        self._start_windows: tuple[tuple[float, float], ...] = ()
        self._start_levels: dict[str, tuple[float, ...]] = {}
        set_ground(self, "gauges", "Gauges")
        self._column = column_layout(self, margins=(14, 10, 14, 8), spacing=6)
        # The number of gauges follows the height; they must not hold the height up.
        self._column.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(4)
        # A tape is too narrow for the seconds in use; a dial says them itself. Above, next to the tape that it is of.
        self._used = PlainLabel()
        self._used.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._used.setAccessibleName("Seconds used of the seconds allowed")
        self._used.hide()
        self._column.addWidget(self._used)
        self._column.addLayout(self._grid, 1)
        self._switches = SwitchList(theme)
        self._column.addWidget(self._switches)
        self._clock = PlainLabel()
        self._clock.setAccessibleName("Time")
        self._beside = PlainLabel(role="muted")
        self._way_out = PlainLabel("Esc leaves", role="muted")
        for label in (self._clock, self._beside, self._way_out):
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
            label.hide()
            self._column.addWidget(label)
        replay.session_changed.connect(self._session_changed)
        replay.position_changed.connect(self._position_changed)
        replay.clock_changed.connect(self._clock_changed)
        replay.comparison.changed.connect(self._read_anew)
        theme.changed.connect(self._theme_changed)

    def gauge(self, name: str) -> InstrumentWidget | None:
        """Return the gauge of a channel, or None."""
        return next((g for g in self._gauges if g.instrument.name == name), None)

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return the room for the large gauge, a row of small ones and the switches, listed or not.

        The height of the lanes decides whether they are listed, and must not follow from it.
        """
        least = self._theme.px(LARGE_LEAST + SMALL_LEAST) + 3 * 6 + 18
        return QSize(180, least + self._switches.sizeHint().height())

    @Slot()
    def _session_changed(self) -> None:
        remove_parts(self._grid, self._gauges)
        session = self._replay.session
        self._start_windows, self._start_levels = (), {}
        if session is None:
            self._switches.show_switches(())
            return
        profile = session.profile
        if profile is not None:
            for limit in profile.limits:
                if limit.when == "start":
                    self._start_windows = windows_of(session.assessment, limit, session.engine)
                    levels = tuple(row.level for row in limit.allowed)
                    self._start_levels[limit.channel] = self._start_levels.get(limit.channel, ()) + levels
        for index, instrument in enumerate(session.prepared.instruments):
            kind = TapeWidget if self._tapes else GaugeWidget
            gauge = kind(instrument, self._theme, large=index == 0, parent=self)
            gauge.menu_wanted.connect(self.menu_wanted)
            gauge.clock = session.clock
            self._gauges.append(gauge)
        self._switches.show_switches(discretes(session.assessment, 0.0, session.engine))
        self._arrange()

    @Slot()
    def _clock_changed(self) -> None:
        for gauge in self._gauges:
            gauge.clock = self._replay.clock
        self._position_changed(self._replay.position_s)

    @property
    def shows_tapes(self) -> bool:
        """Whether tapes are shown in place of dials."""
        return self._tapes

    def show_tapes(self, tapes: bool) -> None:
        """Show tapes, or dials."""
        if tapes != self._tapes:
            self._tapes = tapes
            self._used.setVisible(tapes)
            self._session_changed()
            self._position_changed(self._replay.position_s)

    def present(self, presenting: bool) -> None:
        """Show the main gauge and the time alone, or all gauges and the switches again."""
        self._is_presenting = presenting
        self._switches.setVisible(self._lists_switches and not presenting)
        for label in (self._clock, self._beside, self._way_out):
            label.setVisible(presenting)
        self._arrange()
        self._show_time(self._replay.position_s)

    @Slot(bool)
    def leave_out_switches(self, told_elsewhere: bool) -> None:
        """Leave the list of switches out while they are read elsewhere: the gauges have its room."""
        if self._lists_switches == (not told_elsewhere):
            return
        self._lists_switches = not told_elsewhere
        self._switches.setVisible(self._lists_switches and not self._is_presenting)
        self._arrange()

    def _show_time(self, time_s: float) -> None:
        if self._is_presenting:
            self._clock.setText(self._replay.clock.text(time_s))
            self._beside.setText(self._replay.clock.beside)
            style = f"font-size: {self._theme.px(26)}px; font-weight: bold;"
            if style != self._clock.styleSheet():
                self._clock.setStyleSheet(style)

    def _arrange(self) -> None:
        """Show as many rows as the height allows."""
        for gauge in self._gauges:
            self._grid.removeWidget(gauge)
        if self._is_presenting:
            for index, gauge in enumerate(self._gauges):
                if index == 0:
                    self._grid.addWidget(gauge, 0, 0, 1, 2)
                gauge.setVisible(index == 0)
            for row in range(8):
                self._grid.setRowStretch(row, 1 if row == 0 else 0)
            return
        margins = self._column.contentsMargins()
        listed = self._switches.sizeHint().height() + 6 if self._lists_switches else 0
        free = self.height() - listed - margins.top() - margins.bottom()
        if self._tapes:
            self._arrange_tapes(free)
        else:
            self._arrange_dials(free)

    def _arrange_tapes(self, free: int) -> None:
        """Four tapes in a row; a second row where it is not too low."""
        rows = 2 if free >= 2 * self._theme.px(190) else 1
        for index, gauge in enumerate(self._gauges):
            if index < 4 * rows:
                self._grid.addWidget(gauge, index // 4, index % 4)
            gauge.setVisible(index < 4 * rows)
        used = (min(len(self._gauges), 4 * rows) + 3) // 4
        for row in range(8):
            self._grid.setRowStretch(row, 1 if row < used else 0)

    def _arrange_dials(self, free: int) -> None:
        """One large dial, a row or two of small ones, and more of them where none has to be small."""
        theme = self._theme
        least = int((free - theme.px(LARGE_LEAST) - 2) // (theme.px(SMALL_LEAST) + 4))
        rows = max(1, min(2, least), int((free - theme.px(176)) // theme.px(120)))
        for index, gauge in enumerate(self._gauges):
            if index == 0:
                self._grid.addWidget(gauge, 0, 0, 1, 2)
            elif index <= rows * 2:
                self._grid.addWidget(gauge, 1 + (index - 1) // 2, (index - 1) % 2)
            gauge.setVisible(index <= rows * 2)
        used = (min(len(self._gauges) - 1, rows * 2) + 1) // 2
        self._grid.setRowStretch(0, 16)
        for row in range(1, 8):
            self._grid.setRowStretch(row, 10 if row <= used else 0)

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the number of gauges to the height."""
        super().resizeEvent(event)
        self._arrange()

    @Slot(float)
    def _position_changed(self, time_s: float) -> None:
        session = self._replay.session
        if session is None:
            return
        compared = self._replay.comparison.shown
        in_start = any(begin <= time_s <= end for begin, end in self._start_windows)
        for gauge in self._gauges:
            marks = self._start_levels.get(gauge.instrument.name, ()) if in_start else ()
            instrument = gauge.instrument
            behind = compared.behind_at(instrument.name, instrument.unit, time_s) if compared else None
            gauge.show_reading(instrument.read(time_s), marks, behind)
        self._switches.show_switches(discretes(session.assessment, time_s, session.engine))
        self._show_used()
        self._show_time(time_s)

    @Slot()
    def _read_anew(self) -> None:
        self._position_changed(self._replay.position_s)

    def _show_used(self) -> None:
        """Say above all tapes what a dial says below its digits: of which channel, and in red where it does."""
        gauge = self._gauges[0] if self._tapes and self._gauges else None
        words = ""
        if gauge is not None and gauge.used_words:
            words = f"{gauge.instrument.symbol} {gauge.used_words}"
        role = "limit" if gauge is not None and gauge.is_filled else "ink"
        if words != self._used.text():
            self._used.setText(words)
        style = (
            f"color: {self._theme.color(role).name()}; font-size: {self._theme.px(11)}px; font-weight: bold;"
        )
        if style != self._used.styleSheet():
            self._used.setStyleSheet(style)

    @Slot()
    def _theme_changed(self) -> None:
        self._show_used()
        self._switches.updateGeometry()
        self._switches.update()
        for gauge in self._gauges:
            gauge.restyle()
        self._arrange()
