"""What a load costs, with intervals that hold what they say, and two engines against each other."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.flight.load_steps import change_at
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import frozen
from tests.analysis.flight.made_flights import recorded
from tests.analysis.flight.test_steady_windows import PROFILE, cruise

LEVEL = {"ng": [(0, 95)], "itt": [(0, 720)], "power_lever": [(0, 70)], "ias": [(0, 150)], "fuel_flow": [(0, 150)],
         "torque": [(0, 80)]}  # fmt: skip


def stepped(at=600.0, by=12.0, **more):
    """Level cruise in which the separator costs 12 degC and half a percent of torque from 600 s on."""
    return (
        cruise(**LEVEL)
        | {
            "itt": [(0, 720), (at, 720), (at + 3, 720 + by), (1800, 720 + by)],
            "torque": [(0, 80), (at, 80), (at + 2, 79.5), (1800, 79.5)],
            "bus_volts": [(0, 28.0)],
            "separator": [(0, 0), (at, 1)],
        }
        | more
    )


def steps(traces, rate_hz=4.0, noise=1.0, end=1800.0, seed=1):
    return assess(recorded(traces, end, rate_hz, noise, seed), PROFILE).flight.load_steps


@pytest.mark.parametrize(("rate_hz", "noise"), [(1.0, 1.0), (4.0, 2.0), (16.0, 1.0)])
def test_a_switched_load_is_told_with_what_it_changed(rate_hz, noise):
    (step,) = steps(stepped(), rate_hz, noise)
    assert (step.kind, step.on, step.time_s, step.why) == ("separator", True, 600.0, None)
    assert set(step.changes) == {"itt", "ng", "torque", "bus_volts"}
    truth = {"itt": 12.0, "ng": 0.0, "torque": -0.5, "bus_volts": 0.0}
    for name, change in step.changes.items():
        assert change.low <= change.value <= change.high
        assert change.value == pytest.approx(truth[name], abs=4.0 * noise * 0.5 + 0.01), name
    assert step.changes["itt"].low > 5.0


def test_bleed_generator_and_a_jump_of_its_load():
    more = {
        "bleed": [(0, 0), (300, 2), (400, 0)],
        "separator": [(0, 0)],
        "generator_on": [(0, 1), (1000, 0), (1100, 1)],
        "generator_amps": [(0, 90), (700, 90), (700.2, 150), (1000, 150), (1000.2, 0), (1100, 0), (1100.2, 150), (1800, 150)],
    }  # fmt: skip
    found = steps(stepped(**more))
    told = [(s.kind, s.on if s.kind != "generator_load" else round(s.on, 3), round(s.time_s)) for s in found]
    assert told == [
        ("bleed", True, 300), ("bleed", False, 400), ("generator_load", 60.0, 700),
        ("generator_on", False, 1000), ("generator_on", True, 1100),
    ]  # fmt: skip


UNSTEADY = {
    "lever": ({"power_lever": [(0, 70), (595, 70), (597, 74), (1800, 74)]}, "lever"),
    "height": ({"palt": [(0, 10000), (590, 10000), (612, 10200), (1800, 10200)]}, "height"),
    "airspeed": ({"ias": [(0, 150), (590, 150), (615, 140), (1800, 140)]}, "airspeed"),
    "Ng": ({"ng": [(0, 90), (580, 90), (600, 95), (1800, 95)]}, "Ng was still moving"),
    "another load": ({"bleed": [(0, 0), (605, 1)]}, "another load"),
    "the beginning": ({"separator": [(0, 0), (6, 1)]}, "does not go"),
    "the end": ({"separator": [(0, 0), (1795, 1)]}, "does not go"),
    "not running": ({"ng": [(0, 0)], "itt": [(0, 15)], "fuel_on": [(0, 0)]}, "not running"),
}


@pytest.mark.parametrize("what", UNSTEADY)
def test_where_it_was_not_steady_it_is_listed_with_why_and_no_number(what):
    more, why = UNSTEADY[what]
    found = [s for s in steps(stepped(**more)) if s.kind == "separator"]
    assert len(found) == 1
    assert found[0].changes == {}
    assert why in found[0].why


def test_without_a_lever_torque_tells_that_power_was_changed():
    traces = stepped(torque=[(0, 80), (600, 80), (604, 70), (1800, 70)])
    assert steps(traces)[0].why is None
    del traces["power_lever"]
    assert "torque changed" in steps(traces)[0].why


def test_a_gap_beside_it_is_said():
    whole = recorded(stepped(), 1800.0, 4.0, 1.0)
    t = whole.channels["itt"].time_s
    keep = (t < 603) | (t > 608)
    cut = {n: type(c)(n, c.unit, c.time_s[keep], c.values[keep]) for n, c in whole.channels.items()}
    (step,) = assess(type(whole)(cut, whole.duration_s), PROFILE).flight.load_steps
    assert (step.changes, step.why) == ({}, "there is a gap beside it")


def drawn(rng, rate_hz, hangs_s, drift, step):
    """A minute and more on both sides of a step of 8, with noise of 2 that hangs together for so long, [s]."""
    t = np.arange(0.0, 140.0, 1.0 / rate_hz)
    noise = rng.normal(0.0, 2.0, t.size)
    if hangs_s:
        keeps = float(np.exp(-1.0 / rate_hz / hangs_s))
        fresh = np.sqrt(1.0 - keeps**2) * noise
        for k in range(1, t.size):
            noise[k] = keeps * noise[k - 1] + fresh[k]
    values = 700.0 + 8.0 * (t >= 70.0) + drift / 60.0 * (t - 70.0) + noise
    values = np.round(values / step) * step if step else values
    return Trace(frozen(t), frozen(values), np.zeros(t.size - 1, dtype=bool), 0.5 * step)


@pytest.mark.parametrize("rate_hz", [1, 4, 16])
@pytest.mark.parametrize("hangs_s", [0.0, 1.0, 4.0])
@pytest.mark.parametrize(("drift", "step"), [(0.0, 0.0), (3.0, 1.0)])
def test_ninety_five_percent_of_the_intervals_hold_the_truth(rate_hz, hangs_s, drift, step):
    rng = np.random.default_rng(11)
    count = 200
    held = widths = 0.0
    for _ in range(count):
        change = change_at(drawn(rng, rate_hz, hangs_s, drift, step), 70.0, 9.0, 135.0)
        held += change.low <= 8.0 <= change.high
        widths += change.high - change.low
    # 92 % of 200 is what chance makes of 95 % in one study of fifty.
    assert held / count >= 0.92
    # They are no wider than they have to be: three times what the true noise of two means leaves.
    alone = 2.0 * np.sqrt(2.0 * (1.0 + 2.0 * hangs_s * rate_hz) / (10.0 * rate_hz))
    assert widths / count <= 3.0 * 2.0 * 1.96 * min(alone, 2.9) + 2.0 * step


def twin(itt=0.0, ng=0.0):
    one = cruise(**LEVEL)
    engine = {"ng", "itt", "torque", "np", "fuel_flow", "fuel_on", "starter", "power_lever"}
    two = {f"{n}.2": v for n, v in one.items() if n in engine}
    two["itt.2"] = [(0, 720 + itt)]
    two["ng.2"] = [(0, 95 + ng)]
    return one | two


def test_two_engines_are_told_apart_where_both_run_steadily():
    traces = twin(15.0, 0.8)
    traces["power_lever.2"] = [(0, 70), (500, 70), (502, 60), (504, 70), (1800, 70)]
    a = assess(recorded(traces, 1800.0, 2.0, 1.0), PROFILE)
    assert {w.engine for w in a.flight.steady} == {1, 2}
    assert len(a.flight.twins) == 2
    first = a.flight.twins[0]
    assert first.engines == (1, 2)
    assert (first.start_s, first.end_s) == (60.0, pytest.approx(500.0, abs=10.0))
    # 15 degC at theta 0.931 + 0.019: between 15 and 17 degC.
    assert 15.0 < first.referred_itt < 17.5
    assert 0.75 < first.referred_ng < 0.9


def test_of_one_engine_there_is_no_twin():
    assert assess(recorded(cruise(), 1800.0, 1.0), PROFILE).flight.twins == ()


def test_a_switch_that_chatters_makes_no_endless_list():
    chatter = [(float(t), t % 2) for t in range(100, 1700)]
    found = steps(stepped(separator=[(0, 0)], bleed=[(0, 0), *chatter]))
    assert len(found) == 500
    assert {s.why for s in found[1:-1]} == {"another load changed beside it"}
