"""Every demo flight from its file to paper, as a person runs it: by the command, without a display."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import jsonschema
import pypdf
import pytest
from PySide6.QtGui import QImage

from debrief.report.blocks import LaneChart
from debrief.report.content.options import PAPERS, ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.pdf.layout import lay_out
from debrief.report.pdf.paint import DPI, FontMeasurer, ensure_application
from debrief.resources import resource
from debrief.session.document import assessment_document, dumps
from debrief.session.evidence.why import INSTANTS, LONG_TIMES
from debrief.words.numbers import beside, clock_text, duration_text, length_text, value_text
from tests.demo_assessing import assessed, often
from tests.report.archive_checks import archive_faults
from tests.report.page_checks import faults, filled, struck
from tests.report.pdf_making import pdf
from tests.report.vector_reading import drawn_peak

FLIGHTS = sorted(resource("demo_flights").glob("*.csv"))
SCHEMA = json.loads(resource("assessment.schema.json").read_text(encoding="utf-8"))
BEFORE_A_NUMBER = tuple("0123456789.,:\N{MINUS SIGN}")
AFTER_A_NUMBER = tuple("0123456789:")
HIDDEN = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM", "XDG_RUNTIME_DIR")


@cache
def paper(path: Path) -> bytes:
    return pdf(assessed(path), ReportOptions())


def headless(*arguments: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    environment = {key: value for key, value in os.environ.items() if key not in HIDDEN}
    environment["PYTHONIOENCODING"] = "utf-8"
    return subprocess.run(
        [sys.executable, "-m", "debrief", *map(str, arguments)],
        cwd=cwd,
        env=environment | {"PYTHONPATH": str(Path(__file__).resolve().parents[2])},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=180,
        check=False,
    )


def test_there_are_at_least_twelve_demo_flights() -> None:
    assert len(FLIGHTS) >= 12


@pytest.mark.parametrize("path", FLIGHTS, ids=lambda path: path.stem)
def test_the_document_of_every_demo_flight_is_described_by_the_schema(path: Path) -> None:
    document = json.loads(dumps(assessment_document(assessed(path))))
    jsonschema.Draft202012Validator(SCHEMA).validate(document)


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("path", [pytest.param(one, id=one.stem, marks=often(one)) for one in FLIGHTS])
def test_the_paper_of_every_demo_flight_says_the_numbers_of_its_document(path: Path) -> None:
    assessment = assessed(path)
    document = assessment_document(assessment)
    reader = pypdf.PdfReader(io.BytesIO(paper(path)))
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)

    places = [at for at, character in enumerate(text) if not character.isspace()]
    squeezed = "".join(text.split())

    def said(words: str) -> bool:
        # A wrapped cell may put a break inside; "5 °C" is not said by "745 °C".
        wanted = "".join(words.split())
        at = squeezed.find(wanted)
        while at >= 0:
            begin, end = places[at], places[at + len(wanted) - 1] + 1
            if text[begin - 1 : begin] not in BEFORE_A_NUMBER and text[end : end + 1] not in AFTER_A_NUMBER:
                return True
            at = squeezed.find(wanted, at + 1)
        return False

    assert said(document["sentence"])
    assert said(document["recording"]["sha256"])
    for start in document["starts"]:
        for key, unit in (("peak_itt_c", "degC"), ("ng_at_fuel_pct", "%"), ("min_bus_volts", "V")):
            if start[key] is not None:
                assert said(value_text(start[key], unit)), key
        for key in ("starter_on_s", "starter_off_s", "fuel_on_s", "fuel_off_s", "light_off_s", "idle_s"):
            if start[key] is not None:
                assert said(clock_text(start[key])), key
        for name, measure in start["measures"].items():
            if name in ("first_cue", "fuel_on") and measure["value"] is not None:
                assert said(clock_text(measure["value"])), name
            elif measure["value"] is not None and measure["unit"] == "s":
                assert said(duration_text(measure["value"], measure["low"], measure["high"])), name
            elif measure["value"] is not None:
                assert said(value_text(measure["value"], measure["unit"])), name
        for factor in start["factors"]:
            assert said(beside(factor["value"], factor["reference"], factor["unit"]))
    for name, measure in document["flight"]["measures"].items():
        if measure["value"] is not None and name in LONG_TIMES:
            assert said(length_text(measure["value"])), name
        elif measure["value"] is not None and name in INSTANTS:
            assert said(clock_text(measure["value"])), name
        elif measure["value"] is not None:
            assert said(value_text(measure["value"], measure["unit"])), name
    for event in document["events"]:
        assert said(event["message"])
        # Fuel came at its first sample; its bounds begin at the last one without it. A pause too short ends there.
        at = {"early_fuel": "peak_s", "residual_heat": "peak_s", "fuel_reintroduced": "end_s"}.get(
            event["kind"]
        )
        at = "end_s" if event["reason"] == "rest_too_short" else at or "start_s"
        assert said(clock_text(event[at]))
        if event["duration_s"] is not None:
            assert said(duration_text(event["duration_s"], event["duration_low_s"], event["duration_high_s"]))
        if event["peak"] is not None:
            assert said(value_text(event["peak"], event["unit"])) or said(
                beside(event["peak"], event["level"], event["unit"])
            )
    for item in document["not_judged"]:
        assert said(item["what"])
        assert said(item["why"])


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("path", FLIGHTS, ids=lambda path: path.stem)
def test_the_paper_of_every_demo_flight_is_an_archive_file_and_its_curves_hold_the_peaks(path: Path) -> None:
    """The peak is read back from the vectors, within half a percent of the axis."""
    assessment = assessed(path)
    data = paper(path)
    assert archive_faults(data) == []
    assert len(data) < 600_000
    for section in build(assessment, ReportOptions()).sections:
        number = re.match(r"Start (\d+)", section.title)
        if number is None:
            continue
        start = next(start for start in assessment.starts if start.number == int(number[1]))
        if start.peak_itt_c is None:
            continue
        chart = next(block for block in section.blocks if isinstance(block, LaneChart))
        lane = chart.lanes[0]
        drawn = drawn_peak(data, section.title, lane_ticks(lane.low, lane.high))
        assert drawn == pytest.approx(start.peak_itt_c, abs=0.005 * (lane.high - lane.low))


def lane_ticks(low: float, high: float) -> list[float]:
    """Return the values of a lane's grid lines, from 0 on, by the steps of its axis."""
    step = {1400.0: 500.0, 1200.0: 500.0, 1100.0: 500.0, 350.0: 100.0}[high]
    assert -step < low <= 0.0
    return [step * i for i in range(int(high / step) + 1)]


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("path", FLIGHTS, ids=lambda path: path.stem)
def test_nothing_touches_is_cut_or_struck_through_on_the_paper_of_any_demo_flight(path: Path) -> None:
    ensure_application()
    device = QImage(8, 8, QImage.Format.Format_RGB32)
    device.setDotsPerMeterX(round(DPI / 0.0254))
    measurer = FontMeasurer(device)
    assessment = assessed(path)
    for options in (
        ReportOptions(),
        ReportOptions(reader="pilot"),
        ReportOptions(reader="student", paper="letter"),
        ReportOptions(reader="technician", paper="letter"),
    ):
        pages = lay_out(build(assessment, options), *PAPERS[options.paper], measurer)
        assert faults(pages, measurer) == []
        assert struck(pages, measurer) == []
        # A page with a few lines on it is lost between the others.
        assert min(filled(pages)) > 0.2


def test_a_report_needs_no_display(tmp_path: Path) -> None:
    flight = next(path for path in FLIGHTS if "hot" in path.stem)
    done = headless("report", flight, "-o", "paper.pdf", cwd=tmp_path)
    count = len(pypdf.PdfReader(tmp_path / "paper.pdf").pages)
    told = f"debrief: paper.pdf written, {count} pages\n"
    assert (done.returncode, done.stdout, done.stderr) == (0, "", told)
    assert [page.name for page in tmp_path.iterdir()] == ["paper.pdf"]
    assert count >= 4


def test_demo_without_a_display_prints_the_assessment_and_writes_the_paper(tmp_path: Path) -> None:
    done = headless("demo", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "No display can be opened here" in done.stdout
    assert "Exceeded" in done.stdout
    paper = tmp_path / "debrief_demo.pdf"
    assert str(paper) in done.stdout
    assert paper.read_bytes().startswith(b"%PDF")


def test_every_demo_flight_at_once_as_json_lines(tmp_path: Path) -> None:
    done = headless("assess", *FLIGHTS, "--format", "jsonl", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [Path(line["recording"]["path"]).name for line in lines] == [path.name for path in FLIGHTS]
