"""Files of strangers: nothing is guessed silently, what is there is found or asked for, and questions are few."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from debrief.errors import UserError
from debrief.recording.lexicon import wanted_word
from debrief.recording.matching.joined_probes import join_probes
from debrief.recording.model import Recording
from debrief.recording.reader import read
from debrief.session.importing.file_proposal import propose_steps
from debrief.session.importing.import_form import ImportForm
from debrief.session.importing.import_opening import Accepted, open_as
from debrief.session.importing.import_questions import Question
from debrief.steps import done
from debrief.words.channels import base_name
from debrief.words.units import BY_NAME, kept_unit, scale
from tests.recording.matching.odd_files import ODD, ROWS, Column, written

CORE = ("ng", "itt")
MOST = 4
"""Questions of one file that a person bears."""

names = pytest.mark.parametrize("name", ODD)


def truth(name: str, channel: str) -> dict[str, Column]:
    """Return the columns that truly are a channel."""
    return {head: column for head, column in ODD[name].items() if channel in dict(column.may_be)}


def channels_of(name: str) -> set[str]:
    """Return the core channels that a file truly holds."""
    return {c for column in ODD[name].values() for c, _ in column.may_be if base_name(c) in CORE}


def true_values(name: str, channel: str, head: str) -> np.ndarray:
    """Return a column in the unit that its channel is kept in, as it truly is."""
    column = ODD[name][head]
    unit = BY_NAME[dict(column.may_be)[channel]]
    to = kept_unit(unit, channel)
    assert to is not None
    return scale(np.array([column.values(i) for i in range(ROWS)]), unit, to)


def holds_the_truth(recording: Recording, name: str, channel: str) -> None:
    """Check that a channel is one of the columns that it truly is, in its unit."""
    taken = recording.channels[channel]
    assert taken.column in truth(name, channel), taken.column
    wanted = true_values(name, channel, taken.column)
    assert taken.values == pytest.approx(wanted, rel=1e-4, abs=1e-3)


@names
def test_what_is_taken_is_true_and_a_unit_that_nobody_tells_is_said(name: str, tmp_path: Path) -> None:
    if name == "a bench without an engine's words":
        with pytest.raises(UserError, match="no column was recognised"):
            read(written(tmp_path, name), rate_hz=1.0)
        return
    recording = read(
        written(tmp_path, name), maps=["ng=#2:%"] if "bench's names" in name else (), rate_hz=1.0
    )
    said = " ".join((*recording.provenance.decisions, *recording.provenance.questions))
    for channel, taken in recording.channels.items():
        column = ODD[name][taken.column]
        assert not column.wanted, f"{taken.column} is no measurement"
        if base_name(channel) in CORE:
            holds_the_truth(recording, name, channel)
        tells = (
            any(mark in taken.column for mark in "[(") or name == "a row of units" or " pct" in taken.column
        )
        if taken.map_source == "header" and not tells and not taken.unit.startswith("0/1"):
            assert f'"{taken.column}"' in said, "its unit was taken in silence"


@names
def test_what_is_there_is_taken_or_asked_for_with_the_right_answer(name: str, tmp_path: Path) -> None:
    path = written(tmp_path, name)
    proposal = done(propose_steps(path))
    found = {column.channel for column in proposal.columns}
    for channel in channels_of(name):
        offered = {
            proposal.names[number]
            for question in proposal.questions
            if question.channel == channel
            for answer in question.answers
            for number in (answer.probes or (answer.column,))
        }
        assert channel in found or offered & set(truth(name, channel)), (channel, proposal.questions)


@names
def test_no_set_point_is_offered_and_questions_are_few(name: str, tmp_path: Path) -> None:
    proposal = done(propose_steps(written(tmp_path, name)))
    for question in proposal.questions:
        for answer in question.answers:
            head = proposal.names[answer.column]
            assert not ODD[name][head].wanted, f"{head} is offered as {question.channel}"
            assert not wanted_word(head)
    assert len(proposal.questions) <= MOST
    assert len({question.channel for question in proposal.questions}) == len(proposal.questions)


def answered(form: ImportForm, question: Question, name: str) -> bool:
    """Answer a question as somebody who knows the file; return whether there is a true answer."""
    for answer in question.answers:
        heads = [form.proposal.names[number] for number in (answer.probes or (answer.column,))]
        units = [dict(ODD[name][head].may_be).get(question.channel) for head in heads]
        if answer.way != "engines" and all(units) and answer.unit in ("", *units):
            form.answer(question, answer)
            for number, unit in zip(answer.probes or (answer.column,), units, strict=True):
                if not form.unit(number) and question.channel != "time":
                    form.set_unit(number, str(unit))
            return True
    return False


@names
def test_answers_of_one_who_knows_give_the_true_recording_without_another_question(
    name: str, tmp_path: Path
) -> None:
    path = written(tmp_path, name)
    form = ImportForm(done(propose_steps(path)))
    if form.needs_rate:
        form.rate_text = "1"
    for question in form.proposal.questions:
        if question.answers and not answered(form, question, name):
            form.decline(question)
    if not channels_of(name):
        form.assign(1, "ng", "%")  # nobody can know; a person says
        form.assign(2, "itt", "degC")
    assert form.problems() == ()
    assert all(form.state_of(q) == "settled" for q in form.proposal.questions if q.answers)
    session = done(open_as(Accepted(path, form.choices(), form.kept_channels())))
    for channel in channels_of(name):
        holds_the_truth(session.recording, name, channel)
    again = done(propose_steps(path, session.choices, session.source))
    assert not [question for question in again.questions if question.matters]


@pytest.mark.parametrize("way", ["mean", "highest"])
@pytest.mark.parametrize("name", [name for name in ODD if "probes" in name])
def test_all_probes_together_are_what_they_truly_are(name: str, way: str, tmp_path: Path) -> None:
    path = written(tmp_path, name)
    form = ImportForm(done(propose_steps(path)))
    asked = [question for question in form.proposal.questions if base_name(question.channel) == "itt"]
    assert asked
    for question in asked:
        (answer,) = (one for one in question.answers if one.way == way)
        alive = {
            head
            for head, column in truth(name, question.channel).items()
            if column.values(0) != column.values(99)
        }
        assert {form.proposal.names[c] for c in answer.probes} == alive
        form.answer(question, answer)
    for question in form.proposal.questions:
        if form.state_of(question) != "settled" and not answered(form, question, name):
            form.decline(question)
    if form.needs_rate:
        form.rate_text = "1"
    session = done(open_as(Accepted(path, form.choices(), form.kept_channels())))
    for question in asked:
        heads = sorted(truth(name, question.channel), key=list(ODD[name]).index)
        probes = [true_values(name, question.channel, head) for head in heads]
        together = join_probes(probes, way, -80.0, 1700.0)
        channel = session.recording.channels[question.channel]
        assert channel.values == pytest.approx(together.values, rel=1e-4, abs=1e-2)
        assert channel.column.startswith(f"{way} of ")
        left = {heads[one.probe] for one in together.left_out}
        assert all((f'"{head}"' in channel.column) == (head not in left) for head in heads)
