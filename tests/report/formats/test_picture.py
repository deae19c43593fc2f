"""The lanes as a picture: whose they are and the caution on it, and the colours of what was drawn."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QImage

from debrief.errors import UserError
from debrief.report.charts.lane_charts import DASH
from debrief.report.content.options import Selection
from debrief.report.formats.picture import HEIGHT_MM, WIDTH_MM, picture, write_picture
from debrief.report.pdf.paint import screen_measurer
from debrief.report.shapes import AXIS, CAUTION, GRID, LABEL, LIMIT, TEMPERATURE, Line, Shape, Text
from tests.report.made_assessments import climb_overtemp, hot_start

pytestmark = pytest.mark.usefixtures("qapp")


def test_a_png_shows_the_trace_and_leaves_the_paper_white(tmp_path: Path) -> None:
    write_picture(hot_start(), tmp_path / "a.png", selection=Selection(start=1))
    image = QImage(str(tmp_path / "a.png"))
    assert (image.width(), image.height()) == (round(WIDTH_MM * 150 / 25.4), round(HEIGHT_MM * 150 / 25.4))
    assert image.pixelColor(3, 3) == QColor("white")
    wanted = QColor(TEMPERATURE)
    seen = {image.pixel(x, y) for x in range(100, image.width(), 3) for y in range(100, 400)}
    assert wanted.rgb() in seen


def test_an_svg_is_text_that_holds_the_words_and_the_numbers(tmp_path: Path) -> None:
    write_picture(hot_start(), tmp_path / "a.svg", selection=Selection(start=1), as_svg=True)
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "<svg" in text
    assert "peak 1097 °C 0:26.8" in text
    assert "<image" not in text


@pytest.mark.parametrize("selection", [Selection(), Selection(start=1)])
def test_the_picture_says_whose_it_is_and_the_caution(selection: Selection) -> None:
    texts = [s.text for s in picture(hot_start(), selection, screen_measurer()) if isinstance(s, Text)]
    joined = " ".join(texts)
    assert "ZZ-TRN" in joined
    assert "SHA-256 ab12cd34ab12cd34" in joined
    assert "Limits not from approved data." in joined
    assert "informs and never approves" in joined


def test_a_start_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="There is no start"):
        write_picture(climb_overtemp(), tmp_path / "a.png", selection=Selection(start=1))
    assert list(tmp_path.iterdir()) == []


def _dashed(shapes: tuple[Shape, ...], colour: str) -> list[Line]:
    return [x for x in shapes if isinstance(x, Line) and x.dash == DASH and x.colour == colour]


def _times(shapes: tuple[Shape, ...]) -> tuple[float, float]:
    """Return where the time axis has 0 s and how many mm a second takes, from its numbers."""
    centred = [x for x in shapes if isinstance(x, Text) and x.align == "center" and ":" in x.text]
    lowest = max(text.y for text in centred)
    marks = [(x.x, x.text) for x in centred if x.y == lowest]
    seconds = [sum(60**i * float(part) for i, part in enumerate(reversed(t.split(":")))) for _, t in marks]
    scale = (marks[-1][0] - marks[0][0]) / (seconds[-1] - seconds[0])
    return marks[0][0] - seconds[0] * scale, scale


def _values(shapes: tuple[Shape, ...], top: float, bottom: float) -> tuple[float, float]:
    """Return value at y = 0 and value per mm of the lane between two heights, from the numbers beside it."""
    beside = [
        (x.y - 0.85, float(x.text.replace("\N{MINUS SIGN}", "-")))
        for x in shapes
        if isinstance(x, Text) and x.align == "right" and top < x.y < bottom and x.text[-1:].isdigit()
    ]
    (y0, v0), (y1, v1) = min(beside), max(beside)
    slope = (v1 - v0) / (y1 - y0)
    return v0 - slope * y0, slope


@pytest.mark.parametrize("selection", [Selection(), Selection(start=1)])
def test_limit_lines_stand_where_and_when_they_apply(selection: Selection) -> None:
    """The lines are read back from the picture's vectors and held against the limit's own windows."""
    assessment = hot_start()
    shapes = picture(assessment, selection, screen_measurer())
    zero, scale = _times(shapes)
    titles = [x for x in shapes if isinstance(x, Text) and ", " in x.text and x.style == LABEL and x.y > 15]
    heights = [x.y for x in titles]
    at_zero, slope = _values(shapes, heights[0], heights[1])
    lines = [x for x in _dashed(shapes, LIMIT) if heights[0] < x.y1 < heights[1]]
    found = {(round(at_zero + slope * x.y1), x.x1, x.x2) for x in lines}
    windows = next(x.windows for x in assessment.limits if x.id == "itt-start")
    assert windows
    edge = max(x.x2 for x in shapes if isinstance(x, Line) and x.colour == GRID)
    for level in (830, 920, 1030):
        for window in windows:
            assert any(
                value == level
                and (left - zero) / scale == pytest.approx(window.start_s, abs=0.3)
                and right == pytest.approx(min(zero + scale * window.end_s, edge), abs=0.5)
                for value, left, right in found
            ), (level, window, found)


@pytest.mark.parametrize("selection", [Selection(), Selection(start=1)])
def test_limit_names_stand_at_their_lines_and_never_on_each_other(selection: Selection) -> None:
    shapes = picture(hot_start(), selection, screen_measurer())
    measurer = screen_measurer()
    edge = max(x.x2 for x in shapes if isinstance(x, Line) and x.colour == GRID)
    names = [x for x in shapes if isinstance(x, Text) and x.colour in (LIMIT, CAUTION) and x.style == AXIS]
    assert {"830: 20 s", "920: 6 s", "1030: never"} <= {x.text for x in names}
    beside = [x for x in names if x.x > edge]
    heights = sorted(x.y for x in beside)
    assert all(b - a >= 2.8 for a, b in itertools.pairwise(heights))
    for name in names:
        if name in beside:
            leaders = [x for x in shapes if isinstance(x, Line) and abs(x.y2 + 0.85 - name.y) < 0.01]
            assert any(name.x - 1.0 < leader.x2 < name.x for leader in leaders), name.text
            continue
        # Where the line ends before the margin its name ends with it.
        end = name.x + measurer.width_mm(name.text, name.style)
        ends = [x.x2 for x in _dashed(shapes, name.colour) if 0 < x.y1 - name.y < 1.0]
        assert any(0 <= x - end < 1.0 for x in ends), name.text


def test_a_limit_of_starts_has_a_line_in_each_start_and_one_name() -> None:
    assessment = hot_start(starts=2)
    shapes = picture(assessment, Selection(), screen_measurer())
    windows = next(x.windows for x in assessment.limits if x.id == "itt-start")
    lines = _dashed(shapes, LIMIT)
    assert len(windows) > 1
    heights = [x.y1 for x in lines]
    assert sum(heights.count(y) == len(windows) for y in set(heights)) >= 3
    texts = [x.text for x in shapes if isinstance(x, Text)]
    assert texts.count("1030: never") == 1


def test_the_svg_has_every_limit_line_as_a_dashed_vector(tmp_path: Path) -> None:
    write_picture(hot_start(), tmp_path / "a.svg", as_svg=True)
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    shapes = picture(hot_start(), Selection(), screen_measurer())
    wanted = _dashed(shapes, LIMIT)
    assert len(wanted) >= 3
    groups = re.findall(r"<g [^>]*>[^<]*(?:<(?!/?g)[^>]*>[^<]*)*", text)
    dashed = [g for g in groups if f'stroke="{LIMIT.lower()}"' in g and "stroke-dasharray" in g]
    assert sum(g.count("<polyline") + g.count("<path") + g.count("<line") for g in dashed) == len(wanted)
    assert "1030: never" in text


def test_a_channel_that_something_was_found_in_has_its_lane() -> None:
    shapes = picture(climb_overtemp(), Selection(), screen_measurer())
    titles = {x.text.split(",")[0] for x in shapes if isinstance(x, Text)}
    assert {"Interturbine temperature", "Gas generator speed", "Bus voltage"} <= titles
