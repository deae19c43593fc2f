"""The last page of the wizard: what was entered, read back in words, and the name of the file."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QLineEdit, QWidget

from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button
from debrief.profile.model import EngineProfile
from debrief.session.profiles.wizard import Wizard
from debrief.session.profiles.wizard_pages import PAGES

_RECOGNISED = next(page for page in PAGES if any(one.suggested for one in page.questions))


class SummaryPage(QWidget):
    """What the finished profile will be.

    Parameters
    ----------
    wizard : Wizard
    is_used : bool
        Whether there is a recording that the finished profile is used for.

    Signals
    -------
    edited
        An answer was changed.
    """

    edited = Signal()

    def __init__(self, wizard: Wizard, is_used: bool) -> None:
        super().__init__()
        self.setObjectName("panel")
        self._wizard = wizard
        column = column_layout(self, margins=(18, 14, 18, 14), spacing=8)
        column.addWidget(PlainLabel("The profile", role="title"))
        self._holds = WrappedLabel()
        column.addWidget(self._holds)
        used = "The open recording is judged with it at once."
        after = used if is_used else "It is offered wherever a profile is chosen."
        saved = f"It is saved in the folder of your own profiles. {after}"
        column.addWidget(WrappedLabel(saved, role="muted"))
        label = PlainLabel("&File name")
        self._file = QLineEdit()
        self._file.setAccessibleName("File name")
        label.setBuddy(self._file)
        column.addWidget(label)
        column.addWidget(self._file)
        self._approval = WrappedLabel(role="muted")
        column.addWidget(self._approval)
        self._common = made_button("Fill in the &common rules of recognition", self._suggest)
        column.addWidget(self._common, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(PlainLabel("What was entered", role="heading"))
        self._review = WrappedLabel()
        column.addWidget(self._review)
        column.addStretch(1)

    @property
    def file_name(self) -> str:
        """The name that the file is to have."""
        return self._file.text()

    def refill(self) -> None:
        """Show the answers as they are now; a name of the file that was typed stays."""
        if not self._file.isModified():
            self._file.setText(self._wizard.suggested_file)

    def show_profile(self, profile: EngineProfile) -> None:
        """Show what the profile holds by now."""
        levels, count = sum(len(limit.allowed) for limit in profile.limits), len(profile.limits)
        self._holds.setText(
            f"{count} limit{'' if count == 1 else 's'} with {levels} level{'' if levels == 1 else 's'}. "
            "Beside this stands what can be judged with it, and what cannot."
        )
        warning = "Not entered as approved data: every page of a report says so."
        self._approval.setText("" if profile.approved_data else warning)
        self._common.setVisible(self._wizard.status(_RECOGNISED) == "open")
        self._review.setText("\n".join(self._wizard.review()))

    @Slot()
    def _suggest(self) -> None:
        """Fill in what stands in no manual, where that page was passed by."""
        self._wizard.suggest(_RECOGNISED)
        self.edited.emit()
