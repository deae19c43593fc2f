"""Tables and headings that look alike wherever they stand."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QLabel, QSizePolicy, QTableView, QTableWidget

from debrief.gui.widgets.labels import PlainLabel


def heading(words: str) -> QLabel:
    """Return a heading."""
    label = PlainLabel(words)
    label.setProperty("role", "heading")
    label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
    return label


def made_table(name: str, titles: tuple[str, ...]) -> QTableWidget:
    """Return an empty table with these titles."""
    table = QTableWidget()
    table.setColumnCount(len(titles))
    table.setHorizontalHeaderLabels(list(titles))
    dress(table, name)
    return table


def dress(table: QTableView, name: str) -> None:
    """Let a table look like all others here: rows are chosen, nothing is edited, no lines."""
    table.setAccessibleName(name)
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.verticalHeader().setDefaultSectionSize(27)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    # The width follows the rows in view: all of thousands would take too long.
    header.setResizeContentsPrecision(0)
    header.setStretchLastSection(True)
    header.setMinimumSectionSize(36)
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.Fixed)
    table.setColumnWidth(0, 40)
