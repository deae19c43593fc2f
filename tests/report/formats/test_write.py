"""A file is there whole or not at all, and every failure is one sentence."""

from __future__ import annotations

import csv
import errno
import io
import json
import os
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.errors import UserError
from debrief.output import door
from debrief.report.content.options import Selection, parse_select
from debrief.report.formats.picture import write_picture
from debrief.report.formats.tables import COLUMNS, cell, csv_text
from debrief.report.formats.write import write_csv, write_json, write_pdf
from debrief.resources import resource
from debrief.session.document import assessment_document
from tests.report.made_assessments import hot_start


def test_json_on_disk_is_the_document(tmp_path: Path) -> None:
    write_json(hot_start(), tmp_path / "a.json")
    assert json.loads((tmp_path / "a.json").read_text(encoding="utf-8")) == assessment_document(hot_start())


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_csv_holds_a_row_for_the_recording_each_start_and_each_event() -> None:
    found = rows(csv_text(hot_start(starts=2)))
    assert [row["row"] for row in found] == ["recording", "start", "start", "event", "event"]
    document = assessment_document(hot_start(starts=2))
    assert found[0]["verdict"] == document["verdict"]
    assert float(found[1]["peak_itt_c"]) == document["starts"][0]["peak_itt_c"]
    assert float(found[3]["duration_s"]) == document["events"][0]["duration_s"]
    assert found[2]["fuel_off_s"] == ""


def test_csv_of_a_file_begins_with_the_mark_of_utf_8(tmp_path: Path) -> None:
    write_csv(hot_start(), tmp_path / "a.csv")
    data = (tmp_path / "a.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbfrow,")
    assert b"\r\n" in data


@pytest.mark.parametrize(
    "bad", ["=1+1", "+1", "-cmd", "@SUM(A1)", "\t=1", " =1", "＝1", "|calc", '=HYPERLINK("x")\n=2']
)
def test_text_that_a_spreadsheet_would_run_is_made_harmless(bad: str) -> None:
    made = cell(bad)
    assert made.startswith("'")
    assert "\n" not in made
    table = csv_text(hot_start(aircraft=bad))
    assert all(row["aircraft"].startswith("'") for row in rows(table))


def test_negative_numbers_stay_numbers() -> None:
    assert cell(-40.5) == "-40.5"
    assert cell(None) == ""
    assert cell(0.0) == "0.0"
    assert cell(True) == "true"


def test_csv_of_one_start_holds_only_what_belongs_to_it() -> None:
    found = rows(csv_text(hot_start(starts=3), Selection(start=2)))
    assert [row["row"] for row in found] == ["recording", "start"]
    with pytest.raises(UserError, match="There is no start"):
        csv_text(hot_start(), Selection(start=9))


def test_csv_columns_are_all_distinct() -> None:
    assert len(set(COLUMNS)) == len(COLUMNS)


@pytest.mark.parametrize("text", ["start:0", "start:x", "start", "", "some", "start:-1", "start:²"])
def test_a_wrong_selection_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(UserError, match=r"start:N, such as start:2"):
        parse_select(text)


@pytest.mark.usefixtures("qapp")
def test_a_start_that_is_not_there_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"There is no start \d+ in this recording; it holds 1, 2"):
        write_pdf(hot_start(starts=2), tmp_path / "a.pdf", select="start:5")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("write", [write_pdf, write_csv, write_json, write_picture])
@pytest.mark.parametrize("through_link", [False, True])
def test_no_writer_replaces_the_recording(
    tmp_path: Path, write: Callable[..., None], through_link: bool
) -> None:
    recording = tmp_path / "flight.csv"
    recording.write_text("time,itt", encoding="utf-8")
    target = tmp_path / "link.csv" if through_link else recording
    if through_link:
        target.symlink_to(recording)
    found = hot_start()
    provenance = replace(found.recording.provenance, path=str(recording))
    found = replace(found, recording=replace(found.recording, provenance=provenance))
    with pytest.raises(UserError, match="is the recording itself"):
        write(found, target)
    assert recording.read_text(encoding="utf-8") == "time,itt"


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("ending", ["pdf", "csv", "json", "png", "svg"])
@pytest.mark.parametrize(
    ("number", "words"), [(errno.ENOSPC, "the disk is full"), (errno.EROFS, "read-only")]
)
def test_the_command_says_in_one_line_that_a_file_could_not_be_written_and_the_old_one_stays(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    ending: str,
    number: int,
    words: str,
) -> None:
    flight = resource("demo_flights") / "01_cool_normal_start.csv"
    target = tmp_path / f"paper.{ending}"
    assert main(["report", str(flight), "-o", str(target)]) == 0
    old = target.read_bytes()
    capsys.readouterr()

    def fail(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(door.os, "fsync", fail)
    assert main(["report", str(flight), "-o", str(target)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert words in said
    assert target.read_bytes() == old
    assert [path.name for path in tmp_path.iterdir()] == [target.name]


@pytest.mark.usefixtures("qapp")
def test_the_command_hands_the_day_of_printing_to_the_paper(tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    days = [date.today()]
    flight = resource("demo_flights") / "01_cool_normal_start.csv"
    assert main(["report", str(flight), "-o", str(tmp_path / "a.pdf")]) == 0
    days.append(date.today())  # the test may run over midnight
    first = " ".join(pypdf.PdfReader(tmp_path / "a.pdf").pages[0].extract_text().split())
    assert any(f"Printed {day.isoformat()}" in first for day in days)
