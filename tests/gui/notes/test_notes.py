"""Notes in the window: written, changed, removed, undone, all by keyboard, and kept whatever happens."""

from dataclasses import replace
from hashlib import sha256

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.gui.notes.note_dialog import NoteDialog
from debrief.history.model import Note
from debrief.history.service.history_service import keep
from debrief.history.service.notes import own_notes, write_own_note
from debrief.history.storage.store import Store
from tests.gui.user import busy, until, words_painted
from tests.session import assessment_maker as made

SHA = sha256(b"a flight").hexdigest()
CTRL = Qt.KeyboardModifier.ControlModifier


def flight(name=b"a flight"):
    assessment = made.hot_start()
    provenance = replace(assessment.recording.provenance, sha256=sha256(name).hexdigest())
    return replace(assessment, recording=replace(assessment.recording, provenance=provenance))


@pytest.fixture
def notes(desk, debrief_home, qtbot):
    desk.show(flight())
    qtbot.waitUntil(lambda: desk.window.notebook.is_read, timeout=10_000)
    return desk.window.notes


def dialog_of(window):
    QApplication.processEvents()
    return next(d for d in window.findChildren(NoteDialog) if d.isVisible())


def press_new(desk, qtbot):
    desk.window.activateWindow()
    qtbot.waitUntil(desk.window.isActiveWindow)
    qtbot.keyClick(desk.window, Qt.Key.Key_N, CTRL)


def write(desk, qtbot, text, author="", pin=0):
    press_new(desk, qtbot)
    dialog = dialog_of(desk.window)
    QTest.keyClicks(dialog.text, text)
    dialog.author.setText(author)
    dialog.pin.setCurrentIndex(pin)
    qtbot.keyClick(dialog.text, Qt.Key.Key_Return, CTRL)
    qtbot.waitUntil(lambda: desk.window.notebook.is_kept)


def test_a_note_is_written_by_keyboard_alone_at_the_playhead(desk, notes, qtbot):
    desk.window.replay.seek(40.0)
    write(desk, qtbot, "Hand moved late", "J. Larkin")
    (kept,) = own_notes(SHA)
    assert (kept.text, kept.author, kept.time_s) == ("Hand moved late", "J. Larkin", 40.0)
    assert notes.list.item(0).text() == "1  0:40.0: Hand moved late (J. Larkin)"
    assert desk.user.part("Notes").has("Notes (1)")


def test_a_note_inside_a_finding_is_pinned_to_it(desk, notes, qtbot):
    event = next(s.event for s in desk.window.replay.session.story if s.event and s.event.kind == "hot_start")
    desk.window.replay.seek((event.start_s + event.end_s) / 2)
    write(desk, qtbot, "Too hot")
    (kept,) = own_notes(SHA)
    assert kept.event_kind == "hot_start"
    assert kept.time_s == pytest.approx(event.start_s)
    assert "hot start" in notes.list.item(0).text()


def test_the_author_is_remembered(desk, notes, qtbot):
    write(desk, qtbot, "one", "J. Larkin")
    press_new(desk, qtbot)
    dialog = dialog_of(desk.window)
    assert dialog.author.text() == "J. Larkin"
    dialog.reject()


def test_an_empty_note_cannot_be_kept_and_escape_changes_nothing(desk, notes, qtbot):
    qtbot.keyClick(desk.window, Qt.Key.Key_N, CTRL)
    dialog = dialog_of(desk.window)
    assert not dialog.keep_button.isEnabled()
    QTest.keyClicks(dialog.text, "half a thou")
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert desk.window.notebook.notes == ()
    assert not dialog.isVisible()


def test_undo_and_redo_go_through_adding_changing_and_removing(desk, notes, qtbot):
    window, book = desk.window, desk.window.notebook
    write(desk, qtbot, "first")
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    qtbot.keyClick(window, Qt.Key.Key_N, CTRL | Qt.KeyboardModifier.ShiftModifier)
    assert notes.list.hasFocus()
    qtbot.keyClick(notes.list, Qt.Key.Key_F2)
    dialog = dialog_of(window)
    dialog.text.setPlainText("second")
    qtbot.keyClick(dialog.text, Qt.Key.Key_Return, CTRL)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    notes.list.setCurrentRow(0)
    qtbot.keyClick(notes.list, Qt.Key.Key_Delete)
    assert book.notes == ()

    def state():
        qtbot.waitUntil(lambda: book.is_kept)
        shown, kept = [n.text for n in book.notes], [n.text for n in own_notes(SHA)]
        assert shown == kept
        return shown

    assert state() == []
    seen = []
    for _ in range(3):
        qtbot.keyClick(window, Qt.Key.Key_Z, CTRL)
        seen.append(state())
    assert seen == [["second"], ["first"], []]
    for _ in range(2):
        qtbot.keyClick(window, Qt.Key.Key_Y, CTRL)
    assert state() == ["second"]
    assert desk.user.menu("Notes", "Undo: change a note").isEnabled()


def test_many_changes_in_a_row_end_as_the_last_one(desk, notes, qtbot):
    book = desk.window.notebook
    book.add("0", "", 1.0)
    for i in range(1, 25):
        book.change(book.notes[0], str(i), "", 1.0)
    qtbot.waitUntil(lambda: book.is_kept, timeout=20_000)
    assert [n.text for n in own_notes(SHA)] == ["24"]


def test_closing_the_window_at_once_keeps_what_was_just_written(desk, notes):
    for i in range(6):
        desk.window.notebook.add(str(i), "", float(i))
    desk.window.close()
    assert [n.text for n in own_notes(SHA)] == [str(i) for i in range(6)]


def test_a_click_or_enter_goes_to_the_time_of_the_note(desk, notes, qtbot):
    desk.window.notebook.add("there", "", 33.0)
    desk.window.replay.seek(5.0)
    notes.list.setFocus()
    notes.list.setCurrentRow(0)
    qtbot.keyClick(notes.list, Qt.Key.Key_Return)
    assert desk.window.replay.position_s == 33.0


def test_lanes_and_timeline_mark_the_note_with_its_number(desk, notes, qtbot):
    window = desk.window
    before = window.timeline.grab().toImage()
    window.notebook.add("whole", "", None)
    desk.user.presses("A")
    with words_painted() as words:
        window.notebook.add("there", "", 80.0)
        until(lambda: not busy(window))
        window.lanes.grab()
    # The note on the whole flight has no place in the lanes.
    (mark, *again) = [one for one in words if one.text.startswith("note")]
    assert {one.text for one in (mark, *again)} == {"note 2"}
    assert abs(mark.rect.left() - window.lanes.x_of(80.0)) < desk.theme.px(20)
    x = window.timeline.x_of(80.0)
    after = window.timeline.grab().toImage()
    box = [(int(x) + dx, desk.theme.px(7) + dy) for dx in range(-4, 5) for dy in range(-5, 6)]
    assert any(before.pixel(*p) != after.pixel(*p) for p in box)
    assert notes.list.item(1).text().startswith("2  1:20.0: there")


def test_notes_come_back_with_their_recording_and_stay_out_of_another(desk, notes, qtbot):
    book = desk.window.notebook
    book.add("mine", "", 3.0)
    qtbot.waitUntil(lambda: book.is_kept)
    desk.show(flight(b"another"))
    assert book.notes == ()
    assert not book.undo_stack.canUndo()
    desk.show(flight())
    qtbot.waitUntil(lambda: [n.text for n in book.notes] == ["mine"])


def test_a_note_changed_by_another_desk_meanwhile_is_told_and_both_are_kept(desk, notes, qtbot):
    book = desk.window.notebook
    keep(flight())
    book.add("as read", "", 3.0)
    qtbot.waitUntil(lambda: book.is_kept)
    (read,) = own_notes(SHA)
    write_own_note(replace(read, text="of the other desk"), read.version)
    book.change(book.notes[0], "of this desk", "", 3.0)
    qtbot.waitUntil(lambda: "yours is kept beside it" in desk.window.messages.words, timeout=10_000)
    qtbot.waitUntil(lambda: {n.text for n in book.notes} == {"of the other desk", "of this desk"})


def test_the_history_has_the_notes_once_the_flight_is_kept(desk, notes, qtbot):
    desk.window.notebook.add("before it was kept", "", 3.0)
    qtbot.waitUntil(lambda: desk.window.notebook.is_kept)
    keep(flight())
    with Store.open() as store:
        assert [n.text for n in store.notes(SHA)] == ["before it was kept"]


def test_a_history_that_cannot_be_read_is_told_and_the_waiting_notes_are_shown(desk, debrief_home, qtbot):
    write_own_note(Note("", SHA, "waits", time_s=2.0))
    (debrief_home / "history.sqlite").write_text("words, no database" * 30, encoding="utf-8")
    desk.show(flight())
    qtbot.waitUntil(lambda: "is not a history database" in desk.window.messages.words, timeout=10_000)
    assert [n.text for n in desk.window.notebook.notes] == ["waits"]
    desk.window.notebook.add("and one more", "", 4.0)
    qtbot.waitUntil(lambda: "kept beside the settings" in desk.window.messages.words, timeout=10_000)


def test_the_paper_in_the_window_has_the_notes(desk, notes, qtbot):
    desk.window.notebook.add("Printed words", "J. Larkin", 24.0)
    qtbot.waitUntil(lambda: desk.window.notebook.is_kept)
    desk.window.views.show_report()
    view = desk.window.report
    qtbot.waitUntil(lambda: view.pages is not None, timeout=60_000)

    def words():
        from debrief.report.shapes import Text

        return " ".join(s.text for page in view.pages.pages for s in page if isinstance(s, Text))

    assert "Printed words" in words()
    assert "0:24.0" in words()
    desk.window.notebook.add("Later words", "", 25.0)
    qtbot.waitUntil(lambda: "Later words" in words(), timeout=60_000)


def test_any_script_can_be_typed_and_read_back(desk, notes, qtbot):
    text = "温度が高い\nבדיקה חוזרת\nمراجعة"
    desk.window.notebook.add(text, "", 3.0)
    qtbot.waitUntil(lambda: desk.window.notebook.is_kept)
    assert [n.text for n in own_notes(SHA)] == [text]


@pytest.mark.parametrize("size", [(1024, 700), (1280, 720)])
def test_twenty_long_notes_leave_room_for_the_story(desk, notes, size):
    for i in range(20):
        desk.window.notebook.add("A long note that goes on and on. " * 5, "An instructor", float(i))
    desk.window.resize(*size)
    QApplication.processEvents()
    assert desk.window.story.height() >= 250
    assert notes.geometry().bottom() <= notes.parentWidget().height()
    assert notes.list.horizontalScrollBar().maximum() == 0


def test_a_note_of_several_lines_is_read_whole_where_it_stands_alone(desk, notes):
    text = (
        "The hand went to the lever only when the tone sounded; told at the debriefing, and to be repeated."
    )
    desk.window.notebook.add(text, "An instructor", 24.0)
    QApplication.processEvents()
    assert notes.list.verticalScrollBar().maximum() == 0
    assert notes.list.height() >= 3 * notes.list.fontMetrics().height()


def test_a_note_pinned_to_a_finding_does_not_hide_its_mark_in_the_timeline(desk, notes):
    window = desk.window
    step = next(s for s in window.replay.session.story if s.is_finding)
    timeline = window.timeline
    x, y = timeline.x_of(step.time_s), desk.theme.px(7)
    box = [(round(x) + dx, y + dy) for dx in range(-4, 5) for dy in range(-4, 5)]
    before = timeline.grab().toImage()
    window.notebook.add("here", "", step.time_s, step.event.kind)
    QApplication.processEvents()
    after = timeline.grab().toImage()
    assert all(before.pixel(*p) == after.pixel(*p) for p in box)
    assert before != after


def test_a_note_that_is_added_while_the_others_are_being_read_stays(desk, debrief_home, qtbot):
    keep(flight())
    write_own_note(Note("", SHA, "kept before", time_s=1.0))
    desk.show(flight())
    book = desk.window.notebook
    book.refresh()  # begins to read
    book.add("written meanwhile", "", 2.0)
    qtbot.waitUntil(lambda: book.is_read and book.is_kept, timeout=10_000)
    assert [n.text for n in book.notes] == ["kept before", "written meanwhile"]
    assert [n.text for n in own_notes(SHA)] == ["kept before", "written meanwhile"]


def test_a_note_belongs_to_the_flight_it_was_begun_on_though_another_came_meanwhile(desk, notes, qtbot):
    press_new(desk, qtbot)
    dialog = dialog_of(desk.window)
    QTest.keyClicks(dialog.text, "of the first")
    desk.show(flight(b"another"))
    qtbot.keyClick(dialog.text, Qt.Key.Key_Return, CTRL)
    book = desk.window.notebook
    qtbot.waitUntil(lambda: book.is_kept and book.is_read, timeout=10_000)
    assert [note.text for note in own_notes(SHA)] == ["of the first"]
    assert own_notes(sha256(b"another").hexdigest()) == ()
    assert book.notes == ()
    assert "kept on its own" in desk.window.messages.words


def test_a_note_that_was_being_changed_when_another_flight_came_is_changed(desk, notes, qtbot):
    write(desk, qtbot, "as it was")
    notes.list.setCurrentRow(0)
    notes.ask_change()
    dialog = dialog_of(desk.window)
    dialog.text.setPlainText("as it is")
    desk.show(flight(b"another"))
    qtbot.keyClick(dialog.text, Qt.Key.Key_Return, CTRL)
    book = desk.window.notebook
    qtbot.waitUntil(lambda: book.is_kept and book.is_read, timeout=10_000)
    assert [note.text for note in own_notes(SHA)] == ["as it is"]
    assert book.notes == ()
