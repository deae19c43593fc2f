"""The pages of the paper, one below the other, as pictures that are drawn elsewhere."""

from __future__ import annotations

from typing import Literal

from PySide6.QtCore import QPoint, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QImage, QKeyEvent, QPainter, QPaintEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.style.theme import Theme

Fit = Literal["width", "page", "free"]

_GAP = 16
_MIN_DPI, _MAX_DPI = 30, 240
_MM_PER_INCH = 25.4
_WIDEST = 1.5
"""On a wide screen a page is first shown at this size, not as wide as the view."""
ZOOM_STEP = 1.2


class PagesView(QAbstractScrollArea):
    """Shows pages; asks for the pictures of those in view and keeps only those.

    Signals
    -------
    images_wanted : tuple of int, int
        Pages without a sharp picture, the one in the middle first, and the resolution, [dots per inch].
    page_changed : int
        The page in view, from 0.
    zoom_changed
        The resolution or the way of fitting.
    """

    images_wanted = Signal(object, int)
    page_changed = Signal(int)
    zoom_changed = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._count = 0
        self._size_mm = (210.0, 297.0)
        self._fit: Fit = "width"
        self._dpi = 96
        self._chosen = False
        self._capped = False
        self._page = 0
        self._images: dict[int, tuple[int, QImage]] = {}
        self._asked: set[tuple[int, int]] = set()
        self._words = ""
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAccessibleName("Report preview")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.verticalScrollBar().setSingleStep(40)
        self.verticalScrollBar().valueChanged.connect(self._scrolled)
        self.horizontalScrollBar().valueChanged.connect(self._scrolled)
        theme.changed.connect(self.viewport().update)

    @property
    def count(self) -> int:
        """How many pages there are."""
        return self._count

    @property
    def page(self) -> int:
        """The page in view, from 0."""
        return self._page

    @property
    def fit(self) -> Fit:
        """What the size of the pages follows now."""
        return "free" if self._capped else self._fit

    @property
    def percent(self) -> int:
        """Size on the screen of the size on paper, [%]."""
        return round(100 * self._dpi / self.logicalDpiX())

    @property
    def sharp_pages(self) -> tuple[int, ...]:
        """The pages whose picture has the resolution of the screen."""
        return tuple(sorted(page for page, (dpi, _) in self._images.items() if dpi == self._image_dpi()))

    def show_pages(self, count: int, size_mm: tuple[float, float]) -> None:
        """Show so many pages of this size; their pictures come later."""
        self._count = count
        self._size_mm = size_mm
        self._images.clear()
        self._asked.clear()
        self._words = ""
        self._lay_out()
        self.zoom_changed.emit()
        self._scrolled()

    def say(self, words: str) -> None:
        """Show words in place of pages."""
        self._count = 0
        self._images.clear()
        self._words = words
        self._lay_out()
        self.viewport().update()

    def show_image(self, page: int, dpi: int, image: QImage) -> None:
        """Take the picture of a page."""
        image.setDevicePixelRatio(self.devicePixelRatioF())
        self._images[page] = (dpi, image)
        self._asked.discard((page, dpi))
        self.viewport().update()

    def go_to(self, page: int) -> None:
        """Bring the top of a page into view."""
        if 0 <= page < self._count:
            self.verticalScrollBar().setValue(round(self._top(page) - _GAP / 2))
            if self._page != page and self._page_at_middle() != page:
                # The last pages may not reach the top: the one asked for is the page in view all the same.
                self._page = page
                self.page_changed.emit(page)

    @Slot()
    def fit_width(self) -> None:
        """Make a page as wide as the view."""
        self._set_fit("width")

    @Slot()
    def fit_page(self) -> None:
        """Make a whole page visible."""
        self._set_fit("page")

    @Slot()
    def zoom_in(self) -> None:
        """Show the pages larger."""
        self._zoom(ZOOM_STEP)

    @Slot()
    def zoom_out(self) -> None:
        """Show the pages smaller."""
        self._zoom(1.0 / ZOOM_STEP)

    def _set_fit(self, fit: Fit) -> None:
        page = self._page
        self._chosen = True
        self._fit = fit
        self._lay_out()
        self.go_to(page)
        self.zoom_changed.emit()

    def _zoom(self, factor: float) -> None:
        bar = self.verticalScrollBar()
        share = bar.value() / max(1.0, self._height())
        self._chosen = True
        self._capped = False
        self._fit = "free"
        self._dpi = min(max(round(self._dpi * factor), _MIN_DPI), _MAX_DPI)
        self._lay_out()
        bar.setValue(round(share * self._height()))
        self._scrolled()
        self.zoom_changed.emit()

    # --- where things are, [px] -------------------------------------------------------------------------

    def _page_size(self) -> tuple[float, float]:
        return tuple(side * self._dpi / _MM_PER_INCH for side in self._size_mm)  # type: ignore[return-value]

    def _top(self, page: int) -> float:
        return _GAP + page * (self._page_size()[1] + _GAP)

    def _height(self) -> float:
        return self._top(self._count) if self._count else 0.0

    def _image_dpi(self) -> int:
        return round(self._dpi * self.devicePixelRatioF())

    def _lay_out(self) -> None:
        view = self.viewport().size()
        wide, high = (side / _MM_PER_INCH for side in self._size_mm)
        across = (view.width() - 2 * _GAP) / wide
        down = (view.height() - 2 * _GAP) / high
        if self._fit != "free":
            dpi = int(across if self._fit == "width" else min(across, down))
            widest = round(_WIDEST * self.logicalDpiX())
            # Until a person chooses, they follow the width only up to a size; a narrower view fits them again.
            self._capped = not self._chosen and dpi > widest
            dpi = widest if self._capped else dpi
            self._dpi = min(max(dpi, _MIN_DPI), _MAX_DPI)
        page_width = self._page_size()[0]
        vertical, horizontal = self.verticalScrollBar(), self.horizontalScrollBar()
        vertical.setPageStep(max(1, view.height()))
        vertical.setRange(0, max(0, round(self._height()) - view.height()) if self._count else 0)
        horizontal.setPageStep(max(1, view.width()))
        wanted = round(page_width + 2 * _GAP) - view.width()
        horizontal.setRange(0, max(0, wanted) if self._count else 0)
        self.viewport().update()

    def _rect(self, page: int) -> QRectF:
        width, height = self._page_size()
        room = self.viewport().width()
        left = max(float(_GAP), (room - width) / 2) - self.horizontalScrollBar().value()
        return QRectF(round(left), round(self._top(page) - self.verticalScrollBar().value()), width, height)

    def _in_view(self) -> list[int]:
        """Return the pages in view, the one nearest to the middle first."""
        height = self._page_size()[1] + _GAP
        begin = self.verticalScrollBar().value()
        first = max(0, int((begin - _GAP) // height))
        last = min(self._count - 1, int((begin + self.viewport().height()) // height))
        middle = begin + self.viewport().height() / 2
        return sorted(range(first, last + 1), key=lambda page: abs(self._top(page) + height / 2 - middle))

    def _page_at_middle(self) -> int:
        height = self._page_size()[1] + _GAP
        middle = self.verticalScrollBar().value() + self.viewport().height() * 0.4
        return min(max(0, int((middle - _GAP) // height)), max(0, self._count - 1))

    @Slot()
    def _scrolled(self) -> None:
        self.viewport().update()
        page = self._page_at_middle()
        if page != self._page and self._count:
            self._page = page
            self.page_changed.emit(page)

    # --- events -----------------------------------------------------------------------------------------

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a size that shows most of a page."""
        return QSize(700, 600)

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit again; the page in view stays."""
        page, fit = self._page, self.fit
        share = self.verticalScrollBar().value() - self._top(page)
        before = self._dpi
        self._lay_out()
        if self._dpi != before and self._count:
            self.verticalScrollBar().setValue(round(self._top(page) + share * self._dpi / before))
        if (self._dpi, self.fit) != (before, fit):
            self.zoom_changed.emit()
        self._scrolled()

    @guarded()
    def wheelEvent(self, event: QWheelEvent) -> None:
        """Scroll, or zoom with Ctrl."""
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            if event.angleDelta().y():
                self._zoom(ZOOM_STEP if event.angleDelta().y() > 0 else 1.0 / ZOOM_STEP)
            event.accept()
            return
        super().wheelEvent(event)

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Scroll and zoom by keys."""
        bar = self.verticalScrollBar()
        key = event.key()
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_in()
        elif key == Qt.Key.Key_Minus:
            self.zoom_out()
        elif key == Qt.Key.Key_Home:
            bar.setValue(0)
        elif key == Qt.Key.Key_End:
            bar.setValue(bar.maximum())
        elif key == Qt.Key.Key_PageDown:
            self.go_to(min(self._page + 1, self._count - 1))
        elif key == Qt.Key.Key_PageUp:
            self.go_to(max(self._page - 1, 0))
        else:
            super().keyPressEvent(event)

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the pages in view, and ask for the pictures that are missing or blurred."""
        theme = self._theme
        painter.fillRect(self.viewport().rect(), theme.color("ground"))
        if not self._count:
            room = QRectF(self.viewport().rect().adjusted(24, 24, -24, -24))
            flags = int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap)
            theme.write(painter, room, self._words, 13, "muted", flags=flags)
            return
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, True)
        shown = self._in_view()
        wanted = []
        for page in shown:
            rect = self._rect(page)
            dpi, image = self._images.get(page, (0, None))
            painter.fillRect(rect, Qt.GlobalColor.white)
            if image is not None and dpi == self._image_dpi():
                painter.drawImage(QPoint(int(rect.left()), int(rect.top())), image)
            elif image is not None:
                painter.drawImage(rect, image)
            if dpi != self._image_dpi():
                wanted.append(page)
            painter.setPen(theme.color("hairline"))
            painter.drawRect(rect.adjusted(-1, -1, 0, 0))
        near = range(min(shown, default=0) - 1, max(shown, default=0) + 2)
        for page in [page for page in self._images if page not in near]:
            del self._images[page]
        asked = {(page, self._image_dpi()) for page in wanted}
        if not asked <= self._asked:
            self._asked = asked
            self.images_wanted.emit(tuple(wanted), self._image_dpi())
