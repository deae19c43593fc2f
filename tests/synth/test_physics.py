"""Laws that the invented engine obeys, whatever its constants are."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.synth.engine_model import Battery, EngineConstants
from debrief.synth.flight import Simulation, monotone_cubic
from tests.synth.scenarios import START, run

DRY = '[[actions]]\nat_s = 5.0\nstarter = "on"\n'


def peak(simulation: Simulation) -> float:
    return float(simulation.states["itt"].max())


def motored(simulation: Simulation) -> float:
    return float(simulation.states["ng"].max())


def test_without_an_action_nothing_moves() -> None:
    states = run("", head="[ambient]\noat_c = 11.0", duration_s=30.0).states
    for name in ("ng", "np", "torque", "fuel_flow", "oil_press", "starter", "lit"):
        assert np.all(states[name] == 0.0), name
    assert np.allclose(states["itt"], 11.0)
    assert np.ptp(states["bus_volts"]) < 1e-6


def test_a_normal_start_reaches_governed_idle_and_stays_there() -> None:
    states = run(duration_s=80.0).states
    assert np.allclose(states["ng"][-5000:], 60.0, atol=0.2)
    assert np.all(np.diff(states["ng"][8000:44000]) > -1e-4)
    assert 600.0 < states["itt"].max() < 800.0
    assert states["np"][-1] > 900.0


def test_fuel_without_a_spark_makes_no_heat() -> None:
    faults = '[[faults]]\nkind = "no_light_off"\n'
    states = run(faults + START).states
    assert not states["lit"].any()
    assert states["itt"].max() < 40.0


def test_a_spark_without_fuel_makes_no_heat() -> None:
    body = DRY + '[[actions]]\nat_s = 12.0\nignition = "on"\n'
    assert not run(body, duration_s=30.0).states["lit"].any()


def test_without_the_starter_the_engine_does_not_start() -> None:
    body = START.replace('starter = "on"', 'ignition = "off"')
    states = run(body, duration_s=40.0).states
    assert not states["ng"].any()
    assert not states["lit"].any()


@pytest.mark.parametrize("hot_c", [100.0, 250.0, 400.0])
def test_residual_heat_makes_the_start_hotter(hot_c: float) -> None:
    cold = run(duration_s=32.0)
    hot = run(head=f"[initial]\nhot_c = {hot_c}", duration_s=32.0)
    assert peak(hot) > peak(cold) + 0.05 * hot_c
    # Both are lit at the same time: the difference is heat, not timing.
    assert abs(int(np.argmax(hot.states["lit"])) - int(np.argmax(cold.states["lit"]))) < 50


@pytest.mark.parametrize(
    "battery", ["resistance_mohm = 16.0", "open_volts = 24.0", "fade_mohm = 6.0"], ids=str.split
)
def test_a_weaker_battery_turns_the_engine_slower(battery: str) -> None:
    good = run(DRY, duration_s=25.0)
    weak = run(DRY, head=f"[battery]\n{battery}", duration_s=25.0)
    assert motored(weak) < motored(good) - 0.2
    assert weak.states["bus_volts"][8000] < good.states["bus_volts"][8000]


def test_the_bus_obeys_ohms_law_while_the_battery_alone_feeds_it() -> None:
    # Without fading, V = E - I R; the bus is allowed its 4 ms to settle.
    states = run(DRY, head="[battery]\nfade_mohm = 0.0", duration_s=25.0).states
    battery = Battery()
    expected = battery.open_volts - states["battery_amps"] * battery.resistance_mohm / 1000.0
    assert np.abs(states["bus_volts"] - expected)[6000:].max() < 0.02


def test_the_starter_draws_an_inrush_and_then_less_as_it_speeds_up() -> None:
    amps = run(DRY, duration_s=25.0).states["battery_amps"]
    limit = EngineConstants().current_limit_a + EngineConstants().base_load_a
    assert amps[5000:5400].max() > limit + 100.0
    assert amps[6000:].max() <= limit + 1.0
    assert amps[-1] < amps[7000]


@pytest.mark.parametrize("wind_kt", [8.0, 16.0])
def test_tailwind_makes_the_start_hotter_and_headwind_does_not(wind_kt: float) -> None:
    calm = run(duration_s=32.0)
    wind = f"[ambient]\nwind_speed_kt = {wind_kt}\nheading_deg = 90.0\nwind_from_deg = "
    behind = run(head=wind + "270.0", duration_s=32.0)
    ahead = run(head=wind + "90.0", duration_s=32.0)
    assert peak(behind) > peak(calm) + wind_kt
    assert peak(ahead) == peak(calm)


def test_a_hotter_day_and_a_higher_field_make_the_start_hotter() -> None:
    standard = run(duration_s=32.0)
    assert peak(run(head="[ambient]\noat_c = 38.0", duration_s=32.0)) > peak(standard) + 20.0
    # The control meters less fuel in thinner air, but the starter turns the engine to the same speed.
    high = run(head="[ambient]\npalt_ft = 6000.0", duration_s=32.0)
    assert high.states["fuel_flow"].max() < standard.states["fuel_flow"].max()


@pytest.mark.parametrize(("lean", "rich"), [(0.8, 1.0), (1.0, 1.3), (1.3, 1.6)])
def test_more_fuel_makes_the_start_hotter(lean: float, rich: float) -> None:
    def faults(factor: float) -> str:
        return f'[[faults]]\nkind = "metering"\nfactor = {factor}\n'

    assert peak(run(faults(rich) + START, duration_s=32.0)) > 50.0 + peak(
        run(faults(lean) + START, duration_s=32.0)
    )


def test_fuel_at_a_lower_speed_makes_the_start_hotter() -> None:
    early = START.replace("at_s = 12.0", "at_s = 6.0").replace("at_s = 19.0", "at_s = 8.4")
    assert peak(run(early, duration_s=32.0)) > peak(run(duration_s=32.0)) + 200.0


def test_fuel_that_waited_for_the_spark_makes_the_start_hotter() -> None:
    late = START.replace("at_s = 12.0", "at_s = 19.0").replace(
        'at_s = 19.0\nignition = "on"', 'at_s = 19.0\nstarter = "on"'
    )
    late += '\n[[actions]]\nat_s = 24.0\nignition = "on"\n'
    assert peak(run(late, duration_s=38.0)) > peak(run(duration_s=32.0)) + 80.0


def test_after_the_cut_speed_falls_steadily_and_the_engine_stands() -> None:
    body = START + '\n[[actions]]\nat_s = 52.0\nfuel = "off"\n'
    states = run(body, duration_s=130.0).states
    assert np.all(np.diff(states["ng"][52500:]) <= 0.0)
    assert states["ng"][-1] == 0.0
    # What the manifold still holds burns for about a second.
    assert not states["lit"][53500:].any()


def test_a_valve_that_leaks_after_the_cut_heats_the_engine_while_it_runs_down() -> None:
    body = START + '\n[[actions]]\nat_s = 60.0\nfuel = "off"\n'
    leaking = body + '\n[[faults]]\nkind = "leaking_valve"\nfrom_s = 50.0\nflow_kg_h = 10.0\n'
    tight = run(body, duration_s=90.0).states
    states = run(leaking, duration_s=90.0).states
    assert states["itt"][-1] > states["itt"][64000] + 200.0
    assert states["itt"][-1] > tight["itt"][-1] + 200.0
    assert np.array_equal(states["itt"][:60000], tight["itt"][:60000])


def test_after_shutdown_heat_soaks_slowly_and_then_the_engine_cools() -> None:
    body = START + '\n[[actions]]\nat_s = 70.0\nfuel = "off"\n'
    itt = run(body, duration_s=400.0).states["itt"]
    low = 71000 + int(np.argmin(itt[71000:110000]))
    top = low + int(np.argmax(itt[low:]))
    assert itt[top] > itt[low] + 20.0
    assert np.diff(itt[low:top])[1000:].max() * 1000.0 < 4.0  # degC per second: soak, not fire
    assert np.all(np.diff(itt[top + 1000 :]) < 0.0)
    assert itt[-1] > 15.0


def test_a_hot_standing_engine_cools_towards_the_outside_and_never_past_it() -> None:
    itt = run("", head="[initial]\nhot_c = 400.0", duration_s=400.0).states["itt"]
    assert np.all(np.diff(itt) <= 0.0)
    assert 15.0 < itt[-1] < 395.0


def test_motoring_cools_a_hot_engine_faster_than_standing() -> None:
    head = "[initial]\nhot_c = 400.0"
    assert (
        run(DRY, head=head, duration_s=30.0).states["itt"][-1]
        < run("", head=head, duration_s=30.0).states["itt"][-1] - 100.0
    )


def test_a_starter_that_drops_out_leaves_the_engine_hung() -> None:
    body = '[[faults]]\nkind = "starter_dropout"\nfrom_s = 25.0\n' + START
    states = run(body, duration_s=45.0, head="[ambient]\noat_c = 24.0").states
    assert states["ng"][-1] < 32.0
    assert not states["starter"][25001:].any()


def test_the_starter_opens_at_its_cut_out_speed_and_stays_open() -> None:
    states = run(duration_s=60.0).states
    off = int(np.flatnonzero(np.diff(states["starter"]) < 0)[0])
    assert states["ng"][off] == pytest.approx(42.0, abs=0.05)
    assert not states["starter"][off + 1 :].any()


def test_the_generator_lifts_the_bus_and_charges_the_battery() -> None:
    body = START + '\n[[actions]]\nat_s = 62.0\ngenerator = "on"\n'
    states = run(body, duration_s=75.0).states
    assert states["bus_volts"][-1] == pytest.approx(28.3, abs=0.05)
    assert states["battery_amps"][-1] < 0.0 < states["generator_amps"][-1]


def test_more_power_lever_gives_more_speed_torque_flow_and_heat() -> None:
    found = []
    for lever in (40.0, 60.0, 80.0):
        body = START + f"\n[[actions]]\nat_s = 60.0\npower_lever = {lever}\n"
        states = run(body, duration_s=85.0).states
        found.append([states[name][-1] for name in ("ng", "torque", "fuel_flow", "itt")])
    assert np.all(np.diff(np.array(found), axis=0) > 0.0)


@pytest.mark.parametrize("points", [[(0, 0), (10, 5), (20, 5), (30, 2)], [(0, 3), (1, 3)], [(0, 0), (5, 9)]])
def test_the_track_passes_its_points_and_never_overshoots(points: list[tuple[float, float]]) -> None:
    x, y = np.array(points, dtype=float).T
    at = np.linspace(x[0] - 3.0, x[-1] + 3.0, 4001)
    curve = monotone_cubic(x, y, at)
    assert np.allclose(monotone_cubic(x, y, x), y)
    for a, b, low, high in zip(x[:-1], x[1:], y[:-1], y[1:], strict=True):
        inside = curve[(at >= a) & (at <= b)]
        assert inside.min() >= min(low, high) - 1e-9
        assert inside.max() <= max(low, high) + 1e-9
    assert curve[0] == y[0]
    assert curve[-1] == y[-1]
