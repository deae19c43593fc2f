"""The lanes as a picture: whose they are and the caution on it, and the colours of what was drawn."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QImage

from debrief.errors import UserError
from debrief.report.options import Selection
from debrief.report.paint import screen_measurer
from debrief.report.picture import HEIGHT_MM, WIDTH_MM, picture, write_picture
from debrief.report.shapes import TEMPERATURE, Text
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
    with pytest.raises(UserError, match="no such start"):
        write_picture(climb_overtemp(), tmp_path / "a.png", selection=Selection(start=1))
    assert list(tmp_path.iterdir()) == []
