"""The page of definitions inside the window: searched by words, its entries linked."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, QUrl, Signal, Slot
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QListWidget, QListWidgetItem, QTextBrowser, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout, set_ground
from debrief.session.texts.definitions import Definition, definition_of
from debrief.session.texts.definitions_page import LINK, address, group_title, search, shown_title, to_html

_LIST_WIDTH = 270


class DefinitionsView(QWidget):
    """What every number means: a field to search, the titles, and the entries to read.

    Signals
    -------
    back_wanted
        Go back to where the page was opened from.
    """

    back_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._is_filled = False
        set_ground(self, "panel", "What every number means")
        column = column_layout(self, margins=(18, 14, 18, 14), spacing=8)
        row = QHBoxLayout()
        row.addWidget(PlainLabel("What every number means", role="heading"), 1)
        row.addWidget(made_button("&Back", self.back_wanted))
        column.addLayout(row)
        self.field = QLineEdit(
            placeholderText="Search: a word or several, such as \N{LEFT DOUBLE QUOTATION MARK}peak itt\N{RIGHT DOUBLE QUOTATION MARK}",
            clearButtonEnabled=True,
        )
        self.field.setAccessibleName("Search the definitions")
        self.field.textChanged.connect(self._search)
        self.field.installEventFilter(self)
        column.addWidget(self.field)
        body = row_layout(spacing=12)
        column.addLayout(body, 1)
        self.titles = QListWidget()
        self.titles.setAccessibleName("Entries")
        self.titles.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.titles.currentItemChanged.connect(self._chosen)
        body.addWidget(self.titles)
        self.text = QTextBrowser(openLinks=False)
        # Hundreds of links would hold Tab; all that they lead to is in the list of entries.
        flags = self.text.textInteractionFlags() & ~Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        self.text.setTextInteractionFlags(flags | Qt.TextInteractionFlag.TextSelectableByKeyboard)
        self.text.setAccessibleName("Definitions")
        self.text.anchorClicked.connect(self._followed)
        body.addWidget(self.text, 1)
        theme.changed.connect(self._restyle)
        self._restyle()

    @Slot()
    def _restyle(self) -> None:
        """Give the text the theme's colours; the document keeps those it was made with."""
        palette = self._theme.palette
        self.titles.setFixedWidth(self._theme.px(_LIST_WIDTH))
        self.text.document().setDefaultStyleSheet(
            f"body, p, td, h2, h3 {{ color: {palette.ink}; }} a {{ color: {palette.speed}; }} "
            f"code {{ color: {palette.muted}; }}"
        )
        if self._is_filled:
            self._search(self.field.text())

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Read the page when it is first looked at."""
        super().showEvent(event)
        if not self._is_filled:
            self._search(self.field.text())

    def show_entry(self, group: str, name: str) -> None:
        """Show one entry, with all others around it."""
        entry = definition_of(name, group or None)
        if self.field.text():
            self.field.clear()
        if not self._is_filled:
            self._search("")
        if entry is None:
            return
        # A level of the profile is an entry of the page by its letter.
        wanted = next((e for e in search("") if (e.group, e.line) == (entry.group, entry.line)), entry)
        for index in range(self.titles.count()):
            if self.titles.item(index).data(Qt.ItemDataRole.UserRole) == address(wanted):
                self.titles.setCurrentRow(index)
                break
        self.text.scrollToAnchor(address(wanted))

    @Slot(str)
    def _search(self, words: str) -> None:
        self._is_filled = True
        entries = search(words)
        searched = bool(words.split())
        self.text.setHtml(f"<body>{to_html(entries, searched)}</body>")
        self._fill_titles(entries, searched)

    def _fill_titles(self, entries: tuple[Definition, ...], searched: bool) -> None:
        self.titles.blockSignals(True)
        self.titles.clear()
        group = None
        for entry in entries:
            if not searched and group_title(entry.group) != group:
                group = group_title(entry.group)
                heading = QListWidgetItem(group)
                heading.setFlags(Qt.ItemFlag.NoItemFlags)
                self.titles.addItem(heading)
            item = QListWidgetItem(shown_title(entry))
            item.setData(Qt.ItemDataRole.UserRole, address(entry))
            item.setToolTip(plain_tip(f"{entry.title}: {entry.in_words}"))
            self.titles.addItem(item)
        self.titles.blockSignals(False)

    @Slot(QListWidgetItem, QListWidgetItem)
    def _chosen(self, item: QListWidgetItem | None, old: QListWidgetItem | None) -> None:
        where = None if item is None else item.data(Qt.ItemDataRole.UserRole)
        if where:
            self.text.scrollToAnchor(where)

    @Slot(QUrl)
    def _followed(self, link: QUrl) -> None:
        group, _, name = link.toString().removeprefix(LINK).rpartition("/")
        self.show_entry(group, name)

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Let the arrow keys in the field walk the entries."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            step = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
            if step is not None:
                self._walk(step)
                return True
        return super().eventFilter(watched, event)

    def _walk(self, step: int) -> None:
        row = self.titles.currentRow() + step
        while 0 <= row < self.titles.count():
            if self.titles.item(row).data(Qt.ItemDataRole.UserRole):
                self.titles.setCurrentRow(row)
                return
            row += step

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.back_wanted.emit()
            return
        super().keyPressEvent(event)
