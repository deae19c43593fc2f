"""The colours of `debrief.words.colours` for Qt."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette

from debrief.words.colours import Palette


def qt_color(palette: Palette, role: str) -> QColor:
    """Return the colour of a role."""
    return QColor(str(getattr(palette, role)))


def mixed(first: QColor, second: QColor, share: float) -> QColor:
    """Return an opaque colour between two, at a share of 0 (the first) to 1 (the second)."""
    pairs = ((first.red(), second.red()), (first.green(), second.green()), (first.blue(), second.blue()))
    return QColor(*(round(a + (b - a) * share) for a, b in pairs))


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
        made.setColor(role, qt_color(palette, name))
    for role in (group.Text, group.WindowText, group.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, role, qt_color(palette, "muted"))
    return made
