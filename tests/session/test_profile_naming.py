"""Which profile judges a recording: a recording names one, only a person gives a path, and the verdict says which."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.model import Provenance, Recording
from debrief.report.content.options import ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text
from debrief.resources import resource
from debrief.session.assessing.file_assessment import Choices, assess_recording
from debrief.session.document import assessment_document
from debrief.session.texts.in_units import in_units
from debrief.words.display_units import parse_units
from tests.analysis.recording_making import normal_start, recording

SAYS = 'Judged by tarn-tg7.toml, which is not the shipped profile "Tarn TG-7 (training example)".'


def hot_flight(profile: str) -> Recording:
    """Return a recording with a start above every limit, whose preamble names this profile."""
    made = recording(normal_start(peak_c=1050.0), 80)
    return replace(made, provenance=Provenance(file_name="flight.csv"), profile_name=profile)


def lenient(folder: Path, name: str = "tarn-tg7.toml") -> Path:
    """Write a copy of a shipped profile without its limits, under that one's name."""
    folder.mkdir(parents=True, exist_ok=True)
    text = resource("profiles/tarn-tg7.toml").read_text(encoding="utf-8")
    file = folder / name
    file.write_text(text[: text.index("[[limits]]")], encoding="utf-8")
    return file


def test_a_profile_beside_the_recording_does_not_decide_its_verdict(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    file = lenient(tmp_path)
    file.rename(tmp_path / "tarn-tg7")
    assert assess_recording(hot_flight("tarn-tg7")).verdict == "exceeded"
    assert assess_recording(hot_flight("none"), Choices(profile="tarn-tg7")).verdict == "exceeded"
    for named in ("./tarn-tg7", str(tmp_path / "tarn-tg7")):
        with pytest.raises(UserError, match=r"flight\.csv names .* choose it in File, Engine profile"):
            assess_recording(hot_flight(named))
        assert (
            SAYS.replace(".toml", "") in assess_recording(hot_flight("none"), Choices(profile=named)).sentence
        )


def test_the_verdict_says_that_the_profile_is_not_the_one_of_its_name(debrief_home: Path) -> None:
    lenient(debrief_home / "profiles")
    found = assess_recording(hot_flight("tarn-tg7"))
    assert found.verdict != "exceeded"
    assert SAYS in found.sentence
    assert SAYS in " ".join(assessment_text(found).split())
    assert SAYS in assessment_document(found)["sentence"]
    assert SAYS in in_units(found, parse_units("degF")).sentence
    assert SAYS in repr(build(found, ReportOptions()))


def test_nothing_is_said_of_the_shipped_profile_and_of_one_with_a_name_of_its_own(debrief_home: Path) -> None:
    assert "shipped" not in assess_recording(hot_flight("tarn-tg7")).sentence
    file = lenient(debrief_home / "profiles", "mine.toml")
    text = file.read_text(encoding="utf-8").replace("Tarn TG-7 (training example)", "Mine")
    file.write_text(text, encoding="utf-8")
    assert "shipped" not in assess_recording(hot_flight("mine")).sentence
