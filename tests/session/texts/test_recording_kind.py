"""A recording is a flight only where it shows that the aircraft flew."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis.model import Measure, Phase
from debrief.session.texts.recording_kind import recording_word
from tests.demo_assessing import DEMOS, assessed
from tests.report.made_assessments import hot_start


def test_a_start_on_the_ground_or_on_a_bench_is_a_run() -> None:
    made = replace(
        hot_start(), phases=(Phase("off", 0.0, 12.0), Phase("ground", 12.0, 90.0)), flight_measures={}
    )
    assert recording_word(made) == "run"
    assert recording_word(replace(made, flight_measures={"airborne_time": Measure(None, "s")})) == "run"
    assert recording_word(replace(made, flight_measures={"airborne_time": Measure(0.0, "s")})) == "run"


@pytest.mark.parametrize("phase", ["takeoff", "climb", "cruise", "descent", "landing"])
def test_a_phase_of_flight_makes_it_one(phase: str) -> None:
    made = replace(hot_start(), flight_measures={})
    assert recording_word(replace(made, phases=(Phase(phase, 0.0, 90.0),))) == "flight"


@pytest.mark.parametrize("name", ["airborne_time", "airborne_time.2"])
def test_time_in_the_air_makes_it_one_also_where_only_its_least_is_known(name: str) -> None:
    made = replace(hot_start(), phases=())
    for measure in (Measure(60.0, "s", 59.0, 61.0), Measure(None, "s", 40.0, 90.0)):
        assert recording_word(replace(made, flight_measures={name: measure})) == "flight"


def test_the_demo_flights_are_what_they_show() -> None:
    flown = {path.stem[:2] for path in DEMOS if recording_word(assessed(path)) == "flight"}
    assert "12" in flown
    assert "02" not in flown
