"""While files are dragged over the window it says what becomes of them."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QDropEvent

from tests.gui.user import painted

COPY, LEFT, NONE = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier


def data_of(*paths: str, text: str = "") -> QMimeData:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(path) for path in paths])
    if text:
        data.setText(text)
    return data


def drags(desk, data: QMimeData) -> QDragEnterEvent:
    event = QDragEnterEvent(QPoint(400, 300), COPY, data, LEFT, NONE)
    desk.window.dragEnterEvent(event)
    return event


@pytest.mark.parametrize(
    ("files", "words"),
    [
        (["/a/one.csv"], "Drop to open one.csv"),
        (["/a/one.csv", "/a/two.csv"], "Drop to open one.csv and compare it with two.csv"),
        (
            ["/a/1.csv", "/a/2.csv", "/a/3.csv"],
            "Drop to open 1.csv; the 2 others can be added to the history",
        ),
    ],
)
def test_what_dropping_does_is_said_over_the_whole_window(desk, files, words):
    data = data_of(*files)
    assert drags(desk, data).isAccepted()
    target = desk.user.find(words)
    assert target.size() == desk.window.size()
    assert "".join(word.text for word in painted(target)) == words
    desk.window.dragLeaveEvent(QDragLeaveEvent())
    assert not desk.user.has(words)


def test_it_is_gone_when_they_are_dropped(desk, tmp_path):
    data = data_of(str(tmp_path / "made.csv"))
    drags(desk, data)
    desk.window.dropEvent(QDropEvent(QPointF(50, 50), COPY, data, LEFT, NONE))
    assert not desk.user.has("Drop to open made.csv")
    assert desk.opened().path.name == "made.csv"


def test_what_is_no_file_shows_nothing(desk):
    data = QMimeData()
    data.setText("words")
    drags(desk, data)
    assert not any(one.accessibleName().startswith("Drop") for one in desk.user.all_called(""))
