"""What the lanes write at the playhead, under the mouse and between the cursors."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtTest import QTest

from debrief.gui.lanes.lanes_view import LanesView
from debrief.gui.style.theme import MARGIN
from tests.gui.user import painted_anew


def measured_words(lanes: LanesView) -> list[str]:
    """Return what is measured between the mark and the playhead, channel by channel."""
    return [words for _, words, _ in lanes.readout.measures]


def hover_words(lanes: LanesView) -> list[str]:
    """Return the values under the mouse, channel by channel."""
    return [tag.text for tag in lanes.readout.hover_tags]


def tag_words(lanes: LanesView) -> dict[str, str]:
    """Return the values at the playhead by colour role."""
    return {tag.role: tag.text for tag in lanes.readout.tags}


def title_of(lanes: LanesView, symbol: str) -> QRectF:
    """Return where the title of a lane stands, such as ``ITT °C``, [px]."""
    (title,) = (
        one for one in painted_anew(lanes) if one.text.startswith(symbol) and one.rect.left() > MARGIN
    )
    return title.rect


def scale_of(lanes: LanesView, symbol: str, below: str | None) -> list[float]:
    """Return the numbers on the axis of a lane, from the lowest up; `below` is the lane that follows it."""
    words = painted_anew(lanes)
    top = title_of(lanes, symbol).top()
    end = title_of(lanes, below).top() if below is not None else float(lanes.height() - 24)
    beside = [
        one.text.replace("\N{MINUS SIGN}", "-")
        for one in words
        if one.rect.right() < MARGIN and top < one.rect.center().y() < end
    ]
    return sorted(
        float(text) for text in beside if not text[0].isalpha()
    )  # below stand the names of the strips


def border_below(lanes: LanesView, symbol: str) -> QPoint:
    """Return the first place below a lane's title where the mouse says that it would drag a border."""
    top = round(title_of(lanes, symbol).bottom())
    for y in range(top, lanes.height()):
        QTest.mouseMove(lanes, QPoint(500, y))
        if lanes.cursor().shape() == Qt.CursorShape.SizeVerCursor:
            return QPoint(500, y + 2)
    raise AssertionError("no border can be dragged")
