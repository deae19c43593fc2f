"""A start behind the one in the replay, as a person chooses, sees and ends it."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, QRectF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication

from debrief.errors import UserError
from debrief.gui.comparing.remembered import MOST_REMEMBERED, Pairing, pairings_from, with_pairing
from debrief.gui.lanes.lane import Lane
from debrief.history.storage.store import Store
from debrief.session.comparing.compared_start import start_in_play
from debrief.session.comparing.start_curves import start_curves
from debrief.session.importing.import_opening import open_or_ask
from tests.demo_assessing import DEMOS, assessed
from tests.gui.conftest import Desk
from tests.gui.user import busy, colours, image_of, pixels, shown_text, until
from tests.history.history_making import FIRST
from tests.history.usual.test_history_start_traces import lit, many
from tests.session import assessment_maker as made
from tests.session.texts.test_laws_of_words import two_engines

DEMO = Path(__file__).parents[3] / "demo_flights"
GOOD = DEMO / "01_cool_normal_start.csv"
BAR, WORDS = "Compared start", "How this start differs at the playhead"


def demo(number):
    return assessed(next(path for path in DEMOS if path.name.startswith(number)))


def good_start():
    good = demo("01")
    return start_curves(good, good.starts[0])


def compare_with_file(desk, path=GOOD):
    """As a person: C, then another recording, which is asked for."""
    desk.answers["recording"] = str(path)
    desk.user.presses("C")
    desk.user.dialog("Compare with another start").clicks("Another recording...")
    until(lambda: desk.user.has(BAR) or desk.window.messages.isVisible())
    back_at(desk)


def back_at(desk):
    """The desktop gives the keys back when a dialog is closed; a test has no desktop."""
    QApplication.processEvents()
    desk.window.activateWindow()
    QApplication.processEvents()


def test_a_start_of_another_file_lies_behind_and_the_difference_is_said(desk):
    desk.show(demo("02"))
    assert not desk.user.has(BAR)
    compare_with_file(desk)
    assert desk.user.reads("Which start is compared") == "Compared with 01_cool_normal_start.csv"
    fuel_s = desk.window.replay.session.assessment.starts[0].fuel_on_s
    desk.window.replay.seek(fuel_s + 3.5)
    said = desk.user.reads(WORDS)
    # The truth of both invented flights: fuel at 9.8 and 20.3 % Ng, 3.5 and 14.5 s after the starter.
    assert said.startswith("3.5 s after fuel on: ITT 445 °C higher, Ng ")
    assert said.endswith("Fuel came 11.0 s and 10.5 % Ng earlier.")


def test_the_pair_of_the_replay_is_the_pair_on_the_students_paper(desk):
    desk.show(demo("02"))
    compare_with_file(desk)
    desk.window.views.show_report()
    reader = desk.window.report.side.reader
    reader.setCurrentIndex(reader.findData("student"))
    beside = desk.user.reads("What a student's start is compared with")
    assert beside == "Start 1 of 01_cool_normal_start.csv"


def test_its_traces_and_its_pointers_are_seen_and_taken_away_with_one_key(desk):
    desk.show(demo("02"))
    desk.window.replay.seek(22.0)
    before = image_of(desk.window.lanes)
    dial = image_of(desk.window.gauges.gauge("itt"))
    desk.window.replay.comparison.choose(good_start())
    until(lambda: not desk.window.replay.turns.count)
    grey = desk.theme.color("muted").name()
    assert grey in colours(desk.window.lanes)
    assert (pixels(image_of(desk.window.gauges.gauge("itt"))) != pixels(dial)).any()
    assert "compared start 73" in desk.window.gauges.gauge("itt").accessibleDescription()
    desk.user.presses("Shift+C")
    until(lambda: not desk.window.replay.turns.count)
    QApplication.processEvents()
    assert not desk.user.has(BAR)
    assert (pixels(image_of(desk.window.lanes)) == pixels(before)).all()
    assert "compared" not in desk.window.gauges.gauge("itt").accessibleDescription()


def test_tapes_show_it_too(desk):
    desk.show(demo("02"))
    desk.window.gauges.show_tapes(True)
    desk.window.replay.seek(22.0)
    before = pixels(image_of(desk.window.gauges.gauge("itt")))
    desk.window.replay.comparison.choose(good_start())
    assert (pixels(image_of(desk.window.gauges.gauge("itt"))) != before).any()


def test_the_instant_is_chosen_by_key_and_in_the_line(desk):
    desk.show(demo("02"))
    desk.window.replay.comparison.choose(good_start())
    desk.window.replay.seek(22.0)
    for words in ("after light-off", "after starter on", "after fuel on"):
        desk.user.presses("I")
        assert words in desk.user.reads(WORDS)
    desk.user.chooses("light-off", "Where both starts are aligned")
    assert "after light-off" in desk.user.reads(WORDS)


def test_a_lane_holds_all_of_a_compared_start_that_is_higher(desk):
    session, hot = desk.show(demo("01")), demo("02")
    lane = Lane(next(one for one in session.lanes if one.plan.name == "itt"), desk.theme)
    for other, top in ((None, 1100.0), (start_curves(hot, hot.starts[0]), hot.starts[0].peak_itt_c)):
        desk.window.replay.comparison.choose(other)
        lane.lay_behind(desk.window.replay.comparison.shown)
        lane.place(QRectF(0, 0, 600, 200))
        assert lane.traces[0].top >= top
        assert other is not None or lane.traces[0].top < hot.starts[0].peak_itt_c


def test_it_follows_the_playhead_into_the_next_start_and_knows_itself(desk):
    assessment = demo("11")
    desk.show(assessment)
    desk.window.replay.comparison.choose(start_curves(assessment, assessment.starts[2]))
    desk.window.replay.seek(assessment.starts[0].fuel_on_s)
    assert desk.user.reads("Which start is compared") == "Compared with start 3"
    assert "fuel on: ITT " in desk.user.reads(WORDS)
    desk.window.replay.seek(assessment.starts[2].fuel_on_s + 1.0)
    assert desk.user.reads(WORDS) == "This is the compared start itself."
    desk.window.replay.seek(assessment.starts[1].fuel_on_s + 1.0)
    assert "fuel on: ITT " in desk.user.reads(WORDS)


def test_own_starts_are_offered_and_taken_by_keys_alone(desk):
    assessment = demo("11")
    desk.show(assessment)
    desk.window.replay.seek(assessment.starts[0].fuel_on_s)
    desk.user.presses("C")
    dialog = desk.user.dialog("Compare with another start")
    assert dialog.table("Starts to compare with").choices == [
        "Start 2: no light-off",
        "Start 3: completed, peak 736 °C",
    ]
    dialog.presses("Return", on="Starts to compare with")
    assert desk.user.reads("Which start is compared") == "Compared with start 3"


def test_it_stays_when_another_recording_of_the_engine_is_opened(desk):
    desk.show(demo("02"))
    desk.window.replay.comparison.choose(good_start())
    desk.show(demo("03"))
    assert desk.user.reads("Which start is compared") == "Compared with 01_cool_normal_start.csv"
    desk.window.replay.show(None)
    desk.show(demo("02"))
    assert desk.user.has(BAR)


def test_a_start_of_another_engine_is_compared_no_more_and_that_is_said(desk):
    desk.show(demo("02"))
    desk.window.replay.comparison.choose(replace(good_start(), profile="Quill B2"))
    desk.show(made.hot_start())
    assert not desk.user.has(BAR)
    assert desk.user.sees("01_cool_normal_start.csv is of another engine (Quill B2): it is compared no more.")


def test_a_recording_without_a_start_says_so(desk):
    desk.show(replace(demo("02"), starts=()))
    desk.user.presses("C")
    assert desk.user.sees("This recording has no start to compare.")
    desk.window.replay.comparison.choose(good_start())
    assert desk.user.reads(WORDS) == "This recording has no start to compare."


def test_the_recording_is_judged_anew_and_its_own_start_with_it(desk):
    assessment = demo("11")
    desk.show(assessment)
    desk.window.replay.comparison.choose(start_curves(assessment, assessment.starts[2]))
    later = replace(assessment.starts[2], fuel_on_s=assessment.starts[2].fuel_on_s + 1.0)
    desk.show(replace(assessment, starts=(*assessment.starts[:2], later)))
    assert desk.window.replay.comparison.chosen.moments["fuel_on"] == later.fuel_on_s
    desk.show(replace(assessment, starts=assessment.starts[:2]))
    assert not desk.user.has(BAR)


def test_a_file_without_starts_is_refused_in_words(desk, tmp_path):
    path = tmp_path / "idle.csv"
    rows = "\n".join(f"{t},70.0,600" for t in range(60))
    path.write_text(f"# engine-profile: tarn-tg7\nTime (s),Ng (%),ITT (degC)\n{rows}\n")
    desk.show(demo("02"))
    compare_with_file(desk, path)
    assert desk.user.sees("No start of idle.csv can be compared")
    assert not desk.user.has(BAR)


def test_with_large_text_in_a_small_window_the_difference_is_said_shorter_and_whole(desk):
    desk.show(demo("02"))
    desk.window.replay.comparison.choose(good_start())
    desk.window.replay.seek(22.0)
    desk.theme.set_scale(1.4)
    until(lambda: not busy(desk.window))
    words = desk.user.find(WORDS)
    assert shown_text(words).startswith("ITT 445 °C higher, Ng 6.1 % lower")
    assert words.fontMetrics().horizontalAdvance(shown_text(words)) <= words.width()
    assert words.accessibleDescription().endswith("Fuel came 11.0 s and 10.5 % Ng earlier.")


@pytest.mark.parametrize("theme", ["light", "dark", "contrast"])
def test_the_line_of_the_compared_start_is_told_from_its_ground(desk, theme):
    from tests.gui.contrast import contrast

    desk.theme.choose(theme)
    palette = desk.theme
    assert contrast(palette.color("muted").name(), palette.color("panel").name()) >= 4.5


def drop(desk, *paths):
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    button, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    desk.window.dropEvent(QDropEvent(QPointF(50, 50), Qt.DropAction.CopyAction, data, button, none))


def shows(desk, name, behind):
    session = desk.window.replay.session
    return session is not None and session.path.name == name and behind in desk.user.words


def in_two_starts(desk, name):
    return desk.user.has("The other start") and name in desk.user.reads("The other start")


def test_two_files_dropped_at_once_open_at_two_starts_and_x_swaps_them_in_the_replay(desk):
    desk.opener = open_or_ask
    bad = DEMO / "02_early_fuel_hot.csv"
    drop(desk, bad, GOOD)
    until(lambda: in_two_starts(desk, GOOD.name))
    assert desk.window.view == "starts"
    assert desk.user.has("Measures of both starts")
    assert "Ng at fuel" in " ".join(desk.user.table("Measures of both starts").rows[0])
    assert desk.window.replay.session.path.name == bad.name
    desk.window.views.show_replay()
    assert shows(desk, bad.name, f"Compared with {GOOD.name}")
    replay = desk.window.replay
    replay.seek(replay.session.assessment.starts[0].fuel_on_s + 4.0)
    desk.user.presses("X")
    until(lambda: shows(desk, GOOD.name, f"Compared with {bad.name}"))
    # The same moment of the other start, which is aligned at fuel on.
    assert replay.position_s == pytest.approx(replay.session.assessment.starts[0].fuel_on_s + 4.0)
    assert desk.window.view == "replay"
    desk.user.clicks("Swap the two starts")
    until(lambda: shows(desk, bad.name, f"Compared with {GOOD.name}"))


def test_the_report_is_for_the_reader_of_the_last_one_also_the_next_day(desk, next_day):
    desk.show(demo("02"))
    desk.user.presses("Ctrl+5")
    desk.user.chooses("Student", "Who reads the paper")
    desk.user.chooses("Letter", "Size of the paper")
    desk.show(demo("01"))
    desk.user.presses("Ctrl+5")
    assert desk.user.reads("Who reads the paper") == "Student"
    after = next_day()
    after.show(demo("01"))
    after.user.presses("Ctrl+5")
    assert after.user.reads("Who reads the paper") == "Student"
    assert after.user.reads("Size of the paper") == "Letter"
    assert after.user.has("What a student's start is compared with")


def test_two_starts_opens_at_the_start_that_the_replay_is_in(desk):
    """Of three attempts the last is the one that matters: it is the one that lies beside the good one."""
    desk.opener = open_or_ask
    three = next(path for path in DEMOS if path.name.startswith("11"))
    drop(desk, three, GOOD)
    until(lambda: in_two_starts(desk, GOOD.name))
    replay = desk.window.replay
    now = start_in_play(replay.session.assessment.starts, 1, replay.position_s).number
    assert desk.user.table("Measures of both starts").headings[1] == f"Start {now}"


def test_what_is_said_of_a_pair_stands_in_the_replay_alone(desk):
    desk.opener = open_or_ask
    drop(desk, DEMO / "02_early_fuel_hot.csv", GOOD)
    until(lambda: in_two_starts(desk, GOOD.name))
    said = "Compared with"
    for key in "2345":
        desk.user.presses(f"Ctrl+{key}")
        assert not desk.user.sees(said)
        assert not desk.user.has(BAR)
        assert not desk.window.messages.isVisible()
    desk.user.presses("Ctrl+1")
    assert desk.user.sees(said)
    assert not desk.window.messages.isVisible()
    desk.user.presses("F11")
    assert desk.user.has(BAR)
    assert not desk.user.has("End the comparison")
    assert not desk.user.has("Where both starts are aligned")
    assert not desk.window.messages.isVisible()
    desk.user.presses("Escape")
    assert desk.user.has("End the comparison")
    desk.user.presses("Shift+C")
    assert not desk.user.has(BAR)
    assert not desk.user.sees(said)


def test_a_start_is_never_compared_with_itself(desk, tmp_path):
    """Not by naming one file twice, nor a copy of it, nor the open file from the dialog or in Two starts."""
    desk.opener = open_or_ask
    bad = DEMO / "02_early_fuel_hot.csv"
    drop(desk, bad, bad)
    desk.user.waits_for(f"Both are {bad.name}: a start is not compared with itself.")
    until(lambda: desk.window.replay.session is not None)
    assert not desk.user.has(BAR)
    refused = "is the open recording, and has no other start: a start is not compared with itself."
    copy = tmp_path / "copy.csv"
    copy.write_bytes(bad.read_bytes())
    for path in (bad, copy):
        desk.window.messages.dismiss()
        compare_with_file(desk, path)
        assert desk.user.sees(f"{path.name} {refused}")
        assert not desk.user.has(BAR)
    desk.window.views.show_starts()
    desk.user.clicks("Two starts")
    desk.window.messages.dismiss()
    desk.window.starts.overlay.load(str(copy))
    desk.user.waits_for(f"{copy.name} {refused}")
    assert not desk.user.reads("The other start")
    # With another start in the file that one is taken.
    three = next(path for path in DEMOS if path.name.startswith("11"))
    desk.window.open_path(three)
    until(lambda: desk.window.replay.session.path == three)
    desk.window.views.show_replay()
    here = start_in_play(
        desk.window.replay.session.assessment.starts, 1, desk.window.replay.position_s
    ).number
    compare_with_file(desk, three)
    assert desk.user.reads("Which start is compared").startswith("Compared with start ")
    assert f"start {here}" not in desk.user.reads("Which start is compared")


def test_a_recording_judged_anew_is_still_compared_in_two_starts(desk):
    desk.opener = open_or_ask
    drop(desk, DEMO / "15_low_voltage.csv", GOOD)
    until(lambda: in_two_starts(desk, GOOD.name))
    before = desk.window.replay.session.assessment
    desk.user.clicks("First start today")
    until(lambda: desk.window.replay.session.assessment is not before)
    desk.window.views.show_starts()
    until(lambda: in_two_starts(desk, GOOD.name))


def test_of_three_files_one_is_opened_and_the_others_are_named_as_ignored(desk):
    drop(desk, "a.csv", "b.csv", "c.csv")
    assert desk.opened().path.name == "a.csv"
    assert desk.user.sees("Opened a.csv; 2 others ignored.")
    assert not desk.user.has(BAR)


def test_a_pair_whose_first_file_cannot_be_opened_is_forgotten_by_the_next(desk):
    desk.assessments["bad.csv"] = UserError("bad.csv is empty.")
    drop(desk, "bad.csv", GOOD)
    desk.user.waits_for("bad.csv is empty.")
    desk.window.open_path("other.csv")
    desk.opened()
    assert not desk.window.comparing.jobs.count
    assert not desk.user.has(BAR)


def test_two_starts_of_one_recording_are_swapped_by_moving_the_playhead(desk):
    assessment = demo("11")
    desk.show(assessment)
    desk.window.replay.seek(assessment.starts[0].fuel_on_s)
    desk.window.replay.comparison.choose(start_curves(assessment, assessment.starts[2]))
    desk.user.presses("X")
    assert desk.user.reads("Which start is compared") == "Compared with start 1"
    # Both are aligned at fuel on.
    assert desk.window.replay.position_s == pytest.approx(assessment.starts[2].fuel_on_s)


def test_without_a_compared_start_there_is_nothing_to_swap(desk):
    desk.show(demo("02"))
    desk.user.presses("X")
    assert desk.user.sees("No start is compared that could be put on the table.")


# --- from the history ---------------------------------------------------------------------------------


def keep(*flights):
    with Store.open() as store:
        for flight in flights:
            store.keep(flight)


def offers(desk):
    """What the dialog lists once the history was asked."""
    desk.user.presses("C")
    dialog = desk.user.dialog("Compare with another start")
    until(lambda: len(dialog.table("Starts to compare with").choices) > 0)
    return dialog


def test_a_start_of_the_history_is_compared_without_its_file(desk):
    keep(lit("old.csv", 741.0))
    desk.show(lit("now.csv", 801.0, at=FIRST + timedelta(days=3)))
    dialog = offers(desk)
    assert dialog.table("Starts to compare with").choices == [
        "The usual start of this engine",
        "2031-04-01, old.csv, start 1: completed, peak 741 °C",
    ]
    dialog.presses("Return", on="Starts to compare with")
    assert desk.user.reads("Which start is compared") == "Compared with start 1 of old.csv"
    desk.window.replay.seek(27.0)
    assert "5.0 s after fuel on: ITT 60 °C higher, Ng the same." in desk.user.reads(WORDS)


def test_the_usual_start_says_what_it_lacks_and_is_compared_once_there_are_enough(desk):
    now = lit("now.csv", 780.0, at=FIRST + timedelta(days=60))
    flights = many([700.0 + 2 * i for i in range(15)])
    keep(*flights[:14])
    desk.window.following.close()  # made by hand, this recording cannot be judged anew
    desk.show(now)
    dialog = offers(desk)
    dialog.table("Starts to compare with").clicks(0)
    assert dialog.sees("No usual start: 14 of 15 other completed battery starts of TG7-0042 are kept")
    assert not dialog.find("Compare").isEnabled()
    dialog.clicks("Cancel")
    back_at(desk)
    keep(flights[14])
    dialog = offers(desk)
    dialog.table("Starts to compare with").clicks("The usual start of this engine")
    until(lambda: dialog.find("Compare").isEnabled())
    dialog.clicks("Compare")
    name = desk.user.find("Which start is compared")
    whole = (
        "Compared with the usual start of this engine. Median of 15 starts. The normal range is not a limit."
    )
    assert name.accessibleDescription() == whole
    assert shown_text(name) == "Compared with the usual start of this engine"
    desk.window.resize(1900, 900)
    until(lambda: shown_text(name) == whole)
    desk.window.replay.seek(27.0)
    assert "5.0 s after fuel on: ITT 66 °C higher, Ng the same." in desk.user.reads(WORDS)
    # Another recording of the engine: its own usual start, in which the one before counts or not.
    desk.show(lit("later.csv", 790.0, at=FIRST + timedelta(days=61)))
    until(lambda: desk.user.has(BAR))
    desk.window.replay.seek(27.0)
    assert "ITT 76 °C higher" in desk.user.reads(WORDS)


def test_a_kept_start_without_traces_and_file_says_what_is_missing_and_where_to_point_to_it(desk):
    keep(lit("old.csv", 741.0))
    with Store.open() as store, store.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE start_traces SET curves = NULL")
    desk.show(lit("now.csv", 801.0, at=FIRST + timedelta(days=3)))
    dialog = offers(desk)
    dialog.table("Starts to compare with").clicks(1)
    assert dialog.sees("old.csv is no longer where it was when it was kept")
    assert dialog.sees("Another recording opens it from where it is now.")
    assert not dialog.find("Compare").isEnabled()


# --- remembered ---------------------------------------------------------------------------------------


@pytest.fixture
def next_day(desk, qtbot):
    """Makes the window of the next day, with what was remembered."""
    made_desks = []

    def make():
        desk.window.close()
        made_desks.append(Desk(qtbot))
        return made_desks[-1]

    yield make
    for one in made_desks:
        one.window.close()


def test_what_was_compared_is_so_again_when_the_recording_is_opened_the_next_day(desk, next_day):
    desk.show(demo("02"))
    compare_with_file(desk)
    desk.user.presses("I")
    after = next_day()
    after.show(demo("02"))
    until(lambda: after.user.has(BAR))
    assert after.user.reads("Which start is compared") == "Compared with 01_cool_normal_start.csv"
    assert "light-off" in after.user.reads(WORDS)
    after.user.presses("Shift+C")
    last = next_day()
    last.show(demo("02"))
    until(lambda: not busy(last.window))
    assert not last.user.has(BAR)


def test_a_start_of_the_history_is_remembered_too_and_missed_in_words(desk, next_day):
    keep(lit("old.csv", 741.0))
    now = lit("now.csv", 801.0, at=FIRST + timedelta(days=3))
    desk.show(now)
    offers(desk).presses("Return", on="Starts to compare with")
    after = next_day()
    after.show(now)
    until(lambda: after.user.has(BAR))
    assert after.user.reads("Which start is compared") == "Compared with start 1 of old.csv"
    with Store.open() as store:
        store.delete("old.csv")
    last = next_day()
    last.show(now)
    last.user.waits_for("start 1 of old.csv, which this recording was compared with, is no longer there")
    assert not last.user.has(BAR)


@pytest.mark.parametrize(
    "text", ["", "[", "{}", "[1]", '[{"of": 5}]', '[{"of": "a", "engine": "1"}]', '[{"of": "a", "more": 1}]']
)
def test_what_cannot_be_read_is_not_remembered(text):
    assert pairings_from(text) == ()


def test_the_oldest_pairings_are_forgotten_and_each_recording_has_one():
    text = ""
    for i in range(MOST_REMEMBERED + 5):
        text = with_pairing(text, f"{i}", Pairing(f"{i}", "ab", 1, 2, "/x.csv", "x", "light_off"))
    text = with_pairing(text, "20", Pairing("20", "cd"))
    found = pairings_from(text)
    assert len(found) == MOST_REMEMBERED
    assert (found[0].of, found[0].key, found[0].instant) == ("20", ("cd", 1, 1), "fuel_on")
    assert [one.of for one in found].count("20") == 1
    assert "0" not in [one.of for one in found]
    assert "20" not in [one.of for one in pairings_from(with_pairing(text, "20", None))]


def test_the_start_of_one_engine_is_compared_with_that_of_the_other(desk):
    assessment = two_engines()
    first, second = (next(one for one in assessment.starts if one.engine == engine) for engine in (1, 2))
    desk.show(assessment)
    desk.window.replay.seek(first.fuel_on_s)
    desk.user.presses("C")
    dialog = desk.user.dialog("Compare with another start")
    (offered,) = dialog.table("Starts to compare with").choices
    assert offered.startswith(f"Start {second.number} of engine 2: ")
    dialog.presses("Return", on="Starts to compare with")
    name = f"Compared with start {second.number} of engine 2"
    assert desk.user.reads("Which start is compared") == name
    # Of each engine its own channels are read.
    shown = desk.window.replay.comparison.shown
    for name, engine, start, at in (("itt", 1, first, 0), ("itt", 2, second, 1)):
        channel = assessment.recording.get(name, engine)
        there = np.interp(start.fuel_on_s + 5.0, channel.time_s, channel.values)
        assert shown.reading(name, 5.0)[at] == pytest.approx(there, abs=0.01)
    back_at(desk)
    desk.user.presses("X")
    assert desk.user.sees("That start is of engine 2: show it first, with View, Engine.")
