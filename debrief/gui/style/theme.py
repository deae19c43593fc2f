"""Colours, fonts and sizes of the window: light, dark, high contrast, or as the system says."""

from __future__ import annotations

from typing import Literal

import shiboken6
from PySide6.QtCore import QObject, QRectF, Qt, Signal, Slot
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetricsF, QGuiApplication, QPainter
from PySide6.QtWidgets import QApplication, QWidget

from debrief.gui.background.turns import Turns
from debrief.gui.style.palettes import mixed, qt_color, qt_palette
from debrief.gui.style.theme_sheet import style_sheet
from debrief.resources import resource
from debrief.words.colours import DARK, LIGHT, PALETTES, Palette

Choice = Literal["system", "light", "dark", "contrast"]
CHOICES: tuple[Choice, ...] = ("system", "light", "dark", "contrast")

MARGIN = 60
"""Left of lanes and timeline, for the numbers of the axes and the names of the strips, [px at usual text size]."""

USUAL_TEXT = 13
"""The height of text of a dialog at scale 1, [px]."""

FAMILY = "B612"
_FONT_FILES = ("B612-Regular.otf", "B612-Bold.otf", "B612-Italic.otf", "B612-BoldItalic.otf")


class Theme(QObject):
    """What the window looks like now.

    Parameters
    ----------
    choice : str
        ``system`` follows the desktop; the others stay.
    scale : float
        Of all text and of what is measured by it.

    Signals
    -------
    changed
        Colours or sizes have changed: paint anew.
    """

    changed = Signal()

    def __init__(self, choice: Choice = "system", scale: float = 1.0, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._choice: Choice = choice
        self._scale = scale
        self._palette = LIGHT
        # Asked for many times in every frame.
        self._fonts: dict[tuple[int, bool], QFont] = {}
        self._metrics: dict[tuple[int, bool], QFontMetricsF] = {}
        self._colors: dict[str, QColor] = {}
        self._turns: Turns | None = None
        self._held: list[QWidget] = []
        self._is_changing = False
        load_fonts()
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._system_changed)
        self._resolve()

    @property
    def choice(self) -> Choice:
        """What the user chose."""
        return self._choice

    @property
    def palette(self) -> Palette:
        """The colours in use."""
        return self._palette

    @property
    def scale(self) -> float:
        """Of text."""
        return self._scale

    def px(self, size: float) -> int:
        """Return a length in pixels at the text scale."""
        return max(1, round(size * self._scale))

    def font(self, size_px: float, bold: bool = False) -> QFont:
        """Return the window's font at a size in pixels at scale 1."""
        key = (self.px(size_px), bold)
        font = self._fonts.get(key)
        if font is None:
            font = QFont(FAMILY)
            font.setPixelSize(key[0])
            font.setBold(bold)
            self._fonts[key] = font
        return font

    def metrics(self, size_px: float, bold: bool = False) -> QFontMetricsF:
        """Return the measures of that font."""
        key = (self.px(size_px), bold)
        metrics = self._metrics.get(key)
        if metrics is None:
            metrics = self._metrics[key] = QFontMetricsF(self.font(size_px, bold))
        return metrics

    def write(
        self,
        painter: QPainter,
        box: QRectF,
        words: str,
        size_px: float,
        role: str = "ink",
        *,
        bold: bool = False,
        flags: int | Qt.AlignmentFlag = Qt.AlignmentFlag.AlignCenter,
    ) -> None:
        """Draw words inside a box, in a size at scale 1 and the colour of a role."""
        painter.setFont(self.font(size_px, bold))
        painter.setPen(self.color(role))
        painter.drawText(box, int(flags), words)

    def fill(self, painter: QPainter, box: QRectF, role: str, radius: float = 0.0) -> None:
        """Fill a box with the colour of a role, without an edge."""
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.color(role))
        painter.drawRoundedRect(box, radius, radius)

    def color(self, role: str) -> QColor:
        """Return the colour of a role in the present palette."""
        color = self._colors.get(role)
        if color is None:
            color = self._colors[role] = qt_color(self._palette, role)
        return color

    def band_tint(self, kind: str, grade: float) -> QColor:
        """Return the opaque tint of a band: of a chart from its mildest (0) to its worst (1), or of an arc."""
        key = f"band {kind} {grade:.2f}"
        color = self._colors.get(key)
        if color is None:
            if kind == "chart":
                worst = mixed(self.color("tint_limit"), self.color("limit"), 0.12)
                color = mixed(self.color("tint_caution"), worst, grade)
            else:
                color = mixed(self.color("panel"), self.color(f"tint_{kind}"), 0.6)
            self._colors[key] = color
        return color

    def band_edge(self, kind: str, grade: float) -> QColor:
        """Return the colour of a band's outline."""
        key = f"edge {kind} {grade:.2f}"
        color = self._colors.get(key)
        if color is None:
            strong = self.color("limit" if kind == "limit" or grade > 0.5 else "caution")
            strength = 0.45 if kind == "chart" else 0.15
            color = self._colors[key] = mixed(self.band_tint(kind, grade), strong, strength)
        return color

    def use_turns(self, turns: Turns) -> None:
        """Change the looks of a window on screen in several turns of the event loop from now on."""
        self._turns = turns

    @property
    def holds_windows(self) -> bool:
        """Whether the windows are not painted until everything has its new looks."""
        return bool(self._held)

    @property
    def is_changing(self) -> bool:
        """Whether the widgets are between two styles: what they measure now does not last."""
        return self._is_changing

    def choose(self, choice: Choice) -> None:
        """Change the colours."""
        self._choice = choice
        self._resolve()
        self._change()

    def set_scale(self, scale: float) -> None:
        """Change the size of text, 0.8 to 2."""
        self._scale = min(max(scale, 0.8), 2.0)
        self._change()

    def apply(self) -> None:
        """Hand colours and sizes to the application and tell the widgets, at once."""
        self._is_changing = True
        self._undress()
        self._dress()
        self._tell()

    def _change(self) -> None:
        """Apply step by step; what is on screen stands still meanwhile.

        Qt styles every widget anew in one go: that cannot be made smaller, but be done in its two halves and
        apart from painting.
        """
        if self._turns is None:
            self.apply()
            return
        self._is_changing = True
        if not self._held:
            self._held = [w for w in QApplication.topLevelWidgets() if w.isVisible() and w.updatesEnabled()]
            for window in self._held:
                window.setUpdatesEnabled(False)
        steps = (self._undress, self._dress, self._tell)
        self._turns.drop(*steps)
        self._turns.take(*steps)

    def _undress(self) -> None:
        app = QApplication.instance()
        if isinstance(app, QApplication):
            # Replaced while it is in use, every widget would be styled twice: that takes more than twice as long.
            app.setStyleSheet("")
            app.setPalette(qt_palette(self._palette))
            app.setFont(self.font(USUAL_TEXT))

    def _dress(self) -> None:
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.setStyleSheet(style_sheet(self.palette, self.px))

    def _tell(self) -> None:
        self._is_changing = False
        self.changed.emit()
        held, self._held = self._held, []
        for window in held:
            if shiboken6.isValid(window):
                window.setUpdatesEnabled(True)

    @Slot()
    def _system_changed(self) -> None:
        if self._choice == "system":
            self._resolve()
            self._change()

    def _resolve(self) -> None:
        self._colors.clear()
        if self._choice == "system":
            dark = QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark
            self._palette = DARK if dark else LIGHT
        else:
            self._palette = PALETTES[self._choice]


def load_fonts() -> None:
    """Make the bundled family known to Qt; once is enough."""
    if FAMILY in QFontDatabase.families():
        return
    for name in _FONT_FILES:
        QFontDatabase.addApplicationFont(str(resource(f"fonts/{name}")))
