"""Asking for files without blocking: each function opens a dialog and calls back with the answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QInputDialog, QMessageBox, QWidget

Asker = Callable[[QWidget, str, Callable[[str], None]], None]
FilesAsker = Callable[[QWidget, str, Callable[[list[str]], None]], None]
ChannelAsker = Callable[[QWidget, list[str], Callable[[str], None]], None]

_RECORDINGS = "Recordings (*.csv *.txt *.tsv *.gz *.zip);;All files (*)"


def ask_for_recording(parent: QWidget, folder: str, answer: Callable[[str], None]) -> None:
    """Ask for a file to open without blocking; call `answer` with it."""
    dialog = QFileDialog(parent, "Open a recording", folder, _RECORDINGS)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.fileSelected.connect(answer)
    dialog.open()


def ask_for_recordings(parent: QWidget, folder: str, answer: Callable[[list[str]], None]) -> None:
    """Ask for any number of files without blocking; call `answer` with them."""
    dialog = QFileDialog(parent, "Add recordings to the history", folder, _RECORDINGS)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.filesSelected.connect(answer)
    dialog.open()


def ask_for_report(parent: QWidget, suggested: str, answer: Callable[[str], None]) -> None:
    """Ask for a name to save under without blocking; call `answer` with it. The suggestion's ending is the format."""
    ending = Path(suggested).suffix.lstrip(".").lower() or "pdf"
    dialog = QFileDialog(parent, "Save the report", suggested, f"{ending.upper()} (*.{ending})")
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setDefaultSuffix(ending)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.fileSelected.connect(answer)
    dialog.open()


def ask_for_profile(parent: QWidget, folder: str, answer: Callable[[str], None]) -> None:
    """Ask for an engine profile without blocking; call `answer` with its path."""
    dialog = QFileDialog(parent, "Choose an engine profile", folder, "Engine profiles (*.toml)")
    dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.fileSelected.connect(answer)
    dialog.open()


def ask_for_rest(parent: QWidget, known: str, answer: Callable[[str], None]) -> None:
    """Ask how long the starter had rested before the recording; call `answer` with the seconds."""
    dialog = QInputDialog(parent)
    dialog.setWindowTitle("Starter rest before the recording")
    dialog.setInputMode(QInputDialog.InputMode.TextInput)
    dialog.setLabelText(
        "The recording does not tell of starter runs before it.\n"
        "For how many seconds had the starter rested when the recording began?"
    )
    dialog.setTextValue(known)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.textValueSelected.connect(answer)
    dialog.open()


def ask_for_new_profile(parent: QWidget, suggested: str, answer: Callable[[str], None]) -> None:
    """Ask for a name to save a profile under without blocking; call `answer` with it."""
    dialog = QFileDialog(parent, "Save the engine profile", suggested, "Engine profiles (*.toml)")
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setDefaultSuffix("toml")
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.fileSelected.connect(answer)
    dialog.open()


def ask_for_channel(parent: QWidget, channels: list[str], answer: Callable[[str], None]) -> None:
    """Ask for a channel without blocking; call `answer` with its name."""
    dialog = QInputDialog(parent)
    dialog.setWindowTitle("Add a gauge")
    dialog.setLabelText("A gauge of which channel?")
    dialog.setComboBoxItems(channels)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.textValueSelected.connect(answer)
    dialog.open()


def ask_about_unsaved(parent: QWidget, discard: Callable[[], None]) -> None:
    """Say that changes are not saved; call `discard` only when that is chosen. Enter and Escape lose nothing."""
    _ask_to_discard(parent, "Engine profile", "The changes are not saved.", "&Go on editing", discard)


def ask_about_choices(parent: QWidget, discard: Callable[[], None]) -> None:
    """Say that what was chosen about a file would be lost; Enter and Escape lose nothing."""
    words = "Your choices are not used yet: the file has not been opened with them."
    _ask_to_discard(parent, "Columns", words, "&Go on choosing", discard)


def _ask_to_discard(
    parent: QWidget, title: str, words: str, stay_words: str, discard: Callable[[], None]
) -> None:
    box = QMessageBox(parent)
    box.setWindowTitle(title)
    box.setText(words)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    box.addButton("&Discard them", QMessageBox.ButtonRole.DestructiveRole).clicked.connect(discard)
    stay = box.addButton(stay_words, QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(stay)
    box.setEscapeButton(stay)
    box.open()
