"""The colours: light, dark and high contrast, by what they stand for."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtGui import QColor, QPalette


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
PALETTES = {"light": LIGHT, "dark": DARK, "contrast": CONTRAST}


def mixed(first: QColor, second: QColor, share: float) -> QColor:
    """Return an opaque colour between two, at a share of 0 (the first) to 1 (the second)."""
    pairs = ((first.red(), second.red()), (first.green(), second.green()), (first.blue(), second.blue()))
    return QColor(*(round(a + (b - a) * share) for a, b in pairs))


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


def qt_palette(palette: Palette) -> QPalette:
    """Return the colours for what Qt draws by itself."""
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
