"""What a screen reader is told when it happens, not only when it asks; nothing is done where none is at work."""

from __future__ import annotations

from PySide6.QtGui import (
    QAccessible,
    QAccessibleAnnouncementEvent,
    QAccessibleEvent,
    QAccessibleValueChangeEvent,
)
from PySide6.QtWidgets import QWidget

from debrief.words.visible import visible


def announce(widget: QWidget, words: str, *, urgent: bool = False) -> None:
    """Have words said, an urgent message before what is being said."""
    if words and QAccessible.isActive():
        event = QAccessibleAnnouncementEvent(widget, visible(words))
        polite = QAccessible.AnnouncementPoliteness
        event.setPoliteness(polite.Assertive if urgent else polite.Polite)
        tell(event)
        if urgent:
            tell(QAccessibleEvent(widget, QAccessible.Event.Alert))


def value_changed(widget: QWidget, value: float) -> None:
    """Say that what a widget measures is another now, as a slider does."""
    if QAccessible.isActive():
        tell(QAccessibleValueChangeEvent(widget, value))


def tell(event: QAccessibleEvent) -> None:
    """Hand an event to the screen reader."""
    QAccessible.updateAccessibility(event)
