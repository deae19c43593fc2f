"""Every demo flight: the analysis finds what a person expects of it, no more, and measures the truth."""

from __future__ import annotations

import json
import math
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Start, StarterRun
from debrief.profile.loader import find
from debrief.recording.reader import read
from tests.demo_assessing import assessed

FLIGHTS = Path(__file__).resolve().parents[2] / "demo_flights"
EXPECTED = tomllib.loads((FLIGHTS / "expected.toml").read_text(encoding="utf-8"))
TOLERANCE = EXPECTED["tolerance"]
BY_FILE = {flight["file"]: flight for flight in EXPECTED["flight"]}
FILES = sorted(BY_FILE)


def assessment(file: str) -> Assessment:
    return assessed(FLIGHTS / file)


@cache
def truth(file: str) -> dict[str, Any]:
    result: dict[str, Any] = json.loads(
        (FLIGHTS / file).with_suffix("").with_suffix(".truth.json").read_text(encoding="utf-8")
    )
    return result


def pairs(file: str) -> list[tuple[Start, dict[str, Any]]]:
    return list(zip(assessment(file).starts, truth(file)["starts"], strict=True))


def step(file: str, channel: str) -> float:
    """Return the sample interval of the channel as recorded, plus what its noise can move an instant."""
    found = assessment(file).recording.get(channel)
    assert found is not None
    assert found.interval_s is not None
    return TOLERANCE["intervals"] * found.interval_s + TOLERANCE["extra_s"]


def test_every_recording_has_an_expectation_a_truth_and_a_scenario() -> None:
    recordings = {path.name for path in FLIGHTS.glob("*.csv")}
    assert recordings == set(BY_FILE)
    assert len(recordings) >= 12
    for name in recordings:
        stem = name.removesuffix(".csv")
        assert (FLIGHTS / f"{stem}.truth.json").is_file()
        assert (FLIGHTS / "scenarios" / f"{stem}.toml").is_file()


@pytest.mark.parametrize("file", FILES)
def test_exactly_the_expected_events_are_found(file: str) -> None:
    # The reason is compared for every kind but low voltage, whose reasons no definition lists.
    # Burning after shutdown may be told with the run that it follows, or without one.
    def row(kind: str, severity: str, start: int | None, reason: str | None, level: float | None) -> str:
        told = None if kind == "low_start_voltage" else reason
        number = None if kind == "burning_after_cut" else start
        return f"{kind}/{severity} start={number} reason={told} level={level}"

    expected = Counter(
        row(e["kind"], e["severity"], e.get("start"), e.get("reason"), e.get("level"))
        for e in BY_FILE[file].get("event", [])
    )
    with_level = {e["kind"] for e in BY_FILE[file].get("event", []) if "level" in e}
    found = Counter(
        row(e.kind, e.severity, e.start_number, e.reason, e.level if e.kind in with_level else None)
        for e in assessment(file).events
    )
    assert found == expected


@pytest.mark.parametrize("file", FILES)
def test_only_the_spike_is_suspected_of_being_the_sensor(file: str) -> None:
    expected = [e["kind"] for e in BY_FILE[file].get("event", []) if e.get("sensor_suspect")]
    assert [e.kind for e in assessment(file).events if e.sensor_suspect] == expected
    assert [e.kind for e in assessment(file).events if e.severity == "possible"] == expected


@pytest.mark.parametrize("file", FILES)
def test_the_band_of_the_profiles_chart_is_the_expected_one(file: str) -> None:
    for wanted in BY_FILE[file].get("event", []):
        if "band" in wanted:
            (event,) = [e for e in assessment(file).events if e.kind == wanted["kind"]]
            assert event.band == wanted["band"]
            assert event.band_action


@pytest.mark.parametrize("file", FILES)
def test_contributing_factors_are_those_present(file: str) -> None:
    for start, wanted in zip(assessment(file).starts, BY_FILE[file]["start"], strict=True):
        kinds = [factor.kind for factor in start.factors]
        for word in wanted.get("factors", []):
            assert any(word in kind for kind in kinds), (word, kinds)
        if "factors" in wanted:
            assert len(kinds) == len(wanted["factors"]), kinds


@pytest.mark.parametrize("file", FILES)
def test_the_attempts_and_their_outcomes_are_found(file: str) -> None:
    expected = BY_FILE[file]["start"]
    found = assessment(file).starts
    assert [s.outcome for s in found] == [s["outcome"] for s in expected]
    assert [s.number for s in found] == list(range(1, len(expected) + 1))
    assert {s.kind for s in found} == {"ground"}
    assert not assessment(file).began_running
    for start, wanted in zip(found, expected, strict=True):
        if "stable" in wanted:
            assert start.ng_stable_at_fuel is wanted["stable"], f"start {start.number}"


@pytest.mark.parametrize("file", FILES)
def test_the_verdict_is_the_expected_one(file: str) -> None:
    result = assessment(file)
    assert result.verdict == BY_FILE[file]["verdict"], result.sentence


@pytest.mark.parametrize("file", FILES)
def test_only_what_the_recording_cannot_tell_is_not_judged(file: str) -> None:
    found = [f"{item.what}: {item.why}" for item in assessment(file).not_judged]
    expected = BY_FILE[file]["not_judged"]
    assert len(found) == len(expected), found
    for word in expected:
        assert any(word in text for text in found), found


def test_a_known_earlier_starter_run_makes_the_rest_judged_and_a_good_start_within() -> None:
    recording = read(FLIGHTS / "01_cool_normal_start.csv")
    profile = find("tarn-tg7")
    earlier = StarterRun(-5000.0, -4970.0, 30.0, 30.0, 30.0, "battery")
    assert assess(recording, profile, (earlier,)).verdict == "within"
    just_now = StarterRun(-40.0, -10.0, 30.0, 30.0, 30.0, "battery")
    events = assess(recording, profile, (just_now,)).events
    assert [(e.kind, e.reason) for e in events] == [("starter_overrun", "rest_too_short")]


@pytest.mark.parametrize("file", FILES)
def test_the_crews_actions_are_found_when_they_happened(file: str) -> None:
    for start, true in pairs(file):
        tolerance = step(file, "starter")
        assert start.starter_on_s == pytest.approx(true["starter_on_s"], abs=tolerance)
        assert start.starter_off_s == pytest.approx(true["starter_off_s"], abs=tolerance)
        assert len(start.fuel_periods) == len(true["fuel_periods"])
        for period, wanted in zip(start.fuel_periods, true["fuel_periods"], strict=True):
            assert period.source == "fuel_on"
            assert period.on_s == pytest.approx(wanted["on_s"], abs=step(file, "fuel_on"))
            if wanted["off_s"] is None:
                assert period.off_s is None
            else:
                assert period.off_s == pytest.approx(wanted["off_s"], abs=step(file, "fuel_on"))


@pytest.mark.parametrize("file", FILES)
def test_starter_runs_have_bounds_that_contain_the_truth(file: str) -> None:
    for start, true in pairs(file):
        (run,) = start.starter_runs
        assert run.power == "battery"
        assert run.duration_high_s is not None
        assert run.duration_low_s - 1e-6 <= true["starter_run_s"] <= run.duration_high_s + 1e-6
        assert run.duration_s == pytest.approx(true["starter_run_s"], abs=step(file, "starter"))


@pytest.mark.parametrize("file", FILES)
def test_light_off_and_idle_are_found_when_they_happened(file: str) -> None:
    for start, true in pairs(file):
        for period, wanted in zip(start.fuel_periods, true["fuel_periods"], strict=True):
            if wanted["light_off_s"] is None:
                assert period.light_off_s is None
            else:
                # The probe needs a moment to show the flame: one more tenth of a second.
                assert period.light_off_s == pytest.approx(wanted["light_off_s"], abs=step(file, "itt") + 0.1)
        if true["idle_s"] is None:
            assert start.idle_s is None
        else:
            assert start.idle_s == pytest.approx(true["idle_s"], abs=step(file, "ng"))


@pytest.mark.parametrize("file", FILES)
def test_speed_and_temperature_at_fuel_are_the_true_ones(file: str) -> None:
    for start, true in pairs(file):
        for period, wanted in zip(start.fuel_periods, true["fuel_periods"], strict=True):
            assert period.ng_at_fuel_low_pct is not None
            assert period.ng_at_fuel_high_pct is not None
            low = period.ng_at_fuel_low_pct - TOLERANCE["ng_pct"]
            high = period.ng_at_fuel_high_pct + TOLERANCE["ng_pct"]
            assert low <= wanted["ng_at_fuel_pct"] <= high
        if true["fuel_periods"]:
            # Falling at up to 12 degC/s while a hot engine is motored.
            last = true["fuel_periods"][-1]["itt_at_fuel_c"]
            assert start.residual_itt_c == pytest.approx(
                last, abs=TOLERANCE["peak_c"] + 12.0 * step(file, "itt")
            )
            motored = true["max_motoring_ng"]["value"]
            slack = TOLERANCE["ng_pct"] + 0.3 * step(file, "ng")
            if BY_FILE[file]["start"][start.number - 1].get("stable", True):
                assert start.max_motoring_ng_pct == pytest.approx(motored, abs=slack)


@pytest.mark.parametrize("file", FILES)
def test_the_peak_is_the_true_one(file: str) -> None:
    channel = assessment(file).recording.get("itt")
    assert channel is not None
    for start, true in pairs(file):
        if start.peak_itt_c is None or true["peak_itt"]["value"] < 300.0:
            continue
        peak = true["peak_itt"]["value"]
        # A sample may miss the top by what the curve bends within half an interval.
        assert start.peak_itt_c == pytest.approx(
            peak, abs=TOLERANCE["peak_c"] + 40.0 * step(file, "itt") ** 2
        )
        assert start.peak_itt_c <= peak + TOLERANCE["peak_c"]
        if start.outcome == "completed" or peak > 900.0:
            assert start.peak_itt_s == pytest.approx(true["peak_itt"]["at_s"], abs=step(file, "itt") + 0.6)


@pytest.mark.parametrize("file", FILES)
def test_voltages_are_the_true_ones(file: str) -> None:
    for start, true in pairs(file):
        assert start.rest_bus_volts == pytest.approx(true["rest_bus_volts"], abs=TOLERANCE["volts"])
        assert start.min_bus_volts == pytest.approx(
            true["min_bus_volts"]["value"], abs=TOLERANCE["volts"] + 0.3 * step(file, "bus_volts")
        )


@pytest.mark.parametrize("file", FILES)
def test_time_above_each_level_of_a_start_is_the_true_one(file: str) -> None:
    for start, true in pairs(file):
        levels = [item for item in true["beyond"] if item["channel"] == "itt"]
        assert levels
        if start.time_above is None:
            assert all(item["total_s"] == 0.0 for item in levels)
            continue
        for item in levels:
            at = min(
                range(len(start.time_above.levels)),
                key=lambda i, level=item["level"]: abs(start.time_above.levels[i] - level),  # type: ignore[union-attr]
            )
            if abs(start.time_above.levels[at] - item["level"]) > 1e-9:
                continue
            assert start.time_above.total_s[at] == pytest.approx(item["total_s"], abs=2.0 * step(file, "itt"))


@pytest.mark.parametrize("file", FILES)
def test_durations_of_events_have_bounds_that_contain_the_truth(file: str) -> None:
    result, true = assessment(file), truth(file)
    checked = 0
    for event in result.events:
        if event.channel != "itt" or not event.levels:
            continue
        if event.start_number is None:
            levels = [i for i in true["running"]["beyond"] if i["channel"] == "itt"]
            key = "longest_s"
        else:
            levels = [i for i in true["starts"][event.start_number - 1]["beyond"] if i["channel"] == "itt"]
            key = "total_s"
        for found in event.levels:
            (wanted,) = [i for i in levels if i["level"] == found.level]
            assert found.duration_high_s is not None
            slack = TOLERANCE["extra_s"]
            assert found.duration_low_s - slack <= wanted[key] <= found.duration_high_s + slack
            assert found.duration_low_s <= found.duration_s <= found.duration_high_s
            assert found.duration_s == pytest.approx(wanted[key], abs=step(file, "itt"))
            assert found.start_s == pytest.approx(wanted["first_s"], abs=step(file, "itt"))
            checked += 1
    expected = [e for e in BY_FILE[file].get("event", []) if e["kind"] in ("hot_start", "overtemp")]
    assert checked >= len(expected)


def day(file: str) -> dict[str, Any]:
    path = FLIGHTS / "scenarios" / f"{file.removesuffix('.csv')}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("file", FILES)
def test_the_day_is_measured_as_the_scenario_made_it(file: str) -> None:
    ambient = day(file)["ambient"]
    # Along the nose while the engine starts; flight 12 starts on a heading that its track gives.
    heading = day(file)["track"][0]["heading_deg"] if "track" in day(file) else ambient["heading_deg"]
    wind = ambient.get("wind_speed_kt")
    angle = math.radians(ambient.get("wind_from_deg", 0.0) - heading)
    for start in assessment(file).starts:
        measures = start.measures
        along = None if wind is None else pytest.approx(wind * math.cos(angle), abs=0.8)
        assert measures["headwind"].value == along
        assert measures["oat"].value == pytest.approx(ambient["oat_c"], abs=0.6)
        assert measures["pressure_altitude"].value == pytest.approx(ambient["palt_ft"], abs=10.0)


@pytest.mark.parametrize("file", FILES)
def test_the_batterys_resistance_is_the_scenarios(file: str) -> None:
    battery = day(file).get("battery", {})
    true = battery.get("resistance_mohm", 12.5)
    for start in assessment(file).starts:
        measure = start.measures["source_resistance"]
        if measure.value is not None:
            assert measure.value == pytest.approx(true, abs=1.0)
        # What a battery that fades loses on the way is not its own.
        if measure.low is not None and measure.high is not None and battery.get("fade_mohm", 0.4) > 1.0:
            assert measure.low <= true <= measure.high


def test_the_flight_is_airborne_when_it_truly_was_and_its_peaks_are_the_true_ones() -> None:
    file = "12_flight_overtemperature_in_climb.csv"
    result, true = assessment(file), truth(file)
    names = [phase.name for phase in result.phases]
    order = [
        "off",
        "start",
        "ground",
        "takeoff",
        "climb",
        "cruise",
        "descent",
        "landing",
        "ground",
        "shutdown",
    ]
    position = 0
    for name in order:
        assert name in names[position:], (name, names)
        position = names.index(name, position)
    (event,) = result.events
    climb = [p for p in result.phases if p.name == "climb"]
    assert any(p.start_s <= event.start_s and event.end_s <= p.end_s for p in climb)
    assert event.peak == pytest.approx(true["running"]["peaks"]["itt"]["value"], abs=TOLERANCE["peak_c"])
    assert event.peak_s == pytest.approx(true["running"]["peaks"]["itt"]["at_s"], abs=4.0)
    for name, channel, slack in (
        ("highest_itt_running", "itt", TOLERANCE["peak_c"]),
        ("highest_torque_running", "torque", 0.5),
        ("highest_ng_running", "ng", TOLERANCE["ng_pct"]),
        ("highest_np_running", "np", 4.0),
        ("highest_oil_temp_running", "oil_temp", 1.5),
    ):
        wanted = true["running"]["peaks"][channel]["value"]
        assert result.flight_measures[name].value == pytest.approx(wanted, abs=slack)
    ((up, down),) = true["airborne_s"]
    assert result.flight_measures["airborne_time"].value == pytest.approx(down - up, abs=2.5)
