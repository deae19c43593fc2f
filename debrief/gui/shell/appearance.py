"""How the window looks, and what of it is remembered: colours, size of text, tapes, bands, lanes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu

from debrief.gui.shell.replay_page import ReplayPage
from debrief.gui.style.motion import Effects
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import CHOICES, Choice, Theme

THEME_WORDS = {"system": "As the &system", "light": "&Light", "dark": "&Dark", "contrast": "High &contrast"}
_STEP = 0.1
Look = Literal["tapes", "bands", "strips", "reduced_motion"]
"""What of the replay is shown or not, by the name under which it is remembered."""


class Looks(QObject):
    """Changes the looks of the replay and remembers them.

    Signals
    -------
    motion_reduced : bool
        What moves by itself is to move in steps, or not at all; or as usual.
    """

    motion_reduced = Signal(bool)

    def __init__(self, theme: Theme, settings: Settings, page: ReplayPage, parent: QObject) -> None:
        super().__init__(parent)
        self._theme = theme
        self._settings = settings
        self._page = page
        self._ticks: dict[str, QAction] = {}
        self._effects = Effects()

    def attach(self, **ticks: QAction) -> None:
        """Tick these entries of the menu, by their names, as things are, and show them as they are remembered."""
        self._ticks = ticks
        for action in self._ticks.values():
            action.setCheckable(True)
        self._show_tapes(self._settings.tapes)
        self._show_bands(self._settings.bands)
        self._show_strips(self._settings.strips)
        self._reduce_motion(self._settings.reduced_motion)

    def slots(self) -> dict[str, Callable[[], object]]:
        """Return what is done by each command of the looks, by its name."""
        return {
            "fit": self.fit_heights,
            "tapes": self.toggle_tapes,
            "bands": self.toggle_bands,
            "strips": self.toggle_strips,
            "reduced_motion": self.toggle_motion,
            "larger": self.larger,
            "smaller": self.smaller,
            "usual_size": self.usual_size,
        }

    def make_menu(self, view: QMenu) -> None:
        """Offer the colours in a menu."""
        colours = view.addMenu("&Colours")
        group = self._colours = QActionGroup(self)
        for choice in CHOICES:
            action = QAction(THEME_WORDS[choice], self, checkable=True, checked=choice == self._theme.choice)
            action.setData(choice)
            group.addAction(action)
            colours.addAction(action)
        group.triggered.connect(self._theme_chosen)

    @Slot(QAction)
    def _theme_chosen(self, action: QAction) -> None:
        self.use_colours(next(c for c in CHOICES if c == action.data()))

    def use_colours(self, choice: Choice) -> None:
        """Show these colours and remember them."""
        self._settings.theme = choice
        for action in self._colours.actions():
            action.setChecked(action.data() == choice)
        self._theme.choose(choice)

    @Slot()
    def fit_heights(self) -> None:
        """Let the heights follow what is in view, or stand still."""
        self._page.lanes.toggle_fit()
        self._ticks["fit"].setChecked(self._page.lanes.fits_heights)

    @Slot()
    def toggle_tapes(self) -> None:
        """Show the gauges as tapes, or as dials."""
        self.use("tapes", not self._page.gauges.shows_tapes)

    def use(self, name: Look, on: bool) -> None:
        """Show gauges as tapes, bands or strips, or not, or reduce motion, and remember it."""
        {
            "tapes": self._show_tapes,
            "bands": self._show_bands,
            "strips": self._show_strips,
            "reduced_motion": self._reduce_motion,
        }[name](on)
        setattr(self._settings, name, on)

    def _show_tapes(self, tapes: bool) -> None:
        self._page.gauges.show_tapes(tapes)
        self._ticks["tapes"].setChecked(tapes)

    @Slot()
    def toggle_bands(self) -> None:
        """Shade the profile's bands, or not."""
        self.use("bands", not self._page.lanes.shows_bands)

    def _show_bands(self, shown: bool) -> None:
        self._page.lanes.show_bands(shown)
        self._ticks["bands"].setChecked(shown)

    @Slot()
    def toggle_strips(self) -> None:
        """Show the switches and levers below the lanes, or not."""
        self.use("strips", not self._page.lanes.shows_strips)

    def _show_strips(self, shown: bool) -> None:
        self._page.lanes.show_strips(shown)
        self._ticks["strips"].setChecked(shown)

    @Slot()
    def toggle_motion(self) -> None:
        """Let the replay move in steps and nothing by itself, or all as usual."""
        self.use("reduced_motion", not self._settings.reduced_motion)

    def _reduce_motion(self, reduced: bool) -> None:
        self._effects.reduce(reduced)
        self.motion_reduced.emit(reduced)
        self._ticks["reduced_motion"].setChecked(reduced)

    @Slot()
    def larger(self) -> None:
        """Make all text larger."""
        self.use_scale(self._theme.scale + _STEP)

    @Slot()
    def smaller(self) -> None:
        """Make all text smaller."""
        self.use_scale(self._theme.scale - _STEP)

    @Slot()
    def usual_size(self) -> None:
        """Give text its usual size."""
        self.use_scale(1.0)

    def use_scale(self, scale: float) -> None:
        """Give text this size and remember it."""
        self._theme.set_scale(round(scale, 1))
        self._settings.scale = self._theme.scale
