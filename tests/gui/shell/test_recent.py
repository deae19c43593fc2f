"""What was open before, where files are asked for, and the whole screen."""

from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from debrief.gui.style.settings import Settings
from debrief.session.recent_files import (
    MOST_RECENT,
    RecentFile,
    recent_from,
    recent_text,
    with_newest,
)
from debrief.words.events import FINDINGS, VERDICTS, headline, headline_key, headline_of
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import User, entries, entry_of, plain, until
from tests.session import assessment_maker as made


def opens(desk, path: Path) -> None:
    path.write_text("x")
    desk.window.open_path(path)
    until(lambda: (session := desk.window.replay.session) is not None and session.path == path)


def recent(desk) -> list[str]:
    return [text for text in entries(desk.user.menu("File", "Recent").menu()) if text != "Clear the list"]


def test_the_menu_has_name_day_and_verdict_the_newest_first(desk, tmp_path):
    assert not desk.user.menu("File", "Recent").isEnabled()
    desk.assessments["b.csv"] = made.without_profile()
    for name in ("a.csv", "b.csv"):
        opens(desk, tmp_path / name)
    day = desk.window.replay.session.recording.identity.start
    words = "no date" if day is None else f"{day.day} {day:%b %Y}"
    assert recent(desk) == [f"1  b.csv · {words} · Cannot be told", f"2  a.csv · {words} · Exceeded"]
    desk.user.takes("File", "Recent", recent(desk)[1])
    until(lambda: desk.window.replay.session.path.name == "a.csv")
    assert recent(desk)[0].startswith("1  a.csv")


def test_a_flight_stands_there_with_its_day_and_the_word_of_the_banner(desk, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("made.csv").write_text("x")
    session = desk.show(assessed(DEMOS[1]))
    desk.window.recent.add(session)
    (text,) = recent(desk)
    began = datetime.fromisoformat(str(session.recording.identity.start))
    spec = headline(session.assessment.verdict, session.assessment.events)
    assert text == f"1  made.csv · {began.day} {began:%b %Y} · {spec.title}"


def test_the_start_page_shows_the_same_list_and_opens_from_it(desk, tmp_path):
    opens(desk, tmp_path / "a.csv")
    desk.window.close_recording()
    (entry,) = [text.removeprefix("1  ") for text in recent(desk)]
    start = desk.user.part("Start page")
    assert start.sees("Recent")
    start.clicks(entry)
    until(lambda: desk.window.replay.session is not None)


def test_a_missing_file_is_said_and_can_be_removed(desk, tmp_path):
    for name in ("a.csv", "b.csv"):
        opens(desk, tmp_path / name)
    (tmp_path / "a.csv").unlink()
    (gone,) = [text for text in recent(desk) if "a.csv" in text]
    assert gone.endswith("· not found")
    desk.user.takes("File", "Recent", gone)
    assert desk.user.sees(f"a.csv is not in {tmp_path} any more.")
    assert desk.window.replay.session.path.name == "b.csv"
    desk.user.clicks("Remove it from Recent")
    assert [text for text in recent(desk) if "a.csv" in text] == []
    assert len(recent(desk)) == 1


def test_the_list_is_cleared_and_the_files_stay(desk, tmp_path):
    opens(desk, tmp_path / "a.csv")
    entry_of(desk.window.menuBar(), "File", "Recent", "Clear the list").trigger()
    assert Settings().recent == ()
    assert (tmp_path / "a.csv").exists()
    desk.window.close_recording()
    assert not User(desk.window.start_page).has("Recent")


def test_a_list_holds_each_file_once_and_no_more_than_its_most():
    files: tuple[RecentFile, ...] = ()
    for number in [*range(MOST_RECENT + 5), 10]:
        files = with_newest(files, RecentFile(f"/x/{number}.csv"))
    assert len(files) == MOST_RECENT
    assert files[0].name == "10.csv"
    assert len({one.path for one in files}) == MOST_RECENT


@pytest.mark.parametrize("text", ["", "{}", "[1]", '[{"path": 3}]', '[{"path": "/a", "day": null}]', "[["])
def test_what_was_not_written_so_is_left_out(text):
    assert recent_from(text) == ()


def test_what_was_kept_is_read_as_it_was():
    files = (RecentFile("/a/ü&\n.csv", "2031-05-04", "exceeded"), RecentFile("/b.csv"))
    assert recent_from(recent_text(files)) == files


def test_the_key_of_a_verdict_leads_to_its_word():
    for key, spec in {**VERDICTS, **FINDINGS}.items():
        assert headline_of(key) is spec
    for assessment in (made.hot_start(), made.without_profile(), made.many_events()):
        told = assessment.verdict, assessment.events
        assert headline_of(headline_key(*told)) is headline(*told)
    assert headline_of("") is None


# --- several at once ----------------------------------------------------------------------------------


def test_two_files_of_the_dialog_are_compared_as_two_that_are_dropped(desk, tmp_path):
    files = [str(tmp_path / name) for name in ("a.csv", "b.csv")]
    desk.answers["files"] = files
    asked = []
    desk.window.comparing.open_both = lambda *paths: asked.append(paths)
    desk.user.presses("Ctrl+O")
    assert asked == [tuple(files)]


def test_of_three_files_the_first_is_opened_and_the_others_are_offered_to_the_history(desk, tmp_path):
    files = [str(tmp_path / name) for name in ("a.csv", "b.csv", "c.csv")]
    desk.answers["files"] = files
    kept = []
    desk.window.history.add = kept.append
    desk.window.requests.keep_wanted.connect(kept.append)
    desk.user.presses("Ctrl+O")
    assert desk.user.sees("Opened a.csv; 2 others ignored.")
    assert desk.opened().path.name == "a.csv"
    desk.user.clicks("Add the others to the history")
    assert kept[0] == files[1:]
    assert not desk.user.has("Add the others to the history")


# --- folders ------------------------------------------------------------------------------------------


def test_each_kind_of_file_is_asked_for_where_it_was_last(desk, tmp_path):
    recordings, reports = tmp_path / "recordings", tmp_path / "reports"
    for folder in (recordings, reports):
        folder.mkdir()
    asked: dict[str, str] = {}

    def answer(kind, path):
        def said(suggested):
            asked[kind] = suggested
            return path

        return said

    opens(desk, recordings / "a.csv")
    desk.answers["files"] = answer("files", [])
    desk.answers["report"] = answer("report", str(reports / "one.pdf"))
    desk.user.presses("Ctrl+O")
    assert asked["files"] == str(recordings)
    desk.user.presses("Ctrl+S")
    assert asked["report"] == str(recordings / "a.pdf")
    until(lambda: (reports / "one.pdf").exists() or desk.window.messages.words != "", 20.0)
    desk.user.presses("Ctrl+S")
    assert asked["report"] == str(reports / "a.pdf")
    until(lambda: not desk.window.report.jobs.is_running("save"), 20.0)
    # The folder of another kind did not follow.
    desk.user.presses("Ctrl+O")
    assert asked["files"] == str(recordings)
    for file in reports.iterdir():
        file.unlink()
    reports.rmdir()
    desk.answers["report"] = answer("report", "")
    desk.user.presses("Ctrl+S")
    assert asked["report"] == str(recordings / "a.pdf")


# --- the whole screen ---------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["Ctrl+F11", "Alt+Return"])
def test_full_screen_has_its_own_key_and_escape_leaves_it_alone(desk, key):
    desk.show(made.hot_start())
    entry = desk.user.menu("View", "Full screen")
    desk.user.presses(key)
    assert desk.window.isFullScreen()
    assert entry.isChecked()
    assert desk.window.menuBar().isVisible()
    desk.user.presses("Esc")
    assert desk.window.isFullScreen()
    desk.user.presses(key)
    assert not desk.window.isFullScreen()
    assert not entry.isChecked()


def test_a_presentation_in_full_screen_ends_in_full_screen(desk):
    desk.show(made.hot_start())
    desk.user.presses("Ctrl+F11")
    desk.user.presses("F11")
    assert not desk.window.menuBar().isVisible()
    desk.user.presses("Ctrl+F11")  # not now
    assert desk.window.isFullScreen()
    desk.user.presses("Esc")
    assert desk.window.menuBar().isVisible()
    assert desk.window.windowState() & Qt.WindowState.WindowFullScreen
    assert plain(desk.user.menu("View", "Full screen").text()) == "Full screen"
    assert desk.user.menu("View", "Full screen").isChecked()
