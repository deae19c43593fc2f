"""What no page may show: texts that touch, that are cut by the paper's edge, or that stand on the frame."""

from __future__ import annotations

from debrief.report.layout import MARGIN_X, Pages
from debrief.report.shapes import Measurer, Text, text_box

SLACK_MM = 0.12


def faults(pages: Pages, measurer: Measurer) -> list[str]:
    """Return a sentence for each pair of texts that touch and each text that leaves the paper."""
    out = []
    for number, page in enumerate(pages.pages, start=1):
        boxes = [(shape.text, text_box(shape, measurer)) for shape in page if isinstance(shape, Text)]
        for text, (left, top, right, bottom) in boxes:
            if (
                left < MARGIN_X - 3.5
                or right > pages.width - MARGIN_X + 3.5
                or top < 5
                or bottom > pages.height - 4
            ):
                out.append(f"page {number}: {text!r} leaves the page at {left:.1f}..{right:.1f}, {top:.1f}")
        boxes.sort(key=lambda item: item[1][1])
        for index, (text, box) in enumerate(boxes):
            for other, other_box in boxes[index + 1 :]:
                if other_box[1] > box[3]:
                    break
                wide = min(box[2], other_box[2]) - max(box[0], other_box[0])
                high = min(box[3], other_box[3]) - max(box[1], other_box[1])
                if wide > SLACK_MM and high > SLACK_MM:
                    out.append(f"page {number}: {text!r} touches {other!r}")
    return out
