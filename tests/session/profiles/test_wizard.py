"""The wizard without its window: answers become a profile that has exactly these values."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.profile.gaps import gaps
from debrief.profile.loader import find, parse
from debrief.profile.model import AllowedRow, DutyRow, LifeRules, ShutdownRules
from debrief.session.profiles.profile_form import own_folder
from debrief.session.profiles.profile_gaps import completeness
from debrief.session.profiles.profile_lines import profile_lines
from debrief.session.profiles.wizard import Wizard
from debrief.session.profiles.wizard_pages import COUNT, PAGES, RUNNING, TABLE
from debrief.words.profile_keys import key_title

BY_KEY = {question.key: (page, question) for page in PAGES for question in page.questions}
BY_NAME = {page.name: page for page in PAGES}
RUNNING_ROWS = (
    ("780", "300", "830", "5", ""),
    ("", "", "2100", "20", "lbf ft"),
    ("", "", "", "", ""),
    ("", "", "100", "0", "%"),
    ("", "", "104", "0", ""),
    ("80", "30", "45", "5", ""),
)
COMPLETE = {
    "name": "Bench engine", "aircraft": "Test stand", "manual": "Manual 7", "manual_revision": "3",
    "manual_date": "May 2021", "entered_by": "A. Example", "entered_on": "2026-03-01", "checked_by": "B. Example",
    "checked_on": "2026-03-02", "approved_data": True,
    "start.idle_ng_pct": "58", "start.idle_within_s": "45",
    "starter.duty": (("45", "90"), ("45", "40 min")), "starter.reset_after_s": "40 min", "start.max_engage_ng_pct": "8",
    "start.fuel_control": "manual", "start.min_fuel_ng_pct": "15", "start.advised_fuel_ng_pct": "18",
    "start.light_off_within_s": "10",
    TABLE: (("920", "6"), ("830", "20"), ("1030", "0")), "limits.start.reference": "Figure 3-1",
    "start.max_residual_itt_c": "190",
    "abort.motor_for_s": "20", "start.purge_s": "15",
    RUNNING: RUNNING_ROWS, "engine.reference_torque.value": "2100", "engine.reference_torque.unit": "lbf ft",
    "engine.reference_rpm.np": "1900",
    "start.min_bus_volts_before": "23", "start.min_bus_volts": "18", "start.nominal_bus_volts": "24",
    "flight.flight_gate_power_lever_pct": "22", "flight.airborne_ias_kt": "68",
    "flight.reverse_gate_power_lever_pct": "9", "shutdown.settle_s": "60", "shutdown.settle_itt_c": "640",
    "life.cycle_factor": "0.4", "life.reference_itt_c": "760", "life.larson_miller_c": "20",
}  # fmt: skip


def answered(answers):
    wizard = Wizard()
    for key, value in answers.items():
        wizard.answer(*BY_KEY[key], value)
    return wizard


def whole():
    wizard = answered(COMPLETE)
    wizard.suggest(BY_NAME["How it is recognised"])
    return wizard


def loaded(wizard):
    return parse(wizard.read().form.text.encode())


def test_all_answers_arrive_in_the_profile():
    wizard = whole()
    assert wizard.read().problems == {}
    profile = loaded(wizard)
    assert profile.name == "Bench engine"
    assert profile.source == "Manual 7, revision 3, May 2021"
    assert (profile.entered_by, profile.entered_on) == ("A. Example", "2026-03-01")
    assert (profile.checked_by, profile.checked_on) == ("B. Example", "2026-03-02")
    assert profile.approved_data
    assert profile.starter.duty == (DutyRow(45, 90), DutyRow(45, 2400))
    assert profile.starter.reset_after_s == 2400
    hot, itt, torque, np_, oil_temp, oil_press = profile.limits
    assert (hot.event, hot.when, hot.count, hot.reference) == ("hot_start", "start", "total", "Figure 3-1")
    assert hot.allowed == (AllowedRow(830, 20), AllowedRow(920, 6), AllowedRow(1030, 0))
    assert itt.allowed == (AllowedRow(780, 300, "caution"), AllowedRow(830, 5))
    assert torque.allowed == (AllowedRow(100, 20),)
    assert np_.allowed == (AllowedRow(1900, 0),)
    assert oil_temp.allowed == (AllowedRow(104, 0),)
    assert oil_press.below
    assert oil_press.allowed == (AllowedRow(80, 30, "caution"), AllowedRow(45, 5))
    assert (profile.flight.reverse_gate_power_lever_pct, profile.shutdown) == (9, ShutdownRules(640, 60))
    assert profile.life == LifeRules(0.4, 760, 20, None)
    assert gaps(profile) == ()
    assert not any(one.absent for one in completeness(profile))


NUMBERS = [key for key, (_, one) in BY_KEY.items() if one.field.kind == "number" and key.startswith(("start.", "abort.", "flight.", "shutdown.", "life."))]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(
    values=st.dictionaries(st.sampled_from(NUMBERS), st.floats(0.1, 900).map(lambda x: f"{x:.6g}")),
    levels=st.lists(st.integers(300, 1300), unique=True, max_size=6),
    seconds=st.lists(st.integers(0, 600), unique=True, min_size=6, max_size=6),
    duty=st.lists(st.tuples(st.integers(1, 300), st.integers(0, 4000)), max_size=4),
)
def test_the_loaded_profile_has_exactly_what_was_answered(values, levels, seconds, duty):
    table = list(zip(sorted(levels), sorted(seconds, reverse=True), strict=False))
    wizard = answered(
        {
            "name": "X",
            **values,
            TABLE: tuple((str(a), str(b)) for a, b in table),
            "starter.duty": tuple((str(a), str(b)) for a, b in duty),
        }
    )
    reading = wizard.read()
    if reading.problems:  # numbers that contradict each other are refused where they were typed
        assert set(reading.problems) <= set(values)
        return
    profile = loaded(wizard)
    for key in NUMBERS:
        rules, name = key.split(".")
        held = getattr(getattr(profile, rules), name)
        assert held == (pytest.approx(float(values[key])) if key in values else None)
    assert [(row.level, row.seconds) for limit in profile.limits for row in limit.allowed] == table
    assert [(row.run_s, row.rest_s) for row in profile.starter.duty] == duty


@settings(max_examples=60, deadline=None)
@given(st.sets(st.sampled_from([page.name for page in PAGES[1:]])))
def test_what_is_skipped_and_nothing_else_cannot_be_judged(skipped):
    wizard = whole()
    for name in skipped:
        wizard.skip(BY_NAME[name])
        assert wizard.status(BY_NAME[name]) == "skipped"
    assert wizard.read().problems == {}
    lacking = {gap.what for gap in gaps(loaded(wizard))}
    assert lacking == {what for name in skipped for what in BY_NAME[name].judges}


def test_each_thing_that_is_judged_is_asked_for_on_a_page():
    asked = {what for page in PAGES for what in page.judges}
    assert asked == {one.what for one in completeness(loaded(whole()))}


def test_units_of_a_page_are_what_its_numbers_are_in():
    wizard = answered({"name": "X", TABLE: (("1526", "20"),), "start.max_residual_itt_c": "374"})
    wizard.choose_unit(BY_NAME["Start temperature"], "temperature", "degF")
    wizard.answer(*BY_KEY["start.light_off_rise_c"], "72")
    wizard.choose_unit(BY_NAME["How it is recognised"], "temperature", "degF")
    wizard.answer(*BY_KEY["start.idle_ng_pct"], "20000")
    wizard.choose_unit(BY_NAME["Idle"], "speed", "rpm")
    assert "100 %" in wizard.read().problems["start.idle_ng_pct"]
    wizard.answer(*BY_KEY["engine.reference_rpm.ng"], "40000")
    wizard.answer(*BY_KEY["starter.duty"], (("1", "30"),))
    wizard.choose_unit(BY_NAME["Starter"], "time", "min")
    assert wizard.read().problems == {}
    profile = loaded(wizard)
    assert profile.limits[0].allowed[0].level == pytest.approx(830)
    assert profile.start.max_residual_itt_c == pytest.approx(190)
    assert profile.start.light_off_rise_c == pytest.approx(40)  # a difference: the zero does not move
    assert profile.start.idle_ng_pct == pytest.approx(50)
    assert profile.starter.duty == (DutyRow(60, 1800),)


@pytest.mark.parametrize(
    ("answers", "key", "words"),
    [
        ({"start.idle_ng_pct": "high"}, "start.idle_ng_pct", '"high" is not a number'),
        ({"start.idle_within_s": "soon"}, "start.idle_within_s", "no length of time"),
        ({"start.idle_ng_pct": "50", "start.min_fuel_ng_pct": "60"}, "start.min_fuel_ng_pct", "below idle Ng, 50"),
        ({TABLE: (("830", ""),)}, TABLE, "Row 1: the seconds are missing; 0 means not at any time"),
        ({TABLE: (("830", "5"), ("900", "9"))}, TABLE, "seconds must fall as the level gets worse"),
        ({"starter.duty": (("45", ""),)}, "starter.duty", "row 1: the rest after it is missing"),
        ({"checked_on": "yesterday"}, "checked_on", "is not a date"),
        ({"approved_data": True}, "approved_data", "need the manual"),
        ({RUNNING: (("", "", "", "", ""), ("", "", "2000", "0", "N m"))}, RUNNING, "Torque, highest: give the value"),
        ({RUNNING: (("780", "5", "", "9", ""),)}, RUNNING, "ITT, highest, limit: the level is missing"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_at_its_own_question_in_words(answers, key, words):
    reading = answered(answers).read()
    assert list(reading.problems) == [key]
    assert words in reading.problems[key]
    assert "start." not in reading.problems[key]
    assert "_" not in reading.problems[key]


def test_nothing_is_wrong_before_something_was_typed():
    wizard = Wizard()
    assert wizard.is_empty
    assert wizard.read().problems == {}
    wizard.answer(*BY_KEY[TABLE], (("", " "),))  # an empty row is no answer
    assert {wizard.status(page) for page in PAGES} == {"open"}
    assert wizard.is_empty


def test_every_answer_can_be_taken_back_and_done_again_and_a_number_that_is_typed_is_one_step():
    wizard = Wizard()
    page, question = BY_KEY["start.idle_ng_pct"]
    for text in ("5", "58", "58.5"):
        wizard.answer(page, question, text)
    assert wizard.history.undo_words == "Ng at idle"
    wizard.skip(page)
    wizard.history.undo()
    assert wizard.value(question) == "58.5"
    wizard.history.undo()
    assert wizard.value(question) == ""
    assert wizard.history.undo() is None
    assert wizard.history.redo() == "Idle/start.idle_ng_pct"
    assert wizard.value(question) == "58.5"
    wizard.answer(
        page, question, "60"
    )  # after a step back it is a step of its own, and what was undone is gone
    assert wizard.history.redo_words == ""
    wizard.history.undo()
    assert wizard.value(question) == "58.5"


def test_common_rules_fill_only_what_is_empty_and_only_when_asked():
    wizard = answered({"start.hung_for_s": "12"})
    page = BY_NAME["How it is recognised"]
    assert wizard.value(BY_KEY["start.stopped_ng_pct"][1]) == ""
    wizard.suggest(page)
    assert wizard.value(BY_KEY["start.hung_for_s"][1]) == "12"
    assert wizard.value(BY_KEY["start.stopped_ng_pct"][1]) == "5"


def test_common_rules_mean_the_same_in_every_unit():
    page = BY_NAME["How it is recognised"]
    for unit in ("degC", "degF"):
        wizard = answered({"name": "X"})
        wizard.choose_unit(page, "temperature", unit)
        wizard.suggest(page)
        rules = loaded(wizard).start
        assert (rules.light_off_rise_c, rules.after_cut_rise_c) == (pytest.approx(40), pytest.approx(150))


def test_what_is_drawn_is_the_table_and_a_row_that_cannot_be_read_stays():
    wizard = answered({"name": "X", TABLE: (("830", "20"), ("nine", "6"))})
    wizard.draw(((835.0, 20.0), (900.0, 3.0)))
    assert wizard.rows(TABLE) == (("835", "20"), ("900", "3"), ("nine", "6"))
    assert wizard.start_points() == ((835, 20), (900, 3))


def test_it_is_saved_in_the_folder_of_own_profiles_and_never_over_another(debrief_home):
    wizard = Wizard()
    with pytest.raises(UserError, match="no name yet"):
        wizard.save("")
    wizard = whole()
    assert wizard.suggested_file == "bench-engine"
    path = wizard.save("")
    assert path == own_folder() / "bench-engine.toml"
    assert find("bench-engine").limits == loaded(wizard).limits
    assert wizard.suggested_file == "bench-engine-2"
    for name, words in (
        ("bench-engine", "already"),
        ("tarn-tg7", "already"),
        ("../x", "not a name of a file"),
    ):
        with pytest.raises(UserError, match=words):
            wizard.save(name)
    wizard.answer(*BY_KEY[COUNT], "longest")
    assert find(wizard.save("other.toml").stem).limits[0].count == "longest"
    wizard.answer(*BY_KEY["start.idle_ng_pct"], "x")
    with pytest.raises(UserError, match="not a number"):
        wizard.save("third")


def test_what_was_entered_is_said_in_words_and_in_the_units_that_were_chosen():
    wizard = answered(
        {
            TABLE: (("1526", "20"), ("1886", "0")),
            "starter.duty": (("45", "90"), ("45", "40 min")),
            RUNNING: (("", "", "", "", ""),) * 5 + (("80", "30", "45", "5", ""),),
        }
    )
    wizard.choose_unit(BY_NAME["Start temperature"], "temperature", "degF")
    wizard.answer(*BY_KEY["start.light_off_rise_c"], "40")
    assert wizard.review() == (
        "Hot start, in a start: ITT above 1526 °F 20 s, 1886 °F not at any time",
        "Oil pressure low, with the engine running: Oil press below 80 psi 30 s (caution), 45 psi 5 s",
        "Starter: 45 s, then rest 1 min 30 s; 45 s, then rest 40 min; the last repeats",
        "Rise of ITT that is a light-off: 72 °F",  # 40 °C: a difference
    )
    assert Wizard().review() == ("Nothing yet.",)


def test_every_number_of_the_shipped_profile_is_in_its_lines():
    profile = find("tarn-tg7")
    words = "\n".join(profile_lines(profile)).casefold()
    for rules in (profile.start, profile.abort, profile.flight, profile.shutdown, profile.life):
        for name in rules.__dataclass_fields__:
            assert (key_title(name)[0].casefold() in words) == (getattr(rules, name) is not None), name
    for limit in profile.limits:
        assert all(f" {row.level:g} " in words for row in limit.allowed)
