"""Which entry of the page of definitions tells of what is chosen: a widget says so by a method ``explained``."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from PySide6.QtWidgets import QWidget


@runtime_checkable
class Explains(Protocol):
    """A widget of which what is chosen has an entry on the page of definitions."""

    def explained(self) -> tuple[str, str] | None:
        """Return group and name of the entry; None where nothing is chosen, or it has none."""


def explained_at(widget: QWidget | None) -> tuple[str, str] | None:
    """Return group and name of the entry of what is chosen in a widget, or in the nearest one around it that knows."""
    while widget is not None:
        found = widget.explained() if isinstance(widget, Explains) else None
        if found is not None:
            return found
        widget = widget.parentWidget()
    return None
