"""The technician's paper of every demo flight: each number stands on it with its label, and nothing is said twice.

What is to be there is collected from the assessment and the profile's file, not from the paper's own blocks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import get_args

import numpy as np
import pytest

from debrief.analysis.model import Assessment
from debrief.report.blocks import (
    Blanks,
    Block,
    Columns,
    Heading,
    LaneChart,
    Notice,
    Pairs,
    Paragraph,
    SideBySide,
    Still,
    Table,
)
from debrief.report.content import phrases
from debrief.report.content.flight_pages import at_the_peak
from debrief.report.content.options import PAPERS, Paper, Reader, ReportOptions
from debrief.report.content.reference_start import other_recording, same_recording
from debrief.report.content.start_pages import start_heading
from debrief.report.content.whole_report import build
from debrief.report.pdf.layout import MARGIN_BOTTOM, MARGIN_TOP, Pages
from debrief.report.pdf.paint import paper_pages, screen_measurer
from debrief.report.shapes import HEAD_1, HEAD_2, Text
from debrief.session.charts.start_overlay import TWO_STARTS
from debrief.session.charts.still_chart import StillChart
from debrief.session.evidence.deciding_samples import sample_decimals
from debrief.session.evidence.measure_tables import abort_rows, flight_rows, start_rows
from debrief.session.evidence.why import flight_whys, measure_why
from debrief.session.texts.in_units import in_units
from debrief.session.texts.plain_names import moment_of, not_judged_title
from debrief.words.channels import base_name, channel_words
from debrief.words.display_units import ShownUnits
from debrief.words.events import event_title, finding
from debrief.words.numbers import clock_text, number, plain
from tests.demo_assessing import DEMOS, assessed
from tests.report.page_checks import faults, struck

pytestmark = pytest.mark.usefixtures("qapp")
PRINTED = date(2031, 12, 1)
NUMBER = re.compile(r"\d[\d:.]*\d|\d")

FORMER_PAGES: dict[tuple[Reader, Paper], int] = {
    ("technician", "a4"): 116,
    ("technician", "letter"): 127,
    ("pilot", "a4"): 84,
    ("pilot", "letter"): 84,
    ("student", "a4"): 84,
    ("student", "letter"): 84,
}
"""Pages of the first nineteen demo flights together before the papers were set anew; they had no appendix then."""

SAID_ONCE = (
    ("the headline of a start", lambda a: [phrases.start_headline(start) for start in a.starts]),
    ("what an event says", lambda a: [event.message.rstrip(".") for event in a.events]),
    ("whether another start may be tried", lambda a: ["Do not attempt another start"]),
    ("the whole SHA-256 of the recording", lambda a: [a.recording.provenance.sha256]),
    ("that limits are not approved data", lambda a: ["not from approved data"]),
    ("what the signature is", lambda a: ["not a release to service"]),
)
"""What stood in two or three places before, and in one now: what, and its words."""


def lines_of(blocks: Iterable[Block]) -> Iterator[str]:
    """Return what blocks say, a row of a table or a paragraph each."""
    for block in blocks:
        match block:
            case Heading(text) | Paragraph(text):
                yield text
            case Notice():
                yield " ".join((block.text, *block.lines))
            case Pairs(rows):
                yield from (f"{label} {value}" for label, value in rows)
            case Table():
                yield from (" | ".join((*row.cells, row.detail)) for row in block.rows)
            case Blanks(rows):
                yield from (label for label, _ in rows)
            case Columns(inner):
                yield from lines_of(inner)
            case SideBySide(left, right):
                yield from lines_of((*left, *right))
            case LaneChart():
                yield " | ".join(mark.label for mark in block.marks)
            case Still():
                yield block.chart.title


@cache
def pages_of(path: Path, reader: Reader, paper: Paper) -> Pages:
    content = build(assessed(path), ReportOptions(reader=reader, paper=paper, printed_on=PRINTED))
    return paper_pages(content, PAPERS[paper])


@cache
def lines(path: Path) -> tuple[str, ...]:
    content = build(assessed(path), ReportOptions(printed_on=PRINTED))
    return tuple(line for section in content.sections for line in (section.title, *lines_of(section.blocks)))


def facts(assessment: Assessment) -> Iterator[tuple[str, str]]:
    """Return what a technician is told: label and value."""
    provenance = assessment.recording.provenance
    yield "SHA-256", provenance.sha256
    yield "Size", f"{provenance.byte_count} bytes"
    yield "Recorded", phrases.when(assessment)
    yield "Printed", PRINTED.isoformat()
    yield "Registration", assessment.recording.identity.aircraft or "not recorded"
    for event in assessment.events:
        title = event_title(event.kind)
        for value in (
            clock_text(moment_of(event)),
            phrases.event_value(event),
            phrases.event_limit(event),
            phrases.event_duration(event),
        ):
            yield title, value
        for level in event.levels:
            if event.severity in ("limit", "possible"):
                yield (
                    phrases.level_words(level.level, event.unit, level.allowed_s),
                    phrases.level_duration(level),
                )
                yield (
                    phrases.level_duration(level),
                    f"{clock_text(level.start_s)} to {clock_text(level.end_s)}",
                )
    for start in assessment.starts:
        for row in (*start_rows(start, assessment.profile), *abort_rows(start, assessment.profile)):
            yield row.title, row.value if row.known else row.alone
            yield row.title, row.profile if row.known else ""
        for name, proof in start.evidence.items():
            if proof.readings:
                why = measure_why(assessment, start, name)
                yield from ((why.title, what) for what, _ in why.samples)
                yield from ((what, sample) for what, samples in why.samples for sample in samples)
                yield from ((why.title, one) for words, _ in why.profile for one in NUMBER.findall(words))
    yield from ((row.title, row.value) for row in flight_rows(assessment.flight_measures) if row.known)
    for why in flight_whys(assessment):
        yield from ((what, sample) for what, samples in why.samples for sample in samples)
    for phase in assessment.phases:
        yield clock_text(phase.start_s), clock_text(phase.end_s - phase.start_s)
    for limit in assessment.limits:
        title = event_title(limit.event)
        yield title, phrases.level_distance(limit, phrases.is_minimum(assessment, limit))
        if limit.nearest_level is not None:
            yield title, plain(limit.nearest_level, limit.unit)
        yield title, phrases.time_left(limit)
    yield from ((not_judged_title(item), item.why) for item in assessment.not_judged)
    yield from ((channel_words(flag.channel), flag.message) for flag in assessment.quality)
    for name, channel in assessment.recording.channels.items():
        yield channel_words(name), str(channel.time_s.size)
        yield channel_words(name), phrases.rate_text(channel.interval_s)
    if assessment.profile is not None:
        yield assessment.profile.file_name, assessment.profile.sha256


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_every_number_stands_on_the_technicians_paper_with_its_label(path: Path) -> None:
    told = lines(path)
    lacking = {
        (label, value)
        for label, value in facts(assessed(path))
        if value and not any(label in line and value in line for line in told)
    }
    assert lacking == set()


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_raw_samples_are_all_there_with_the_time_of_the_first_of_each_row(path: Path) -> None:
    assessment = assessed(path)
    told = set(lines(path))
    for event in assessment.events:
        channel = assessment.recording.get(base_name(event.channel or ""), event.engine)
        if event.severity not in ("limit", "possible") or not event.levels or channel is None:
            continue
        inside = (channel.time_s >= event.start_s - 10.0) & (channel.time_s <= event.end_s + 10.0)
        values = [number(float(value), sample_decimals(channel)) for value in channel.values[inside]]
        rows = [
            line.split(" | ")
            for line in told
            if re.match(r"\d+ \| \d+:\d\d\.\d+ \| [\d.]+ \| [\d.]+ \|", line)
        ]
        begins = {row[1]: row[2:] for row in rows}
        in_file = Path(assessment.recording.provenance.path).read_text(encoding="utf-8").splitlines()
        for row in rows:  # an editor shows the first value of each line in the row that is named
            assert any(float(cell) == float(row[2]) for cell in numbers_of(in_file[int(row[0]) - 1]))
        times = [float(t) for t in channel.time_s[inside]]
        read: list[str] = []
        while len(read) < len(values):
            found = [clock_text(times[len(read)], places) for places in (1, 2, 3)]
            row = next(begins[text] for text in found if text in begins)
            read += [value for value in row if value]
        assert read == values
        assert np.unique(np.round(np.diff(times), 6)).size == 1  # an even clock: so its times are told


def numbers_of(line: str) -> list[str]:
    """Return the numbers of a row of a file, with decimal points."""
    decimal = "," if ";" in line else "."
    return re.findall(r"-?\d+(?:\.\d+)?", line.replace(decimal, "."))


def test_samples_stand_with_their_rows_of_the_file() -> None:
    """Looked up in the file itself, by its own line numbers."""
    path = next(one for one in DEMOS if one.stem.startswith("02"))
    in_file = path.read_text(encoding="utf-8").splitlines()
    (told,) = (line for line in lines(path) if line.startswith("Peak ITT |"))
    first, last = re.findall(r"\(rows (\d+) to (\d+)\)", told)[0]
    assert int(last) - int(first) == 2
    for row, value in zip(in_file[int(first) - 1 : int(last)], ("1175", "1179", "1177"), strict=True):
        assert value in numbers_of(row)


def test_a_neighbour_that_did_not_count_is_marked() -> None:
    """Demo 02: Ng read 12.2 after light-off; the highest that the starter alone reached is 11.9."""
    path = next(one for one in DEMOS if one.stem.startswith("02"))
    (told,) = (line for line in lines(path) if line.startswith("Highest motored Ng |"))
    assert "0:19.50 11.9, 0:19.62 12.2 % (outside)" in told
    counted = [
        reading for start in assessed(path).starts for reading in start.evidence["max_motoring_ng"].readings
    ]
    assert all(not one.counts(one.index[-1]) for one in counted)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_all_other_values_do_not_say_the_peak_again(path: Path) -> None:
    for event in assessed(path).events:
        if event.peak_s is not None and event.channel is not None:
            named = [line.split(" | ")[0] for line in lines_of(at_the_peak(assessed(path), event))]
            assert named
            assert channel_words(event.channel) not in named


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_what_was_said_in_several_places_is_said_in_one(path: Path) -> None:
    assessment, told = assessed(path), " ".join(lines(path))
    twice = [what for what, words in SAID_ONCE for one in set(words(assessment)) if told.count(one) > 1]
    assert twice == []


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_each_line_of_the_profile_that_the_paper_names_can_be_looked_up_on_it(path: Path) -> None:
    profile = assessed(path).profile
    assert profile is not None
    file = Path(profile.path).read_text(encoding="utf-8").splitlines()
    told = lines(path)
    last = build(assessed(path), ReportOptions(printed_on=PRINTED)).sections[-1]
    printed = {
        int(found[1]): found[2]
        for line in lines_of(last.blocks)
        if (found := re.fullmatch(r"(\d+) \| (.+) \| ", line)) is not None
    }
    assert {n: " ".join(line.split()) for n, line in enumerate(file, start=1) if line.strip()} == {
        n: " ".join(line.split()) for n, line in printed.items()
    }
    named = {
        int(n)
        for line in told
        for group in re.findall(r"\blines? ([\d, ]+)", line)
        for n in NUMBER.findall(group)
    }
    assert named
    assert named <= set(printed)


def body_of(pages: Pages) -> tuple[float, float]:
    """Return where the body of a page begins and ends, [mm]."""
    return MARGIN_TOP + 9.0, pages.height - MARGIN_BOTTOM - 11.0


@pytest.mark.parametrize(("reader", "share"), [("technician", 2 / 3), ("pilot", 0.77), ("student", 0.25)])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_papers_have_a_third_fewer_pages_without_the_appendix(
    reader: Reader, share: float, paper: Paper
) -> None:
    count = 0.0
    for path in DEMOS[:19]:
        pages = pages_of(path, reader, paper)
        appendix = [mark.page for mark in pages.bookmarks if mark.title == "Appendix"]
        assert len(appendix) == (reader == "technician")
        if appendix:
            assert len(pages.pages) - 3 <= appendix[0] < len(pages.pages)
            # It goes on where the page before it has room: what stands above it counts.
            page = pages.pages[appendix[0]]
            (title,) = (one for one in page if isinstance(one, Text) and one.text == "Appendix")
            top, bottom = body_of(pages)
            count += appendix[0] + max(title.y - top - 6.0, 0.0) / (bottom - top)
        else:
            count += len(pages.pages)
    # What is measured of taxi, loads, margin, shutdown and cycles is new since: three pages more in all.
    assert count <= share * FORMER_PAGES[reader, paper] + 3


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("reader", ["technician", "pilot"])
def test_no_page_but_the_last_is_half_empty(reader: Reader, paper: Paper) -> None:
    for path in DEMOS:
        pages = pages_of(path, reader, paper)
        top, bottom = body_of(pages)
        for nth, page in enumerate(pages.pages[:-1], start=1):
            lowest = max(one.y for one in page if isinstance(one, Text) and one.y < bottom)
            assert (lowest - top) / (bottom - top) > 0.5, (path.stem, nth)


@pytest.mark.parametrize("reader", get_args(Reader))
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_no_caption_is_cut(path: Path, reader: Reader) -> None:
    """The lines below a chart's title are all that the chart says of its signs."""
    content = build(assessed(path), ReportOptions(reader=reader, printed_on=PRINTED))
    pages = pages_of(path, reader, "a4")
    told = " ".join(shape.text for page in pages.pages for shape in page if isinstance(shape, Text))
    charts = [one for section in content.sections for one in stills_of(section.blocks)]
    for chart in charts:
        assert chart.problem or chart.title in told
        assert " ".join(chart.subtitle.split()) in told, chart.subtitle


def stills_of(blocks: Iterable[Block]) -> Iterator[StillChart]:
    for block in blocks:
        if isinstance(block, Still):
            yield block.chart
        elif isinstance(block, SideBySide):
            yield from stills_of((*block.left, *block.right))


@pytest.mark.parametrize("reader", ["technician", "pilot"])
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_last_sentence_below_a_heading_does_not_stand_alone_at_the_head_of_a_column(
    path: Path, reader: Reader
) -> None:
    for page in pages_of(path, reader, "a4").pages:
        texts = [one for one in page if isinstance(one, Text)]
        last = [
            one for one in texts if one.text == "approved data." or one.text.startswith("Every result here")
        ]
        for one in last:
            above = [o for o in texts if o.x == one.x and 0.0 < one.y - o.y < 9.0 and o.style == one.style]
            assert above, one.text


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("reader", ["technician", "pilot"])
def test_no_heading_stands_alone_at_the_foot_of_a_page_or_a_column(reader: Reader, paper: Paper) -> None:
    for path in DEMOS:
        pages = pages_of(path, reader, paper)
        for page in pages.pages:
            body = [one for one in page if isinstance(one, Text) and one.y < pages.height - 20.0]
            for heading in (one for one in body if one.style in (HEAD_1, HEAD_2)):
                below = [
                    one for one in body if 0.0 < one.y - heading.y < 30.0 and -1.0 < one.x - heading.x < 80.0
                ]
                assert any(one.style not in (HEAD_1, HEAD_2) for one in below), (path.stem, heading.text)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("compared", [False, True])
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_students_paper_is_one_page_with_a_start_its_chart_and_the_sha_at_the_foot(
    path: Path, compared: bool, paper: Paper
) -> None:
    assessment = assessed(path)
    options = ReportOptions(reader="student", paper=paper, printed_on=PRINTED)
    reference = other_recording(assessed(DEMOS[0])) if compared else None
    content = build(assessment, options, reference=reference)
    stills = [
        block.right[0].chart.title
        for section in content.sections
        for block in section.blocks
        if isinstance(block, SideBySide) and block.right and isinstance(block.right[0], Still)
    ]
    number = int(content.sections[0].title.partition(":")[0].removeprefix("Start").strip() or 1)
    start = next(start for start in assessment.starts if start.number == number)
    has_other = path != DEMOS[0] if compared else same_recording(assessment, start) is not None
    assert (TWO_STARTS in stills) == has_other
    pages = paper_pages(content, PAPERS[paper])
    assert faults(pages, screen_measurer()) == []
    assert struck(pages, screen_measurer()) == []
    (page,) = pages.pages
    texts = [shape for shape in page if isinstance(shape, Text)]
    assert pages.bookmarks[0].title.startswith("Start")
    foot = [shape for shape in texts if assessment.recording.provenance.sha256 in shape.text]
    assert len(foot) == 1
    assert foot[0].y > 0.8 * pages.height
    assert foot[0].style.size_pt < 7
    assert any(shape.text == "In plain words" for shape in texts)
    assert any(shape.text == "Signature" for shape in texts)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_title_of_a_start_never_contradicts_what_was_found_in_it(path: Path) -> None:
    """A start in which something was exceeded, or possibly, is not called completed: its title names the finding."""
    assessment = assessed(path)
    for start in assessment.starts:
        grave = [one for one in assessment.events_of(start) if finding(one).shown_as in ("limit", "possible")]
        title = start_heading(assessment, start)
        assert ("Completed" in title) == (start.outcome == "completed" and not grave)
        if grave:
            assert any(event_title(one.kind).lower() in title.lower() for one in grave)
        for reader in get_args(Reader):
            content = build(assessment, ReportOptions(reader=reader))
            titled = [section.title for section in content.sections]
            assert title in titled or reader == "student"


def table_under(path: Path, section: str, first: str) -> list[tuple[str, ...]]:
    """Return the rows of the technician's table in a section whose second column has this title."""
    content = build(assessed(path), ReportOptions(printed_on=PRINTED))
    blocks = next(one.blocks for one in content.sections if one.title == section)
    tables = (one for one in blocks if isinstance(one, Table) and one.columns[1].title == first)
    return [row.cells for table in tables for row in table.rows]


def test_a_rise_stands_beside_a_limit_that_is_a_rise() -> None:
    path = next(one for one in DEMOS if one.stem.startswith("19"))
    row = table_under(path, "Events", "event")[-1]
    assert row[4:6] == ("428 °C rise to 647 °C", "150 °C rise")
    event = assessed(path).events[-1]
    assert event.evidence is not None
    begun = event.evidence.values[event.evidence.times_s.index(event.start_s)]
    assert event.peak is not None
    assert event.rise == pytest.approx(event.peak - begun)
    warm = in_units(assessed(path), ShownUnits((("degC", "degF"),))).events[-1]
    assert phrases.event_value(warm) == "770 °F rise to 1197 °F"  # 428 °C x 1.8, 647 °C x 1.8 + 32
    assert phrases.event_limit(warm) == "270 °F rise"


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_time_beyond_a_level_that_is_never_allowed_is_not_called_too_long(path: Path) -> None:
    over = {
        row[0]: row[4]
        for row in table_under(path, "Data quality and what was not judged", "result")
        if row[1] == "Exceeded"
    }
    for limit in assessed(path).limits:
        if limit.result == "exceeded" and limit.event is not None:
            passed = [one for one in limit.levels if one.level == limit.nearest_level]
            never = any(one.allowed_s == 0 for one in passed)
            said = over[f"{event_title(limit.event)} ({limit.id})"]
            assert said == "never allowed" if never else said.endswith(" s too long")
