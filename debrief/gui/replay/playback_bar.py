"""The row of playing: play, events, samples, clock, speed."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize, Qt, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QPushButton, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel
from debrief.gui.widgets.parts import made_button, row_layout
from debrief.session.time.playback import RATES
from debrief.words.numbers import number, plain

_ASIDE = 90
"""Left for the words beside the clock at the least, [px at usual text size]."""
_STEP = 20
"""The room for the words grows in such steps, so that the row is not laid out anew with every digit, [px]."""


class PlayButton(QAbstractButton):
    """A round button: a triangle to play, two bars to pause."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._playing = False
        self.set_playing(False)

    def set_playing(self, playing: bool) -> None:
        """Show what a click would do."""
        self._playing = playing
        self.setAccessibleName("Pause" if playing else "Play")
        self.setToolTip("Pause (Space)" if playing else "Play (Space)")
        self.update()

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a round button's size."""
        return QSize(self._theme.px(36), self._theme.px(36))

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the disc and the sign."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        side = float(min(self.width(), self.height()))
        centre = QPointF(self.width() / 2, self.height() / 2)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.color("ink" if self.isEnabled() else "hairline"))
        painter.drawEllipse(centre, side / 2 - 3, side / 2 - 3)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self._theme.color("speed"), 2))
            painter.drawEllipse(centre, side / 2 - 1.5, side / 2 - 1.5)
            painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.color("panel"))
        unit = side / 12
        if self._playing:
            painter.drawRect(
                int(centre.x() - 2.2 * unit), int(centre.y() - 2.4 * unit), int(1.6 * unit), int(4.8 * unit)
            )
            painter.drawRect(
                int(centre.x() + 0.7 * unit), int(centre.y() - 2.4 * unit), int(1.6 * unit), int(4.8 * unit)
            )
        else:
            painter.drawPolygon(
                QPolygonF(
                    [
                        centre + QPointF(-1.6 * unit, -2.6 * unit),
                        centre + QPointF(-1.6 * unit, 2.6 * unit),
                        centre + QPointF(2.8 * unit, 0),
                    ]
                )
            )


class PlaybackBar(QWidget):
    """Buttons, the clock at the playhead and the speeds."""

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._notice = ""
        self._words_px = 0
        row = row_layout(self, margins=(14, 0, 14, 8), spacing=8)
        # What goes first where there is no room, in this order; all of it can be done by keyboard.
        self._spare: list[list[QWidget]] = [[], [], []]
        self._play = PlayButton(theme)
        self._play.clicked.connect(replay.toggle)
        row.addWidget(self._play)
        self._is_folded = False
        self._short: dict[QPushButton, tuple[str, str]] = {}
        for text, short, name, key, slot in (
            (
                "‹ step",
                "«",
                "Previous step of the story",
                "P; previous finding: Shift+P",
                replay.previous_step,
            ),
            ("step ›", "»", "Next step of the story", "N; next finding: Shift+N", replay.next_step),
            ("‹ sample", "‹", "Previous sample", "Left arrow", replay.step_back),
            ("sample ›", "›", "Next sample", "Right arrow", replay.step_forward),
        ):
            button = made_button(text, slot, role="small", name=name, tip=f"{name} ({key})")
            row.addWidget(button)
            self._short[button] = text, short
            self._spare[1 if "sample" in text else 2].append(button)
        row.addSpacing(8)
        self.clock = PlainLabel(role="clock")
        self.clock.setAccessibleName("Time at the playhead")
        row.addWidget(self.clock)
        self.aside = ElidedLabel(role="muted")
        row.addWidget(self.aside, 1)
        self._reduced = ElidedLabel("simplified for speed, peaks kept", keeps_width=True, role="small")
        self._reduced.setToolTip(
            "The picture is reduced at this zoom: no highest or lowest sample is missing."
        )
        self._reduced.hide()
        row.addWidget(self._reduced)
        self._loop = made_button(
            "repeat",
            replay.toggle_loop,
            role="flat",
            name="Repeat what is in view",
            tip="Repeat what is in view (L)",
            checkable=True,
        )
        row.addWidget(self._loop)
        label = PlainLabel("speed", role="muted")
        row.addWidget(label)
        self._spare[0].append(label)
        self._rates = QButtonGroup(self, exclusive=True)
        self._row_of_rates = QWidget()
        inner = row_layout(self._row_of_rates, margins=(0, 0, 0, 0), spacing=0)
        for index, rate in enumerate(RATES):
            button = made_button(plain(rate), role="flat", name=f"Speed {plain(rate)}", checkable=True)
            button.setChecked(rate == 1.0)
            self._rates.addButton(button, index)
            inner.addWidget(button)
        row.addWidget(self._row_of_rates)
        # Where they have no room in a row they are one box: rather than that a button goes, or the clock is cut.
        self._box_of_rates = ChoiceBox(theme)
        self._box_of_rates.setAccessibleName("Speed")
        for rate in RATES:
            self._box_of_rates.addItem(plain(rate))
        self._box_of_rates.setCurrentIndex(RATES.index(1.0))
        self._box_of_rates.hide()
        row.addWidget(self._box_of_rates)
        self._rates.idClicked.connect(self._rate_clicked)
        self._box_of_rates.activated.connect(self._rate_clicked)
        replay.position_changed.connect(self._position_changed)
        replay.playing_changed.connect(self._playing_changed)
        replay.mark_changed.connect(self._mark_changed)
        replay.session_changed.connect(self._session_changed)
        replay.clock_changed.connect(self._clock_changed)
        replay.told.connect(self._tell)
        theme.changed.connect(self._size_clock)
        self._session_changed()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave out what there is no room for."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Show as much of the row as there is room for.

        Only what changes is shown or hidden: what is hidden while Qt shows the whole row stays on screen.
        """
        row = self.layout()
        assert row is not None
        needed = super().minimumSizeHint().width() + max(self._theme.px(_ASIDE), self._words_px)
        if not self._reduced.isHidden():
            needed += self._reduced.sizeHint().width()
        widths = [
            sum(one.minimumSizeHint().width() + row.spacing() for one in group) for group in self._spare
        ]
        needed += sum(width for width, group in zip(widths, self._spare, strict=True) if group[0].isHidden())
        saved = self._row_of_rates.minimumSizeHint().width() - self._box_of_rates.minimumSizeHint().width()
        for button, (long, short) in self._short.items():
            metrics = button.fontMetrics()
            saved += metrics.horizontalAdvance(long) - metrics.horizontalAdvance(short)
        needed += saved if self._is_folded else 0
        folded = needed > self.width()
        needed -= saved if folded else 0
        self._fold(folded)
        for width, group in zip(widths, self._spare, strict=True):
            left_out = needed > self.width()
            if left_out:
                needed -= width
            for widget in group:
                if widget.isHidden() != left_out:
                    widget.setVisible(not left_out)

    def _fold(self, folded: bool) -> None:
        """Offer the speeds in one box, and say the buttons shorter, before any of them goes."""
        if folded == self._is_folded:
            return
        self._is_folded = folded
        self._row_of_rates.setVisible(not folded)
        self._box_of_rates.setVisible(folded)
        for button, forms in self._short.items():
            button.setText(forms[folded])

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return the width of the play button, the clock and the box of speeds."""
        return QSize(self._theme.px(400), super().minimumSizeHint().height())

    @Slot(bool)
    def show_reduced(self, reduced: bool) -> None:
        """Say whether samples are left out of the picture."""
        self._reduced.setVisible(reduced)
        self._fit()

    @Slot()
    def _session_changed(self) -> None:
        session = self._replay.session
        self.setEnabled(session is not None)
        self.clock.setText("")
        self._notice = ""
        self._words_px = 0
        self._size_clock()

    @Slot()
    def _clock_changed(self) -> None:
        self._session_changed()
        self._position_changed(self._replay.position_s)

    @Slot()
    def _size_clock(self) -> None:
        session = self._replay.session
        if session is not None:
            # As wide as it gets, so that the row is not laid out anew with every digit.
            widest = self._theme.metrics(17, bold=True).horizontalAdvance(session.clock.widest())
            self.clock.setFixedWidth(round(widest) + 6)
            self._fit()

    @Slot(str)
    def _tell(self, words: str) -> None:
        """Say something beside the clock until the playhead moves."""
        self.clock.clear()
        self._position_changed(self._replay.position_s)
        self._notice = words
        self._say([words, self.aside.text()])

    def _say(self, parts: list[str]) -> None:
        """Write beside the clock, and let buttons give way where the words are longer than any before."""
        words = " · ".join(part for part in parts if part)
        self.aside.setText(words)
        needed = self.aside.fontMetrics().horizontalAdvance(words)
        if needed > self._words_px:
            self._words_px = -(-needed // _STEP) * _STEP
            self._fit()

    @Slot(int)
    def _rate_clicked(self, index: int) -> None:
        self._replay.set_rate(RATES[index])

    @Slot()
    def _playing_changed(self) -> None:
        session = self._replay.session
        self._play.set_playing(session is not None and session.playback.playing)
        if session is not None:
            index = RATES.index(session.playback.rate)
            button = self._rates.button(index)
            if button is not None:
                button.setChecked(True)
            self._box_of_rates.setCurrentIndex(index)
            self._loop.setChecked(session.playback.loop is not None)

    @Slot()
    def _mark_changed(self) -> None:
        self._words_px = 0
        self._fit()
        self.clock.clear()
        self._position_changed(self._replay.position_s)

    @Slot(float)
    def _position_changed(self, time_s: float) -> None:
        session = self._replay.session
        if session is None:
            self.clock.clear()
            self.aside.clear()
            return
        words = session.clock.text(time_s)
        mark = self._replay.mark_s
        if words == self.clock.text() and mark is None and not self._notice:
            return
        self._notice = ""
        self.clock.setText(words)
        parts = [session.clock.beside]
        if mark is not None:
            parts.append(f"{number(time_s - mark, 2)} s from the mark")
        for start in session.assessment.starts:
            if (
                start.engine == session.engine
                and start.fuel_on_s is not None
                and start.begin_s <= time_s <= start.end_s
            ):
                since = time_s - start.fuel_on_s
                word = "after fuel" if since >= 0 else "before fuel"
                parts.append(f"{number(abs(since), 1)} s {word}")
        parts.append(session.clock.other(time_s))
        self._say(parts)
