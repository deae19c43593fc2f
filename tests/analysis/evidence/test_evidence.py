"""Every measure of a start can be repeated by hand from its evidence: samples, formula, the profile's line."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis import assess
from debrief.analysis.model import Start
from debrief.profile.model import AllowedRow, EngineProfile, Limit
from debrief.recording.model import Channel, Recording
from debrief.words.channels import CANONICAL
from tests.analysis.recording_making import PROFILE, normal_start, recording
from tests.analysis.repeating import repeated, repeated_of_flight
from tests.demo_assessing import DEMOS, assessed

BY_OTHER_MEANS = {"source_resistance", "density_altitude", "light_off_to_idle", "first_cue", "cue_to_cut"}
"""Repeated where they are tested for themselves; here their samples are looked at."""

OF_EVERY_SAMPLE = {"itt_consistency",
    "cycles_ng", "cycles_itt", "hot_section_use", "equivalent_cycles", "taxi_time", "taxi_beta_time", "taxi_reverse_time",
    "propeller_lag", "propeller_lag_median", "time_np_avoided",
    "cooling_time_constant", "idle_before_cut",
}  # fmt: skip
"""Of the flight; tested for themselves, against what is published."""


def known(start: Start) -> list[str]:
    return [name for name, measure in start.measures.items() if measure.value is not None]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_each_measure_is_repeated_from_its_evidence(path):
    assessment = assessed(path)
    for start in assessment.starts:
        for name in known(start):
            again = repeated(name, start.evidence[name], assessment.recording)
            if name in BY_OTHER_MEANS:
                continue
            assert again is not None or name in ("oat", "pressure_altitude"), name
            if again is not None:
                assert again == pytest.approx(start.measures[name].value, abs=1e-9), (start.number, name)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_samples_of_the_evidence_are_those_of_the_recording(path):
    assessment = assessed(path)
    for start in assessment.starts:
        assert set(start.evidence) == set(start.measures)
        for name, proof in start.evidence.items():
            assert proof.formula
            assert bool(proof.readings) == any(
                x is not None
                for x in (start.measures[name].value, start.measures[name].low, start.measures[name].high)
            ), name
            for reading in proof.readings:
                channel = assessment.recording.channels[reading.channel]
                assert reading.unit == channel.unit
                assert list(reading.times_s) == channel.time_s[list(reading.index)].tolist()
                assert list(reading.values) == channel.values[list(reading.index)].tolist()
                assert len(reading.index) <= 26
            for key, line in proof.profile:
                assert assessment.profile.lines[key] == line


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_each_measure_of_the_flight_is_repeated_from_its_evidence(path):
    assessment = assessed(path)
    assert set(assessment.flight_evidence) == set(assessment.flight_measures)
    for name, measure in assessment.flight_measures.items():
        proof = assessment.flight_evidence[name]
        # A flight that never was, or no running, has no end to look at: nought seconds of nothing.
        assert bool(proof.readings) == bool(measure.value), name
        if measure.value and name not in OF_EVERY_SAMPLE:
            again = repeated_of_flight(name, proof, assessment.recording, assessment.profile)
            assert again == pytest.approx(measure.value, abs=1e-9), name


def test_the_profile_line_is_that_of_the_number_in_the_file():
    assessment = assessed(DEMOS[0])
    text = (Path(__file__).parents[3] / "resources/profiles/tarn-tg7.toml").read_text().splitlines()
    evidence = assessment.starts[0].evidence
    ((key, line), _) = evidence["ng_at_fuel"].profile
    assert (key, text[line - 1].split(" =")[0]) == ("start.min_fuel_ng_pct", "min_fuel_ng_pct")
    ((key, line),) = evidence["time_above_920"].profile
    assert key == "limits.itt-start.allowed[2]"
    assert "above = 920" in text[line - 1]


def test_a_finding_names_the_line_of_the_level_that_decided_as_its_measure_does():
    path = next(path for path in DEMOS if path.stem.startswith("05_"))
    assessment = assessed(path)
    (event,) = (event for event in assessment.events if event.limit_id == "itt-start")
    ((_, line),) = assessment.starts[0].evidence[f"time_above_{event.level:g}"].profile
    assert event.evidence.profile_line == line
    text = (Path(__file__).parents[3] / "resources/profiles/tarn-tg7.toml").read_text().splitlines()
    assert f"above = {event.level:g}, seconds = {event.allowed_s:g}" in text[line - 1]


def test_a_finding_below_a_minimum_names_its_line_too():
    lines = {"limits.low": 5, "limits.low.allowed[1]": 9, "limits.low.allowed[2]": 10}
    limit = Limit("low", "oil_press_low", "oil_press", "any", "psi", "longest",
                  (AllowedRow(80, 10), AllowedRow(45, 0)), below=True)  # fmt: skip
    profile = EngineProfile("A test engine", limits=(limit,), lines=lines)
    pressure = [(0, 100), (20, 100), (21, 40), (30, 40), (31, 100), (60, 100)]
    assessment = assess(recording({**normal_start(), "oil_press": pressure}, 60), profile)
    (event,) = (event for event in assessment.events if event.limit_id == "low")
    assert (event.level, event.evidence.profile_line) == (45.0, 10)


def test_a_factor_names_its_measure_and_the_line_of_its_reference():
    assessment = assessed(next(path for path in DEMOS if path.stem.startswith("17_")))
    text = (Path(__file__).parents[3] / "resources/profiles/tarn-tg7.toml").read_text().splitlines()
    factors = assessment.starts[0].factors
    assert factors
    for factor in factors:
        measure = assessment.starts[0].measures[factor.measure]
        sign = -1.0 if factor.kind == "tailwind" else 1.0
        assert factor.value == sign * measure.value
        assert f"{factor.reference:g}" in text[factor.profile_line - 1]
        assert assessment.starts[0].evidence[factor.measure].readings


def test_the_samples_beside_the_first_cue_lie_on_both_sides_of_its_level():
    assessment = assessed(next(path for path in DEMOS if path.stem.startswith("05_")))
    start = assessment.starts[0]
    (cue, cut) = start.evidence["cue_to_cut"].readings
    assert cue.values[0] <= 830 < cue.values[1]
    assert cut.values == (1.0, 0.0)
    assert cut.times_s[1] == start.fuel_off_s
    assert start.evidence["first_cue"].profile[0][0] == "limits.itt-start.allowed[1]"


def test_source_resistance_is_repeated_from_the_stretch_that_its_evidence_names():
    """Fitted by brute force over the samples of the stretch; external truth is in the published checks."""
    amps = [(0, 0), (10, 0), (10.125, 700), (22, 300)]
    volts = [(0, 25), (10, 25), (10.125, 25 - 0.012 * 700), (22, 25 - 0.012 * 300)]
    traces = normal_start() | {"bus_volts": volts, "battery_amps": amps}
    assessment = assess(recording(traces, 75.0, 8.0), PROFILE)
    start = assessment.starts[0]
    current, at = start.evidence["source_resistance"].readings[:2]
    first, last = current.span
    i = assessment.recording.channels["battery_amps"].values[first : last + 1]
    first, last = at.span
    v = assessment.recording.channels["bus_volts"].values[first : last + 1]
    n = len(i)
    fitted = (n * (i * v).sum() - i.sum() * v.sum()) / (n * (i * i).sum() - i.sum() ** 2)
    assert start.measures["source_resistance"].value == pytest.approx(-1000 * fitted)
    assert start.measures["source_resistance"].value == pytest.approx(12.0)


@given(shift=st.floats(0.0, 0.12), rate=st.sampled_from([1, 2, 4, 8, 16]), peak=st.floats(500, 1100))
def test_evidence_repeats_the_measures_of_a_start_sampled_at_any_rate(shift, rate, peak):
    traces = normal_start() | {
        "itt": [(0, 15), (24 + shift, 15), (28 + shift, peak), (40, 0.8 * peak), (75, 600)]
    }
    assessment = assess(recording(traces, 75.0, rate), PROFILE)
    for start in assessment.starts:
        for name in known(start):
            again = repeated(name, start.evidence[name], assessment.recording)
            if again is not None and name not in BY_OTHER_MEANS:
                assert again == pytest.approx(start.measures[name].value, abs=1e-6), name


def test_idle_lies_on_the_line_between_the_two_samples_of_the_evidence():
    start = assessed(DEMOS[0]).starts[0]
    lit, idle = start.evidence["light_off_to_idle"].readings
    (ta, tb), (a, b) = idle.times_s, idle.values
    assert a < 57.0 <= b
    by_hand = ta + (57.0 - a) * (tb - ta) / (b - a) - lit.times_s[0]
    assert start.measures["light_off_to_idle"].value == pytest.approx(by_hand)


def rise_before_fuel_is_seen(fuel_s: float, last_itt_s: float) -> Start:
    """Return a start whose ITT rises at 21 s, while fuel is next seen at `fuel_s`; ITT ends at `last_itt_s`."""
    ng = samples("ng", [(0.0, 0.0), (10.0, 0.0), (17.0, 20.0), (60.0, 30.0)])
    itt = samples(
        "itt", [(0.0, 15.0), (20.0, 15.0), (21.0, 15.0), (22.0, 300.0), (23.0, 600.0), (40.0, 620.0)]
    )
    itt = replace(
        itt, time_s=itt.time_s[itt.time_s <= last_itt_s], values=itt.values[itt.time_s <= last_itt_s]
    )
    fuel = samples("fuel_on", [(0.0, 0.0), (20.5, 0.0), (fuel_s, 1.0), (60.0, 1.0)])
    starter = samples("starter", [(0.0, 0.0), (10.0, 1.0), (60.0, 1.0)])
    made = Recording({c.name: c for c in (ng, itt, fuel, starter)}, 60.0)
    return assess(made, PROFILE).starts[0]


def samples(name: str, rows: list[tuple[float, float]]) -> Channel:
    return Channel(name, CANONICAL[name], np.array([t for t, _ in rows]), np.array([v for _, v in rows]))


@pytest.mark.parametrize(
    ("fuel_s", "last_itt_s"), [(21.0, 40.0), (22.0, 40.0), (23.5, 40.0), (45.0, 40.0), (24.0, 22.0)]
)
def test_a_light_off_seen_before_its_fuel_shows_the_rise(fuel_s, last_itt_s):
    start = rise_before_fuel_is_seen(fuel_s, last_itt_s)
    assert start.light_off_s == fuel_s
    _, rise = start.evidence["fuel_to_light_off"].readings
    assert rise.times_s[:2] == (21.0, 22.0)
    assert rise.values[-1] - rise.values[0] >= PROFILE.start.light_off_rise_c
    assert start.measures["fuel_to_light_off"].value == max(rise.times_s[0] - fuel_s, 0.0) == 0.0
