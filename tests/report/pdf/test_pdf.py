"""The file as other programs see it: text, fonts, bookmarks, archive marks, vectors."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pypdf
import pytest

from debrief.analysis.model import Assessment
from debrief.report.content.options import ReportOptions, parse_select
from debrief.session.document import assessment_document
from debrief.words.numbers import clock_text, duration_text, number, value_text
from tests.report.archive_checks import archive_faults, ends_in_carriage_return
from tests.report.made_assessments import climb_overtemp, hot_start
from tests.report.pdf_making import pdf
from tests.report.vector_reading import drawn_peak

pytestmark = pytest.mark.usefixtures("qapp")


def made(assessment: Assessment, options: ReportOptions = ReportOptions()) -> pypdf.PdfReader:  # noqa: B008
    return pypdf.PdfReader(io.BytesIO(pdf(assessment, options)))


def words(reader: pypdf.PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


def test_numbers_on_paper_are_those_of_the_json_document() -> None:
    assessment = hot_start(starts=2)
    document = assessment_document(assessment)
    text = words(made(assessment))
    for start in document["starts"]:
        assert value_text(start["peak_itt_c"], "degC") in text
        assert value_text(start["ng_at_fuel_pct"], "%") in text
        assert value_text(start["min_bus_volts"], "V") in text
        assert clock_text(start["fuel_on_s"]) in text
    for event in document["events"]:
        assert clock_text(event["start_s"]) in text
        if event["duration_s"] is not None:
            bounds = (event["duration_s"], event["duration_low_s"], event["duration_high_s"])
            assert duration_text(*bounds) in text
    for level in document["events"][0]["levels"]:
        assert duration_text(level["duration_s"], level["duration_low_s"], level["duration_high_s"]) in text
    assert document["sentence"] in text
    assert document["recording"]["sha256"] in text
    assert document["profile"]["sha256"] in text


def test_first_page_tells_whose_it_is_where_from_and_what_was_found_in_reading_order() -> None:
    reader = made(hot_start())
    first = " ".join(reader.pages[0].extract_text().split())
    places = [
        first.index(part)
        for part in (
            "Engine debrief",
            "Registration ZZ-TRN",
            "TG-7",
            "Tarn TG-7",
            "Recorded date not known; 800 rows",
            "SHA-256 ab12cd34ab12cd34ab12cd34ab12cd34ab12cd34ab12cd34ab12cd34ab12cd34",
            "Exceeded: ITT",
            "Events",
            "Start: Hot start, aborted",
        )
    ]
    assert places[2:] == sorted(places[2:])
    assert "revision A" in first
    assert "not from approved data" in first


def test_raw_samples_on_paper_are_the_recorded_ones_in_order() -> None:
    assessment = climb_overtemp()
    text = words(made(assessment))
    part = text[text.index("Raw samples") :]
    itt = assessment.recording.channels["itt"]
    rows = [i for i, t in enumerate(itt.time_s) if 601.2 <= t <= 639.0]
    # Each row has the time of its first sample; the next are one second later each.
    table = part[part.index("the next is 1 s later.") : part.index("The flight")]
    printed = re.findall(r"\d+:\d\d\.\d|\b\d+\b", table.partition("later.")[2])
    at = itt.time_s[rows]
    read: list[tuple[str, str]] = []
    for word in printed:
        if ":" in word:
            assert word == clock_text(float(at[len(read)]))
        else:
            read.append((clock_text(float(at[len(read)])), word))
    assert read == [(clock_text(float(itt.time_s[i])), number(float(itt.values[i]), 0)) for i in rows]


def test_samples_of_an_uneven_clock_each_have_their_time_on_paper() -> None:
    assessment = climb_overtemp()
    itt = assessment.recording.channels["itt"]
    kept = np.flatnonzero(np.arange(itt.time_s.size) % 7 != 3)
    thinned = replace(itt, time_s=itt.time_s[kept], values=itt.values[kept])
    channels = {**assessment.recording.channels, "itt": thinned}
    text = words(made(replace(assessment, recording=assessment.recording.with_channels(channels))))
    part = text[text.index("Raw samples") :]
    rows = [i for i, t in enumerate(thinned.time_s) if 603 <= t <= 637]
    wanted = " ".join(
        f"{clock_text(float(thinned.time_s[i]))} {number(float(thinned.values[i]), 0)}" for i in rows
    )
    assert wanted in part
    assert "s later" not in part


def test_copied_text_has_blanks_and_no_tabs() -> None:
    text = made(hot_start()).pages[0].extract_text()
    assert "ZZ-TRN, engine TG-7 no. 118" in text
    assert "\t" not in text


def test_only_the_bundled_fonts_are_embedded() -> None:
    for assessment in (hot_start(), hot_start(aircraft="飛行機 מטוס Łódź")):
        with pikepdf.open(io.BytesIO(pdf(assessment, ReportOptions()))) as document:
            names = set()
            for obj in document.objects:
                if isinstance(obj, pikepdf.Dictionary) and obj.get("/Type") == "/FontDescriptor":
                    names.add(str(obj.FontName))
                    assert any(key in obj for key in ("/FontFile", "/FontFile2", "/FontFile3"))
        assert names
        assert all(re.sub(r"^/(\w{6}\+)?", "", name).startswith("B612") for name in names)


def test_charts_are_vectors_and_nothing_is_transparent() -> None:
    with pikepdf.open(io.BytesIO(pdf(hot_start(), ReportOptions()))) as document:
        for obj in document.objects:
            if isinstance(obj, pikepdf.Stream | pikepdf.Dictionary):
                assert obj.get("/Subtype") != "/Image"
                assert "/SMask" not in obj or obj.SMask == "/None"
                for alpha in ("/ca", "/CA"):
                    if alpha in obj and isinstance(obj[alpha], int | float):
                        assert float(obj[alpha]) == 1.0


def test_the_file_carries_the_marks_of_an_archive_file() -> None:
    with pikepdf.open(io.BytesIO(pdf(hot_start(), ReportOptions()))) as document:
        assert document.pdf_version == "1.4"
        intents = document.Root.OutputIntents
        assert intents[0].S == "/GTS_PDFA1"
        with document.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "1"
            assert metadata["pdfaid:conformance"] == "B"
            assert metadata["dc:title"] == str(document.docinfo["/Title"])
        assert "/ObjStm" not in {
            str(o.get("/Type")) for o in document.objects if isinstance(o, pikepdf.Stream)
        }


def test_title_and_bookmarks_lead_to_their_pages() -> None:
    reader = made(hot_start(starts=2))
    assert reader.metadata is not None
    assert reader.metadata.title == "Engine debrief ZZ-TRN hot_start_aborted.csv"
    marks = {str(item.title): reader.get_destination_page_number(item) for item in reader.outline}
    assert next(iter(marks)) == "Engine debrief"
    for title in ("Start 1: Hot start, aborted", "Start 2: Completed", "Cautions and signature"):
        number = marks[title]
        assert number is not None
        assert title in reader.pages[number].extract_text()


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_pages_have_the_size_that_was_asked_for(paper: str, size: tuple[int, int]) -> None:
    reader = made(hot_start(), ReportOptions(paper=paper))
    for page in reader.pages:
        assert (round(page.mediabox.width), round(page.mediabox.height)) == pytest.approx(size, abs=1)


def test_a_character_without_a_sign_is_printed_as_its_number_with_a_note() -> None:
    text = words(made(hot_start(aircraft="飛-TRN")))
    assert "U+98DB -TRN" in text
    assert "have no sign in the bundled fonts" in text
    assert "have no sign" not in words(made(hot_start()))


def test_the_file_stays_small() -> None:
    assert len(pdf(hot_start(starts=2), ReportOptions())) < 600_000


def test_a_report_can_be_made_in_a_worker_thread() -> None:
    out: list[bytes] = []
    worker = threading.Thread(target=lambda: out.append(pdf(hot_start(), ReportOptions(parse_select("all")))))
    worker.start()
    worker.join(60)
    assert out
    assert out[0].startswith(b"%PDF-1.4")


def test_the_same_report_says_the_same_twice() -> None:
    assert words(made(hot_start())) == words(made(hot_start()))


def test_no_application_and_no_display_are_needed(tmp_path: Path) -> None:
    """A process without an application, in an environment that names no display and no platform."""
    out = tmp_path / "report.pdf"
    code = (
        "from tests.report.made_assessments import hot_start\n"
        "from debrief.report.formats.write import write_pdf\n"
        f"write_pdf(hot_start(), {str(out)!r})\n"
    )
    hidden = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM", "XDG_RUNTIME_DIR")
    environment = {key: value for key, value in os.environ.items() if key not in hidden}
    root = Path(__file__).resolve().parents[3]
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=root,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert "Start: Hot start, aborted" in words(pypdf.PdfReader(out))


def test_content_loads_no_qt() -> None:
    code = (
        "import sys\n"
        "import debrief.report.content.whole_report, debrief.report.charts.lane_charts, debrief.report.pdf.layout, debrief.report.formats.write\n"
        "import debrief.report.formats.tables, debrief.report.formats.text\n"
        "bad = {'PySide6', 'pandas', 'pyarrow', 'sqlalchemy', 'pikepdf'} & set(sys.modules)\n"
        "raise SystemExit(str(bad) if bad else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr


def test_the_peak_can_be_read_back_from_the_curve_in_the_file() -> None:
    """Within half a percent of the axis, by the grid lines' own places."""
    assessment = hot_start()
    (start,) = assessment.starts
    # The lane's axis runs from 0 to 1200, with lines at 0, 500 and 1000.
    value = drawn_peak(pdf(assessment, ReportOptions()), "Start: Hot start, aborted", [0.0, 500.0, 1000.0])
    assert value == pytest.approx(start.peak_itt_c, abs=0.005 * 1200)


@pytest.mark.parametrize(
    "made_for",
    [
        hot_start,
        climb_overtemp,
        lambda: hot_start(aircraft="飛行機 מטוס", file_name="記録 & <b>.csv"),
        lambda: hot_start(file_name="a\udcff\x01b.csv"),
    ],
)
def test_no_rule_of_an_archive_file_is_broken(made_for: Callable[[], Assessment]) -> None:
    assert archive_faults(pdf(made_for(), ReportOptions())) == []


def test_the_archive_check_sees_what_the_painter_leaves() -> None:
    """The painted file before it is finished breaks the rules that the last step mends."""
    from debrief.report.content.options import PAPERS
    from debrief.report.content.whole_report import build
    from debrief.report.pdf.paint import pdf_bytes_steps
    from debrief.steps import done

    painted, _ = done(pdf_bytes_steps(build(hot_start(), ReportOptions()), PAPERS["a4"]))
    clauses = {fault.split(":")[0] for fault in archive_faults(painted)}
    assert {"6.2.3.3", "6.3.3", "6.7.3"} <= clauses


def test_a_stream_whose_compressed_bytes_end_in_a_carriage_return_is_written_otherwise() -> None:
    """Some readers count that byte with the line end before ``endstream`` and find the length wrong."""
    from debrief.report.pdf.archive import archived

    unlucky = next(data for n in range(300) if ends_in_carriage_return(data := b"n %" + n * b"a"))
    source = pikepdf.new()
    source.add_blank_page()
    source.pages[0].Contents = pikepdf.Stream(source, unlucky)
    out = io.BytesIO()
    source.save(out)
    with pikepdf.open(io.BytesIO(archived(out.getvalue(), [("First", 0)]))) as document:
        contents = document.pages[0].Contents
        assert not contents.read_raw_bytes().endswith(b"\r")
        assert contents.read_bytes() == unlucky
