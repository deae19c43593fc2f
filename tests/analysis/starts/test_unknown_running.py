"""Where nothing shows whether the engine ran, its limits are not judged; "did not apply" is said only where it shows.

The profile: stand 5 %, idle 58 %, residual limit 190 degC; running limit 830 degC for 5 s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

import debrief
from debrief.analysis import assess
from debrief.analysis.limits.judge import NEVER_APPLIED
from debrief.analysis.model import Assessment
from debrief.profile.model import EngineProfile
from tests.analysis.recording_making import PROFILE, RUNNING_LIMIT, Corners, normal_start, recording

ROOT = Path(__file__).parents[3]
OPEN = {"itt-start": "not_judged", "itt-running": "not_judged"}
CLIMB = replace(RUNNING_LIMIT, id="itt-climb", when="any", phases=("climb",))
TAKEOFF = replace(RUNNING_LIMIT, id="itt-takeoff", when="any", after_takeoff_s=300.0)
ON_WHEELS = replace(RUNNING_LIMIT, id="itt-ground", when="ground")
ALOFT = replace(RUNNING_LIMIT, id="itt-air", when="airborne")
HELD = ((0.0, 900.0), (600.0, 900.0))


def _judged(end_s: float, profile: EngineProfile = PROFILE, **traces: Corners) -> Assessment:
    return assess(recording(traces, end_s, 1.0), profile)


def _results(found: Assessment) -> dict[str, str]:
    return {limit.id: limit.result for limit in found.limits}


def _why(found: Assessment, limit: str) -> set[str]:
    return {p.why for p in found.not_judged if p.limit_id == limit}


def _is_open(found: Assessment) -> None:
    assert _results(found) == OPEN
    assert found.verdict == "undetermined"
    assert "so there is no verdict on hot start and overtemperature" in found.sentence
    assert "Everything" not in found.sentence
    assert [p for p in found.phases if p.name == "off"] == []
    assert found.flight_measures["running_time"].value is None
    assert found.flight_measures["highest_itt_running"].why != "the engine did not run outside the starts"


@pytest.mark.parametrize(
    ("end_s", "itt"),
    [
        (3599, [(0, 900), (3599, 900)]),
        (600, HELD),
        (30, [(0, 900), (30, 900)]),
        (3600, [(0, 900), (3600, 936)]),
        (31, [(0, 600), (31, 960)]),  # 11.6 degC/s: 35 degC in 3 s, no light-off
        (600, [(0, 15), (600, 15)]),  # a dead probe reads so too
    ],
)
def test_itt_alone_does_not_show_that_an_engine_stood(end_s: float, itt: Corners) -> None:
    found = _judged(end_s, itt=itt)
    _is_open(found)
    for limit in OPEN:
        (why,) = _why(found, limit)
        assert "without Ng and a fuel signal only a start would show it" in why


def test_one_sample_of_itt_in_ten_minutes_shows_nothing() -> None:
    whole = recording({"itt": HELD, "oat": [(0, 15)]}, 600, 1.0)
    itt = whole.channels["itt"]
    one = replace(itt, time_s=itt.time_s[300:301], values=itt.values[300:301])
    _is_open(assess(replace(whole, channels=dict(whole.channels) | {"itt": one}), PROFILE))


@pytest.mark.parametrize("ng", [0.0, 2.0, 10.0])
def test_a_hot_itt_that_does_not_fall_contradicts_an_ng_at_a_stand(ng: float) -> None:
    for itt in (HELD, [(0, 600), (600, 960)], [(0, 900), (600, 880)]):
        found = _judged(600, itt=itt, ng=[(0, ng)])
        _is_open(found)
        assert "did not fall, as on no standing engine" in next(iter(_why(found, "itt-running")))


def test_only_the_hot_stretch_is_open() -> None:
    # Cold until 100 s, then up to 900 degC by 10 degC/s: above 190 degC from 117.5 s on.
    found = _judged(600, itt=[(0, 15), (100, 15), (188.5, 900), (600, 900)], ng=[(0, 2)])
    assert _results(found) == OPEN
    (point,) = [p for p in found.not_judged if p.limit_id == "itt-running"]
    assert point.start_s == pytest.approx(117.5, abs=1.0)
    assert point.end_s == 600
    (off,) = [p for p in found.phases if p.name == "off"]
    assert (off.start_s, off.end_s) == (0.0, point.start_s)


@pytest.mark.parametrize("signal", ["fuel_on", "fuel_flow"])
def test_a_hot_itt_contradicts_fuel_off(signal: str) -> None:
    _is_open(_judged(600, itt=HELD, **{signal: [(0, 0), (600, 0)]}))


def test_ng_at_idle_contradicts_fuel_off() -> None:
    found = _judged(600, itt=[(0, 15), (600, 15)], ng=[(0, 80), (600, 80)], fuel_on=[(0, 0)])
    assert _results(found) == OPEN
    assert "fuel recorded off" in next(iter(_why(found, "itt-running")))


def test_a_fuel_signal_lost_in_flight_leaves_the_rest_open_and_a_run_down_none() -> None:
    itt: Corners = [(0, 650), (100, 650), (130, 240), (600, 150)]
    lost = _judged(600, itt=[(0, 650)], ng=[(0, 85)], fuel_on=[(0, 1), (100, 0)])
    (point,) = [p for p in lost.not_judged if p.limit_id == "itt-running"]
    assert (point.start_s, point.end_s) == (100, 600)
    # From 85 % to 12 % in 30 s: below 57 % 11.5 s after the cut.
    cut = _judged(
        600, itt=itt, ng=[(0, 85), (100, 85), (130, 12), (160, 0), (600, 0)], fuel_on=[(0, 1), (100, 0)]
    )
    assert _why(cut, "itt-running") == set()


def test_fuel_on_and_a_hot_itt_without_ng_is_no_engine_that_never_ran() -> None:
    found = _judged(600, itt=HELD, fuel_on=[(0, 1)])
    assert _results(found) == {"itt-start": "possible", "itt-running": "exceeded"}


def test_without_idle_in_the_profile_a_turning_engine_may_run() -> None:
    profile = replace(PROFILE, start=replace(PROFILE.start, idle_ng_pct=None))
    found = _judged(600, profile, itt=[(0, 15), (600, 15)], ng=[(0, 80), (600, 80)])
    assert _results(found)["itt-running"] == "not_judged"
    assert _results(_judged(600, profile, ng=[(0, 0), (600, 0)]))["itt-start"] == "within"


@pytest.mark.parametrize(
    "traces",
    [
        {"ng": [(0, 0)]},
        {"ng": [(0, 0)], "itt": [(0, 15)]},
        {"ng": [(0, 0)], "itt": [(0, 300), (600, 240)]},  # it cools: 60 degC in 10 min
        {"fuel_on": [(0, 0)], "itt": [(0, 15)]},
        {"fuel_flow": [(0, 0)], "itt": [(0, 15)]},
    ],
)
def test_it_did_not_apply_where_the_recording_shows_that_it_stood(traces: dict[str, Corners]) -> None:
    found = _judged(600, **traces)
    assert [limit.why for limit in found.limits] == [NEVER_APPLIED] * 2
    assert found.verdict == "within"


def test_heat_that_soaks_back_after_a_shutdown_is_no_engine_that_runs() -> None:
    start = normal_start()
    traces = start | {
        "itt": [*start["itt"], (100, 540), (105, 300), (130, 250), (230, 330), (600, 280)],
        "ng": [*start["ng"], (100, 59), (130, 0), (600, 0)],
        "fuel_on": [*start["fuel_on"], (100, 0)],
    }
    found = _judged(600, **traces)
    assert _results(found) == {"itt-start": "within", "itt-running": "within"}
    assert _why(found, "itt-running") == set()


def test_before_a_start_that_itt_shows_it_stood() -> None:
    found = _judged(100, itt=normal_start()["itt"])
    assert _results(found)["itt-start"] == "within"
    # Light-off at 23 s: before it nothing is open but that the end of the start is not seen.
    assert _why(found, "itt-running") == {
        "it is not known when the start was over and the engine ran: Ng was not recorded"
    }
    assert found.phases[0].name == "off"


def _limits(found: Assessment, names: Sequence[str]) -> list[tuple[str, str | None]]:
    return [(limit.result, limit.why) for limit in found.limits if limit.id in names]


def test_phases_need_what_running_needs_and_ground_only_the_wheels() -> None:
    profile = replace(PROFILE, limits=(CLIMB, TAKEOFF, ON_WHEELS, ALOFT))
    cool = [(0.0, 600.0), (600.0, 600.0)]
    found = _judged(600, profile, itt=cool, weight_on_wheels=[(0, 1)])
    assert _results(found) == {
        "itt-climb": "not_judged",
        "itt-takeoff": "not_judged",
        "itt-ground": "within",
        "itt-air": "within",
    }
    assert _limits(found, ["itt-air"]) == [("within", NEVER_APPLIED)]
    assert _limits(found, ["itt-ground"])[0][1] is None


def test_without_wheels_and_airspeed_no_limit_of_the_air_is_said_not_to_apply() -> None:
    profile = replace(PROFILE, limits=(CLIMB, TAKEOFF, ON_WHEELS, ALOFT))
    found = _judged(600, profile, itt=[(0, 600)], ng=[(0, 80)], fuel_on=[(0, 1)])
    assert set(_results(found).values()) == {"not_judged"}
    assert {p.why for p in found.not_judged if p.limit_id} == {
        "neither weight on wheels nor airspeed tells ground from air"
    }


@pytest.mark.parametrize("ng", ["", "9999", "2"])
def test_temperatures_of_a_climb_alone_are_no_standing_engine(tmp_path: Path, ng: str) -> None:
    lines = (ROOT / "demo_flights/12_flight_overtemperature_in_climb.csv").read_text("utf-8").splitlines()
    told = [line for line in lines if line.startswith("#")]
    header, *rows = [line.split(",") for line in lines if not line.startswith("#")]
    time, itt = header.index("Time UTC"), header.index("ITT (degC)")
    kept = [f"{row[time]},{row[itt]},{ng}" for row in rows[1800:2500]]
    file = tmp_path / "climb.csv"
    file.write_text("\n".join([*told, "Time UTC,ITT (degC),Ng (%)", *kept, ""]), "utf-8")
    found = debrief.assess(debrief.read(file), debrief.load_profile("tarn-tg7"))
    results = _results(found)
    assert results["itt-start"] == results["itt-running"] == results["ng-max"] == "not_judged"
    assert found.verdict == "undetermined"
    assert "overtemperature" in found.sentence
