"""What a file is proposed as, what is asked, and what becomes of the answers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from debrief.errors import UserError
from debrief.recording.matching.remembered import Remembered
from debrief.recording.reader import read
from debrief.session.importing.column_choices import (
    NOT_USED,
    channel_choices,
    choice_words,
    confidence_words,
    unit_choices,
)
from debrief.session.importing.file_proposal import NO_NAMES, NO_TIMES, FileProposal, propose_steps, reduced
from debrief.session.importing.import_form import ImportForm
from debrief.session.importing.import_opening import Accepted, Unsure, only, open_as, open_or_ask
from debrief.session.importing.import_questions import Question, merged

DEMO = Path(__file__).parents[3] / "demo_flights"


def finished(steps):
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def write(folder: Path, header: str, rows, name: str = "run.csv") -> Path:
    file = folder / name
    lines = [header, *rows] if header else list(rows)
    file.write_text("\n".join(lines) + "\n")
    return file


def rows_of(count: int, *columns) -> list[str]:
    return [",".join(f"{column(i):g}" for column in columns) for i in range(count)]


def ramp(i: int) -> float:
    return min(60.0, i * 1.0)


def heat(i: int) -> float:
    return 20 + min(500.0, i * 7.0)


@pytest.fixture
def no_time(tmp_path):
    return write(tmp_path, "Ng (%),ITT (degC)", rows_of(120, ramp, heat))


@pytest.fixture
def two_speeds(tmp_path):
    """Two columns that may be the speed and do not rise together, and a sure temperature."""
    return write(
        tmp_path,
        "Time (s),RPM (actual),RPM (actual %),ITT (degC)",
        rows_of(120, lambda i: i * 0.5, lambda i: 1000 * ramp(i), lambda i: max(0.0, 3 * ramp(i) - 90), heat),
    )


def accepted(form: ImportForm, remember: bool | None = None) -> Accepted:
    assert form.problems() == ()
    return Accepted(form.proposal.path, form.choices(), form.kept_channels(), remember)


# --- the proposal -------------------------------------------------------------------------------------


def test_a_sure_file_is_opened_without_a_question():
    session = finished(open_or_ask(DEMO / "02_early_fuel_hot.csv"))
    assert session.assessment.verdict == "exceeded"
    assert not session.choices.remembered


def test_the_columns_of_a_sure_file_are_proposed_with_unit_confidence_and_trace():
    proposal = finished(propose_steps(DEMO / "02_early_fuel_hot.csv"))
    assert not proposal.is_unsure
    assert proposal.profile_name == "tarn-tg7"
    assert proposal.identity.aircraft == "ZZ-TRN"
    itt = next(c for c in proposal.columns if c.channel == "itt")
    assert (itt.name, itt.unit) == ("ITT (degC)", "degC")
    assert confidence_words(itt, "itt", "degC") == "sure"
    recorded = read(DEMO / "02_early_fuel_hot.csv").channels["itt"].values
    assert np.nanmax(itt.high) == recorded.max()
    assert np.nanmin(itt.low) == recorded.min()
    assert proposal.columns[0].channel == "time"
    assert len(proposal.preview) == 6
    assert ImportForm(proposal).maps() == ()


def test_a_file_without_times_asks_for_the_rate_in_place_of_a_refusal(no_time):
    with pytest.raises(UserError, match="no time column"):
        read(no_time)
    with pytest.raises(Unsure) as asked:
        finished(open_or_ask(no_time))
    proposal = asked.value.proposal
    assert proposal.needs_rate
    assert "samples per second" in proposal.problem
    assert "--" not in proposal.problem
    assert [c.channel for c in proposal.columns] == ["ng", "itt"]
    assert all(c.low.size for c in proposal.columns)
    assert proposal.profiles


def test_the_given_rate_spaces_the_samples(no_time):
    form = ImportForm(finished(propose_steps(no_time)))
    assert any("samples per second" in text for text in form.problems())
    form.rate_text = "0"
    assert any("is no rate" in text for text in form.problems())
    form.rate_text = "2,5"
    session = finished(open_as(accepted(form)))
    assert session.choices.rate_hz == 2.5
    assert session.recording.channels["itt"].interval_s == pytest.approx(0.4)


def test_the_columns_of_an_open_flight_come_back_as_they_were_chosen(no_time):
    form = ImportForm(finished(propose_steps(no_time)))
    form.rate_text = "4"
    form.assign(0, "np", "%")
    session = finished(open_as(accepted(form)))
    again = ImportForm(finished(propose_steps(session.path, session.choices, session.source)))
    assert again.problems() == ()
    assert again.rate_text == "4"
    assert (again.channel(0), again.unit(0)) == ("np", "%")
    assert confidence_words(again.proposal.columns[0], "np", "%") == "chosen before"
    assert again.choices().maps == session.choices.maps
    assert again.choices().rate_hz == 4.0


def test_times_that_run_backwards_are_said_and_another_column_can_be_chosen(tmp_path):
    file = write(
        tmp_path,
        "Time (s),Tick,Ng (%),ITT (degC)",
        rows_of(100, lambda i: 100.0 - i, lambda i: i * 0.25, ramp, heat),
    )
    with pytest.raises(Unsure, match="backwards") as asked:
        finished(open_or_ask(file))
    form = ImportForm(asked.value.proposal)
    assert not form.needs_rate
    form.assign(1, "time", "s")
    assert finished(open_as(accepted(form))).recording.duration_s == pytest.approx(24.75)


def test_time_columns_that_disagree_are_asked_about(tmp_path):
    file = write(
        tmp_path,
        "Time (s),Elapsed (s),Ng (%),ITT (degC)",
        rows_of(100, lambda i: i * 1.0, lambda i: i * 0.1, ramp, heat),
    )
    with pytest.raises(Unsure) as asked:
        finished(open_or_ask(file))
    question = asked.value.proposal.questions[0]
    assert (question.channel, question.matters) == ("time", True)
    assert {answer.column for answer in question.answers} == {0, 1}
    form = ImportForm(asked.value.proposal)
    form.answer(question, next(a for a in question.answers if a.column == 0))
    assert finished(open_as(accepted(form))).recording.duration_s == pytest.approx(99.0)


def test_a_column_chosen_as_time_needs_no_rate(tmp_path):
    file = write(tmp_path, "Tick,Ng (%),ITT (degC)", rows_of(100, lambda i: i * 250.0, ramp, heat))
    form = ImportForm(finished(propose_steps(file)))
    assert form.needs_rate
    form.assign(0, "time", "ms")
    assert not form.needs_rate
    session = finished(open_as(accepted(form)))
    assert session.recording.duration_s == pytest.approx(99 * 0.25)
    assert session.choices.maps == ("time=Tick:ms",)


def asked_of(file: Path) -> FileProposal:
    with pytest.raises(Unsure) as asked:
        finished(open_or_ask(file))
    return asked.value.proposal


def test_of_a_file_without_a_header_only_what_nobody_can_know_is_asked(tmp_path):
    file = write(tmp_path, "", rows_of(80, lambda i: 9 + i * 0.1, lambda i: 300 + i, lambda i: 290 + i))
    proposal = asked_of(file)
    assert proposal.problem == NO_NAMES  # why it is asked, and what to do
    time = next(q for q in proposal.questions if q.channel == "time")
    assert time.text == '"Column 1" only rises, by 0.1 from row to row: is it the time in seconds?'
    form = ImportForm(proposal)
    assert (form.state_of(time), form.needs_rate, form.unit(0)) == ("proposed", False, "s")
    assert form.problems() == ("Choose at least one column as a channel of the engine or the flight.",)
    assert not form.is_problem_settled
    form.assign(1, "fuel_flow")
    assert form.problems() == ('Choose the unit of "Column 2" (fuel flow).',)
    form.set_unit(1, "lb/h")
    assert form.problems() == ()  # it can be opened: two choices
    assert form.is_problem_settled
    form.assign(2, "fuel_flow.2")
    assert form.unit(2) == "lb/h"  # as the other engine's
    session = finished(open_as(accepted(form)))
    assert session.recording.engines == (1, 2)
    assert session.recording.duration_s == pytest.approx(7.9)
    assert session.recording.channels["fuel_flow.2"].values[0] == pytest.approx(290 * 0.45359237)


@pytest.mark.parametrize(
    ("time", "why"),
    [
        (lambda i: i * 0.1 + (i // 7) * 0.3, "it rises by steps of many sizes"),
        (lambda i: i * 100, "steps of 100 may be milliseconds"),
        (lambda i: 1935653400 + i, "it is no elapsed time"),
    ],
)
def test_a_rising_column_that_may_be_something_else_is_not_proposed_as_the_time(time, why, tmp_path):
    proposal = asked_of(write(tmp_path, "", rows_of(80, time, lambda i: 300 + i % 9)))
    form = ImportForm(proposal)
    assert form.column_of("time") is None, why
    assert form.needs_rate
    assert NO_TIMES in proposal.problem


def test_who_takes_the_proposed_time_back_is_asked_for_the_rate(tmp_path):
    form = ImportForm(asked_of(write(tmp_path, "", rows_of(80, lambda i: i * 0.1, lambda i: 300 + i % 9))))
    form.assign(0, NOT_USED)
    form.assign(1, "itt", "degC")
    assert form.needs_rate
    form.rate_text = "20"
    assert finished(open_as(accepted(form))).recording.duration_s == pytest.approx(79 / 20)


def test_a_unit_goes_over_to_the_same_quantity_of_another_engine_alone(tmp_path):
    form = ImportForm(
        asked_of(write(tmp_path, "", rows_of(80, lambda i: i * 0.1, *[lambda i: 300 + i % 9] * 3)))
    )
    form.assign(1, "itt", "degF")
    form.assign(2, "itt.2")
    form.assign(3, "oil_temp")
    assert (form.unit(2), form.unit(3)) == ("degF", "")


def test_a_single_sample_is_refused_since_no_choice_would_help(tmp_path):
    file = write(tmp_path, "Time (s),Ng (%)", ["0,1"])
    with pytest.raises(UserError, match="single sample") as refused:
        finished(open_or_ask(file))
    assert not isinstance(refused.value, Unsure)


def test_an_unsure_speed_is_asked_before_the_file_is_shown(two_speeds):
    assert "ng" not in read(two_speeds).channels
    with pytest.raises(Unsure) as asked:
        finished(open_or_ask(two_speeds))
    question = next(q for q in asked.value.proposal.questions if q.channel == "ng")
    assert question.matters
    assert "--map" not in question.text
    assert "gas generator speed" in question.text
    assert {(a.column, a.unit) for a in question.answers} == {(1, "rpm"), (2, "%")}


def test_a_question_about_a_channel_that_no_start_is_judged_by_does_not_hold_the_file_up(tmp_path):
    file = write(
        tmp_path,
        "Time (s),Ng (%),ITT (degC),Oil temp",
        rows_of(60, lambda i: i * 1.0, ramp, heat, lambda i: 100 + i),
    )
    session = finished(open_or_ask(file))
    assert any("oil_temp" in q for q in session.recording.provenance.questions)


def test_several_questions_of_one_channel_become_one():
    why = "no unit is told and its values reach 30"
    one = Question(f'"A" may be x ({why}).', "np", (), False, "may_be", why)
    other = Question(f'"B" may be x ({why}).', "np", (), True, "may_be", why)
    plain = Question("The date is odd.")
    result = merged([plain, one, other])
    assert [q.channel for q in result] == ["np", ""]
    assert result[0].matters
    assert result[0].text == (
        "Which column is the power turbine or propeller speed? No unit is told and its values reach 30."
    )


# --- corrections --------------------------------------------------------------------------------------


def test_an_answer_is_read_as_answered_and_says_that_a_person_did(two_speeds):
    form = ImportForm(finished(propose_steps(two_speeds)))
    question = next(q for q in form.proposal.questions if q.channel == "ng")
    answer = next(a for a in question.answers if a.unit == "rpm")
    assert not form.is_answered_by(question, answer)
    form.answer(question, answer)
    assert form.is_answered_by(question, answer)
    session = finished(open_as(accepted(form)))
    ng = session.recording.channels["ng"]
    assert (ng.column, ng.unit, ng.map_source) == ("RPM (actual)", "rpm", "entered")
    assert session.recording.channels["itt"].map_source == "header"


def test_a_channel_has_one_column_and_moving_it_is_said(two_speeds):
    form = ImportForm(finished(propose_steps(two_speeds)))
    form.assign(1, "ng", "rpm")
    said = form.assign(2, "ng", "%")
    assert said == 'Gas generator speed was moved from "RPM (actual)" to "RPM (actual %)".'
    assert form.channel(1) == ""
    assert form.column_of("ng") == 2


def test_a_unit_that_nobody_told_must_be_chosen(tmp_path):
    file = write(tmp_path, "Time (s),Ng (%),Alpha", rows_of(50, lambda i: i * 1.0, ramp, heat))
    form = ImportForm(finished(propose_steps(file)))
    form.assign(2, "itt")
    assert form.problems() == ('Choose the unit of "Alpha" (interturbine temperature).',)
    form.set_unit(2, "psi")
    assert form.unit(2) == ""
    form.set_unit(2, "degF")
    session = finished(open_as(accepted(form)))
    # NIST SP 811: t/degC = (t/degF - 32)/1.8
    assert session.recording.channels["itt"].values[0] == pytest.approx((20 - 32) / 1.8)


def test_a_recognised_column_can_be_left_unused():
    form = ImportForm(finished(propose_steps(DEMO / "02_early_fuel_hot.csv")))
    oil = form.column_of("oil_temp")
    form.assign(oil, "")
    assert form.maps() == ("none=Oil temp (degC)",)
    session = finished(open_as(accepted(form)))
    assert "oil_temp" not in session.recording.channels
    assert session.recording.unmapped["Oil temp (degC)"].map_source == "none"
    again = finished(propose_steps(session.path, session.choices, session.source))
    assert again.columns[oil].channel == ""


def test_what_the_reader_finds_besides_is_not_used_behind_the_form_s_back():
    recording = read(DEMO / "02_early_fuel_hot.csv")
    assert set(only(recording, ("itt", "ng")).channels) == {"itt", "ng"}
    with pytest.raises(UserError, match="none of the chosen columns"):
        only(recording, ("ias.2",))


def test_the_time_of_a_file_that_has_one_cannot_be_left_out():
    form = ImportForm(finished(propose_steps(DEMO / "02_early_fuel_hot.csv")))
    form.assign(form.column_of("time"), "")
    assert form.problems() == ("Choose the column that holds the time.",)


def test_identity_is_kept_as_entered_and_a_start_that_is_no_instant_is_refused(no_time):
    form = ImportForm(finished(propose_steps(no_time)))
    form.rate_text = "4"
    form.aircraft, form.engine_serial, form.start_text = " ZZ-TRN ", "TG7-118", "yesterday"
    assert '"yesterday" is not a date and time' in form.problems()[0]
    form.start_text, form.altimeter = "2031-05-14T09:12:00Z", "high"
    assert '"high" is no altimeter setting' in form.problems()[0]
    form.altimeter = " 29.92 "
    assert not form.problems()
    identity = finished(open_as(accepted(form))).recording.identity
    assert (identity.aircraft, identity.aircraft_source) == ("ZZ-TRN", "entered")
    assert (identity.engine_serial, identity.start_source) == ("TG7-118", "entered")
    assert identity.start is not None
    assert identity.start.isoformat() == "2031-05-14T09:12:00+00:00"
    assert (identity.altimeter_setting_source, round(identity.altimeter_setting_hpa, 1)) == (
        "entered",
        1013.2,
    )


def test_the_chosen_profile_judges(no_time):
    proposal = finished(propose_steps(no_time))
    assert ("tarn-tg7", "Tarn TG-7 (training example)") in proposal.profiles
    form = ImportForm(proposal)
    form.rate_text, form.profile = "10", "tarn-tg7"
    session = finished(open_as(accepted(form)))
    assert session.profile is not None
    assert session.profile.name == "Tarn TG-7 (training example)"


@pytest.mark.parametrize("name", ["Alpha:degF", "A=B", "#1", "x", " padded", ""])
def test_a_map_means_its_own_column_whatever_the_column_is_called(tmp_path, name):
    from debrief.recording.matching.maps import parse_maps

    other = "Alpha" if ":" in name else "X"
    file = write(
        tmp_path,
        f"Time (s),Ng (%),{other},{name}",
        rows_of(50, lambda i: i * 1.0, ramp, heat, lambda i: heat(i) + 1),
    )
    form = ImportForm(finished(propose_steps(file)))
    form.assign(3, "itt", "degC")
    found = [m for m in parse_maps(form.maps(), form.proposal.names) if m.channel == "itt"]
    assert [(m.column, m.unit.name) for m in found] == [(3, "degC")]


def test_every_choice_has_words_and_every_channel_has_a_unit():
    words = [choice_words(channel) for channel in channel_choices()]
    assert len(set(words)) == len(words)
    assert all(unit_choices(channel) for channel in channel_choices() if channel)
    assert unit_choices("") == ()
    assert {"%", "rpm", "krpm"} <= set(unit_choices("ng"))
    assert "degF" in unit_choices("itt.2")


# --- remembering --------------------------------------------------------------------------------------


def remembered_of(file: Path) -> str:
    form = ImportForm(finished(propose_steps(file)))
    form.assign(1, "ng", "rpm")
    finished(open_as(accepted(form, remember=True)))
    return form.proposal.signature


def test_remembered_columns_open_the_next_file_of_the_kind_and_say_so(two_speeds, tmp_path):
    remembered_of(two_speeds)
    other = tmp_path / "next.csv"
    other.write_text(two_speeds.read_text())
    session = finished(open_or_ask(other))
    assert session.choices.remembered
    assert session.recording.channels["ng"].map_source == "remembered"
    shown = finished(propose_steps(other, session.choices, session.source))
    assert confidence_words(shown.columns[1], "ng", "rpm") == "remembered"
    assert session.recording.channels["ng"].column == "RPM (actual)"


def test_nothing_is_remembered_unasked_and_it_can_be_forgotten(two_speeds):
    form = ImportForm(finished(propose_steps(two_speeds)))
    form.assign(1, "ng", "rpm")
    finished(open_as(accepted(form)))
    assert len(Remembered()) == 0
    signature = remembered_of(two_speeds)
    assert signature in Remembered()
    form = ImportForm(finished(propose_steps(two_speeds)))
    assert form.remember
    assert form.channel(1) == "ng"
    finished(open_as(accepted(form, remember=False)))
    assert len(Remembered()) == 0


def test_a_column_left_unused_is_remembered_and_its_question_not_asked_again(two_speeds, tmp_path):
    form = ImportForm(finished(propose_steps(two_speeds)))
    (question,) = form.proposal.questions
    form.decline(question)
    assert form.is_declined(question)
    assert form.sureness(1) == "chosen here"
    assert form.maps() == ("none=RPM (actual)", "none=RPM (actual %)")
    first = finished(open_as(accepted(form, remember=True)))
    assert '"RPM (actual)" is not used, as was said' in first.recording.provenance.decisions
    assert "ng" not in first.recording.channels
    other = tmp_path / "next.csv"
    other.write_text(two_speeds.read_text())
    session = finished(open_or_ask(other))
    assert session.choices.remembered
    assert "ng" not in session.recording.channels
    assert session.recording.provenance.questions == ()
    assert '"RPM (actual)" is not used, as is remembered' in session.recording.provenance.decisions
    shown = finished(propose_steps(other, session.choices, session.source))
    assert shown.questions == ()
    again = ImportForm(shown)
    assert again.sureness(1) == "remembered"
    assert set(again.maps()) == {"none=RPM (actual)", "none=RPM (actual %)"}  # and is kept on, once more


def test_a_declined_question_can_be_taken_up_again(two_speeds):
    form = ImportForm(finished(propose_steps(two_speeds)))
    (question,) = form.proposal.questions
    form.decline(question)
    form.decline(question)
    assert not form.is_declined(question)
    assert form.maps() == ()
    form.decline(question)
    form.answer(question, question.answers[0])
    assert not form.is_declined(question)
    assert form.maps() == ("ng=RPM (actual):rpm", "none=RPM (actual %)")


def test_a_channel_left_to_no_column_is_not_given_to_the_next_best_one_later(tmp_path):
    file = write(
        tmp_path,
        "Time (s),ITT (degC),Eng ITT (degC),Ng (%)",
        rows_of(120, lambda i: i * 0.5, heat, lambda i: heat(i) / 2, ramp),
    )
    form = ImportForm(finished(propose_steps(file)))
    assert form.channel(1) == "itt"
    form.assign(1, "")
    assert set(form.maps()) >= {"none=ITT (degC)", "none=Eng ITT (degC)"}
    finished(open_as(accepted(form, remember=True)))
    session = finished(open_or_ask(file))
    assert session.choices.remembered
    assert set(session.recording.channels) == {"ng"}


def test_without_a_header_what_was_remembered_is_only_offered(tmp_path):
    rows = rows_of(80, lambda i: i * 0.1, lambda i: 300 + i)
    file = write(tmp_path, "", rows)
    form = ImportForm(finished(propose_steps(file)))
    form.assign(0, "time", "s")
    form.assign(1, "fuel_flow", "kg/h")
    finished(open_as(accepted(form, remember=True)))
    with pytest.raises(Unsure) as asked:
        finished(open_or_ask(file))
    offered = ImportForm(asked.value.proposal)
    assert (offered.channel(0), offered.channel(1)) == ("time", "fuel_flow")


def test_a_damaged_memory_does_not_keep_a_file_from_being_opened(debrief_home):
    (debrief_home / "column_maps.json").write_text("{")
    assert finished(open_or_ask(DEMO / "01_cool_normal_start.csv")).recording.channels


# --- the traces ---------------------------------------------------------------------------------------


@given(
    npst.arrays(
        np.float64,
        st.integers(1, 500),
        elements=st.one_of(st.floats(-1e6, 1e6), st.just(float("nan"))),
    ),
    st.integers(1, 120),
)
def test_a_trace_holds_the_extremes_and_no_value_that_is_not_there(values, points):
    low, high = reduced(values, points)
    held = values[np.isfinite(values)]
    if held.size == 0:
        assert low.size == high.size == 0
        return
    assert low.size == high.size <= points
    assert np.nanmin(low) == held.min()
    assert np.nanmax(high) == held.max()
    assert set(low[np.isfinite(low)]) <= set(held)


def test_a_trace_leaves_out_damage_and_tells_an_empty_column():
    low, high = reduced(np.array([1.0, 1e300, 2.0, np.inf]))
    assert np.nanmax(high) == 2.0
    assert np.nanmin(low) == 1.0
    assert reduced(np.array([np.nan, np.nan]))[0].size == 0


def test_each_engine_has_its_serial_number_as_entered(tmp_path):
    path = tmp_path / "twin.csv"
    rows = "".join(f"{k},{k},{k},{20 + k},{20 + k}\n" for k in range(5))
    path.write_text("Time (s),Ng 1 (%),Ng 2 (%),ITT 1 (degC),ITT 2 (degC)\n" + rows)
    form = ImportForm(finished(propose_steps(path)))
    assert form.further_engines == (2,)
    form.engine_serial, form.engine_serials = "S1", {2: " S2 "}
    identity = finished(open_as(accepted(form))).recording.identity
    assert [identity.serial_of(n) for n in (1, 2)] == ["S1", "S2"]


def test_what_is_asked_of_a_file_without_any_lane_says_so(tmp_path):
    file = write(
        tmp_path, "Time (s),Fuel Valve,Igniter", rows_of(40, lambda i: i, lambda i: i % 2, lambda i: 1)
    )
    with pytest.raises(
        Unsure, match="Only fuel, ignition found: no speed, temperature, torque or bus voltage"
    ):
        finished(open_or_ask(file))
