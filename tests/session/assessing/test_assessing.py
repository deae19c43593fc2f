"""Earlier starter runs: from the user, from the file's preamble, or unknown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.errors import UserError
from debrief.recording.model import Provenance
from debrief.session.assessing.file_assessment import Choices, assess_recording
from debrief.session.assessing.starter_rest import earlier_runs, rest_before
from tests.analysis.recording_making import normal_start, recording


def with_line(line: str):
    made = recording(normal_start(), 80)
    return replace(
        made, provenance=Provenance(file_name="flight.csv", preamble=(line,)), profile_name="tarn-tg7"
    )


def open_points(assessment) -> list[str]:
    return [p.what for p in assessment.not_judged if "rest" in p.what]


def test_without_a_word_the_rest_before_the_recording_is_not_judged():
    assert open_points(assess_recording(with_line("# aircraft: ZZ-TRN"))) == [
        "starter rest before the first start"
    ]


def test_the_preamble_tells_the_rest():
    made = with_line("# starter-rest-before-s: 86400")
    (run,) = earlier_runs(made)
    assert run.end_s == -86400
    assert open_points(assess_recording(made)) == []


def test_the_user_comes_before_the_file():
    short = assess_recording(with_line("# starter-rest-before-s: 86400"), Choices(starter_rest_s=20))
    assert [e.reason for e in short.events if e.kind == "starter_overrun"] == ["rest_too_short"]


def test_a_rest_that_is_no_number_is_refused_in_words():
    with pytest.raises(UserError, match=r"flight\.csv.*starter-rest-before-s.*number of seconds"):
        earlier_runs(with_line("# starter-rest-before-s: a day"))
    with pytest.raises(UserError, match="0 or more"):
        rest_before(float("nan"))
