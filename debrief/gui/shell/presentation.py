"""Presentation: the lanes and the main gauge alone, large, for a projector and many eyes. F11; Escape or F11 leaves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMainWindow, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.shell.replay_page import ReplayPage
from debrief.gui.style.theme import Theme

_USUAL_HEIGHT, _USUAL_SCALE, _MOST_SCALE = 720.0, 1.3, 2.0


def scale_for(height: float) -> float:
    """Return the size of text for a window of this height, [px]."""
    return round(min(max(_USUAL_SCALE * height / _USUAL_HEIGHT, 1.0), _MOST_SCALE), 1)


class Presentation(QObject):
    """Shows little, large, and gives everything back as it was.

    Parameters
    ----------
    window : QMainWindow
        Goes to full screen.
    page : ReplayPage
        Of which lanes and main gauge stay.
    around : sequence of QWidget
        What is hidden meanwhile, beside the menus.
    keys : callable
        Returns the actions whose keys go on to work without their menus; those of the size of text do not.

    Signals
    -------
    changed : bool
        It has begun or ended.
    """

    changed = Signal(bool)

    def __init__(
        self,
        window: QMainWindow,
        page: ReplayPage,
        theme: Theme,
        around: Sequence[QWidget],
        keys: Callable[[], Iterable[QAction]],
    ) -> None:
        super().__init__(window)
        self._window = window
        self._page = page
        self._theme = theme
        self._around = around
        self._keys = keys
        self._held: list[QAction] = []
        self._hidden: list[QWidget] = []
        self._before: tuple[float, Qt.WindowState, QWidget | None] | None = None
        self._leave = QAction("Leave the presentation", self)
        self._leave.setShortcut(QKeySequence(Qt.Key.Key_Escape))
        self._leave.triggered.connect(self.leave)

    @property
    def is_on(self) -> bool:
        """Whether it is shown."""
        return self._before is not None

    @Slot()
    def toggle(self) -> None:
        """Begin, or leave."""
        if self.is_on:
            self.leave()
        else:
            self.begin()

    def begin(self) -> None:
        """Show the lanes and the main gauge alone, large."""
        window = self._window
        self._before = (self._theme.scale, window.windowState(), window.focusWidget())
        self._hidden = [part for part in (window.menuBar(), *self._around) if not part.isHidden()]
        for part in self._hidden:
            part.hide()
        # Without their menus keys would be dead: the window has them meanwhile.
        self._held = [*self._keys(), self._leave]
        window.addActions(self._held)
        self._page.present(True)
        window.showFullScreen()
        window.installEventFilter(self)
        self._fit()
        self._page.lanes.setFocus()
        self.changed.emit(True)

    @Slot()
    def leave(self) -> None:
        """Show everything again, as it was."""
        if self._before is None:
            return
        scale, state, focus = self._before
        self._before = None
        window = self._window
        window.removeEventFilter(self)
        for action in self._held:
            window.removeAction(action)
        self._page.present(False)
        for part in self._hidden:
            part.show()
        self._theme.set_scale(scale)
        window.setWindowState(state)
        if focus is not None and focus.isVisible():
            focus.setFocus()
        self.changed.emit(False)

    def _fit(self) -> None:
        scale = scale_for(self._window.height())
        if scale != self._theme.scale:
            self._theme.set_scale(scale)

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Give the text the size of the screen."""
        if event.type() == QEvent.Type.Resize and self.is_on:
            self._fit()
        return False
