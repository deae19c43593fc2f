"""Work that the event loop does in portions: one step in each turn, so that it answers between them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Slot
from PySide6.QtWidgets import QWidget

Step = Callable[[], object]


class Turns(QObject):
    """Does one step after the other, each in a turn of the event loop of its own.

    Notes
    -----
    Several timers that are due are served in the same turn; a single queue for all that is put off keeps their
    work apart. A step that already waits keeps its place: asked for twice, it is done once.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._waiting: list[Step] = []
        self._timer = QTimer(self, singleShot=True, interval=0)
        self._timer.timeout.connect(self._next)

    def take(self, *steps: Step) -> None:
        """Do these steps when their turn comes."""
        self._waiting += [step for step in steps if step not in self._waiting]
        if self._waiting and not self._timer.isActive():
            self._timer.start()

    def drop(self, *steps: Step) -> None:
        """Do these steps no more."""
        self._waiting = [step for step in self._waiting if step not in steps]

    @property
    def count(self) -> int:
        """Steps that are still to come."""
        return len(self._waiting)

    def waits(self, step: Step) -> bool:
        """Return whether a step is still to come."""
        return step in self._waiting

    def finish(self, *steps: Step) -> None:
        """Do those of these steps that are still to come at once, in their order."""
        due = [step for step in self._waiting if step in steps]
        self.drop(*due)
        for step in due:
            step()

    def appear(self, *parts: QWidget) -> None:
        """Paint these parts one after the other: all in one go would hold the event loop up.

        Until its turn comes a part keeps what it shows.
        """
        for part in parts:
            part.setUpdatesEnabled(False)
        self.take(*(_Appearing(part) for part in parts))

    def stop(self) -> None:
        """End what is still to come, as when the window closes."""
        self._timer.stop()
        self._waiting.clear()

    @Slot()
    def _next(self) -> None:
        if not self._waiting:
            return
        step = self._waiting.pop(0)
        if self._waiting:
            # Before the step: one that fails does not hold up the others.
            self._timer.start()
        step()


class _Appearing:
    """The step of painting one part."""

    def __init__(self, part: QWidget) -> None:
        self._part = part

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Appearing) and other._part is self._part

    def __hash__(self) -> int:
        return hash(id(self._part))

    def __call__(self) -> None:
        self._part.setUpdatesEnabled(True)
        self._part.repaint()
