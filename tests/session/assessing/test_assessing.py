"""Earlier starter runs: from the user, from the file's preamble, or unknown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis.model import EarlierRun
from debrief.errors import UserError
from debrief.recording.model import Provenance
from debrief.session.assessing.file_assessment import Choices, assess_recording
from debrief.session.assessing.starter_rest import rest_before, runs_before, told_in
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
    (run,) = told_in(made)
    assert run.end_s == -86400
    assert open_points(assess_recording(made)) == []


def test_the_user_comes_before_the_file():
    short = assess_recording(with_line("# starter-rest-before-s: 86400"), Choices(starter_rest_s=20))
    assert [e.reason for e in short.events if e.kind == "starter_overrun"] == ["rest_too_short"]


def test_a_rest_that_is_no_number_is_refused_in_words():
    with pytest.raises(
        UserError, match=r"flight\.csv.*starter-rest-before-s.*\"a day\" is no length of time"
    ):
        told_in(with_line("# starter-rest-before-s: a day"))
    with pytest.raises(UserError, match="0 or more"):
        rest_before(float("nan"))


def kept(end_s: float, **more) -> EarlierRun:
    return EarlierRun(end_s - 20, end_s, 20.0, 20.0, 20.0, "battery", source="history", **more)


@pytest.mark.parametrize(
    ("rest_s", "sources"),
    [
        (7200.0, ["history"]),  # said to be longer than the flights kept show
        (600.0, ["history", "entered"]),  # a run that nobody kept
        (3500.0, ["history"]),  # the same run, rounded
        (None, ["history"]),
    ],
)
def test_of_a_rest_that_is_told_and_the_flights_kept_the_later_run_decides(rest_s, sources):
    made = with_line("# aircraft: ZZ-TRN")
    assert [run.source for run in runs_before(made, [kept(-3600.0)], rest_s)] == sources


@pytest.mark.parametrize("runs", [(), (kept(-9e4, engine=1), kept(-9e4, engine=2))])
def test_a_rest_that_is_told_of_one_engine_is_none_of_the_other(runs):
    made = with_line("# aircraft: ZZ-TRN")
    second = {
        f"{name}.2": replace(c, name=f"{name}.2")
        for name, c in made.channels.items()
        if name in ("ng", "starter")
    }
    twin = made.with_channels({**made.channels, **second})

    def told(*args) -> dict[int | None, float | None]:
        return {run.engine: run.end_s for run in runs_before(twin, runs, *args) if run.source == "entered"}

    assert told(None, ((2, 600.0),)) == {2: -600.0}
    assert told(300.0, ((2, 600.0),)) == {1: -300.0, 2: -600.0}
    assert told(300.0, ((2, None),)) == {1: -300.0}  # of the second nobody knows
    assert set(told(300.0).values()) == {-300.0}


def rest_events(assessment) -> list[tuple[str, bool]]:
    return [(e.severity, e.certain) for e in assessment.events if e.reason == "rest_too_short"]


@pytest.mark.parametrize(
    ("ended_s", "doubt_s", "found", "is_open"),
    [
        (-20.0, 0.0, [("limit", True)], False),
        (-20.0, 1.0, [("limit", True)], False),
        (-3000.0, 1.0, [], False),
        # Without a zone the same numbers show nothing, and two days ago is long enough all the same.
        (-20.0, 50400.0, [], True),
        (-172800.0, 50400.0, [], False),
    ],
)
def test_clocks_that_may_disagree_show_a_short_rest_only_where_both_ends_do(ended_s, doubt_s, found, is_open):
    made = with_line("# aircraft: ZZ-TRN")
    assessment = assess_recording(made, Choices(), [kept(ended_s, clock_doubt_s=doubt_s)])
    assert rest_events(assessment) == found
    assert bool(open_points(assessment)) == is_open
    (run,) = assessment.context
    assert run.clock_doubt_s == doubt_s
    if is_open:
        (why,) = [str(p.why) for p in assessment.not_judged if "rest" in p.what]
        assert why.startswith("by the clocks of the flights kept it was 0 s to 14 h")
        assert assessment.verdict == "within"


def test_a_rest_at_the_limit_within_the_clocks_step_is_no_finding():
    made = with_line("# aircraft: ZZ-TRN")
    (first,) = assess_recording(made, Choices(starter_rest_s=86400)).starts
    exact = -(90.0 - first.starter_on_s)  # the first duty row of the profile asks for 90 s
    assert rest_events(assess_recording(made, Choices(), [kept(exact + 0.5, clock_doubt_s=1.0)])) == []
    assert rest_events(assess_recording(made, Choices(), [kept(exact + 3.0, clock_doubt_s=1.0)])) == [
        ("limit", True)
    ]


def test_a_run_of_one_engine_is_none_of_the_other():
    made = with_line("# aircraft: ZZ-TRN")
    assert open_points(assess_recording(made, Choices(), [kept(-3000.0, engine=2)]))
    assert not open_points(assess_recording(made, Choices(), [kept(-3000.0, engine=1)]))
