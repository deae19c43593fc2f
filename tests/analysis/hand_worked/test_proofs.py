"""Checks of the evidence of measures: the samples that it names must repeat the value."""

from __future__ import annotations

from dataclasses import replace

from tests.analysis.fault_making import Analysis, close
from tests.analysis.hand_worked.test_flying import FLYING, flight
from tests.analysis.hand_worked.test_rules import AFTER_CUT
from tests.analysis.recording_making import normal_start, recording
from tests.analysis.repeating import repeated, repeated_of_flight

SIGNALS = {
    "oat": [(0, 12)],
    "palt": [(0, 900)],
    "wind_speed": [(0, 10)],
    "wind_from": [(0, 30), (9.9, 30), (10.1, 200)],
    "heading": [(0, 90), (75, 120)],
    "battery_amps": [(0, 0), (10, 0), (10.2, 700), (20, 300), (54, 250), (55, 0)],
}


def test_the_samples_of_the_evidence_repeat_every_measure(lab: Analysis) -> None:
    # Volts that bend, so that no two places of them read the same.
    traces = normal_start() | AFTER_CUT | SIGNALS | {
        "itt": [(0, 15), (9, 20), (23, 30), (24, 630), (28, 1090), (33, 1000), (54, 160), (75, 100)],
        "bus_volts": [(0, 24), (7, 25.4), (10, 25), (10.125, 19), (53, 22), (55, 25), (60, 26), (75, 24)],
        "ng": [(0, 3), (10, 0), (17, 20), (21, 20), (22, 20.5), (33, 30), (54, 12), (75, 0)],
    }  # fmt: skip
    result = lab.judge(traces)
    start = result.starts[0]
    done = set()
    for name, measure in start.measures.items():
        if measure.value is None:
            continue
        again = repeated(name, start.evidence[name], result.recording)
        if again is not None:
            assert close(again, measure.value), name
            done.add(name)
    for name in ("peak_itt", "residual_itt_starter_on", "time_above_830", "cut_after_920", "min_bus_volts",
                 "rest_bus_volts", "bus_volts_recovery", "inrush_current", "headwind", "ng_at_fuel",
                 "ng_rate_at_fuel", "itt_rise_rate", "motored_after_cut", "starter_total"):  # fmt: skip
        assert name in done, name


def test_the_samples_of_the_evidence_repeat_the_measures_of_a_flight(lab: Analysis) -> None:
    # Two runs of the engine, the second of which is the hotter; the wheels are silent from 300 s to 500 s.
    made = recording(
        {
            "ng": [(0, 65), (100, 95), (850, 65), (864, 0), (1000, 0), (1001, 60), (1100, 62), (1115.1, 0), (1200, 0)],
            "itt": [(0, 550), (100, 750), (850, 600), (900, 300), (1000, 200), (1001, 640), (1050.2, 800), (1200, 100)],
            "fuel_on": [(0, 1), (850, 0), (1000, 1), (1100, 0)],
            "ias": [(0, 0), (80, 0), (100.1, 75), (780, 90), (800.2, 65), (830, 0)],
            "weight_on_wheels": [(0, 1), (100, 0), (800, 1)],
        },
        1200,
        4.0,
    )  # fmt: skip
    wheels = made.channels["weight_on_wheels"]
    keep = (wheels.time_s <= 300) | (wheels.time_s >= 500)
    holed = replace(wheels, time_s=wheels.time_s[keep], values=wheels.values[keep])
    with_wheels = made.with_channels(dict(made.channels) | {"weight_on_wheels": holed})
    without = made.with_channels({k: c for k, c in made.channels.items() if k != "weight_on_wheels"})
    for one in (with_wheels, without):
        result = lab.of(one, FLYING)
        measures, proofs = result.flight_measures, result.flight_evidence
        for name in ("highest_itt_running", "running_time", "airborne_time", "run_down"):
            again = repeated_of_flight(name, proofs[name], result.recording, result.profile)
            assert close(again, measures[name].value), name
        assert proofs["run_down"].readings[0].times_s[-1] == 1100.0
        assert [r.channel for r in proofs["running_time"].readings] == ["ng", "fuel_on", "ng", "fuel_on"]
        # Two samples show a change; beside a gap stands one alone.
        for r in proofs["airborne_time"].readings:
            assert len(set(r.values)) == len(r.values)
    # Nothing is cut: the recording ends while it runs.
    uncut = lab.judge(flight(), 900, FLYING, rate_hz=4.0)
    again = repeated_of_flight(
        "running_time", uncut.flight_evidence["running_time"], uncut.recording, uncut.profile
    )
    assert close(again, 900.0)
