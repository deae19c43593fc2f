"""One part of a profile in the editor: a field for each key, in words."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFormLayout, QWidget

from debrief.gui.profiles.field_editors import FieldEditor
from debrief.gui.profiles.undo_keys import UndoKeys
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.session.profiles.profile_cells import Value
from debrief.session.profiles.profile_fields import Field
from debrief.session.profiles.profile_form import Section


class SectionPage(QWidget):
    """The fields of a part.

    Parameters
    ----------
    section : Section
    value_of : callable
        Returns what a field shows.
    theme : Theme
    keys : UndoKeys
        Undo and redo of the window.

    Signals
    -------
    edited : FieldEditor
        A person has changed a field.
    """

    edited = Signal(object)

    def __init__(
        self, section: Section, value_of: Callable[[Field], Value], theme: Theme, keys: UndoKeys
    ) -> None:
        super().__init__()
        self.section = section
        self.setObjectName("panel")
        layout = QFormLayout(self)
        layout.setContentsMargins(14, 12, 14, 12)
        layout.setHorizontalSpacing(14)
        layout.setVerticalSpacing(8)
        layout.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self._editors: list[FieldEditor] = []
        for field in section.fields:
            editor = FieldEditor(field, value_of(field), theme)
            editor.edited.connect(lambda editor=editor: self.edited.emit(editor))
            label = PlainLabel(field.title)
            label.setBuddy(editor)
            if field.kind == "rows":
                layout.addRow(label)
                layout.addRow(editor)
            else:
                layout.addRow(label, editor)
            self._editors.append(editor)
        keys.watch(self)

    def editor(self, key: str) -> FieldEditor:
        """Return the editor of a key."""
        return next(one for one in self._editors if one.field.key == key)

    def take_focus(self, key: str) -> None:
        """Put the focus into the field of a key."""
        self.editor(key).setFocus(Qt.FocusReason.OtherFocusReason)
