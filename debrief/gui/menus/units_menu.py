"""The menu of units: in which the numbers of window and paper are shown; it is remembered."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.style.settings import Settings
from debrief.words.display_units import CHOICES, ShownUnits, shown_units
from debrief.words.numbers import unit_words


class UnitsMenu(QMenu):
    """One group of entries for each kind of quantity; files of data stay in the canonical units.

    Signals
    -------
    units_changed
        Another unit was chosen, and is remembered.
    """

    units_changed = Signal()

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__("&Units", parent)
        self._settings = settings
        chosen = settings.units
        self._groups: dict[str, QActionGroup] = {}
        for kind, units in CHOICES.items():
            self.addSection(kind.capitalize())
            group = self._groups[kind] = QActionGroup(self)
            for unit in units:
                action = QAction(f"{kind.capitalize()} in {unit_words(unit)}", self)
                action.setCheckable(True)
                action.setData(unit)
                action.setChecked(chosen.of(units[0]) == unit)
                group.addAction(action)
                self.addAction(action)
            group.triggered.connect(self._chosen)

    @Slot(QAction)
    def _chosen(self, action: QAction) -> None:
        wanted = {}
        for kind, group in self._groups.items():
            checked = group.checkedAction()
            if checked is not None:
                wanted[kind] = str(checked.data())
        self.use(shown_units(wanted))

    def use(self, units: ShownUnits) -> None:
        """Show these units and remember them."""
        for kind, group in self._groups.items():
            for action in group.actions():
                action.setChecked(units.of(CHOICES[kind][0]) == action.data())
        if units != self._settings.units:
            self._settings.units = units
            self.units_changed.emit()
