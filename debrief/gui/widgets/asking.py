"""Asking for files without blocking: each function opens a dialog and calls back with the answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QInputDialog, QMessageBox, QWidget

from debrief.gui.widgets.line_dialog import LineDialog
from debrief.gui.widgets.qt_dialog_looks import dress_dialog
from debrief.words.durations import seconds_of
from debrief.words.numbers import length_text

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter


@dataclass(frozen=True)
class RestQuestion:
    """What is known of the starter's rest, as a person says it, and of which engine; None where there is one."""

    known: str
    engine: int | None = None


Asker = Callable[[QWidget, str, Callable[[str], None]], None]
RestAsker = Callable[[QWidget, RestQuestion, Callable[[str], None]], None]
FilesAsker = Callable[[QWidget, str, Callable[[list[str]], None]], None]
ChannelAsker = Callable[[QWidget, list[str], Callable[[str], None]], None]
PrinterAsker = Callable[[QWidget, "QPrinter", Callable[[], None]], None]

_RECORDINGS = "Recordings (*.csv *.txt *.tsv *.gz *.zip);;All files (*)"
_PROFILES = "Engine profiles (*.toml)"


def ask_for_recording(parent: QWidget, folder: str, answer: Callable[[str], None]) -> None:
    """Ask for a file to open without blocking; call `answer` with it."""
    _open(QFileDialog(parent, "Open a recording", folder, _RECORDINGS), answer)


def ask_for_files(parent: QWidget, folder: str, answer: Callable[[list[str]], None]) -> None:
    """Ask for files to open, of which two are compared, without blocking; call `answer` with them."""
    _open_several(QFileDialog(parent, "Open a recording, or two to compare", folder, _RECORDINGS), answer)


def ask_for_recordings(parent: QWidget, folder: str, answer: Callable[[list[str]], None]) -> None:
    """Ask for any number of files without blocking; call `answer` with them."""
    _open_several(QFileDialog(parent, "Add recordings to the history", folder, _RECORDINGS), answer)


def _open_several(dialog: QFileDialog, answer: Callable[[list[str]], None]) -> None:
    dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
    dialog.filesSelected.connect(answer)
    _show(dialog)


def ask_for_report(parent: QWidget, suggested: str, answer: Callable[[str], None]) -> None:
    """Ask for a name to save under without blocking; call `answer` with it. The suggestion's ending is the format."""
    ending = Path(suggested).suffix.lstrip(".").lower() or "pdf"
    dialog = QFileDialog(parent, "Save the report", suggested, f"{ending.upper()} (*.{ending})")
    _open(dialog, answer, new=ending)


def ask_for_profile(parent: QWidget, folder: str, answer: Callable[[str], None]) -> None:
    """Ask for an engine profile without blocking; call `answer` with its path."""
    _open(QFileDialog(parent, "Choose an engine profile", folder, _PROFILES), answer)


def ask_for_new_profile(parent: QWidget, suggested: str, answer: Callable[[str], None]) -> None:
    """Ask for a name to save a profile under without blocking; call `answer` with it."""
    _open(QFileDialog(parent, "Save the engine profile", suggested, _PROFILES), answer, new="toml")


def ask_for_rest(parent: QWidget, question: RestQuestion, answer: Callable[[str], None]) -> None:
    """Ask how long the starter had rested before the recording; call `answer` with what was typed."""
    of = "" if question.engine is None else f" of engine {question.engine}"
    dialog = LineDialog(
        parent,
        "Starter rest before the recording"
        + ("" if question.engine is None else f", engine {question.engine}"),
        f"How long had the starter{of} rested when the recording began? For example 30 min, 1 h 10, 90 s, 1:30 "
        "(minutes and seconds) or 30 (minutes). Leave it empty where nobody knows.",
        _rest_understood,
    )
    dialog.line.setText(question.known)
    dialog.answered.connect(answer)
    _show(dialog)


def typed_rest_s(text: str) -> float | None:
    """Return the rest that a person typed, [s]; None where nothing was.

    Raises
    ------
    UserError
        It is no length of time.
    """
    return seconds_of(text, in_minutes=True) if text.strip() else None


def _rest_understood(text: str) -> str:
    seconds = typed_rest_s(text)
    return "Not known" if seconds is None else f"A rest of {length_text(seconds)}"


def ask_for_channel(parent: QWidget, channels: list[str], answer: Callable[[str], None]) -> None:
    """Ask for a channel without blocking; call `answer` with its name."""
    dialog = _question(parent, "Add a gauge", "A gauge of which channel?", answer)
    dialog.setComboBoxItems(channels)
    _show(dialog)


def _question(parent: QWidget, title: str, words: str, answer: Callable[[str], None]) -> QInputDialog:
    dialog = QInputDialog(parent)
    dialog.setWindowTitle(title)
    dialog.setLabelText(words)
    dialog.textValueSelected.connect(answer)
    return dialog


def _open(dialog: QFileDialog, answer: Callable[[str], None], new: str = "") -> None:
    """Ask for one file that is there, or for a `new` one of this ending."""
    if new:
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(new)
    else:
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    dialog.fileSelected.connect(answer)
    _show(dialog)


def _show(dialog: QDialog) -> None:
    dress_dialog(dialog)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.open()


def ask_for_printer(parent: QWidget, printer: QPrinter, answer: Callable[[], None]) -> None:
    """Ask which printer without blocking; call `answer` when it is chosen."""
    from PySide6.QtPrintSupport import QPrintDialog

    dialog = QPrintDialog(printer, parent)
    dress_dialog(dialog)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.setWindowModality(Qt.WindowModality.WindowModal)
    dialog.accepted.connect(answer)
    dialog.show()


@dataclass(frozen=True)
class Askers:
    """Who asks a person for files, a channel, a number, a printer; handed to the window so that a test answers."""

    files: FilesAsker = ask_for_files
    recording: Asker = ask_for_recording
    recordings: FilesAsker = ask_for_recordings
    report: Asker = ask_for_report
    rest: RestAsker = ask_for_rest
    profile: Asker = ask_for_profile
    new_profile: Asker = ask_for_new_profile
    channel: ChannelAsker = ask_for_channel
    printer: PrinterAsker = ask_for_printer


USUAL_ASKERS = Askers()


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
    box = QMessageBox(parent, text=words)
    box.setWindowTitle(title)
    box.addButton("&Discard them", QMessageBox.ButtonRole.DestructiveRole).clicked.connect(discard)
    stay = box.addButton(stay_words, QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(stay)
    box.setEscapeButton(stay)
    _show(box)
