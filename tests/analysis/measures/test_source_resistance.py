"""Battery and cables: a value whose bounds hold, or none; and what the battery's current tells of the source of power."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.measures.source_resistance import student
from debrief.analysis.model import Assessment, Measure
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, RULES, normal_start, recording

TRUE = 8.0
PROFILE_24_V = replace(PROFILE, start=replace(RULES, nominal_bus_volts=24.0))
GRID = np.arange(0.0, 80.0, 0.01)


def crank(t: np.ndarray, on: float = 10.0, off: float = 46.0) -> np.ndarray:
    """Return what the starter takes, [A]: 900 A with an inrush, falling to 250 A as the engine turns."""
    since = t - on
    cranking = 250 + 500 * np.exp(-since / 6.0) + 250 * np.exp(-since / 0.8)
    return np.where((t >= on) & (t < off), cranking * np.clip(since / 0.05, 0, 1), 0.0)


def of(
    hz: float,
    volts: np.ndarray,
    amps: np.ndarray,
    late: float = 0.0,
    seed: int = 0,
    off: float = 46.0,
    phase: float = 0.37,
) -> Recording:
    traces = {k: v for k, v in normal_start().items() if k != "external_power"}
    traces["starter"] = [(0, 0), (10, 1), (off, 0)]
    made = recording(traces, 79.0, hz)
    t = made.channels["ng"].time_s
    rng = np.random.default_rng(seed)
    at = t + phase / hz
    made_volts = np.interp(at, GRID, volts) + rng.normal(0, 0.04, t.size)
    made_amps = np.interp(at - late, GRID, amps) + rng.normal(0, 2.0, t.size)
    starter = ((at >= 10.0) & (at < off)).astype(float)
    more = {
        "bus_volts": Channel("bus_volts", "V", t, np.round(made_volts, 1), resolution=0.1),
        "battery_amps": Channel("battery_amps", "A", t, np.round(made_amps), resolution=1.0),
        "starter": replace(made.channels["starter"], values=starter),
    }
    return made.with_channels(dict(made.channels) | more)


def battery(slow_mohm: float = 0.0, constant: float = 5.0, load: float = 25.0, off: float = 46.0) -> tuple:
    """Return volts and amperes of 25 V behind 8 mOhm and, if asked, a slow resistance with a capacitor beside it."""
    amps = load + crank(GRID, off=off)
    slow = np.zeros(GRID.size)
    share = 0.01 / constant
    for k in range(1, GRID.size):
        slow[k] = slow[k - 1] + share * (amps[k] - load - slow[k - 1])
    return 25.0 - TRUE / 1000 * amps - slow_mohm / 1000 * slow, amps


def resistance(a: Assessment) -> Measure:
    return a.starts[0].measures["source_resistance"]


@pytest.mark.parametrize("hz", [4.0, 8.0, 16.0])
@pytest.mark.parametrize(("slow", "late"), [(0.0, 0.0), (0.0, 0.2), (0.0, 0.5), (3.0, 0.0), (8.0, 0.0)])
def test_bounds_hold_the_true_one_with_a_late_ammeter_and_a_battery_that_fades(
    hz: float, slow: float, late: float
) -> None:
    volts, amps = battery(slow)
    for seed in range(6):
        found = resistance(assess(of(hz, volts, amps, late, seed), PROFILE))
        if found.value is None:
            assert late
            continue
        assert found.low is not None
        assert found.high is not None
        assert 0 < found.low <= TRUE <= found.high < 1.6 * TRUE, (seed, found)


def test_an_ammeter_that_counts_down_gives_the_same() -> None:
    volts, amps = battery()
    up, down = (resistance(assess(of(8.0, volts, sign * amps), PROFILE)) for sign in (1.0, -1.0))
    assert up.value == pytest.approx(TRUE, rel=0.04)
    assert down.value == pytest.approx(TRUE, rel=0.04)


def test_volts_that_do_not_follow_the_batterys_current_give_none() -> None:
    # The bus recovers while the battery gives the same and more: something else carries the starter.
    _, amps = battery()
    recovering = 20.0 + 0.15 * (GRID - 10)
    growing = np.where((GRID > 10) & (GRID < 46), 300 + 5 * (GRID - 10), 25.0)
    for given in (growing, amps):
        volts = np.where((GRID > 10) & (GRID < 46), recovering + 0.8 * np.sin(GRID * 2), 25.0)
        found = resistance(assess(of(8.0, volts, given), PROFILE))
        assert found.value is None
        assert found.why


def test_a_battery_that_is_charged_while_the_starter_turns_gives_none() -> None:
    # A cart of 28 V behind 4 mOhm beside a battery of 24.4 V behind 8 mOhm.
    need = 25.0 + crank(GRID)
    volts = (28.0 / 0.004 + 24.4 / 0.008 - need) / (1 / 0.004 + 1 / 0.008)
    amps = (24.4 - volts) / 0.008
    for profile in (PROFILE, PROFILE_24_V):
        found = resistance(assess(of(8.0, volts, amps), profile))
        assert (found.value, found.low, found.high) == (None, None, None)


def test_students_quantiles_are_those_of_the_tables() -> None:
    # 97.5 % of Student's t: NIST/SEMATECH e-Handbook, table 1.3.6.7.2.
    for free, wanted in ((3, 3.182), (5, 2.571), (10, 2.228), (30, 2.042), (100, 1.984)):
        assert student(free) == pytest.approx(wanted, abs=0.03)


def overrun(a: Assessment) -> list[tuple[str, float | None]]:
    return [
        (e.severity, e.allowed_s)
        for e in a.events
        if e.kind == "starter_overrun" and e.reason == "run_too_long"
    ]


def test_a_starters_current_is_the_batterys() -> None:
    # 50 s; the profile allows 45 s from the battery and 30 s from external power.
    volts, amps = battery(off=60.0)
    for profile in (PROFILE, PROFILE_24_V):
        a = assess(of(8.0, volts, amps, off=60.0), profile)
        (run,) = a.starts[0].starter_runs
        assert (run.power, run.power_inferred) == ("battery", True)
        assert overrun(a) == [("limit", 45)]
        (event,) = [e for e in a.events if e.kind == "starter_overrun"]
        assert "from the battery, by the battery's current" in str(event.message)
        # 40 s are within the battery's 45 s, not more than the stricter table's 30 s.
        volts_40, amps_40 = battery(off=50.0)
        assert overrun(assess(of(8.0, volts_40, amps_40, off=50.0), profile)) == []


def test_a_current_near_zero_is_external_power_if_the_bus_does_not_sink() -> None:
    calm = np.full(GRID.size, 3.0)
    held = 28.0 - 0.002 * crank(GRID, off=50.0)
    a = assess(of(8.0, held, calm, off=50.0), PROFILE_24_V)
    (run,) = a.starts[0].starter_runs
    assert (run.power, run.power_inferred) == ("external", True)
    assert overrun(a) == [("limit", 30)]
    # An ammeter that does not see the starter, on a bus that sinks as a battery does: nobody knows.
    volts, _ = battery(off=50.0)
    a = assess(of(8.0, volts, calm, off=50.0), PROFILE_24_V)
    assert a.starts[0].starter_runs[0].power == "unknown"
    assert overrun(a) == [("possible", 30)]


def test_a_load_that_battery_and_cart_share_is_of_no_known_source() -> None:
    # A soft cart: the battery rests at 27 V without a current and gives half of what the starter takes.
    amps = 0.5 * crank(GRID)
    a = assess(of(8.0, 27.0 - 0.008 * amps, amps), PROFILE_24_V)
    assert a.starts[0].starter_runs[0].power == "unknown"


def test_a_column_that_tells_the_source_is_believed() -> None:
    volts, amps = battery()
    made = of(8.0, volts, amps)
    t = made.channels["ng"].time_s
    told = Channel("external_power", made.channels["starter"].unit, t, np.ones(t.size))
    (run,) = (
        assess(made.with_channels(dict(made.channels) | {"external_power": told}), PROFILE)
        .starts[0]
        .starter_runs
    )
    assert (run.power, run.power_inferred) == ("external", False)


def test_the_formula_that_is_told_is_the_one_that_gave_the_value() -> None:
    def formula(volts: np.ndarray, amps: np.ndarray) -> str:
        made = assess(of(8.0, volts, amps), PROFILE)
        assert resistance(made).value is not None
        return made.starts[0].evidence["source_resistance"].formula

    volts, amps = battery()
    assert "slope" in formula(volts, amps)  # falls from 900 A to 250 A
    steady = 25.0 + np.where((GRID >= 10.0) & (GRID < 46.0), 400.0, 0.0)
    assert "at rest" in formula(25.0 - TRUE / 1000 * steady, steady)
    assert "capacitor" in formula(*battery(8.0))


def test_a_steady_current_has_the_drop_and_the_drop_worked_out_by_hand_is_the_value() -> None:
    steady = 25.0 + np.where((GRID >= 10.0) & (GRID < 46.0), 400.0, 0.0)
    made = resistance(assess(of(8.0, 25.0 - TRUE / 1000 * steady, steady), PROFILE))
    assert made.value == pytest.approx((24.8 - 21.6) / (425.0 - 25.0) * 1000, rel=0.02)
