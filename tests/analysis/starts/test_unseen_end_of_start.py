"""Without Ng the end of a start is not seen, so what holds while running is not judged, and never "did not apply"."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from tests.analysis.recording_making import PROFILE, RUNNING_LIMIT, normal_start, recording

TORQUE = replace(RUNNING_LIMIT, id="torque-max", event="overtorque", channel="torque", unit="%")


def _without(*names: str, end_s: float = 100.0) -> Assessment:
    traces = {name: corners for name, corners in normal_start().items() if name not in names}
    return assess(recording(traces, end_s), replace(PROFILE, limits=(*PROFILE.limits, TORQUE)))


def _results(found: Assessment) -> dict[str, str]:
    return {limit.id: limit.result for limit in found.limits}


def test_a_running_limit_is_not_judged_where_idle_cannot_be_seen() -> None:
    found = _without("ng")
    assert _results(found)["itt-running"] == "not_judged"
    (why,) = {p.why for p in found.not_judged if p.limit_id == "itt-running"}
    assert why == "it is not known when the start was over and the engine ran: Ng was not recorded"


def test_a_channel_that_is_absent_is_not_judged_where_the_phase_is_not_known() -> None:
    for absent in (("ng",), ("ng", "itt")):
        assert _results(_without(*absent))["torque-max"] == "not_judged"


def test_running_time_is_not_known_where_idle_cannot_be_seen() -> None:
    measure = _without("ng").flight_measures["running_time"]
    assert measure.value is None
    assert measure.why is not None


def test_beyond_the_longest_start_the_running_time_is_bounded() -> None:
    truth = _without(end_s=200.0).flight_measures["running_time"].value
    assert truth == pytest.approx(200 - 47, abs=2)
    measure = _without("ng", end_s=200.0).flight_measures["running_time"]
    assert measure.low is not None
    assert measure.high is not None
    assert measure.low <= truth <= measure.high


def test_the_verdict_names_the_limits_first_and_says_when_none_was_judged() -> None:
    found = _without("ng", "itt")
    assert found.verdict == "undetermined"
    assert "No limit could be judged to the end" in found.sentence
    assert found.sentence.startswith(
        "Cannot be told: ITT was not recorded, so there is no verdict on hot start and overtemperature"
    )


def test_without_ng_and_itt_running_time_is_not_known_and_never_nought() -> None:
    measures = _without("ng", "itt").flight_measures
    assert measures["running_time"].value is None
    assert "neither Ng nor ITT was recorded" in (measures["running_time"].why or "")
