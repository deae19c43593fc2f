"""How the import dialog looks, by the theme's colours and size of text."""

from __future__ import annotations

from dataclasses import fields

from debrief.gui.style.theme import Theme
from debrief.words.colours import Palette

_SHEET = """
QLineEdit, QComboBox {{ background: {panel}; color: {ink}; border: 1px solid {muted}; border-radius: 3px;
  padding: 3px 7px; min-height: {h20}px; selection-background-color: {selection}; selection-color: {ink}; }}
QComboBox {{ combobox-popup: 0; }}
QLineEdit:focus, QComboBox:focus {{ border: 1px solid {ink}; }}
QLineEdit[wanted="true"] {{ border: 2px solid {caution}; padding: 2px 6px; }}
QComboBox QAbstractItemView {{ background: {panel}; color: {ink}; border: 1px solid {hairline};
  selection-background-color: {selection}; selection-color: {ink}; outline: none; }}
QTableView {{ border: 1px solid {hairline}; }}
QTableView QComboBox {{ border-radius: 0; padding: 0 7px; min-height: 0; }}
QTableView::item:selected {{ background: {selection}; color: {ink}; }}
QTableView::item:focus {{ border: 1px solid {ink}; }}
QFrame#asked {{ background: {tint_caution}; border: none; border-radius: 4px; }}
QFrame#asked QLabel {{ color: {ink}; }}
QFrame#asked QPushButton {{ background: {panel}; padding: 2px 10px; min-height: {h18}px; border: 1px solid {muted}; }}
QFrame#asked QPushButton:checked {{ background: {ink}; color: {panel}; border: 1px solid {ink}; }}
QFrame#asked QPushButton:focus {{ border: 2px solid {speed}; }}
QScrollArea#asked_area, QWidget#asked_body {{ background: transparent; }}
QComboBox::drop-down {{ border: none; width: {h20}px; }}
QPushButton[role="primary"]:disabled {{ background: {panel}; color: {muted}; border: 1px solid {hairline}; }}
QCheckBox::indicator {{ width: {s14}px; height: {s14}px; border: 1px solid {muted}; border-radius: 3px;
  background: {panel}; }}
QCheckBox::indicator:focus {{ border: 1px solid {ink}; }}
QCheckBox:focus {{ text-decoration: underline; }}
QCheckBox:disabled {{ color: {muted}; }}
"""


def style_sheet(theme: Theme) -> str:
    """Return the style sheet of the dialog."""
    values: dict[str, object] = {f.name: getattr(theme.palette, f.name) for f in fields(Palette)}
    return _SHEET.format(**values, h20=theme.px(20), h18=theme.px(18), s14=theme.px(14))
