"""What is remembered per kind of file: columns and rate are used, whose recording it is is only offered."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.matching.remembered import FILE_NAME, Kept, Remembered
from debrief.session.importing.file_proposal import FileProposal, propose_steps
from debrief.session.importing.import_form import ImportForm
from debrief.session.importing.import_opening import Accepted, Unsure, forget_steps, open_as, open_or_ask
from debrief.session.importing.remembered_words import remembered_words
from debrief.steps import done

ROWS = [f"{1000 * min(60, i)},{20 + min(640, max(0, 20 * (i - 40)))}" for i in range(160)]


def write(file: Path, preamble: str = "", header: str = "RPM (actual),EGT") -> Path:
    file.write_text("\n".join([*([preamble] if preamble else []), header, *ROWS]) + "\n", encoding="utf-8")
    return file


def proposal_of(file: Path) -> FileProposal:
    return done(propose_steps(file))


def remember(file: Path, **said: object) -> str:
    """Open a file as a person does who says everything and has it remembered; return its signature."""
    form = ImportForm(proposal_of(file))
    form.assign(0, "ng", "rpm")
    form.assign(1, "itt", "degC")
    form.rate_text = "4"
    form.profile, form.aircraft, form.engine_serial = "tarn-tg7", "ZZ-ONE", "S1"
    for name, value in said.items():
        setattr(form, name, value)
    accept(form, remember=True)
    return form.proposal.signature


def accept(form: ImportForm, *, remember: bool | None) -> None:
    done(open_as(Accepted(form.proposal.path, form.choices(), form.kept_channels(), remember)))


def test_columns_and_rate_are_used_and_whose_it_is_is_not(tmp_path: Path) -> None:
    remember(write(tmp_path / "first.csv"))
    session = done(open_or_ask(write(tmp_path / "second.csv")))
    assert session.recording.channels["itt"].interval_s == pytest.approx(0.25)
    assert session.recording.channels["ng"].map_source == "remembered"
    assert session.choices.remembered
    assert len(session.choices.remembered_on) == len("2031-05-04")
    who = session.recording.identity
    assert (who.aircraft, who.engine_serial, session.profile) == (None, None, None)


def test_the_window_is_offered_whose_it_is_and_takes_it_only_when_told(tmp_path: Path) -> None:
    remember(write(tmp_path / "first.csv"))
    with pytest.raises(Unsure) as asked:
        done(open_or_ask(write(tmp_path / "second.csv"), asks_whose=True))
    form = ImportForm(asked.value.proposal)
    assert (form.profile, form.aircraft, form.engine_serial) == (None, "", "")
    assert not form.is_offer_taken
    assert not form.problems()
    form.take_offer()
    assert form.is_offer_taken
    choices = form.choices()
    assert (choices.profile, choices.aircraft, choices.engine_serial) == ("tarn-tg7", "ZZ-ONE", "S1")
    form.decline_offer()
    assert (form.profile, form.aircraft, form.engine_serial) == (None, "", "")


def test_what_the_file_names_is_not_offered(tmp_path: Path) -> None:
    remember(write(tmp_path / "first.csv"))
    named = write(
        tmp_path / "named.csv", "# aircraft: ZZ-TWO\n# engine serial: S2\n# engine-profile: quill-b2"
    )
    session = done(open_or_ask(named, asks_whose=True))
    assert session.recording.identity.aircraft == "ZZ-TWO"
    assert session.recording.identity.engine_serial == "S2"
    assert "Quill" in session.profile.name
    assert not proposal_of(named).offer.names_an_engine
    half = write(tmp_path / "half.csv", "# aircraft: ZZ-TWO\n# engine-profile: quill-b2")
    offer = proposal_of(half).offer
    assert (offer.aircraft, offer.engine_serial, offer.profile) == (None, "S1", None)


def test_another_kind_of_file_is_not_touched(tmp_path: Path) -> None:
    remember(write(tmp_path / "first.csv"))
    proposal = proposal_of(write(tmp_path / "other.csv", header="RPM (actual),EGT (degC)"))
    assert proposal.kept.is_empty
    assert proposal.needs_rate


def test_what_is_not_said_this_time_stays_remembered(tmp_path: Path) -> None:
    signature = remember(write(tmp_path / "first.csv"))
    form = ImportForm(proposal_of(write(tmp_path / "second.csv")))
    form.decline_offer()
    form.aircraft = "ZZ-TWO"
    accept(form, remember=True)
    kept = Remembered().kept(signature)
    assert (kept.aircraft, kept.engine_serial, kept.profile) == ("ZZ-TWO", "S1", "tarn-tg7")


def test_it_is_forgotten_whole(tmp_path: Path) -> None:
    signature = remember(write(tmp_path / "first.csv"))
    assert done(forget_steps(signature)) == signature
    assert len(Remembered()) == 0
    assert proposal_of(tmp_path / "first.csv").kept.is_empty


def test_the_words_say_all_that_is_kept_and_since_when() -> None:
    kept = Kept(("ng=N1",), 4.0, "tg", "ZZ-ONE", "S1", ((2, "S2"),), "2031-05-04")
    assert remembered_words(kept, {"tg": "Training"}) == (
        "Remembered on 4 May 2031 for this kind of file: columns, 4 samples per second, profile Training, aircraft ZZ-ONE, "
        "engine 1, serial S1, engine 2, serial S2."
    )


def test_all_of_it_comes_back_from_the_file_and_columns_alone_are_kept_as_they_were_before(
    tmp_path: Path,
) -> None:
    kept = Kept(("ng=N1",), 4.0, "tg", "ZZ-ONE", "S1", ((2, "S2"),), "2031-05-04")
    file = tmp_path / FILE_NAME
    Remembered(file).remember("a", kept)
    Remembered(file).remember("b", Kept(("itt=EGT",)))
    again = Remembered(file)
    assert again.kept("a") == kept
    assert again["a"] == ("ng=N1",)
    assert json.loads(file.read_text())["b"] == ["itt=EGT"]
    assert again.kept("c").is_empty
    again.remember("a", Kept(on="2031-05-05"))
    assert list(Remembered(file)) == ["b"]


@pytest.mark.parametrize(
    "text",
    [
        '{"a": 1}',
        '{"a": {"rate_hz": "fast"}}',
        '{"a": {"engine_serials": [1]}}',
        '{"a": {"maps": 3}}',
        "[1]",
        "{",
    ],
)
def test_a_damaged_memory_is_said(text: str, tmp_path: Path) -> None:
    file = tmp_path / FILE_NAME
    file.write_text(text)
    with pytest.raises(UserError, match="is damaged"):
        Remembered(file)
