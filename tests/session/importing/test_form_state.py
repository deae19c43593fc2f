"""The answers of the import dialog as values: all come back, and what does not fit is passed over."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.session.importing.file_proposal import propose_steps
from debrief.session.importing.form_state import form_state, put_back
from debrief.session.importing.import_form import ImportForm
from debrief.steps import done


@pytest.fixture(scope="module")
def proposal(tmp_path_factory):
    file = tmp_path_factory.mktemp("form") / "f.csv"
    rows = [f"{i * 0.5:g},{1000 * i},{i % 90},{20 + 4 * i},{i % 7}" for i in range(60)]
    file.write_text("\n".join(["Time (s),RPM (actual),RPM (actual %),ITT (degC),Alpha", *rows]) + "\n")
    return done(propose_steps(Path(file)))


def answered(proposal) -> ImportForm:
    form = ImportForm(proposal)
    form.assign(2, "ng", "%")
    form.assign(4, "oil_temp", "degC")
    form.assign(3, "")
    form.aircraft, form.start_text, form.altimeter, form.remember = "ZZ-TRN", "2031-05-04", "1013", True
    form.engine_serials = {2: "E2"}
    form.profile = proposal.profiles[0][0]
    return form


def test_all_that_was_answered_comes_back(proposal):
    form = answered(proposal)
    other = ImportForm(proposal)
    assert other.held != form.held
    put_back(other, json.loads(json.dumps(form_state(form))))
    assert other.held == form.held
    assert other.choices() == form.choices()
    assert [other.state_of(q) for q in proposal.questions] == [form.state_of(q) for q in proposal.questions]


def test_what_is_of_one_recording_does_not_go_to_another(proposal):
    other = ImportForm(proposal)
    put_back(other, {**form_state(answered(proposal)), "sha256": "0" * 64})
    assert (other.start_text, other.altimeter) == ("", "")
    assert (other.aircraft, other.channel(2)) == ("ZZ-TRN", "ng")


def test_a_profile_that_was_made_meanwhile_is_known_by_its_name(proposal):
    form, other = answered(proposal), ImportForm(proposal)
    stem = proposal.profiles[0][0]
    put_back(other, {**form_state(form), "profile": f"/somewhere/{stem}.toml"})
    assert other.profile == stem


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-3, 9)
    | st.floats()
    | st.sampled_from(["ng", "itt", "", "%", "time", "no"]),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=2), inner, max_size=3),
    max_leaves=12,
)
NAMES = (
    "columns",
    "unused",
    "said",
    "rate_text",
    "aircraft",
    "engine_serials",
    "profile",
    "remember",
    "sha256",
)


@settings(max_examples=150)
@given(st.fixed_dictionaries(dict.fromkeys(NAMES, VALUES)))
def test_whatever_stands_in_the_file_leaves_a_form_that_can_be_used(proposal, state):
    form = ImportForm(proposal)
    put_back(form, state)
    form.problems()
    form.choices()
    form.held.__hash__()
    json.dumps(form_state(form))


def test_a_column_of_another_name_or_an_unknown_unit_is_passed_over(proposal):
    form = ImportForm(proposal)
    rows = [[2, "Another", "ng", "%"], [4, "Alpha", "oil_temp", "furlong"], [1, "RPM (actual)", "nothing", ""], [99, "x", "ng", "%"]]  # fmt: skip
    put_back(form, {"columns": rows})
    assert [form.channel(n) for n in range(5)] == [""] * 5
