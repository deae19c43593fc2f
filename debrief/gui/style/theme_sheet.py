"""The style sheets of everything that Qt draws by itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

from debrief.words.colours import Palette

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
QLabel[role="problem"] {{ color: {limit}; font-weight: bold; }}
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
QLineEdit#answer {{ border: 1px solid {muted}; }}
QLineEdit#answer:focus {{ border: 2px solid {ink}; padding: 2px; }}
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
ChoiceBox {{ background: {panel}; color: {ink}; border: 1px solid {muted}; border-radius: 3px;
  padding: 3px 7px; min-height: {h20}px; combobox-popup: 0; }}
ChoiceBox:focus {{ border: 2px solid {ink}; padding: 2px 6px; }}
ChoiceBox:disabled {{ color: {muted}; border: 1px solid {hairline}; }}
ChoiceBox::drop-down {{ border: none; width: {h20}px; }}
ChoiceBox QAbstractItemView {{ background: {panel}; color: {ink}; border: 1px solid {muted};
  selection-background-color: {selection}; selection-color: {ink}; outline: none; }}
"""
_DIALOG = """
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


def style_sheet(palette: Palette, px: Callable[[float], int]) -> str:
    """Return the style sheet of the whole window; `px` gives lengths at the text scale."""
    return _filled(_SHEET, palette, px)


def dialog_sheet(palette: Palette, px: Callable[[float], int]) -> str:
    """Return what the import dialog has in addition."""
    return _filled(_DIALOG, palette, px)


def _filled(sheet: str, palette: Palette, px: Callable[[float], int]) -> str:
    values: dict[str, object] = {f.name: getattr(palette, f.name) for f in fields(Palette)}
    values |= {f"s{n}": px(n) for n in (11, 12, 13, 14, 15, 17, 26)}
    return sheet.format(**values, h18=px(18), h20=px(20))
