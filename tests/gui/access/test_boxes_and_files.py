"""Boxes to choose from, and Qt's own file dialog, in every theme."""

import pytest
from PySide6.QtCore import QEvent, QPoint
from PySide6.QtGui import QHelpEvent, QIcon
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QApplication, QComboBox, QFileDialog, QInputDialog, QToolButton, QToolTip

from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.qt_dialog_looks import dress_dialog
from tests.gui.contrast import contrast
from tests.gui.user import until


def tip_of(widget):
    at = QPoint(5, 5)
    QApplication.sendEvent(widget, QHelpEvent(QEvent.Type.ToolTip, at, widget.mapToGlobal(at)))
    shown = QToolTip.text() if QToolTip.isVisible() else ""
    QToolTip.hideText()
    until(lambda: not QToolTip.isVisible())  # Qt hides it a moment later
    return shown


def test_a_choice_that_has_no_room_is_told_whole_and_one_that_has_room_is_not_told_twice(qtbot):
    box = ChoiceBox(Theme("light"))
    qtbot.addWidget(box)
    box.addItems(["As the file says: an engine of a long name & more"])
    box.resize(90, 30)
    box.show()
    assert tip_of(box) == "As the file says: an engine of a long name & more"
    box.resize(900, 30)
    assert tip_of(box) == ""


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_the_arrows_of_the_file_dialog_are_seen(choice, qtbot, qapp):
    theme = Theme(choice)
    theme.apply()
    dialog = QFileDialog()
    dialog.setOption(QFileDialog.Option.DontUseNativeDialog, True)
    qtbot.addWidget(dialog)
    dress_dialog(dialog)
    buttons = [one for one in dialog.findChildren(QToolButton) if not one.icon().isNull()]
    names = {one.objectName() for one in buttons}
    assert {"backButton", "forwardButton", "toParentButton"} <= names
    for one in buttons:
        for mode, least in ((QIcon.Mode.Normal, 4.5), (QIcon.Mode.Disabled, 3.0)):
            sign = one.icon().pixmap(16, mode).toImage()
            inks = [
                sign.pixelColor(x, y)
                for x in range(sign.width())
                for y in range(sign.height())
                if sign.pixelColor(x, y).alpha() > 250
            ]
            assert inks, one.objectName()
            for ink in inks:
                assert contrast(ink.name(), theme.palette.panel) >= least, (one.objectName(), mode)


def file_dialog():
    return QFileDialog(options=QFileDialog.Option.DontUseNativeDialog)


def gauge_dialog():
    dialog = QInputDialog()
    dialog.setComboBoxItems(["ITT", "Ng", "Torque"])
    return dialog


def print_dialog():
    printer = QPrinter()
    dialog = QPrintDialog(printer)
    dialog.destroyed.connect(lambda: printer)  # keeps it as long as its dialog
    return dialog


def of_our_own(box, theme):
    """Return the program's own box in the place and state of one that Qt made."""
    own = ChoiceBox(theme, box.parentWidget())
    own.addItem(box.currentText())
    own.setFont(box.font())
    own.setEnabled(box.isEnabled())
    own.setGeometry(box.geometry())
    own.show()
    return own


@pytest.mark.parametrize("scale", [1.0, 1.6])
@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
@pytest.mark.parametrize("made", [file_dialog, gauge_dialog, print_dialog])
def test_boxes_that_qt_makes_are_drawn_as_the_programs_own(made, choice, scale, qtbot, qapp):
    theme = Theme(choice, scale)
    theme.apply()
    dialog = made()
    qtbot.addWidget(dialog)
    dress_dialog(dialog)
    dialog.show()
    dialog.setFocus()
    boxes = [box for box in dialog.findChildren(QComboBox) if box.isVisible() and not box.isEditable()]
    assert boxes
    for enabled in (True, False):
        for box in boxes:
            box.setEnabled(enabled)
            own = of_our_own(box, theme)
            # The right end, where the mark is: a box for files has a picture on the left.
            ends = []
            for one in (box, own):
                picture = one.grab()
                end = 2 * theme.px(12)
                ends.append(picture.copy(picture.width() - end, 0, end, picture.height()).toImage())
            own.hide()
            assert ends[0] == ends[1], (box.objectName(), enabled)
