"""What Qt calls is guarded: a fault in it is told once, the painter is ended, and the program goes on.

A method that Qt calls, such as one that paints, must not raise. An error that is let through leaves a painter at
work on a widget, and the next one that begins there ends the program; or it comes up later in a call that has
nothing to do with it. `tests/gui/test_guarded.py` looks through all classes of the window for methods that are not
guarded, and for painters that an error would not end.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import wraps
from typing import Any, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterStateGuard, QPaintEvent, QPalette, QPixmap
from PySide6.QtWidgets import QAbstractScrollArea, QStyleOptionViewItem, QWidget

from debrief.gui.background.error_words import kind_of
from debrief.gui.plain_text import plain_tip
from debrief.words.visible import visible

CANNOT_BE_DRAWN = "This cannot be drawn; details are in the log."
CANNOT_BE_SHOWN = "cannot be shown"
"""For a cell of a table."""

_P = ParamSpec("_P")
_R = TypeVar("_R")
_Call = TypeVar("_Call", bound=Callable[..., Any])
_Draw = Callable[[Any, QPainter, QPaintEvent], None]
_PaintEvent = Callable[[Any, QPaintEvent], None]
_told: WeakKeyDictionary[Any, set[str]] = WeakKeyDictionary()
"""The kinds of fault that were told of each object: a widget is painted sixty times a second."""
_failed: WeakKeyDictionary[QWidget, None] = WeakKeyDictionary()
"""The widgets that show words in place of what could not be drawn."""


def guarded(answer: object = None) -> Callable[[Callable[_P, _R]], Callable[_P, _R]]:
    """Return a decorator for a method that Qt calls; after a fault it has this answer."""

    def decorate(method: Callable[_P, _R]) -> Callable[_P, _R]:
        @wraps(method)
        def call(*args: _P.args, **kwargs: _P.kwargs) -> _R:
            try:
                return method(*args, **kwargs)
            except Exception as error:
                tell_fault(args[0], error)
                fallback: Any = answer
                return fallback  # type: ignore[no-any-return]

        return _marked(call)

    return decorate


def guarded_data(method: Callable[_P, Any]) -> Callable[_P, Any]:
    """Guard what a model says of a cell or a heading: words say that it cannot be shown, texts are plain."""

    @wraps(method)
    def call(*args: _P.args, **kwargs: _P.kwargs) -> Any:
        role = kwargs.get("role", args[-1])
        if not isinstance(role, int | Qt.ItemDataRole):
            role = Qt.ItemDataRole.DisplayRole
        try:
            said = method(*args, **kwargs)
        except Exception as error:
            tell_fault(args[0], error)
            return CANNOT_BE_SHOWN if role == Qt.ItemDataRole.DisplayRole else None
        if not isinstance(said, str) or role == Qt.ItemDataRole.EditRole or role >= Qt.ItemDataRole.UserRole:
            return said  # what is not shown stays as it is
        return plain_tip(said) if role == Qt.ItemDataRole.ToolTipRole else visible(said)

    return _marked(call)


def painted(method: _Draw) -> _PaintEvent:
    """Make a paint event of a method that draws the widget, or the viewport of an area that scrolls.

    Notes
    -----
    The painter is ended whatever happens. Where drawing fails the widget says so in words, all of it, until it can
    be drawn again.
    """
    return painted_over(None)(method)


def painted_over(base: _PaintEvent | None) -> Callable[[_Draw], _PaintEvent]:
    """Return a decorator as `painted` for a method that draws on top of what the widget's own class paints."""

    def decorate(draw: _Draw) -> _PaintEvent:
        @wraps(draw)
        def paint_event(widget: QWidget, event: QPaintEvent) -> None:
            device = widget.viewport() if isinstance(widget, QAbstractScrollArea) else widget
            try:
                if base is not None:
                    base(widget, event)
                with QPainter(device) as painter:
                    draw(widget, painter, event)
            except Exception as error:
                tell_fault(widget, error)
                if widget not in _failed:
                    _failed[widget] = None
                    device.update()  # also what was drawn before around this part
                with QPainter(device) as painter:
                    say_undrawn(painter, device.rect(), device.palette(), _is_covered(device))
            else:
                if widget in _failed:
                    del _failed[widget]
                    device.update()

        return _marked(paint_event)

    return decorate


def painted_cell(
    method: Callable[[Any, QPainter, QStyleOptionViewItem, Any], None],
) -> Callable[[Any, QPainter, QStyleOptionViewItem, Any], None]:
    """Guard a delegate's painting: the painter is the view's and comes back as it was."""

    @wraps(method)
    def paint(delegate: Any, painter: QPainter, option: QStyleOptionViewItem, index: Any) -> None:
        try:
            with QPainterStateGuard(painter):
                method(delegate, painter, option, index)
        except Exception as error:
            tell_fault(delegate, error)
            given: Any = option
            with QPainterStateGuard(painter):
                say_undrawn(painter, given.rect, given.palette)

    return _marked(paint)


@contextmanager
def picture_of(
    size: QSize, ratio: float = 1.0, ground: QColor | Qt.GlobalColor = Qt.GlobalColor.transparent
) -> Iterator[tuple[QPixmap, QPainter]]:
    """Give a picture and the painter for it, which is ended whatever happens: else the picture could not go."""
    picture = QPixmap(size * ratio)
    picture.setDevicePixelRatio(ratio)
    picture.fill(ground)
    with QPainter(picture) as painter:
        yield picture, painter


def tell_fault(owner: object, error: Exception) -> None:
    """Hand a fault to the program's last net, each kind once of each object."""
    with suppress(TypeError):  # what cannot be referred to weakly is told each time
        told = _told.setdefault(owner, set())
        if (kind := kind_of(error)) in told:
            return
        told.add(kind)
    sys.excepthook(type(error), error, error.__traceback__)


def is_guarded(method: object) -> bool:
    """Return whether a method was made by one of the decorators here."""
    return getattr(method, "is_guarded", False)


def _marked(call: _Call) -> _Call:
    call.is_guarded = True  # type: ignore[attr-defined]
    return call


def _is_covered(device: QWidget) -> bool:
    """Return whether other widgets lie on this one: words between theirs could not be read."""
    return any(
        isinstance(part, QWidget) and part.isVisible() and not part.isWindow() for part in device.children()
    )


def say_undrawn(painter: QPainter, rect: QRect, palette: QPalette, is_covered: bool = False) -> None:
    """Write over whatever is there that it cannot be drawn; where there is no room for words a sign does."""
    painter.setClipping(False)
    painter.fillRect(rect, palette.color(QPalette.ColorRole.Base))
    painter.setPen(palette.color(QPalette.ColorRole.Mid))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(rect.adjusted(0, 0, -1, -1))
    painter.setPen(palette.color(QPalette.ColorRole.Text))
    if is_covered:
        return
    room = rect.adjusted(4, 0, -4, 0)
    metrics = painter.fontMetrics()
    flags = int(Qt.AlignmentFlag.AlignCenter) | int(Qt.TextFlag.TextWordWrap)
    words = CANNOT_BE_DRAWN
    if metrics.boundingRect(room, flags, words).height() > room.height():
        flags = int(Qt.AlignmentFlag.AlignCenter)
        words = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room.width())
        if len(words) < 8:
            words = "!"
    painter.drawText(room, flags, words)
