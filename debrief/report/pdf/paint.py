"""The painter: pages of shapes become a PDF, or are drawn on any other paint device.

The only module of the report that knows Qt. It needs no display and no widgets, and works in a running
application, in a worker thread of it, and in a process that has no application yet.
"""

from __future__ import annotations

import threading
from collections.abc import Generator
from dataclasses import replace
from functools import lru_cache

from PySide6.QtCore import (
    QBuffer,
    QByteArray,
    QCoreApplication,
    QIODevice,
    QMarginsF,
    QPoint,
    QPointF,
    QRect,
    QRectF,
    QSize,
    QSizeF,
    Qt,
)
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontDatabase,
    QFontMetricsF,
    QGuiApplication,
    QImage,
    QImageWriter,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPaintDevice,
    QPainter,
    QPdfWriter,
    QPen,
    QPolygonF,
    QRawFont,
)

from debrief import __version__
from debrief.output.kinds import MARK
from debrief.report import shapes as s
from debrief.report.blocks import Paragraph, ReportContent
from debrief.report.pdf.layout import Pages, lay_out
from debrief.resources import resource
from debrief.words.visible import acting

DPI = 300
_PX_PER_MM = DPI / 25.4

_FILES: dict[s.Face, str] = {
    "regular": "fonts/B612-Regular.otf",
    "bold": "fonts/B612-Bold.otf",
}
_PLAIN = str.maketrans(
    {"\u2011": "-", "\u00a0": " ", "\u2007": " ", "\u202f": " ", "\u2009": " ", "\u00ad": ""}
)

_lock = threading.Lock()
_application: list[QCoreApplication] = []


def ensure_application() -> None:
    """Make an application without a display where the process has none, and load the bundled fonts."""
    with _lock:
        if QCoreApplication.instance() is None:
            _application.append(QGuiApplication(["debrief", "-platform", "offscreen"]))
        _families()


@lru_cache(maxsize=1)
def _families() -> dict[s.Face, str]:
    out: dict[s.Face, str] = {}
    for face, name in _FILES.items():
        families = QFontDatabase.applicationFontFamilies(
            QFontDatabase.addApplicationFont(str(resource(name)))
        )
        if not families:
            raise RuntimeError(f"the bundled font {name} could not be loaded")
        out[face] = families[0]
    return out


class _OfThread(threading.local):
    """Fonts belong to the thread that made them: a preview is painted while a file is written."""

    def __init__(self) -> None:
        self.fonts: dict[s.Style, QFont] = {}
        self.raw: tuple[QRawFont, ...] = ()


_mine = _OfThread()


def font_of(style: s.Style) -> QFont:
    """Return the bundled font of a style: unhinted, and never mixed with a font of the system."""
    font = _mine.fonts.get(style)
    if font is None:
        font = _mine.fonts[style] = _made_font(style)
    return font


def _made_font(style: s.Style) -> QFont:
    font = QFont(_families()[style.face])
    font.setPointSizeF(style.size_pt)
    font.setBold(style.face == "bold")
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    font.setStyleStrategy(QFont.StyleStrategy.NoFontMerging)
    return font


@lru_cache(maxsize=4096)
def _has_glyph(character: str) -> bool:
    return all(raw.supportsCharacter(ord(character)) for raw in _raw_fonts())


def _raw_fonts() -> tuple[QRawFont, ...]:
    if not _mine.raw:
        _mine.raw = tuple(QRawFont(str(resource(name)), 10.0) for name in _FILES.values())
    return _mine.raw


class FontMeasurer:
    """Measures with the fonts of a paint device.

    Attributes
    ----------
    missing : set of str
        The characters that were asked for and that no bundled font has.
    """

    def __init__(self, device: QPaintDevice) -> None:
        self._device = device
        self._px_per_mm = device.logicalDpiX() / 25.4
        self._metrics: dict[s.Style, QFontMetricsF] = {}
        self.missing: set[str] = set()

    def width_mm(self, text: str, style: s.Style) -> float:
        """Return the advance width of a text, [mm]."""
        metrics = self._metrics.get(style)
        if metrics is None:
            metrics = self._metrics[style] = QFontMetricsF(font_of(style), self._device)
        return metrics.horizontalAdvance(text) / self._px_per_mm

    def printable(self, text: str) -> str:
        """Return the text with every character that no bundled font has as ``U+XXXX``, and so the control characters."""
        if text.isascii() and text.isprintable():
            return text
        out: list[str] = []
        for character in text.translate(_PLAIN):
            if character == " " or (character.isprintable() and _has_glyph(character)):
                out.append(character)
                continue
            self.missing.add(character)
            if out and not out[-1].endswith(" "):
                out.append(" ")
            out.append(f"U+{acting(character):04X} ")
        return " ".join("".join(out).split()) if self.missing else "".join(out)


def pdf_bytes_steps(
    content: ReportContent, paper_mm: tuple[float, float]
) -> Generator[float, None, tuple[bytes, Pages]]:
    """Make a report as PDF/A-1b page by page, and return it with its laid-out pages; yields the share that is done.

    Parameters
    ----------
    content : ReportContent
        What it says.
    paper_mm : (float, float)
        Width and height of the paper.

    Notes
    -----
    Made in memory, so that a full disk is met where it can be told, when the file is written.
    """
    ensure_application()
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = _writer(buffer, paper_mm)
    writer.setTitle(content.title)
    writer.setCreator(f"{MARK} {__version__}")
    pages = laid_out(content, paper_mm, writer)
    yield from paint_pages_steps(writer, pages)
    buffer.close()
    return bytes(data.data()), pages


def _writer(buffer: QBuffer, paper_mm: tuple[float, float]) -> QPdfWriter:
    writer = QPdfWriter(buffer)
    writer.setPdfVersion(QPagedPaintDevice.PdfVersion.PdfVersion_A1b)
    writer.setResolution(DPI)
    size = QPageSize(
        QSizeF(*paper_mm), QPageSize.Unit.Millimeter, "report", QPageSize.SizeMatchPolicy.ExactMatch
    )
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))
    return writer


def paint_pages_steps(device: QPagedPaintDevice, pages: Pages) -> Generator[float, None, None]:
    """Paint page by page; yields the share that is done."""
    px_per_mm = device.logicalDpiX() / 25.4
    painter = QPainter()
    if not painter.begin(device):
        raise RuntimeError("painting could not begin")
    try:
        for index, page in enumerate(pages.pages):
            yield index / len(pages.pages)
            if index:
                device.newPage()
            paint_page(painter, page, px_per_mm)
    finally:
        painter.end()


def laid_out(content: ReportContent, paper_mm: tuple[float, float], device: QPaintDevice) -> Pages:
    """Return the pages; a note names the characters that could not be printed."""
    measurer = FontMeasurer(device)
    pages = lay_out(content, *paper_mm, measurer)
    if not measurer.missing:
        return pages
    note = Paragraph(
        f"{len(measurer.missing)} different characters have no sign in the bundled fonts and are printed as "
        "U+ with their Unicode number; the JSON and CSV files hold them as they are.",
        "muted",
    )
    last = content.sections[-1]
    sections = (*content.sections[:-1], replace(last, blocks=(*last.blocks, note)))
    return lay_out(replace(content, sections=sections), *paper_mm, measurer)


def paper_pages(content: ReportContent, paper_mm: tuple[float, float]) -> Pages:
    """Return the pages as the PDF has them, without writing it: for a preview."""
    ensure_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    return laid_out(content, paper_mm, _writer(buffer, paper_mm))


def page_image(page: tuple[s.Shape, ...], size_mm: tuple[float, float], dpi: int) -> QImage:
    """Return one page as a picture."""
    ensure_application()
    px_per_mm = dpi / 25.4
    width, height = (round(side * px_per_mm) for side in size_mm)
    image = _blank(width, height)
    painter = QPainter(image)
    try:
        # Drawn at the paper's resolution and scaled: else the fonts of a coarse screen make lines longer.
        painter.scale(dpi / DPI, dpi / DPI)
        paint_page(painter, page, _PX_PER_MM)
    finally:
        painter.end()
    image.setDotsPerMeterX(round(dpi / 0.0254))
    image.setDotsPerMeterY(round(dpi / 0.0254))
    return image


def screen_measurer() -> FontMeasurer:
    """Return a measurer for pictures, which have the resolution of paper."""
    ensure_application()
    return FontMeasurer(_blank(1, 1))


def _blank(width: int, height: int) -> QImage:
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.setDotsPerMeterX(round(DPI / 0.0254))
    image.setDotsPerMeterY(round(DPI / 0.0254))
    image.fill(QColor(s.PAPER))
    return image


def png_bytes(shapes: tuple[s.Shape, ...], size_mm: tuple[float, float], dpi: int = 150) -> bytes:
    """Return shapes as a PNG picture."""
    image = page_image(shapes, size_mm, dpi)
    image.setText("Software", f"{MARK} {__version__}")
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"png")).write(image)
    buffer.close()
    return bytes(data.data())


def svg_bytes(shapes: tuple[s.Shape, ...], size_mm: tuple[float, float]) -> bytes:
    """Return shapes as an SVG picture, its texts as texts in the bundled family."""
    from PySide6.QtSvg import QSvgGenerator

    ensure_application()
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setResolution(DPI)
    size = QSize(round(size_mm[0] * _PX_PER_MM), round(size_mm[1] * _PX_PER_MM))
    generator.setSize(size)
    generator.setViewBox(QRect(QPoint(0, 0), size))
    generator.setTitle(MARK)
    painter = QPainter(generator)
    try:
        paint_page(painter, shapes, _PX_PER_MM)
    finally:
        painter.end()
    buffer.close()
    return bytes(data.data())


def paint_page(painter: QPainter, shapes: tuple[s.Shape, ...], px_per_mm: float) -> None:
    """Draw one page's shapes with a painter whose device has this many pixels per mm."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    for shape in shapes:
        match shape:
            case s.Text():
                _text(painter, shape, px_per_mm)
            case s.Line():
                painter.setPen(_pen(shape.colour, shape.width, px_per_mm, shape.dash))
                painter.drawLine(
                    QPointF(shape.x1 * px_per_mm, shape.y1 * px_per_mm),
                    QPointF(shape.x2 * px_per_mm, shape.y2 * px_per_mm),
                )
            case s.Box():
                _box(painter, shape, px_per_mm)
            case s.Curve():
                _curve(painter, shape, px_per_mm)
            case s.Mark():
                _mark(painter, shape, px_per_mm)


def _pen(colour: str, width: float, px_per_mm: float, dash: tuple[float, float] | None = None) -> QPen:
    pen = QPen(QColor(colour), width * px_per_mm)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dash is not None:
        pen.setDashPattern([part / width for part in dash])
    return pen


def _text(painter: QPainter, text: s.Text, px_per_mm: float) -> None:
    font = font_of(text.style)
    painter.setFont(font)
    painter.setPen(QColor(text.colour))
    x = text.x * px_per_mm
    if text.align != "left":
        width = QFontMetricsF(font, painter.device()).horizontalAdvance(text.text)
        x -= width if text.align == "right" else width / 2
    painter.drawText(QPointF(x, text.y * px_per_mm), text.text)


def _box(painter: QPainter, box: s.Box, px_per_mm: float) -> None:
    painter.setPen(_pen(box.stroke, box.stroke_width, px_per_mm) if box.stroke else Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(QColor(box.fill)) if box.fill else Qt.BrushStyle.NoBrush)
    painter.drawRect(
        QRectF(box.x * px_per_mm, box.y * px_per_mm, box.width * px_per_mm, box.height * px_per_mm)
    )


def _curve(painter: QPainter, curve: s.Curve, px_per_mm: float) -> None:
    points = QPolygonF([QPointF(x, y) for x, y in (curve.points * px_per_mm).tolist()])
    if curve.fill is not None:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QBrush(QColor(curve.fill)))
        painter.drawPolygon(points)
        return
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(_pen(curve.colour, curve.width, px_per_mm, curve.dash))
    painter.drawPolyline(points)


def _mark(painter: QPainter, mark: s.Mark, px_per_mm: float) -> None:
    x, y, half = mark.x * px_per_mm, mark.y * px_per_mm, mark.size / 2 * px_per_mm
    colour = QColor(mark.colour)
    hollow = mark.kind in ("hollow_diamond", "circle")
    painter.setPen(_pen(mark.colour, 0.35, px_per_mm) if hollow else Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(QColor(s.PAPER) if hollow else colour))
    match mark.kind:
        case "diamond" | "hollow_diamond":
            corners = [(0.0, -half), (half, 0.0), (0.0, half), (-half, 0.0)]
        case "triangle":
            corners = [(0.0, -half), (half, half * 0.8), (-half, half * 0.8)]
        case _:
            painter.drawEllipse(QPointF(x, y), half, half)
            return
    painter.drawPolygon(QPolygonF([QPointF(x + dx, y + dy) for dx, dy in corners]))
