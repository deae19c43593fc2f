"""The profile editor: what a person types is checked at once, shown on gauges, saved under a new name."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QMessageBox, QPushButton
from shiboken6 import isValid

from debrief.gui.profiles.field_editors import FieldEditor
from debrief.gui.profiles.limit_chart import LimitChart
from debrief.gui.profiles.profile_editor import ProfileEditor
from debrief.gui.style.theme import Theme
from debrief.profile.loader import find, load
from debrief.resources import resource
from debrief.session.profiles.profile_form import own_folder
from tests.gui.conftest import answering
from tests.gui.user import User, drag
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
    assert editor.bar.message.text().startswith("Profile valid: 7 limits, 8 gauges.")
    assert "What is left out is not judged." in editor.bar.message.text()
    assert "Limits not from approved data" in editor.bar.message.text()
    assert editor.bar.save_button.isEnabled()
    assert not editor.bar.go_button.isVisible()


def test_a_refusal_names_line_and_key_while_one_types_and_leads_to_the_field(editor, qtbot):
    page(editor, "Start")
    type_into(editor, "idle_ng_pct", "3")
    qtbot.waitUntil(lambda: editor.problem is not None)
    line = editor.problem.line
    assert editor.bar.message.text() == (
        f"Start, least Ng for fuel, % (line {line}): is 15, must be below idle Ng, 3."
    )
    assert not editor.bar.save_button.isEnabled()
    page(editor, "Profile")
    editor.bar.go_button.click()
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
    qtbot.waitUntil(lambda: '"abc" is not a number' in editor.bar.message.text())
    assert not editor.bar.save_button.isEnabled()
    type_into(editor, "idle_ng_pct", "60")
    qtbot.waitUntil(lambda: editor.bar.save_button.isEnabled())


def test_the_gauges_follow_what_is_typed(editor, qtbot):
    page(editor, "Gauge: Interturbine temperature")
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
    user = User(editor)
    user.types("1100", "Allowed, row 4, above")  # an empty row is always at hand
    user.types("0", "Allowed, row 4, seconds")
    qtbot.waitUntil(lambda: editor.problem is not None)  # two rows of 0 seconds
    assert "seconds must fall as the level gets worse" in editor.bar.message.text()
    user.types("", "Allowed, row 4, above")
    user.types("", "Allowed, row 4, seconds")
    qtbot.waitUntil(lambda: editor.problem is None)
    rows = (("830", "", "20", ""), ("920", "", "6", ""), ("1030", "", "0", ""))
    assert editor.editor("allowed").value == rows
    user.chooses("caution", "Allowed, row 1, severity")
    qtbot.waitUntil(lambda: editor.form.check().limits[0].allowed[0].severity == "caution")


def test_a_gauge_and_a_limit_are_added_and_removed(editor, answers):
    answers["channel"] = "fuel_flow"
    editor.ask_gauge()
    assert editor.list.currentItem().text() == "Gauge: Fuel flow"
    assert editor.preview.gauges[0].instrument.name == "fuel_flow"
    editor.remove_part()
    assert "Fuel flow" not in User(editor).reads("Parts of the profile")
    editor.add_limit()
    assert editor.list.currentItem().text() == "Limit: Overtemperature (limit-8)"
    assert "needs its levels" in editor.bar.message.text()
    editor.remove_part()
    assert editor.problem is None


def test_a_power_check_is_added_filled_in_and_removed(editor, qtbot):
    before = editor.form.check().power_checks
    User(editor).clicks("Add a power check")
    assert editor.list.currentItem().text().startswith("Power check: chart ")
    assert "needs its points" in editor.bar.message.text()
    assert "_" not in editor.bar.message.text()
    type_into(editor, "name", "At take-off")
    assert editor.list.currentItem().text() == "Power check: At take-off"
    grid = editor.editor("points")
    corners = tuple((t, a, o, "", "99") for t in ("60", "90") for a in ("0", "8000") for o in ("0", "30"))
    grid.show_rows(corners)
    grid.edited.emit()
    qtbot.waitUntil(lambda: editor.problem is None)
    chart = editor.form.check().power_checks[-1]
    assert (chart.name, chart.channel, len(chart.points)) == ("At take-off", "ng", 8)
    User(editor).clicks("Remove this part")
    assert editor.form.check().power_checks == before


def test_it_is_saved_under_a_new_name_and_can_be_used(editor, answers, qtbot):
    page(editor, "Profile")
    type_into(editor, "name", "My own engine")
    answers["new_profile"] = str(own_folder() / "mine.toml")
    used = []
    editor.use_wanted.connect(used.append)
    QTest.keyClick(editor, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert editor.bar.message.text().startswith("Saved: ")
    assert find("mine").name == "My own engine"
    assert not editor.isWindowModified()
    editor.bar.use_button.click()
    assert used == [str(own_folder() / "mine.toml")]


def test_a_shipped_profile_is_never_saved_over(editor):
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    file = resource("profiles/tarn-tg7.toml")
    before = file.read_bytes()
    editor.save_to(str(file))
    assert "never changed" in editor.bar.message.text()
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


UNREADABLE = 'Gauge: Interturbine temperature, range: "abc" is not a number.'


def unreadable_range(editor, qtbot):
    """Save a copy, then type a range of the ITT gauge that is no number."""
    editor.save_to(str(own_folder() / "mine.toml"))
    page(editor, "Gauge: Interturbine temperature")
    type_into(editor, "range", "0 to abc")
    QTest.keyClick(editor.editor("range").widget, Qt.Key.Key_Tab)
    qtbot.waitUntil(lambda: editor.bar.message.text() == UNREADABLE)


def test_an_unreadable_number_is_named_by_part_and_field_and_the_old_file_is_not_used(editor, qtbot):
    used = []
    editor.use_wanted.connect(used.append)
    unreadable_range(editor, qtbot)
    assert not editor.bar.use_button.isEnabled()
    editor.bar.use_button.click()
    assert used == []
    assert editor.isWindowModified()
    type_into(editor, "range", "0 to 1200")
    assert editor.bar.use_button.isEnabled()
    assert not editor.isWindowModified()


def test_unreadable_text_stays_while_other_parts_are_looked_at_and_is_led_to(editor, qtbot):
    unreadable_range(editor, qtbot)
    page(editor, "Start")
    editor.check()
    assert not editor.bar.save_button.isEnabled()
    assert editor.bar.message.text() == UNREADABLE
    editor.bar.go_button.click()
    assert editor.list.currentItem().text() == "Gauge: Interturbine temperature"
    assert editor.editor("range").value == "0 to abc"
    editor.remove_part()  # what is taken out has nothing left to be read
    assert "abc" not in editor.bar.message.text()


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
    editor.remove_part()
    page(editor, titles[1])
    assert editor.editor("rejoin_s").value == "soon"


def test_a_file_that_is_no_profile_is_told_and_the_form_stays(editor, answers, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text("[[x]\n")
    answers["profile"] = str(file)
    editor.ask_open()
    assert "bad.toml is not correct TOML" in editor.bar.message.text()
    assert editor.form.path.name == "tarn-tg7.toml"


def test_saving_onto_what_is_no_profile_is_refused_in_words_and_nothing_is_lost(editor, tmp_path):
    history, recording = tmp_path / "fleet.toml", tmp_path / "flight.toml"
    history.write_bytes(b"SQLite format 3\x00" + bytes(84))
    recording.write_text("Time (s),ITT (degC)\n0,20\n")
    for file, what in ((history, "a database, such as a history"), (recording, "a file of another kind")):
        before = file.read_bytes()
        editor.save_to(str(file))
        assert f"is {what}; an engine profile never replaces it" in editor.bar.message.text()
        assert file.read_bytes() == before
    assert editor.form.path.name == "tarn-tg7.toml"
    editor.save_to(str(tmp_path / "mine.toml"))
    assert editor.bar.message.text().startswith("Saved: ")


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
            reached = one.widget.focusProxy() or one.widget
            assert reached.accessibleName()
            assert reached.focusPolicy() & Qt.FocusPolicy.TabFocus


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
    editor.bar.use_button.click()
    assert wanted == [str(own_folder() / "mine.toml")]
    editor.close()


def test_a_box_stands_beside_its_label_and_no_title_of_a_table_is_cut(editor, qtbot):
    source = editor.editor("source")
    (label,) = (one for one in editor.findChildren(QLabel) if one.buddy() is source)
    top = source.widget.mapTo(editor, source.widget.rect().topLeft()).y()
    assert abs(top - label.mapTo(editor, label.rect().topLeft()).y()) < 20
    page(editor, "itt-start")
    QApplication.processEvents()
    for key in ("allowed", "where", "bands"):
        for label in editor.editor(key).findChildren(QLabel):
            assert label.sizeHint().width() <= label.width(), label.text()


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
    assert editor.bar.use_button.isEnabled()
    assert editor.bar.use_button.toolTip() == ""
    assert "Save it first" not in editor.bar.message.text()
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    editor.check()
    assert not editor.bar.use_button.isEnabled()
    assert "Save it first" in editor.bar.use_button.toolTip()
    assert "Save it first" in editor.bar.message.text()


def test_every_edit_is_taken_back_and_done_again_wherever_it_was(editor, qtbot):
    user = User(editor)
    before = editor.form.text
    page(editor, "Start")
    type_into(editor, "idle_ng_pct", "61")
    page(editor, "Profile")
    type_into(editor, "name", "Mine")
    editor.add_limit()
    user.presses("Ctrl+Z")
    assert editor.list.count() == len(editor.form.sections())
    assert "(limit-8)" not in user.reads("Parts of the profile")
    user.presses("Ctrl+Z")
    assert editor.editor("name").value == "Tarn TG-7 (training example)"
    user.clicks("Undo: idle Ng, %")
    assert editor.list.currentItem().text() == "Start"
    assert editor.editor("idle_ng_pct").value == "58"
    assert editor.form.text == before
    assert not editor.isWindowModified()
    for _ in range(3):
        user.presses("Ctrl+Shift+Z")
    assert editor.form.text.count("[[limits]]") == 8
    page(editor, "Profile")
    assert editor.editor("name").value == "Mine"


def test_text_that_the_file_cannot_take_is_taken_back_as_well(editor, qtbot):
    unreadable_range(editor, qtbot)
    User(editor).presses("Ctrl+Z")
    assert editor.editor("range").value == "0 to 1200"
    assert not editor.is_unsaved
    assert editor.bar.message.text().startswith("Profile valid")
    User(editor).presses("Ctrl+Y")
    assert editor.editor("range").value == "0 to abc"
    assert "is not a number" in editor.bar.message.text()


def test_a_limit_of_itt_is_drawn_beside_its_rows_and_keeps_what_each_row_says(editor, qtbot):
    page(editor, "itt-running")
    user = User(editor)
    chart = user.find("Chart of the limit", LimitChart)
    rows = editor.editor("allowed").value
    assert len(chart.points) == len(rows)
    severities = [row[3] for row in rows]
    begin = chart.at(chart.points[0][1], chart.points[0][0]).toPoint()
    drag(chart.viewport(), begin, begin + QPoint(0, 25))
    drawn = editor.editor("allowed").value
    assert drawn != rows
    assert [row[3] for row in drawn] == severities
    assert drawn[1:] == rows[1:]
    qtbot.waitUntil(lambda: str(editor.form.check().limits[1].allowed[0].level) == f"{float(drawn[0][0])}")
    user.presses("Ctrl+Z")
    assert editor.editor("allowed").value == rows
    page(editor, "Start")
    assert not user.has("Chart of the limit")


def test_a_new_profile_is_not_called_wrong_before_something_was_typed(editor, qtbot):
    editor.start_anew()
    assert editor.bar.message.text() == "A new profile: begin with its name. What is left out is not judged."
    assert not editor.bar.save_button.isEnabled()
    type_into(editor, "name", "Mine")
    qtbot.waitUntil(lambda: editor.bar.save_button.isEnabled())
    assert editor.bar.message.text().startswith("Profile valid: 0 limits, 0 gauges.")


def test_save_writes_into_the_own_file_at_once_and_asks_for_a_name_where_there_is_none(
    editor, answers, qtbot
):
    asked = []
    answers["new_profile"] = lambda name: asked.append(name) or name
    type_into(editor, "name", "First")
    User(editor).clicks("Save")
    assert asked == [str(own_folder() / "my-tarn-tg7.toml")]  # the shipped one is never changed
    type_into(editor, "name", "Second")
    User(editor).presses("Ctrl+S")
    assert len(asked) == 1
    assert find("my-tarn-tg7").name == "Second"
    assert not editor.isWindowModified()


def test_what_can_be_chosen_is_said_in_words_and_a_finding_of_ones_own_is_typed_in_words(editor, qtbot):
    page(editor, "itt-start")
    shown = [
        box.itemText(n)
        for box in editor.findChildren(QComboBox)
        if box.isVisible()
        for n in range(box.count())
    ]
    assert "Hot start" in shown
    assert "with the engine running" in shown
    assert not any("_" in text for text in shown)
    finding = editor.editor("event").widget
    finding.setFocus()
    finding.lineEdit().selectAll()
    QTest.keyClicks(finding.lineEdit(), "Gearbox hot")
    qtbot.waitUntil(lambda: editor.form.check().limits[0].event == "gearbox_hot")
    finding.lineEdit().selectAll()
    QTest.keyClicks(finding.lineEdit(), "hot start")
    qtbot.waitUntil(lambda: editor.form.check().limits[0].event == "hot_start")


def test_what_lacks_is_led_to_from_the_list_of_what_can_be_judged(editor, qtbot):
    page(editor, "Start")
    line = editor.editor("stopped_ng_pct").widget
    line.setFocus()
    line.selectAll()
    QTest.keyClick(line, Qt.Key.Key_Delete)
    table = User(editor).table("What can be judged with this profile")
    qtbot.waitUntil(lambda: "no Ng of a standing engine" in table.choices[0])
    page(editor, "Profile")
    table.clicks(0)
    assert editor.list.currentItem().text() == "Start"
    assert editor.editor("stopped_ng_pct").widget.hasFocus()


def test_the_pages_have_no_key_of_the_file_in_their_words(editor):
    for row in range(editor.list.count()):
        editor.list.setCurrentRow(row)
        words = User(editor).words.splitlines()
        assert not [text for text in words if "_" in text or "(itt)" in text]
