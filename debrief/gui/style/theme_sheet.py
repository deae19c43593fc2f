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
QPushButton:focus {{ border: 2px solid {ink}; padding: 3px 11px; }}
QPushButton:disabled {{ color: {muted}; background: {panel}; }}
QPushButton[role="primary"] {{ background: {ink}; color: {panel}; border: 1px solid {ink}; font-weight: bold; }}
QPushButton[role="primary"]:focus {{ background: {panel}; color: {ink}; border: 2px solid {ink}; padding: 3px 11px; }}
QPushButton[role="primary"]:disabled {{ background: {panel}; color: {muted}; border: 1px solid {hairline}; }}
QPushButton[role="small"] {{ padding: 4px 9px; }}
QPushButton[role="small"]:focus {{ padding: 3px 8px; }}
QPushButton[role="flat"] {{ background: transparent; border: 1px solid transparent; color: {ink};
  padding: 3px 6px; }}
QPushButton[role="flat"]:hover {{ background: {selection}; }}
QPushButton[role="flat"]:focus {{ border: 2px solid {ink}; padding: 2px 5px; }}
QPushButton[role="flat"]:checked {{ background: {selection}; font-weight: bold; border: 1px solid {muted}; }}
QPushButton[role="flat"]:checked:focus {{ border: 2px solid {ink}; padding: 2px 5px; }}
QPushButton[role="tab"] {{ background: transparent; border: none; border-bottom: 3px solid transparent;
  border-radius: 0; padding: 9px 14px 7px 14px; color: {muted}; }}
QPushButton[role="tab"]:checked {{ color: {ink}; font-weight: bold; border-bottom: 3px solid {ink}; }}
QPushButton[role="tab"]:hover {{ color: {ink}; }}
QPushButton[role="tab"]:focus {{ color: {ink}; background: {selection}; border: 2px solid {ink};
  border-bottom: 3px solid {ink}; padding: 7px 12px 7px 12px; }}
QLineEdit, QPlainTextEdit, QTextBrowser {{ background: {panel}; border: 1px solid {muted};
  border-radius: 3px; padding: 3px; selection-background-color: {selection}; selection-color: {ink}; }}
QTextBrowser {{ border: 1px solid {hairline}; }}
QLineEdit:focus, QPlainTextEdit:focus, QTextBrowser:focus {{ border: 2px solid {ink}; padding: 2px; }}
QDialog {{ background: {ground}; }}
QScrollArea {{ background: {panel}; border: none; }}
QListView, QTableView, QTreeView {{ background: {panel}; border: 2px solid {panel}; outline: 0;
  gridline-color: {grid}; selection-background-color: {selection}; selection-color: {ink}; }}
QListView:focus, QTableView:focus, QTreeView:focus {{ border: 2px solid {ink}; }}
QListView::item {{ border: 1px solid transparent; }}
QListView::item:selected {{ background: {selection}; color: {ink}; border: 1px solid {ink}; border-left-width: 4px; }}
QTableView::item {{ padding: 3px 10px; border: 1px solid transparent; }}
QTableView::item:focus {{ background: {selection}; color: {ink}; border: 1px solid {ink}; }}
QTableView::item:selected {{ background: {selection}; color: {ink}; border: 1px solid transparent;
  border-top-color: {ink}; border-bottom-color: {ink}; }}
QHeaderView {{ background: {panel}; border: none; border-bottom: 1px solid {hairline}; }}
QHeaderView::section {{ background: {panel}; color: {muted}; border: none;
  border-bottom: 1px solid {hairline}; padding: 6px 10px; }}
QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {muted}; border-radius: 4px; min-height: 28px; margin: 1px; }}
QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
QScrollBar::handle:horizontal {{ background: {muted}; border-radius: 4px; min-width: 28px; margin: 1px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QProgressBar {{ background: {ground}; border: 1px solid {hairline}; border-radius: 3px; height: 8px; }}
QProgressBar::chunk {{ background: {speed}; border-radius: 2px; }}
QToolTip {{ background: {panel}; color: {ink}; border: 1px solid {hairline}; padding: 4px; }}
QFrame#rule {{ background: {hairline}; border: none; }}
QComboBox {{ background: {panel}; color: {ink}; border: 1px solid {muted}; border-radius: 3px;
  padding: 3px 7px; min-height: {h20}px; combobox-popup: 0; }}
QComboBox:focus {{ border: 2px solid {ink}; padding: 2px 6px; }}
QComboBox:disabled {{ color: {muted}; border: 1px solid {hairline}; }}
QComboBox QAbstractItemView {{ background: {panel}; color: {ink}; border: 1px solid {muted};
  selection-background-color: {selection}; selection-color: {ink}; outline: none; }}
QComboBox::drop-down {{ border: none; width: {h20}px; }}
QCheckBox::indicator {{ width: {s14}px; height: {s14}px; border: 1px solid {muted}; border-radius: 3px;
  background: {panel}; }}
QCheckBox::indicator:focus {{ border: 2px solid {ink}; }}
QCheckBox:focus {{ text-decoration: underline; }}
QCheckBox:disabled {{ color: {muted}; }}
QSlider::groove:horizontal {{ height: 4px; background: {muted}; border-radius: 2px; }}
QSlider::handle:horizontal {{ width: {s14}px; margin: -6px 0; border-radius: 4px; background: {panel};
  border: 2px solid {muted}; }}
QSlider::handle:horizontal:focus {{ border: 3px solid {ink}; }}
"""
_DIALOG = """
QLineEdit {{ padding: 3px 7px; min-height: {h20}px; }}
QLineEdit:focus {{ padding: 2px 6px; }}
QLineEdit[wanted="true"] {{ border: 2px solid {caution}; padding: 2px 6px; }}
QLineEdit[wanted="true"]:focus {{ border: 2px solid {ink}; }}
QTableView {{ border: 1px solid {hairline}; padding: 1px; }}
QTableView:focus {{ border: 2px solid {ink}; padding: 0; }}
QTableView QComboBox {{ border-radius: 0; padding: 0 7px; min-height: 0; }}
QTableView::item:selected {{ background: {selection}; color: {ink}; }}
QTableView::item:focus {{ border: 1px solid {ink}; }}
QFrame#asked {{ background: {tint_caution}; border: none; border-radius: 4px; }}
QFrame#asked QLabel {{ color: {ink}; }}
QFrame#asked QPushButton {{ background: {panel}; padding: 2px 10px; min-height: {h18}px; border: 1px solid {muted}; }}
QFrame#asked QPushButton:checked {{ background: {ink}; color: {panel}; border: 1px solid {ink}; }}
QFrame#asked QPushButton:focus {{ border: 2px solid {ink}; padding: 1px 9px; }}
QFrame#asked QPushButton:checked:focus {{ background: {panel}; color: {ink}; font-weight: bold; }}
QScrollArea#asked_area, QWidget#asked_body {{ background: transparent; }}
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
