"""The tables of the import dialog: the first rows of the file, and its columns with what they are used as."""

from __future__ import annotations

from math import isfinite
from typing import Any

from PySide6.QtCore import (
    QAbstractItemModel,
    QAbstractTableModel,
    QEvent,
    QLocale,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
    Signal,
    Slot,
)
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionButton,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from debrief.gui.theme import Theme
from debrief.session.import_form import (
    ImportForm,
    channel_choices,
    choice_words,
    unit_choice_words,
    unit_choices,
)
from debrief.session.importing import ColumnProposal, FileProposal

Index = QModelIndex | QPersistentModelIndex

NAME, CHANNEL, UNIT, SURENESS, TRACE = range(5)
HEADINGS = ("Column in the file", "Use as", "Unit", "How sure", "Trace")
_TOP = QModelIndex()
_DISPLAY = Qt.ItemDataRole.DisplayRole
_SAID = Qt.ItemDataRole.AccessibleTextRole
_TIP = Qt.ItemDataRole.ToolTipRole
_OPEN_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space, Qt.Key.Key_F2, Qt.Key.Key_F4)


class PreviewModel(QAbstractTableModel):
    """The cells of the first rows, as written."""

    def __init__(self, proposal: FileProposal, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._names = proposal.names
        self._rows = proposal.preview

    def rowCount(self, parent: Index = _TOP) -> int:
        """Return the number of rows."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = _TOP) -> int:
        """Return the number of columns."""
        return 0 if parent.isValid() else len(self._names)

    def data(self, index: Index, role: int = _DISPLAY) -> Any:
        """Return a cell's text."""
        if role in (_DISPLAY, _TIP):
            row = self._rows[index.row()]
            return row[index.column()] if index.column() < len(row) else ""
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _DISPLAY) -> Any:
        """Return the column's name."""
        if orientation == Qt.Orientation.Horizontal:
            if role == _DISPLAY:
                return self._names[section] or "(no name)"
            if role == Qt.ItemDataRole.TextAlignmentRole:
                return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None


class ColumnsModel(QAbstractTableModel):
    """One row for each column of the file; channel and unit can be chosen.

    Signals
    -------
    form_changed : str
        A choice was made; with a sentence where it took a channel from another column.
    """

    form_changed = Signal(str)

    def __init__(self, form: ImportForm, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.form = form
        self._columns = form.proposal.columns

    def proposal_of(self, row: int) -> ColumnProposal:
        """Return the proposal that a row shows."""
        return self._columns[row]

    def rowCount(self, parent: Index = _TOP) -> int:
        """Return the number of columns of the file."""
        return 0 if parent.isValid() else len(self._columns)

    def columnCount(self, parent: Index = _TOP) -> int:
        """Return the number of columns of the table."""
        return 0 if parent.isValid() else len(HEADINGS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _DISPLAY) -> Any:
        """Return the heading."""
        if orientation == Qt.Orientation.Horizontal:
            if role == _DISPLAY:
                return HEADINGS[section]
            if role == Qt.ItemDataRole.TextAlignmentRole:
                return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return flags | Qt.ItemFlag.ItemIsEditable if self.can_choose(index) else flags

    def can_choose(self, index: Index) -> bool:
        """Return whether there is anything to choose in a cell."""
        if index.column() == UNIT:
            return len(unit_choices(self.form.channel(index.row()))) > 1
        return index.column() == CHANNEL

    def data(self, index: Index, role: int = _DISPLAY) -> Any:
        """Return words of a cell."""
        row, column = index.row(), index.column()
        if role == _DISPLAY:
            return self._words(row, column)
        if role == _SAID:
            words = self._words(row, column) if column != TRACE else range_words(self._columns[row])
            return f"{self._name(row)}, {HEADINGS[column].lower()}: {words or 'none'}"
        if role == _TIP:
            if column == TRACE:
                return range_words(self._columns[row])
            if column == SURENESS:
                return self._columns[row].why or None
            return self._words(row, column) or None
        if role == Qt.ItemDataRole.EditRole:
            return self.form.channel(row) if column == CHANNEL else self.form.unit(row)
        return None

    def _name(self, row: int) -> str:
        return self._columns[row].name or f"Column {row + 1}, no name"

    def _words(self, row: int, column: int) -> str:
        channel, unit = self.form.channel(row), self.form.unit(row)
        if column == NAME:
            return self._name(row)
        if column == CHANNEL:
            return choice_words(channel)
        if column == UNIT:
            if channel:
                return unit_choice_words(unit, channel)
            return unit_choice_words(self._columns[row].unit, "time") if self._columns[row].unit else ""
        if column == SURENESS:
            return self.form.sureness(row)
        return ""

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Take a choice."""
        row = index.row()
        said = ""
        if index.column() == CHANNEL:
            if value == self.form.channel(row):
                return False
            said = self.form.assign(row, str(value))
        elif index.column() == UNIT:
            self.form.set_unit(row, str(value))
        self.tell_changed(said)
        return True

    def tell_changed(self, said: str = "") -> None:
        """Show the form anew."""
        self.dataChanged.emit(self.index(0, 0), self.index(self.rowCount() - 1, len(HEADINGS) - 1))
        self.form_changed.emit(said)


def range_words(column: ColumnProposal) -> str:
    """Return from where to where a column's values run."""
    if not column.low.size:
        return "no numbers"
    low = min(v for v in column.low.tolist() if isfinite(v))
    high = max(v for v in column.high.tolist() if isfinite(v))
    return f"from {low:.6g} to {high:.6g}".replace("-", "\N{MINUS SIGN}")


def paint_chevron(painter: QPainter, rect: QRectF, theme: Theme, role: str) -> None:
    """Draw the mark of a list at the right end of an area."""
    x, y, half = rect.right() - theme.px(12), rect.center().y(), theme.px(4)
    points = [QPointF(x - half, y - half / 2), QPointF(x, y + half / 2), QPointF(x + half, y - half / 2)]
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(QPen(theme.color(role), 1.4))
    painter.drawPolyline(QPolygonF(points))
    painter.restore()


class ChoiceBox(QComboBox):
    """A list of choices that shows that it is one in every theme.

    Signals
    -------
    popup_hidden
        The list was closed, with a choice or without one.
    """

    popup_hidden = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    def showPopup(self) -> None:
        """Open the list."""
        super().showPopup()
        self.view().installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Say when the list is hidden: Escape closes it past `hidePopup`."""
        if event.type() == QEvent.Type.Hide:
            self.popup_hidden.emit()
        return False

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the box and the mark."""
        super().paintEvent(event)
        painter = QPainter(self)
        paint_chevron(painter, QRectF(self.rect()), self._theme, "ink" if self.isEnabled() else "muted")


class TickBox(QCheckBox):
    """A check box whose box and tick are seen in every theme."""

    def __init__(self, words: str, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(words, parent)
        self._theme = theme

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the box and the tick."""
        super().paintEvent(event)
        if not self.isChecked():
            return
        option = QStyleOptionButton()
        self.initStyleOption(option)
        box = QRectF(self.style().subElementRect(QStyle.SubElement.SE_CheckBoxIndicator, option, self))
        x, y, part = box.left(), box.top(), box.width() / 10
        tick = [QPointF(x + dx * part, y + dy * part) for dx, dy in ((2.4, 5.2), (4.3, 7.2), (7.8, 2.9))]
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(self._theme.color("ink" if self.isEnabled() else "muted"), 2))
        painter.drawPolyline(QPolygonF(tick))


class ChoiceDelegate(QStyledItemDelegate):
    """Shows that a cell can be chosen, lets choose it, and draws the trace."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        """Return the list of choices, open."""
        model = index.model()
        assert isinstance(model, ColumnsModel)
        combo = ChoiceBox(self._theme, parent)
        combo.setMaxVisibleItems(16)
        name = model.proposal_of(index.row()).name or f"column {index.row() + 1}"
        combo.setAccessibleName(f"{HEADINGS[index.column()]}, {name}")
        if index.column() == CHANNEL:
            for channel in channel_choices():
                combo.addItem(choice_words(channel), channel)
        else:
            channel = model.form.channel(index.row())
            if channel != "time" and not model.form.unit(index.row()):
                combo.addItem("choose", "")
            for unit in unit_choices(channel):
                combo.addItem(unit_choice_words(unit, channel), unit)
        combo.activated.connect(self._chosen)
        # Later, since the list closes before it says what was chosen.
        combo.popup_hidden.connect(self._given_up, Qt.ConnectionType.QueuedConnection)
        return combo

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        """Show what is chosen now, and the list."""
        assert isinstance(editor, QComboBox)
        editor.setCurrentIndex(max(0, editor.findData(index.data(Qt.ItemDataRole.EditRole))))

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        """Take the choice."""
        assert isinstance(editor, QComboBox)
        model.setData(index, editor.currentData())

    @Slot()
    def _chosen(self) -> None:
        combo = self.sender()
        if isinstance(combo, QComboBox):
            self.commitData.emit(combo)
            self.closeEditor.emit(combo, QAbstractItemDelegate.EndEditHint.NoHint)

    @Slot()
    def _given_up(self) -> None:
        combo = self.sender()
        if isinstance(combo, QComboBox):
            self.closeEditor.emit(combo, QAbstractItemDelegate.EndEditHint.RevertModelCache)

    def updateEditorGeometry(self, editor: QWidget, option: QStyleOptionViewItem, index: Index) -> None:
        """Fill the cell."""
        editor.setGeometry(option.rect)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Return room for the words and the mark."""
        size = super().sizeHint(option, index)
        return QSize(size.width() + self._theme.px(18), size.height())

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the cell."""
        model = index.model()
        assert isinstance(model, ColumnsModel)
        super().paint(painter, option, index)
        area: Any = option
        rect = QRectF(area.rect)
        if index.column() == TRACE:
            self._paint_trace(painter, rect, model.proposal_of(index.row()), index.row(), model)
        elif model.can_choose(index):
            selected = bool(area.state & QStyle.StateFlag.State_Selected)
            paint_chevron(painter, rect, self._theme, "ink" if selected else "muted")

    def _paint_trace(
        self, painter: QPainter, rect: QRectF, column: ColumnProposal, row: int, model: ColumnsModel
    ) -> None:
        """Draw lowest to highest of each stretch, joined; a stretch without values is left out."""
        if not column.low.size:
            return
        lows, highs = column.low.tolist(), column.high.tolist()
        held = [(i, a, b) for i, (a, b) in enumerate(zip(lows, highs, strict=True)) if isfinite(a)]
        bottom, top = min(a for _, a, _ in held), max(b for _, _, b in held)
        area = rect.adjusted(8, 5, -8, -5)
        across = area.width() / max(len(lows) - 1, 1)
        up = area.height() / (top - bottom) if top > bottom else 0.0
        base = area.bottom() if up else area.center().y()
        points = []
        for i, low, high in held:
            x = area.left() + i * across
            points.append(QPointF(x, base - (low - bottom) * up))
            points.append(QPointF(x, base - (high - bottom) * up))
        painter.save()
        painter.setClipRect(rect)
        role = "speed" if model.form.channel(row) else "muted"
        painter.setPen(QPen(self._theme.color(role), 1))
        painter.drawPolyline(QPolygonF(points))
        painter.restore()


class ColumnsTable(QTableView):
    """The columns of the file; Enter, Space or a click opens the list of a cell."""

    def __init__(self, model: ColumnsModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._choices = ChoiceDelegate(theme, self)
        self.setModel(model)
        self.setItemDelegate(self._choices)
        self.setAccessibleName("Columns of the file and what they are used as")
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)  # the keys below do
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionsClickable(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.clicked.connect(self._clicked)
        self.resize_rows()

    def resize_rows(self) -> None:
        """Set heights and widths by the size of text."""
        theme = self._theme
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setMinimumSectionSize(10)
        self.verticalHeader().setDefaultSectionSize(theme.px(28))
        header = self.horizontalHeader()
        for column, width in ((UNIT, 138), (SURENESS, 250), (TRACE, 190)):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            header.resizeSection(column, theme.px(width))

    @Slot(QModelIndex)
    def _clicked(self, index: QModelIndex) -> None:
        self.choose(index)

    def choose(self, index: QModelIndex) -> None:
        """Open the list of a cell; of a cell without one, that of the channel."""
        if index.isValid():
            if not index.flags() & Qt.ItemFlag.ItemIsEditable:
                return
            self.setCurrentIndex(index)
            self.edit(index)
            combo = self.indexWidget(index)
            if isinstance(combo, QComboBox):
                combo.showPopup()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Open the list of the cell that has the focus."""
        if event.type() == QEvent.Type.KeyPress and event.key() in _OPEN_KEYS:
            index = self.currentIndex()
            if index.isValid() and not index.flags() & Qt.ItemFlag.ItemIsEditable:
                index = index.siblingAtColumn(CHANNEL)
            self.choose(index)
            event.accept()
            return
        super().keyPressEvent(event)


def number_words(value: int) -> str:
    """Return a whole number with its thousands apart."""
    return QLocale.c().toString(value).replace(",", "\N{NARROW NO-BREAK SPACE}")
