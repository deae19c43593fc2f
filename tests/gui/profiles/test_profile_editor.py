"""The profile editor: what a person types is checked at once, shown on gauges, saved under a new name."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QMessageBox, QPushButton
from shiboken6 import isValid

from debrief.gui.profiles.field_editors import FieldEditor
from debrief.gui.profiles.profile_editor import ProfileEditor
from debrief.gui.style.theme import Theme
from debrief.profile.loader import find, load
from debrief.resources import resource
from debrief.session.profiles.profile_form import own_folder
from tests.gui.conftest import answering
from tests.gui.user import User
from tests.session import assessment_maker as made


@pytest.fixture
def theme():
    made = Theme("light")
    made.apply()
    return made


@pytest.fixture
def answers():
    return {}


@pytest.fixture
def editor(theme, answers, qtbot, debrief_home):
    made = ProfileEditor(theme, askers=answering(answers))
    made.open_path(resource("profiles/tarn-tg7.toml"))
    made.show()
    qtbot.waitExposed(made)
    yield made
    if isValid(made):
        made.discard()
        made.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def page(editor, title):
    """Choose a part by its title, or by the name in brackets at its end."""
    parts = User(editor).table("Parts of the profile")
    (row,) = (n for n, text in enumerate(parts.choices) if text == title or text.endswith(f"({title})"))
    parts.clicks(row)


def type_into(editor, key, text):
    line = editor.editor(key).widget
    line.setFocus()
    line.selectAll()
    QTest.keyClicks(line, text)


def test_a_sound_profile_says_what_it_holds_and_nothing_is_called_right(editor):
    assert editor.message.text().startswith("Nothing is refused: 7 limits, 8 gauges.")
    assert "What is left out is not judged." in editor.message.text()
    assert "Limits not from approved data" in editor.message.text()
    assert editor.save_button.isEnabled()
    assert not editor.go_button.isVisible()


def test_a_refusal_names_line_and_key_while_one_types_and_leads_to_the_field(editor, qtbot):
    page(editor, "Start")
    type_into(editor, "idle_ng_pct", "3")
    qtbot.waitUntil(lambda: editor.problem is not None)
    assert editor.message.text().startswith("Refused: tarn-tg7.toml, line ")
    assert ": start." in editor.message.text()
    assert not editor.save_button.isEnabled()
    page(editor, "Profile")
    editor.go_button.click()
    assert editor.list.currentItem().text() == "Start"
    assert QApplication.focusWidget() in editor.editor(editor.problem.key.split(".")[1]).findChildren(
        type(QApplication.focusWidget())
    )


def test_what_cannot_be_judged_is_said_while_one_writes(editor, qtbot):
    told = User(editor).table("What can be judged with this profile")
    page(editor, "Start")
    for key, word in (
        ("stopped_ng_pct", "Starts that only Ng shows: no Ng of a standing engine"),
        ("idle_ng_pct", "Outcome of the start: no idle Ng"),
    ):
        assert any(line.endswith(word.partition(":")[0]) for line in told.choices)
        assert not any(word in line for line in told.choices)
        line = editor.editor(key).widget
        line.setFocus()
        line.selectAll()
        QTest.keyClick(line, Qt.Key.Key_Delete)
        qtbot.waitUntil(lambda word=word: any(x.endswith(word) for x in told.choices))
    page(editor, "itt-start")
    editor.remove_part()
    hot = "Hot start: no limit of ITT in starts"
    qtbot.waitUntil(lambda: any(x.endswith(hot) for x in told.choices))


def test_letters_for_a_number_are_said_at_once_and_block_saving(editor, qtbot):
    page(editor, "Start")
    type_into(editor, "idle_ng_pct", "abc")
    qtbot.waitUntil(lambda: '"abc" is not a number' in editor.message.text())
    assert not editor.save_button.isEnabled()
    type_into(editor, "idle_ng_pct", "60")
    qtbot.waitUntil(lambda: editor.save_button.isEnabled())


def test_the_gauges_follow_what_is_typed(editor, qtbot):
    page(editor, "itt")
    before = editor.preview.gauges[0].grab().toImage()
    type_into(editor, "red_lines", "600")
    qtbot.waitUntil(lambda: editor.preview.gauges[0].instrument.markings.red_lines == (600.0,))
    assert editor.preview.gauges[0].instrument.name == "itt"
    assert editor.preview.gauges[0].grab().toImage() != before


def test_the_pointer_moves_with_the_slider(editor):
    gauge = editor.preview.gauges[0]
    editor.preview.slider.setValue(0)
    low = gauge.words
    editor.preview.slider.setValue(editor.preview.slider.maximum())
    assert (low, gauge.words) == ("0", "1200")


def test_rows_are_added_changed_and_removed(editor, qtbot):
    page(editor, "itt-start")
    allowed = editor.editor("allowed")
    buttons = {b.accessibleName(): b for b in allowed.findChildren(QPushButton)}
    buttons["Add a row: Allowed"].click()
    row = allowed.widget.rowCount() - 1
    allowed.widget.item(row, 0).setText("1100")
    allowed.widget.item(row, 2).setText("0")
    qtbot.waitUntil(lambda: editor.problem is not None)  # two rows of 0 seconds
    allowed.widget.setCurrentCell(row, 0)
    buttons["Remove the row: Allowed"].click()
    qtbot.waitUntil(lambda: editor.problem is None)
    assert allowed.value == (("830", "", "20", ""), ("920", "", "6", ""), ("1030", "", "0", ""))


def test_a_gauge_and_a_limit_are_added_and_removed(editor, answers):
    answers["channel"] = "fuel_flow"
    editor.ask_gauge()
    assert editor.list.currentItem().text() == "Gauge: Fuel flow (fuel_flow)"
    assert editor.preview.gauges[0].instrument.name == "fuel_flow"
    editor.remove_button.click()
    assert "(fuel_flow)" not in User(editor).reads("Parts of the profile")
    editor.add_limit()
    assert editor.list.currentItem().text() == "Limit: Overtemperature (limit-8)"
    assert "allowed" in editor.message.text()
    editor.remove_button.click()
    assert editor.problem is None


def test_it_is_saved_under_a_new_name_and_can_be_used(editor, answers, qtbot):
    page(editor, "Profile")
    type_into(editor, "name", "My own engine")
    answers["new_profile"] = str(own_folder() / "mine.toml")
    used = []
    editor.use_wanted.connect(used.append)
    QTest.keyClick(editor, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert editor.message.text().startswith("Saved: ")
    assert find("mine").name == "My own engine"
    assert not editor.isWindowModified()
    editor.use_button.click()
    assert used == [str(own_folder() / "mine.toml")]


def test_a_shipped_profile_is_never_saved_over(editor):
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    file = resource("profiles/tarn-tg7.toml")
    before = file.read_bytes()
    editor.save_to(str(file))
    assert "never changed" in editor.message.text()
    assert file.read_bytes() == before
    assert editor.isWindowModified()


def test_closing_with_changes_asks_first(editor, qtbot):
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    QTest.keyClick(editor, Qt.Key.Key_Escape)
    box = editor.findChild(QMessageBox)
    assert box is not None
    assert editor.isVisible()
    box.reject()
    assert editor.isVisible()
    editor.discard()
    assert not editor.isVisible()


@pytest.mark.parametrize("words", ["&New", "&Open..."])
def test_another_profile_never_replaces_unsaved_changes_unasked(editor, answers, words):
    answers["profile"] = str(resource("profiles/quill-b2.toml"))
    button = next(one for one in editor.findChildren(QPushButton) if one.text() == words)
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    button.click()
    box = editor.findChild(QMessageBox)
    assert box is not None
    assert editor.form.path.name == "tarn-tg7.toml"
    box.reject()
    assert editor.editor("name").value == "Mine"
    assert editor.is_unsaved
    button.click()
    box = editor.findChildren(QMessageBox)[-1]
    next(one for one in box.buttons() if one.text() == "&Discard them").click()
    assert not editor.is_unsaved
    assert (editor.form.path is None) == (words == "&New")
    button.click()  # nothing is unsaved now, so nothing is asked
    assert not any(one.isVisible() for one in editor.findChildren(QMessageBox))


def unreadable_range(editor, qtbot):
    """Save a copy, then type a range of the ITT gauge that is no number."""
    editor.save_to(str(own_folder() / "mine.toml"))
    page(editor, "itt")
    type_into(editor, "range", "0 to abc")
    QTest.keyClick(editor.editor("range").widget, Qt.Key.Key_Tab)
    qtbot.waitUntil(lambda: editor.message.text() == 'Gauge itt, range: "abc" is not a number.')


def test_an_unreadable_number_is_named_by_part_and_field_and_the_old_file_is_not_used(editor, qtbot):
    used = []
    editor.use_wanted.connect(used.append)
    unreadable_range(editor, qtbot)
    assert not editor.use_button.isEnabled()
    editor.use_button.click()
    assert used == []
    assert editor.isWindowModified()
    type_into(editor, "range", "0 to 1200")
    assert editor.use_button.isEnabled()
    assert not editor.isWindowModified()


def test_unreadable_text_stays_while_other_parts_are_looked_at_and_is_led_to(editor, qtbot):
    unreadable_range(editor, qtbot)
    page(editor, "Start")
    editor.check()
    assert not editor.save_button.isEnabled()
    assert editor.message.text() == 'Gauge itt, range: "abc" is not a number.'
    editor.go_button.click()
    assert editor.list.currentItem().text() == "Gauge: Interturbine temperature (itt)"
    assert editor.editor("range").value == "0 to abc"
    editor.remove_button.click()  # what is taken out has nothing left to be read
    assert "abc" not in editor.message.text()


def test_closing_over_unreadable_text_asks_first_and_enter_loses_nothing(editor, qtbot):
    unreadable_range(editor, qtbot)
    QTest.keyClick(editor, Qt.Key.Key_Escape)
    box = editor.findChild(QMessageBox)
    assert editor.isVisible()
    qtbot.waitExposed(box)
    assert box.defaultButton().text().replace("&", "") == "Go on editing"
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert not box.isVisible()
    assert editor.isVisible()
    assert editor.editor("range").value == "0 to abc"


def test_unreadable_text_of_a_limit_follows_it_when_one_before_it_is_taken_out(editor, qtbot):
    parts = User(editor).table("Parts of the profile").choices
    titles = [text for text in parts if text.startswith("Limit: ")]
    page(editor, titles[1])
    type_into(editor, "rejoin_s", "soon")
    page(editor, titles[0])
    editor.remove_button.click()
    page(editor, titles[1])
    assert editor.editor("rejoin_s").value == "soon"


def test_a_file_that_is_no_profile_is_told_and_the_form_stays(editor, answers, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text("[[x]\n")
    answers["profile"] = str(file)
    editor.ask_open()
    assert "bad.toml is not correct TOML" in editor.message.text()
    assert editor.form.path.name == "tarn-tg7.toml"


def test_saving_onto_what_is_no_profile_is_refused_in_words_and_nothing_is_lost(editor, tmp_path):
    history, recording = tmp_path / "fleet.toml", tmp_path / "flight.toml"
    history.write_bytes(b"SQLite format 3\x00" + bytes(84))
    recording.write_text("Time (s),ITT (degC)\n0,20\n")
    for file, what in ((history, "a database, such as a history"), (recording, "a file of another kind")):
        before = file.read_bytes()
        editor.save_to(str(file))
        assert f"is {what}; an engine profile never replaces it" in editor.message.text()
        assert file.read_bytes() == before
    assert editor.form.path.name == "tarn-tg7.toml"
    editor.save_to(str(tmp_path / "mine.toml"))
    assert editor.message.text().startswith("Saved: ")


def test_every_page_can_be_shown_in_every_colour(theme, editor):
    for choice in ("dark", "contrast", "light"):
        theme.choose(choice)
        for row in range(editor.list.count()):
            editor.list.setCurrentRow(row)
    assert not editor.form.is_changed
    assert not editor.isWindowModified()


def test_every_field_has_a_name_and_takes_the_keys(editor):
    for row in range(editor.list.count()):
        editor.list.setCurrentRow(row)
        for one in filter(FieldEditor.isVisible, editor.findChildren(FieldEditor)):
            assert one.widget.accessibleName()
            assert one.widget.focusPolicy() & Qt.FocusPolicy.TabFocus


def test_the_window_opens_it_on_the_profile_in_use_and_never_closes_over_unsaved_changes(desk, qtbot):
    path = str(resource("profiles/quill-b2.toml"))
    assessment = made.hot_start()
    desk.show(replace(assessment, profile=replace(assessment.profile, path=path)))
    window = desk.window
    qtbot.keyClick(
        window, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    editor = window.editing.editor
    assert editor.form.path.name == "quill-b2.toml"
    window.editing.show()
    assert window.editing.editor is editor  # one at a time
    page(editor, "Profile")
    editor.editor("name").widget.setText("Mine")
    editor.editor("name").edited.emit()
    window.close()
    assert window.isVisible()
    assert editor.findChild(QMessageBox) is not None
    editor.discard()
    assert window.editing.editor is None


def test_a_saved_profile_is_used_for_the_open_recording(desk, qtbot, debrief_home):
    desk.show(made.hot_start())
    wanted = []
    desk.window.desk.use_profile = wanted.append
    desk.window.editing.show()
    editor = desk.window.editing.editor
    editor.open_path(resource("profiles/tarn-tg7.toml"))
    editor.save_to(str(own_folder() / "mine.toml"))
    editor.use_button.click()
    assert wanted == [str(own_folder() / "mine.toml")]
    editor.close()


def test_a_box_stands_beside_its_label_and_no_title_of_a_table_is_cut(editor, qtbot):
    source = editor.editor("source")
    (label,) = (one for one in editor.findChildren(QLabel) if one.buddy() is source)
    top = source.widget.mapTo(editor, source.widget.rect().topLeft()).y()
    assert abs(top - label.mapTo(editor, label.rect().topLeft()).y()) < 20
    page(editor, "itt-start")
    for key in ("allowed", "where"):
        header = editor.editor(key).widget.horizontalHeader()
        QApplication.processEvents()
        for column in range(header.count()):
            words = header.model().headerData(column, Qt.Orientation.Horizontal)
            assert header.fontMetrics().horizontalAdvance(words) + 8 <= header.sectionSize(column), words


def test_a_copy_is_named_by_its_file_in_the_menu_and_the_panel_and_has_the_tick(desk, qtbot, debrief_home):
    shipped = resource("profiles/tarn-tg7.toml")
    own_folder().mkdir(parents=True)
    copy = own_folder() / "myengine.toml"
    copy.write_bytes(shipped.read_bytes())
    assessment = made.hot_start()
    desk.show(replace(assessment, profile=load(copy)))
    menu = desk.window.profiles
    menu.fill()
    ticked = [action.text() for action in menu.actions() if action.isChecked()]
    assert ticked == ["Tarn TG-7 (training example), from myengine.toml"]
    assert "myengine.toml" in desk.window.story.facts.words
    desk.show(replace(assessment, profile=load(shipped)))
    menu.fill()
    assert [action.text() for action in menu.actions() if action.isChecked()] == [
        "Tarn TG-7 (training example)"
    ]


def test_a_profile_from_elsewhere_is_in_the_menu_while_it_is_in_use(desk, qtbot, debrief_home, tmp_path):
    elsewhere = tmp_path / "theirs.toml"
    elsewhere.write_bytes(resource("profiles/quill-b2.toml").read_bytes())
    desk.show(replace(made.hot_start(), profile=load(elsewhere)))
    menu = desk.window.profiles
    menu.fill()
    (ticked,) = (action for action in menu.actions() if action.isChecked())
    assert ticked.text().endswith("from theirs.toml")
    assert ticked.data() == str(elsewhere)


def test_saving_begins_in_the_folder_of_own_profiles_and_what_was_saved_is_in_the_menu(
    desk, qtbot, debrief_home
):
    desk.show(made.hot_start())
    suggested = []
    desk.answers["new_profile"] = lambda name: suggested.append(name) or name
    desk.window.editing.show()
    editor = desk.window.editing.editor
    editor.open_path(resource("profiles/tarn-tg7.toml"))
    assert not own_folder().exists()
    editor.ask_save()
    assert suggested == [str(own_folder() / "my-tarn-tg7.toml")]  # never the name of a shipped one
    assert own_folder().is_dir()
    menu = desk.window.profiles
    menu.fill()
    words = [action.text() for action in menu.actions()]
    assert "Tarn TG-7 (training example), from my-tarn-tg7.toml" in words
    editor.ask_save()
    assert suggested[1:] == suggested[:1]
    editor.close()


def test_a_profile_that_is_not_saved_says_why_it_cannot_be_used(editor):
    assert editor.use_button.isEnabled()
    assert editor.use_button.toolTip() == ""
    assert "Save it first" not in editor.message.text()
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    editor.check()
    assert not editor.use_button.isEnabled()
    assert "Save it first" in editor.use_button.toolTip()
    assert "Save it first" in editor.message.text()
