"""What a student's start is compared with: said what it is, and said when there is none."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from debrief.analysis.model import Assessment
from debrief.cli import main
from debrief.errors import UserError
from debrief.report.blocks import Block, Paragraph, SideBySide, Table
from debrief.report.content.options import ReportOptions, Selection
from debrief.report.content.reference_start import (
    Reference,
    other_recording,
    parse_reference,
    references_for,
    same_recording,
    usual_start,
)
from debrief.report.content.whole_report import build
from debrief.resources import resource
from tests.report.made_assessments import hot_start


@dataclass(frozen=True)
class Band:
    centre: float | None = 742.0
    count: int = 23
    words: str = "Normal 742 °C, range 721 to 763 °C, from 23 completed battery starts. The normal range is not a limit."


@dataclass(frozen=True)
class Usual:
    measure: str = "peak_itt"
    unit: str = "degC"
    engine: int = 1
    start_number: int = 1
    outside: bool | None = False
    said: str = "Peak ITT 1097 °C: outside the normal range."
    band: Band = Band()


def page(
    assessment: Assessment,
    usual: tuple[Usual, ...] = (),
    reference: Reference | None = None,
    number: int = 1,
) -> str:
    options = ReportOptions(Selection(start=number), "student")
    (section,) = build(assessment, options, usual=usual, reference=reference).sections
    return " ".join(said(flat(section.blocks)))


def said(blocks: Iterable[Block]) -> Iterator[str]:
    """Return paragraphs, and each row of a table with a bar between its cells."""
    for block in blocks:
        if isinstance(block, Paragraph):
            yield block.text
        elif isinstance(block, Table):
            yield " | ".join(column.title for column in block.columns)
            yield from (" | ".join(row.cells) for row in block.rows)


def flat(blocks: Iterable[Block]) -> Iterator[Block]:
    """Return blocks with those that stand side by side, the left ones first."""
    for block in blocks:
        yield from flat((*block.left, *block.right)) if isinstance(block, SideBySide) else (block,)


def named(file_name: str = "other.csv", starts: int = 2) -> Assessment:
    """Return another recording: its first start is hot, the others are clean."""
    other = hot_start(starts=starts, file_name=file_name)
    provenance = replace(other.recording.provenance, sha256="cd" * 32)
    return replace(other, recording=replace(other.recording, provenance=provenance))


def test_a_clean_completed_start_of_the_same_recording_is_the_reference() -> None:
    made = hot_start(starts=3)
    reference = same_recording(made, made.starts[0])
    assert reference is not None
    assert reference.start is made.starts[1]
    assert "Reference: start 2 of this recording, which was completed with nothing found" in page(made)


def test_a_start_with_a_finding_is_no_reference() -> None:
    made = hot_start(starts=2)
    event = replace(made.events[0], start_number=2)
    assert same_recording(replace(made, events=(event,)), made.starts[0]) is None
    assert same_recording(hot_start(), hot_start().starts[0]) is None


def test_without_any_it_is_said_that_there_is_none() -> None:
    text = page(hot_start())
    assert "there is none to compare with" in text
    assert "reference | limit" not in text
    assert "Compared with" not in text


def test_what_is_usual_is_a_median_with_its_count_beside_the_reference_start() -> None:
    text = page(hot_start(starts=2), (Usual(), Usual("ng_at_fuel", "%", band=Band(18.2, 21))))
    assert " | yours | reference | normal | limit" in text
    assert "Ng at fuel | 10.1 % | 18.4 % | 18.2 % | at least 15 %, advised 18 %" in text
    assert "Peak ITT | 1097 °C | 662 °C | 742 °C | —" in text
    assert "Normal: the median of 21 to 23 of this engine's own completed starts. It is not a limit." in text
    alone = page(hot_start(), (Usual(),))
    assert " | yours | normal | limit" in alone
    assert "Compared with what is normal for this engine, peak ITT was 355 °C higher." in alone


def test_too_short_a_history_is_said_and_nothing_is_called_usual() -> None:
    few = "Not enough history: 7 of the 15 completed starts that a normal range needs."
    text = page(hot_start(), (Usual(band=Band(None, 7, few)),))
    assert f"This engine's usual start is not known. {few}" in text
    assert "Usual for this engine" not in text
    assert usual_start(hot_start().starts[0], (Usual(start_number=2),)) is None


def test_a_start_of_another_recording_takes_the_place_of_one_of_the_same() -> None:
    reference = other_recording(named())
    text = page(hot_start(starts=2), reference=reference)
    assert "Reference: start 2 of other.csv, engine 118, which was completed with nothing found" in text
    assert "of this recording" not in text


def test_a_named_start_with_findings_is_told_as_that() -> None:
    text = page(hot_start(), reference=other_recording(named(), 1))
    assert "start 1 of other.csv, engine 118, whose outcome was: aborted, with 2 things found in it." in text


def test_the_reference_start_itself_is_not_compared_with_itself() -> None:
    made = hot_start(starts=2)
    reference = other_recording(made, 2)
    found = references_for(made, made.starts[1], (), reference)
    assert [one.said for one in found] == ["This is the reference start itself."]
    assert found[0].values == {}
    assert references_for(made, made.starts[0], (), reference) == (reference,)


def test_a_recording_that_cannot_be_a_reference_is_refused_in_a_sentence() -> None:
    with pytest.raises(UserError, match=r"other.csv has no start that was completed with nothing found"):
        other_recording(named(starts=1))
    with pytest.raises(UserError, match=r"other.csv has no start 7 .*its starts: 1, 2\."):
        other_recording(named(), 7)
    with pytest.raises(UserError, match="no start to compare with"):
        other_recording(replace(named(), starts=(), events=()))


def test_the_number_of_a_start_is_what_stands_behind_the_last_colon(tmp_path: Path) -> None:
    odd = tmp_path / "a:1"
    odd.write_text("x", encoding="utf-8")
    assert parse_reference(str(odd)) == (str(odd), None)
    assert parse_reference("flight.csv:3") == ("flight.csv", 3)
    assert parse_reference("flight.csv") == ("flight.csv", None)
    assert parse_reference(r"C:\flight.csv") == (r"C:\flight.csv", None)
    real = tmp_path / "b.csv"
    real.write_text("x", encoding="utf-8")
    with pytest.raises(UserError, match="by its number"):
        parse_reference(f"{real}:first")


@pytest.mark.usefixtures("qapp")
def test_the_command_compares_a_hot_start_with_a_normal_one(tmp_path: Path) -> None:
    import pypdf

    flights = resource("demo_flights")
    hot, normal = flights / "02_early_fuel_hot.csv", flights / "01_cool_normal_start.csv"
    out = tmp_path / "page.pdf"
    command = ["report", str(hot), "-o", str(out), "--for", "student", "--reference", f"{normal}:1"]
    assert main(command) == 0
    text = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(out).pages)
    assert "Reference: start 1 of 01_cool_normal_start.csv" in text
    assert "fuel came 11.0 s and 10.5 % Ng earlier; peak ITT was 434 °C higher." in text


def test_the_command_refuses_a_reference_on_another_paper(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    flight = str(resource("demo_flights") / "01_cool_normal_start.csv")
    assert main(["report", flight, "-o", str(tmp_path / "a.pdf"), "--reference", flight]) == 2
    assert "--for student" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
