"""Reads values back from the vectors of a PDF, by the grid lines beside them."""

from __future__ import annotations

import io
from collections.abc import Sequence

import pikepdf

from debrief.report.shapes import GRID, TEMPERATURE

Stroke = tuple[tuple[float, ...], list[tuple[float, float]]]


def drawn_peak(data: bytes, title: str, ticks: Sequence[float]) -> float:
    """Return the highest value of the temperature's lane on the page of a start.

    Parameters
    ----------
    data : bytes
        The PDF.
    title : str
        Of the bookmark that leads to the page.
    ticks : sequence of float
        What the grid lines of the lane stand for, rising.

    Notes
    -----
    The first chart on the page is the start's; its first lane is the temperature.
    """
    with pikepdf.open(io.BytesIO(data)) as document:
        strokes = _strokes(_page_of(document, title))
    curves = [path for colour, path in strokes if _near(colour, _rgb(TEMPERATURE)) and len(path) > 2]
    grid = [path for colour, path in strokes if _near(colour, _rgb(GRID)) and len(path) == 2]
    widest = max(curves, key=lambda path: path[-1][0] - path[0][0])
    left, right = widest[0][0], widest[-1][0]
    levels = sorted(
        {
            round(a[1], 2)
            for a, b in grid
            if abs(a[1] - b[1]) < 0.01 and abs(a[0] - left) < 1.0 and abs(b[0] - right) < 1.0
        },
        reverse=True,
    )[: len(ticks)]
    top, bottom = levels[0], levels[-1]
    inside = [y for path in curves for x, y in path if left - 1 < x < right + 1 and y > bottom - 1]
    return ticks[0] + (max(inside) - bottom) / (top - bottom) * (ticks[-1] - ticks[0])


def _page_of(document: pikepdf.Pdf, title: str) -> pikepdf.Page:
    with document.open_outline() as outline:
        for item in outline.root:
            if item.title == title:
                assert isinstance(item.destination, pikepdf.Array)
                return pikepdf.Page(item.destination[0])
    raise AssertionError(f"no bookmark {title}")


def _rgb(colour: str) -> tuple[float, ...]:
    return tuple(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))


def _near(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return len(a) == len(b) and all(abs(x - y) < 0.006 for x, y in zip(a, b, strict=True))


def _strokes(page: pikepdf.Page) -> list[Stroke]:
    """Return each stroked path of a page with its colour, in points on the page."""
    out: list[Stroke] = []
    stack: list[tuple[pikepdf.Matrix, tuple[float, ...]]] = []
    matrix, colour = pikepdf.Matrix(), (0.0, 0.0, 0.0)
    path: list[tuple[float, float]] = []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name == "q":
            stack.append((matrix, colour))
        elif name == "Q":
            matrix, colour = stack.pop()
        elif name == "cm":
            matrix = pikepdf.Matrix(*(float(x) for x in operands)) @ matrix
        elif name in ("RG", "SCN", "SC"):
            colour = tuple(round(float(x), 3) for x in operands if not isinstance(x, pikepdf.Name))
        elif name in ("m", "l"):
            point = matrix.transform((float(operands[0]), float(operands[1])))
            path = [point] if name == "m" else [*path, point]
        elif name in ("S", "s"):
            out.append((colour, path))
            path = []
        elif name in ("f", "F", "f*", "B", "n"):
            path = []
    return out
