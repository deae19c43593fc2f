"""Colours, fonts and sizes of the window: light, dark, high contrast, or as the system says."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

import shiboken6
from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetricsF, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from debrief.gui.turns import Turns
from debrief.resources import resource

Choice = Literal["system", "light", "dark", "contrast"]
CHOICES: tuple[Choice, ...] = ("system", "light", "dark", "contrast")

FAMILY = "B612"
_FONT_FILES = ("B612-Regular.otf", "B612-Bold.otf", "B612-Italic.otf", "B612-BoldItalic.otf")


@dataclass(frozen=True)
class Palette:
    """Colours by what they stand for. Muted text never stands on a tint."""

    name: str
    ground: str
    panel: str
    ink: str
    muted: str
    hairline: str
    grid: str
    selection: str
    speed: str
    temperature: str
    torque: str
    voltage: str
    limit: str
    caution: str
    normal: str
    tint_limit: str
    tint_caution: str
    on_limit: str

    def color(self, role: str) -> QColor:
        """Return the colour of a role; ``tint_possible`` lies halfway between the panel and the limit's tint."""
        if role == "tint_possible":
            return mixed(QColor(self.panel), QColor(self.tint_limit), 0.5)
        return QColor(str(getattr(self, role)))


LIGHT = Palette(
    name="light",
    ground="#F4F2EC",
    panel="#FCFBF7",
    ink="#20262B",
    muted="#5E676E",
    hairline="#D8D4C8",
    grid="#E8E4DA",
    selection="#E6ECEF",
    speed="#1B649F",
    temperature="#A3420A",
    torque="#0A6B5A",
    voltage="#8A3C8F",
    limit="#B81E1B",
    caution="#7F5700",
    normal="#2A7247",
    tint_limit="#F6DDD6",
    tint_caution="#F3E8CC",
    on_limit="#FFFFFF",
)
DARK = Palette(
    name="dark",
    ground="#14181B",
    panel="#1C2125",
    ink="#E8E6DF",
    muted="#9AA4AB",
    hairline="#343B40",
    grid="#262C31",
    selection="#262E34",
    speed="#6CB4EE",
    temperature="#F2935C",
    torque="#4CC3AC",
    voltage="#CF8FD6",
    limit="#FF6B63",
    caution="#E5B84B",
    normal="#6CC490",
    tint_limit="#43262A",
    tint_caution="#393221",
    on_limit="#14181B",
)
CONTRAST = Palette(
    name="contrast",
    ground="#000000",
    panel="#000000",
    ink="#FFFFFF",
    muted="#D6D6D6",
    hairline="#8C8C8C",
    grid="#3A3A3A",
    selection="#24364A",
    speed="#7CC4FF",
    temperature="#FFA36B",
    torque="#5FE0C6",
    voltage="#E7A6EE",
    limit="#FF7A72",
    caution="#FFD25E",
    normal="#7FE0A4",
    tint_limit="#4A1518",
    tint_caution="#3D3000",
    on_limit="#000000",
)
_PALETTES = {"light": LIGHT, "dark": DARK, "contrast": CONTRAST}


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

    def color(self, role: str) -> QColor:
        """Return the colour of a role in the present palette."""
        color = self._colors.get(role)
        if color is None:
            color = self._colors[role] = self._palette.color(role)
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
            app.setPalette(_qt_palette(self._palette))
            app.setFont(self.font(13))

    def _dress(self) -> None:
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.setStyleSheet(_style_sheet(self))

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
            self._palette = _PALETTES[self._choice]


def mixed(first: QColor, second: QColor, share: float) -> QColor:
    """Return an opaque colour between two, at a share of 0 (the first) to 1 (the second)."""
    pairs = ((first.red(), second.red()), (first.green(), second.green()), (first.blue(), second.blue()))
    return QColor(*(round(a + (b - a) * share) for a, b in pairs))


def load_fonts() -> None:
    """Make the bundled family known to Qt; once is enough."""
    if FAMILY in QFontDatabase.families():
        return
    for name in _FONT_FILES:
        QFontDatabase.addApplicationFont(str(resource(f"fonts/{name}")))


def contrast(first: str, second: str) -> float:
    """Return the WCAG contrast ratio of two colours, 1 to 21."""

    def luminance(text: str) -> float:
        color = QColor(text)
        parts = []
        for value in (color.redF(), color.greenF(), color.blueF()):
            parts.append(value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4)
        return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

    bright, dim = sorted((luminance(first), luminance(second)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def _qt_palette(palette: Palette) -> QPalette:
    made = QPalette()
    group = QPalette.ColorRole
    for role, name in (
        (group.Window, "ground"),
        (group.Base, "panel"),
        (group.AlternateBase, "ground"),
        (group.Text, "ink"),
        (group.WindowText, "ink"),
        (group.ButtonText, "ink"),
        (group.Button, "panel"),
        (group.ToolTipBase, "panel"),
        (group.ToolTipText, "ink"),
        (group.Highlight, "selection"),
        (group.HighlightedText, "ink"),
        (group.PlaceholderText, "muted"),
        (group.Mid, "hairline"),
        (group.Light, "panel"),
        (group.Midlight, "panel"),
        (group.Dark, "hairline"),
        (group.Shadow, "hairline"),
        (group.Link, "speed"),
    ):
        made.setColor(role, palette.color(name))
    for role in (group.Text, group.WindowText, group.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, role, palette.color("muted"))
    return made


_SHEET = """
QWidget {{ color: {ink}; }}
QMainWindow, QWidget#ground {{ background: {ground}; }}
QWidget#panel, QFrame#panel {{ background: {panel}; }}
QWidget#header {{ background: {panel}; border-bottom: 1px solid {hairline}; }}
QWidget#story {{ background: {panel}; border-right: 1px solid {hairline}; }}
QWidget#gauges {{ background: {panel}; border-left: 1px solid {hairline}; }}
QWidget#bottom {{ background: {panel}; border-top: 1px solid {hairline}; }}
QLabel[role="title"] {{ font-size: {s17}px; font-weight: bold; }}
QLabel[role="heading"] {{ font-size: {s14}px; font-weight: bold; }}
QLabel[role="muted"] {{ color: {muted}; }}
QLabel[role="small"] {{ color: {muted}; font-size: {s12}px; }}
QLabel[role="verdict"] {{ font-size: {s15}px; }}
QLabel[role="clock"] {{ font-size: {s17}px; font-weight: bold; }}
QLabel[role="display"] {{ font-size: {s26}px; font-weight: bold; }}
QMenuBar {{ background: {panel}; border-bottom: 1px solid {hairline}; padding: 1px 8px; }}
QMenuBar::item {{ background: transparent; padding: 4px 10px; }}
QMenuBar::item:selected {{ background: {selection}; }}
QMenu {{ background: {panel}; border: 1px solid {hairline}; padding: 4px; }}
QMenu::item {{ padding: 5px 26px 5px 22px; }}
QMenu::item:selected {{ background: {selection}; }}
QMenu::item:disabled {{ color: {muted}; }}
QMenu::separator {{ height: 1px; background: {hairline}; margin: 4px 8px; }}
QPushButton {{ background: {ground}; border: 1px solid {hairline}; border-radius: 4px;
  padding: 4px 12px; min-height: {h20}px; }}
QPushButton:hover {{ background: {selection}; }}
QPushButton:pressed {{ background: {hairline}; }}
QPushButton:focus {{ border: 1px solid {ink}; }}
QPushButton:disabled {{ color: {muted}; background: {panel}; }}
QPushButton[role="primary"] {{ background: {ink}; color: {panel}; border: 1px solid {ink}; font-weight: bold; }}
QPushButton[role="primary"]:focus {{ border: 2px solid {speed}; }}
QPushButton[role="primary"]:disabled {{ background: {panel}; color: {muted}; border: 1px solid {hairline}; }}
QPushButton[role="small"] {{ padding: 4px 9px; }}
QPushButton[role="flat"] {{ background: transparent; border: 1px solid transparent; color: {ink};
  padding: 3px 6px; }}
QPushButton[role="flat"]:hover {{ background: {selection}; }}
QPushButton[role="flat"]:focus {{ border: 1px solid {ink}; }}
QPushButton[role="flat"]:checked {{ background: {selection}; font-weight: bold; }}
QPushButton[role="tab"] {{ background: transparent; border: none; border-bottom: 3px solid transparent;
  border-radius: 0; padding: 9px 14px 7px 14px; color: {muted}; }}
QPushButton[role="tab"]:checked {{ color: {ink}; font-weight: bold; border-bottom: 3px solid {ink}; }}
QPushButton[role="tab"]:hover {{ color: {ink}; }}
QPushButton[role="tab"]:focus {{ color: {ink}; background: {selection}; }}
QLineEdit, QPlainTextEdit, QTextBrowser {{ background: {panel}; border: 1px solid {hairline};
  border-radius: 3px; padding: 3px; selection-background-color: {selection}; selection-color: {ink}; }}
QLineEdit:focus, QPlainTextEdit:focus {{ border: 1px solid {ink}; }}
QDialog {{ background: {ground}; }}
QScrollArea, QListView, QTableView {{ background: {panel}; border: none; }}
QTableView {{ gridline-color: {grid}; selection-background-color: {selection}; selection-color: {ink}; }}
QTableView {{ outline: 0; }}
QTableView::item {{ padding: 4px 10px; }}
QTableView::item:selected, QTableView::item:focus {{ background: {selection}; color: {ink}; }}
QHeaderView {{ background: {panel}; border: none; border-bottom: 1px solid {hairline}; }}
QHeaderView::section {{ background: {panel}; color: {muted}; border: none;
  border-bottom: 1px solid {hairline}; padding: 6px 10px; }}
QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {hairline}; border-radius: 4px; min-height: 28px; margin: 1px; }}
QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
QScrollBar::handle:horizontal {{ background: {hairline}; border-radius: 4px; min-width: 28px; margin: 1px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QProgressBar {{ background: {ground}; border: 1px solid {hairline}; border-radius: 3px; height: 8px; }}
QProgressBar::chunk {{ background: {speed}; border-radius: 2px; }}
QToolTip {{ background: {panel}; color: {ink}; border: 1px solid {hairline}; padding: 4px; }}
QFrame#rule {{ background: {hairline}; border: none; }}
"""


def _style_sheet(theme: Theme) -> str:
    values: dict[str, object] = {f.name: getattr(theme.palette, f.name) for f in fields(Palette)}
    values.update({f"s{n}": theme.px(n) for n in (11, 12, 13, 14, 15, 17, 26)})
    values["h20"] = theme.px(20)
    return _SHEET.format(**values)
