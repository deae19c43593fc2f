import json
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QObject, QPoint, Qt, QUrl, Slot
from PySide6.QtGui import QDesktopServices
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QLabel, QPushButton, QStyle, QStyleOptionComboBox

from debrief.gui.report.report_jobs import PaperChoice, save_steps
from debrief.report.content.options import PAPERS, ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.pdf.paint import page_image, paper_pages
from debrief.session.session import Session, prepare
from tests.demo_assessing import DEMOS, assessed
from tests.gui.contrast import contrast
from tests.gui.user import pixels
from tests.session import assessment_maker as made


@pytest.fixture
def report(desk, qtbot):
    """The report of a hot start, laid out and drawn."""
    desk.show(made.hot_start())
    qtbot.keyClick(desk.window, Qt.Key.Key_5, Qt.KeyboardModifier.ControlModifier)
    drawn(desk.window.report, qtbot)
    return desk.window.report


def drawn(report, qtbot):
    """Wait until the pages of the present choice are there, and those in view are sharp."""

    def ready():
        view = report.pages_view
        return (
            report.pages is not None and not report.jobs.is_running("pages") and view.page in view.sharp_pages
        )

    qtbot.waitUntil(ready, timeout=20_000)


def page_on_screen(desk):
    """Return left, top, width and height of the first page that is in view, [px], without the line around it."""
    view = desk.window.report.pages_view.viewport()
    page = pixels(view) != int(desk.theme.color("ground").name()[1:], 16)
    rows = np.flatnonzero(page[:, view.width() // 2])
    rows = rows[: np.argmax(np.diff(rows) > 1) + 1] if (np.diff(rows) > 1).any() else rows
    columns = np.flatnonzero(page[rows[-1] // 2])
    bottom = rows[-1] if rows[-1] < view.height() - 1 else view.height()
    return int(columns[0] + 1), int(rows[0] + 1), int(columns[-1] - columns[0] - 1), int(bottom - rows[0] - 1)


def test_keys_show_each_of_the_views(desk, qtbot):
    desk.show(made.hot_start())
    for key, name in ((2, "starts"), (3, "flight"), (4, "history"), (5, "report"), (1, "replay")):
        qtbot.keyClick(desk.window, Qt.Key(Qt.Key.Key_0 + key), Qt.KeyboardModifier.ControlModifier)
        assert desk.window.view == name


def test_the_preview_has_the_pages_of_the_paper(report):
    expected = paper_pages(build(made.hot_start(), ReportOptions()), PAPERS["a4"])
    assert len(report.pages.pages) == len(expected.pages) == report.pages_view.count
    assert report.pages.bookmarks == expected.bookmarks
    listed = [report.side.contents.item(row).text() for row in range(report.side.contents.count())]
    for mark in expected.bookmarks:
        assert f"{mark.page + 1}   {mark.title}" in listed
    assert {int(text.split()[0]) for text in listed} == set(range(1, len(expected.pages) + 1))


def test_a_drawn_page_is_that_page(desk, report):
    view = report.pages_view
    left, top, width, height = page_on_screen(desk)
    shown = pixels(view.viewport())[top : top + height, left : left + width]
    dpi = round(view.percent * view.logicalDpiX() / 100)
    pages = report.pages
    drawn = [pixels(page_image(one, (pages.width, pages.height), dpi)) for one in pages.pages[:2]]
    assert height > 400
    assert np.array_equal(shown, drawn[0][:height, :width])
    assert not np.array_equal(shown, drawn[1][:height, :width])


def test_nothing_is_laid_out_before_the_report_is_looked_at(desk):
    desk.show(made.hot_start())
    assert desk.window.report.pages is None
    assert desk.window.report.jobs.count == 0


@pytest.mark.parametrize(
    ("box", "value", "chosen"),
    [
        ("reader", "pilot", PaperChoice(reader="pilot")),
        ("reader", "student", PaperChoice(reader="student")),
        ("select", "start:1", PaperChoice(select="start:1")),
        ("select", "exceedances", PaperChoice(select="exceedances")),
        ("paper", "letter", PaperChoice(paper="letter")),
    ],
)
def test_each_choice_lays_the_paper_out_anew(report, qtbot, box, value, chosen):
    before = report.pages
    combo: QComboBox = getattr(report.side, box)
    combo.setCurrentIndex(combo.findData(value))
    assert report.side.choice == chosen
    drawn(report, qtbot)
    assert report.pages is not before
    from debrief.report.content.options import parse_select

    options = ReportOptions(parse_select(chosen.select), chosen.reader, chosen.paper)
    expected = paper_pages(build(made.hot_start(), options), PAPERS[chosen.paper])
    assert report.pages.bookmarks == expected.bookmarks
    assert (report.pages.width, report.pages.height) == PAPERS[chosen.paper]
    assert len(report.pages.pages) == len(expected.pages)


def test_a_students_start_is_compared_with_a_recording_that_is_asked_for(desk, report, qtbot):
    from debrief.report.shapes import Text
    from debrief.resources import resource

    other = str(resource("demo_flights") / "01_cool_normal_start.csv")
    side = report.side
    labels = {label.buddy(): label for label in side.findChildren(QLabel)}
    assert not side.reference.isVisible()  # what is not for this reader is not in the way
    assert not labels[side.reference].isVisible()
    side.reader.setCurrentIndex(side.reader.findData("student"))
    assert side.reference.isVisible()
    assert labels[side.reference].isVisible()
    desk.answers["recording"] = other
    desk.user.chooses("Another recording...", "What a student's start is compared with")
    assert report.side.choice == PaperChoice(reader="student", reference=other)
    assert side.reference.currentText() == "01_cool_normal_start.csv"
    drawn(report, qtbot)
    texts = [shape.text for page in report.pages.pages for shape in page if isinstance(shape, Text)]
    assert any("Reference: start 1 of 01_cool_normal_start.csv" in text for text in texts)
    side.reader.setCurrentIndex(side.reader.findData("pilot"))
    assert report.side.choice == PaperChoice(reader="pilot")
    drawn(report, qtbot)


def test_asking_for_no_recording_leaves_the_comparison_as_it_was(desk, report, qtbot):
    side = report.side
    side.reader.setCurrentIndex(side.reader.findData("student"))
    desk.user.chooses("Another recording...", "What a student's start is compared with")
    assert side.reference.currentText() == "No other start here"
    assert report.side.choice == PaperChoice(reader="student")
    drawn(report, qtbot)


BESIDE = "What a student's start is compared with"


def offered(desk):
    box = desk.user.find(BESIDE, QComboBox)
    return [box.itemText(index) for index in range(box.count())]


def test_another_start_here_is_offered_only_where_there_is_one(desk, report, qtbot):
    desk.user.chooses("Student", "Who reads the paper")
    assert offered(desk) == ["No other start here", "Another recording..."]
    desk.show(assessed(DEMOS[8]))  # a quick turnaround: two starts, one of them with nothing found
    user = desk.user
    user.presses("Ctrl+5")
    assert offered(desk) == ["Another start here", "Another recording..."]
    desk.show(made.hot_start())
    user.presses("Ctrl+5")
    assert offered(desk) == ["No other start here", "Another recording..."]
    drawn(report, qtbot)


def test_the_pair_chosen_in_two_starts_is_the_pair_on_the_students_paper(desk, qtbot):
    from debrief.report.shapes import Text

    path = DEMOS[10]  # three attempts, none of them without a finding
    session = Session(path, assessed(path), prepare(assessed(path)), clock=desk.clock)
    desk.window.replay.show(session)
    user = desk.user
    user.presses("Ctrl+2")
    user.clicks("Two starts")
    user.chooses("Start 3: completed", "The other start")
    user.presses("Ctrl+5")
    user.chooses("Student", "Who reads the paper")
    report = desk.window.report
    drawn(report, qtbot)
    assert user.find(BESIDE, QComboBox).currentText() == "Start 3 here"
    assert report.side.choice == PaperChoice("start:1", "student", reference=f"{path}:3")
    texts = " ".join(shape.text for page in report.pages.pages for shape in page if isinstance(shape, Text))
    assert "Reference: start 3 of 11_three_attempts_without_rest.csv" in texts
    assert "Start 1: " in texts
    desk.show(made.hot_start())  # a start "here" is none of another recording
    user.presses("Ctrl+5")
    assert offered(desk) == ["No other start here", "Another recording..."]
    drawn(report, qtbot)


class Programs(QObject):
    """Stands for the programs of the machine that open files."""

    def __init__(self):
        super().__init__()
        self.opened = []
        QDesktopServices.setUrlHandler("file", self, "take")

    @Slot(QUrl)
    def take(self, url):
        self.opened.append(Path(url.toLocalFile()))


@pytest.fixture
def programs():
    yield Programs()
    QDesktopServices.unsetUrlHandler("file")


@pytest.mark.parametrize("by_keys", [False, True])
def test_what_was_saved_can_be_opened_and_shown_in_its_folder(
    desk, report, qtbot, tmp_path, programs, by_keys
):
    target = tmp_path / "a paper #1.pdf"
    desk.answers["report"] = str(target)
    user = desk.user
    user.clicks("Save as PDF")
    user.waits_for(f"Report saved: {target}")
    if by_keys:
        for name in ("Open", "Show in folder"):
            for _ in range(60):
                if desk.window.focusWidget() is user.find(name):
                    break
                user.presses("Tab")
            user.presses("Space")
    else:
        user.clicks("Open")
        user.clicks("Show in folder")
    assert programs.opened == [target, tmp_path]
    desk.window.messages.tell("The disk is full.")
    assert not user.has("Open")
    assert not user.has("Show in folder")


def test_the_pages_have_the_keys_when_the_report_is_entered(desk, report, qtbot):
    assert desk.window.focusWidget() is report.pages_view
    desk.user.presses("PgDown")
    assert report.pages_view.page == 1
    desk.user.presses("Ctrl+1")
    desk.user.presses("Ctrl+5")
    assert desk.window.focusWidget() is report.pages_view
    drawn(report, qtbot)


def test_a_students_paper_is_not_offered_as_everything(desk, report, qtbot):
    what = desk.user.find("What goes on the paper", QComboBox)
    for reader, words in (("Student", "The start that matters"), ("Pilot", "Everything")):
        desk.user.chooses(reader, "Who reads the paper")
        assert what.itemText(0) == words
        desk.show(made.hot_start())
        desk.user.presses("Ctrl+5")
        assert what.itemText(0) == words
    drawn(report, qtbot)


def test_what_a_drop_down_offers_is_not_cut(desk, report, qtbot):
    desk.user.chooses("Student", "Who reads the paper")
    drawn(report, qtbot)
    for box in (box for box in report.side.findChildren(QComboBox) if box.isVisible()):
        option = QStyleOptionComboBox()
        box.initStyleOption(option)
        part = QStyle.SubControl.SC_ComboBoxEditField
        room = box.style().subControlRect(QStyle.ComplexControl.CC_ComboBox, option, part, box).width()
        for index in range(box.count()):
            if not box.itemText(index).startswith(
                "Start "
            ):  # how a start ended may take more room than a window has
                assert box.fontMetrics().horizontalAdvance(box.itemText(index)) <= room, box.itemText(index)


@pytest.mark.parametrize("theme", ["light", "dark", "contrast"])
def test_each_drop_down_has_a_frame_that_is_seen(desk, report, qtbot, theme):
    """WCAG 2.2, 1.4.11 (from memory): the edge of a control has a contrast of 3 to 1 to what lies beside it."""
    desk.user.chooses("Student", "Who reads the paper")
    desk.theme.choose(theme)
    drawn(report, qtbot)
    for box in (box for box in report.side.findChildren(QComboBox) if box.isVisible()):
        picture = box.grab().toImage()
        middle = picture.height() // 2
        edge = picture.pixelColor(0, middle).name()
        for beside in (picture.pixelColor(4, middle).name(), desk.theme.color("panel").name()):
            assert contrast(edge, beside) >= 3.0, box.accessibleName()


@pytest.mark.parametrize(
    ("number", "words"), [(28, "the disk is full"), (13, "read-only"), (30, "read-only")]
)
def test_a_disk_that_is_full_or_read_only_is_told_and_the_old_file_stays(
    desk, report, qtbot, tmp_path, monkeypatch, number, words
):
    from debrief.output import door

    target = tmp_path / "paper.pdf"
    desk.answers["report"] = str(target)
    report.side.buttons["pdf"].click()
    qtbot.waitUntil(lambda: "saved" in desk.window.messages.words, timeout=20_000)
    old = target.read_bytes()

    def fail(*arguments, **options):
        raise OSError(number, "made to fail")

    monkeypatch.setattr(door.os, "fsync", fail)
    report.side.buttons["pdf"].click()
    qtbot.waitUntil(lambda: words in desk.window.messages.words, timeout=20_000)
    assert target.read_bytes() == old
    assert [path.name for path in tmp_path.iterdir()] == ["paper.pdf"]
    assert desk.window.progress.words == ""


@pytest.mark.parametrize("button", ["pdf", "csv", "json"])
def test_what_is_no_such_file_is_not_replaced_and_the_window_says_so_and_goes_on(
    desk, report, qtbot, tmp_path, button
):
    history = tmp_path / "fleet.sqlite"
    history.write_bytes(b"SQLite format 3\x00" + bytes(84))
    desk.answers["report"] = str(history)
    report.side.buttons[button].click()
    qtbot.waitUntil(lambda: "It stays as it is" in desk.window.messages.words, timeout=20_000)
    assert "a database, such as a history" in desk.window.messages.words
    assert history.read_bytes().startswith(b"SQLite format 3")
    desk.answers["report"] = str(tmp_path / f"new.{button}")
    report.side.buttons[button].click()
    qtbot.waitUntil(lambda: "saved" in desk.window.messages.words, timeout=20_000)


def test_choosing_a_page_shows_it_and_scrolling_marks_it(report, qtbot):
    row = next(
        r for r in range(report.side.contents.count()) if report.side.contents.item(r).text().startswith("2 ")
    )
    rect = report.side.contents.visualItemRect(report.side.contents.item(row))
    QTest.mouseClick(report.side.contents.viewport(), Qt.MouseButton.LeftButton, pos=rect.center())
    assert report.pages_view.page == 1
    assert "Page 2 of" in report.pages_view.accessibleDescription()
    report.pages_view.setFocus()
    qtbot.keyClick(report.pages_view, Qt.Key.Key_Home)
    assert report.pages_view.page == 0
    assert report.side.contents.currentItem().text().startswith("1 ")
    qtbot.keyClick(report.pages_view, Qt.Key.Key_PageDown)
    assert report.pages_view.page == 1
    drawn(report, qtbot)


def test_the_words_of_a_page_are_there_for_a_screen_reader(report):
    assert "Engine debrief" in report.pages_view.accessibleDescription()


def test_fitting_and_zooming(desk, report, qtbot):
    view = report.pages_view
    view.fit_width()
    wide = view.percent
    assert 0.8 * view.viewport().width() < page_on_screen(desk)[2] <= view.viewport().width()
    view.fit_page()
    assert view.percent < wide
    _, top, _, height = page_on_screen(desk)
    assert 0.8 * view.viewport().height() < top + height < view.viewport().height()
    qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert view.fit == "free"
    larger = view.percent
    qtbot.keyClick(view, Qt.Key.Key_Minus)
    assert view.percent < larger
    drawn(report, qtbot)


def test_the_width_is_fitted_again_when_the_window_changes(desk, report, qtbot):
    view, window = report.pages_view, desk.window

    def at(width):
        window.resize(width, window.height())
        qtbot.waitUntil(lambda: window.width() == width)
        drawn(report, qtbot)
        return page_on_screen(desk)[2] / view.viewport().width()

    assert at(2400) < 0.8  # until one chooses, not as wide as a very wide view
    assert view.fit == "free"
    assert at(1280) > 0.85
    assert view.fit == "width"
    assert at(2400) < 0.8
    view.fit_width()
    assert at(1700) > 0.85
    assert at(1280) > 0.85
    assert view.fit == "width"


@pytest.mark.parametrize("ending", ["pdf", "csv", "json", "png", "svg"])
def test_every_format_is_saved_in_the_background(desk, report, qtbot, tmp_path, ending):
    target = tmp_path / f"paper.{ending}"
    desk.answers["report"] = str(target)
    button: QPushButton = report.side.buttons[ending]
    button.click()
    qtbot.waitUntil(lambda: str(target) in desk.window.messages.words, timeout=20_000)
    data = target.read_bytes()
    begins = {"pdf": b"%PDF", "csv": b"\xef\xbb\xbf", "json": b"{", "png": b"\x89PNG", "svg": b"<?xml"}
    assert data.startswith(begins[ending])
    if ending == "json":
        assert json.loads(data)["verdict"] == "exceeded"


def test_the_saved_paper_is_the_chosen_one(desk, report, qtbot, tmp_path):
    pypdf = pytest.importorskip("pypdf")
    report.side.reader.setCurrentIndex(report.side.reader.findData("student"))
    report.side.paper.setCurrentIndex(report.side.paper.findData("letter"))
    drawn(report, qtbot)
    target = tmp_path / "paper.pdf"
    desk.answers["report"] = str(target)
    report.side.buttons["pdf"].click()
    qtbot.waitUntil(lambda: "Report saved" in desk.window.messages.words, timeout=20_000)
    reader = pypdf.PdfReader(target)
    assert len(reader.pages) == len(report.pages.pages)
    assert float(reader.pages[0].mediabox.width) == pytest.approx(612, abs=1)
    assert "for the student" in reader.pages[0].extract_text()


def test_the_recording_is_never_replaced(desk, report, qtbot, tmp_path):
    session = desk.window.replay.session
    file = tmp_path / "flight.csv"
    file.write_text("time,itt\n0,1\n", encoding="utf-8")
    session.path = file
    desk.answers["report"] = str(file)
    report.side.buttons["csv"].click()
    qtbot.waitUntil(lambda: "is the recording itself" in desk.window.messages.words, timeout=20_000)
    assert file.read_text(encoding="utf-8") == "time,itt\n0,1\n"


def test_a_folder_that_is_not_there_is_told_and_the_window_goes_on(desk, report, qtbot, tmp_path):
    desk.answers["report"] = str(tmp_path / "missing" / "paper.pdf")
    report.side.buttons["pdf"].click()
    qtbot.waitUntil(lambda: "there is no folder" in desk.window.messages.words, timeout=20_000)
    assert desk.window.progress.words == ""
    assert report.pages is not None


def test_printing_paints_the_chosen_paper(desk, report, qtbot, tmp_path):
    pypdf = pytest.importorskip("pypdf")
    target = tmp_path / "printed.pdf"

    def to_file(printer):
        from PySide6.QtPrintSupport import QPrinter

        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(target))

    desk.answers["printer"] = to_file
    report.side.buttons["print"].click()
    qtbot.waitUntil(lambda: "Printed" in desk.window.messages.words, timeout=20_000)
    reader = pypdf.PdfReader(target)
    assert len(reader.pages) == len(report.pages.pages)
    assert "Engine debrief" in " ".join(reader.pages[0].extract_text().split())
    assert float(reader.pages[0].mediabox.width) == pytest.approx(595, abs=2)


def test_printing_a_range_prints_those_pages_only(desk, report, qtbot, tmp_path):
    pypdf = pytest.importorskip("pypdf")
    target = tmp_path / "printed.pdf"

    def second_page(printer):
        from PySide6.QtPrintSupport import QPrinter

        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(target))
        printer.setPrintRange(QPrinter.PrintRange.PageRange)
        printer.setFromTo(2, 2)

    desk.answers["printer"] = second_page
    report.side.buttons["print"].click()
    qtbot.waitUntil(lambda: "Printed 1 page" in desk.window.messages.words, timeout=20_000)
    reader = pypdf.PdfReader(target)
    assert len(reader.pages) == 1
    assert "page 2 of" in " ".join(reader.pages[0].extract_text().split())


def test_another_recording_gets_its_own_pages(desk, report, qtbot):
    before = report.pages
    desk.show(made.many_events())
    desk.window.views.show_report()
    qtbot.waitUntil(lambda: report.pages is not None and report.pages is not before, timeout=20_000)
    drawn(report, qtbot)
    starts = len(desk.window.replay.session.assessment.starts)
    assert report.side.select.count() == 2 + starts


def test_closing_the_recording_takes_the_pages_away(desk, report):
    desk.window.close_recording()
    assert report.pages is None
    assert report.pages_view.count == 0
    assert not any(button.isEnabled() for button in report.side.buttons.values())


def test_every_control_has_a_name_and_can_be_reached_by_keys(report):
    for box in (report.side.reader, report.side.select, report.side.paper, report.side.history):
        assert box.accessibleName()
        assert box.focusPolicy() & Qt.FocusPolicy.TabFocus
    for button in report.findChildren(QPushButton):
        assert button.accessibleName() or button.text()
        assert button.focusPolicy() & Qt.FocusPolicy.TabFocus
    assert report.pages_view.accessibleName()
    assert report.side.contents.accessibleName()


def test_the_wheel_with_ctrl_zooms(report, qtbot):
    from PySide6.QtCore import QPointF
    from PySide6.QtGui import QWheelEvent
    from PySide6.QtWidgets import QApplication

    view = report.pages_view
    before = view.percent
    centre = QPointF(view.viewport().rect().center())
    wheel = QWheelEvent(
        centre,
        view.viewport().mapToGlobal(centre),
        QPoint(),
        QPoint(0, 120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.ControlModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view.viewport(), wheel)
    assert view.percent > before
    drawn(report, qtbot)


def test_a_message_pushes_nothing_out_of_a_small_window(desk, report):
    from PySide6.QtWidgets import QApplication

    desk.window.messages.tell("Report saved: paper.pdf", problem=False)
    QApplication.processEvents()
    bottom = report.side.buttons["print"].mapTo(desk.window, report.side.buttons["print"].rect().bottomLeft())
    assert bottom.y() < desk.window.height() == 720


def test_saving_the_paper_tells_how_far_it_is_and_ends_between_its_pages(tmp_path):
    """One step for the whole paper of a long flight would take longer than a person waits for Cancel."""
    assessment = made.many_events(40)
    session = Session(Path("made.csv"), assessment, prepare(assessment))
    target = tmp_path / "paper.pdf"
    shares = [
        one.fraction for one in save_steps(session, PaperChoice(), "pdf", target) if one.fraction is not None
    ]
    assert target.is_file()
    assert shares == sorted(shares)
    assert len(shares) >= 5
    target.unlink()
    stopped = save_steps(session, PaperChoice(), "pdf", target)
    for _ in range(4):
        next(stopped)
    stopped.close()
    assert not list(tmp_path.iterdir())
