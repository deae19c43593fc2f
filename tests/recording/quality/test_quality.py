"""Each fault of the data is flagged where it is, in one sentence, and good data is not."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.recording.model import Channel, FloatArray, QualityFlag
from debrief.recording.quality.data_quality import flags, gap_limit_s, resolution
from debrief.recording.quality.probes import low_probes
from debrief.steps import done


def _channel(
    name: str, values: object, *, time_s: FloatArray | None = None, unit: str = "", **more: object
) -> Channel:
    array = np.asarray(values, dtype=np.float64)
    times = np.arange(array.size) * 0.5 if time_s is None else time_s
    units = {"itt": "degC", "ng": "%", "starter": "0/1", "battery_amps": "A", "bus_volts": "V"}
    return Channel(
        name, unit or units.get(name, "degC"), times, array, resolution=resolution(array), **more  # type: ignore[arg-type]
    )  # fmt: skip


def _lively(count: int, level: float, seed: int = 1) -> FloatArray:
    return np.round(level + np.random.default_rng(seed).normal(0, 2, count), 1)


def _flags(*channels: Channel) -> list[QualityFlag]:
    return list(done(flags({c.name: c for c in channels}, float(channels[0].time_s[-1]))))


def _kinds(*channels: Channel) -> list[str]:
    return [flag.kind for flag in _flags(*channels)]


def test_good_data_has_no_flag() -> None:
    assert _flags(_channel("itt", _lively(400, 600)), _channel("ng", _lively(400, 60))) == []


def test_a_gap_is_flagged_where_it_is() -> None:
    times = np.concatenate([np.arange(100) * 0.5, 60 + np.arange(100) * 0.5])
    flag = next(f for f in _flags(_channel("itt", _lively(200, 600), time_s=times)) if f.kind == "gap")
    assert (flag.start_s, flag.end_s) == (49.5, 60.0)
    assert "10.5 s" in flag.message


def test_a_gap_of_shared_rows_is_flagged_once() -> None:
    times = np.concatenate([np.arange(100) * 0.5, 60 + np.arange(100) * 0.5])
    itt = _channel("itt", _lively(200, 600), time_s=times)
    ng = _channel("ng", _lively(200, 60), time_s=itt.time_s)
    assert _kinds(itt, ng).count("gap") == 1


@pytest.mark.parametrize(("step", "pause", "is_gap"), [(0.5, 1.9, False), (0.5, 2.1, True), (1.0, 2.9, False), (1.0, 3.1, True), (10.0, 29.0, False), (10.0, 31.0, True)])  # fmt: skip
def test_the_gap_limit_is_three_intervals_and_at_least_two_seconds(
    step: float, pause: float, is_gap: bool
) -> None:
    before = np.arange(100) * step
    times = np.concatenate([before, before[-1] + pause + np.arange(100) * step])
    assert ("gap" in _kinds(_channel("itt", _lively(200, 600), time_s=times))) is is_gap


def test_the_gap_limit_follows_the_rate_around_it() -> None:
    times = np.concatenate([np.arange(200) * 10.0, 2000 + np.arange(200) * 0.5, 2110 + np.arange(200) * 0.5])
    channel = _channel("itt", _lively(600, 600), time_s=times)
    gaps = [f for f in _flags(channel) if f.kind == "gap"]
    assert [(f.start_s, f.end_s) for f in gaps] == [(2099.5, 2110.0)]
    assert gap_limit_s(times, 399) == 2.0


def test_a_stuck_value_is_flagged_in_a_channel_that_moves_otherwise() -> None:
    values = _lively(400, 600)
    values[100:200] = 612.0
    flag = next(f for f in _flags(_channel("itt", values)) if f.kind == "stuck")
    assert (flag.start_s, flag.end_s) == (50.0, 99.5)
    assert "612" in flag.message


def test_a_thermocouple_that_never_moves_while_the_engine_does_is_stuck() -> None:
    ng = np.concatenate([np.linspace(0, 60, 100), np.full(300, 60.0)])
    kinds = _kinds(_channel("itt", np.full(400, 20.0)), _channel("ng", ng))
    assert "stuck" in kinds


def test_a_standing_engine_is_not_stuck() -> None:
    assert "stuck" not in _kinds(_channel("itt", np.full(400, 20.0)), _channel("ng", np.zeros(400)))


def test_a_coarse_slow_channel_that_holds_its_value_is_not_stuck() -> None:
    values = np.repeat([600.0, 601.0, 602.0, 601.0], 100)
    assert "stuck" not in _kinds(_channel("itt", values), _channel("ng", np.full(400, 60.0)))


def test_a_drop_to_zero_of_a_running_channel_is_flagged() -> None:
    values = _lively(400, 600)
    values[100:104] = 0.0
    flag = next(f for f in _flags(_channel("itt", values)) if f.kind == "dropout")
    assert (flag.start_s, flag.end_s) == (49.5, 52.0)
    assert "is back after 2.5 s" in flag.message


def test_a_drop_to_zero_fahrenheit_is_a_drop_to_zero() -> None:
    values = _lively(400, 600)
    values[100:104] = -160 / 9
    assert "dropout" in _kinds(_channel("itt", values, column_unit="degF"))


def test_a_shutdown_is_no_dropout() -> None:
    values = _lively(400, 60)
    values[300:] = 0.0
    assert "dropout" not in _kinds(_channel("ng", values))


def test_noise_about_zero_is_no_dropout() -> None:
    values = np.concatenate([np.tile([0.0, 0.1, 0.2, 0.0, 0.1], 40), np.linspace(0.1, 80, 100)])
    assert "dropout" not in _kinds(_channel("fuel_flow", values, unit="kg/h"))


def test_a_single_sample_spike_is_flagged() -> None:
    values = _lively(400, 600)
    values[200] = 950.0
    flag = next(f for f in _flags(_channel("itt", values)) if f.kind == "spike")
    assert (flag.start_s, flag.end_s) == (99.5, 100.5)
    assert "950" in flag.message


def test_a_peak_of_several_samples_is_no_spike() -> None:
    values = _lively(400, 600)
    values[200:203] = [800.0, 950.0, 800.0]
    assert "spike" not in _kinds(_channel("itt", values))


def test_a_step_is_no_spike() -> None:
    values = _lively(400, 600)
    values[200:] += 300
    assert "spike" not in _kinds(_channel("itt", values))


def test_values_outside_the_physical_range_are_flagged_once_with_their_number() -> None:
    values = _lively(400, 600)
    values[100:150] = 2290.0
    found = [f for f in _flags(_channel("itt", values)) if f.kind == "out_of_range"]
    assert len(found) == 1
    assert "50 samples" in found[0].message
    assert (found[0].start_s, found[0].end_s) == (50.0, 74.5)


def test_a_speed_in_rpm_is_not_outside_the_range_of_percent() -> None:
    assert "out_of_range" not in _kinds(_channel("ng", _lively(400, 30000), unit="rpm"))


def test_a_state_that_ramps_was_interpolated() -> None:
    values = np.concatenate([np.zeros(50), [0.25, 0.5, 0.75], np.ones(50)])
    flag = next(f for f in _flags(_channel("starter", values)) if f.kind == "ramped_discrete")
    assert "3 samples" in flag.message
    assert flag.start_s == 24.5


def test_a_clean_state_is_not_flagged() -> None:
    assert _flags(_channel("starter", np.repeat([0.0, 1.0, 0.0], 50))) == []


def test_an_ammeter_at_its_stop_is_flagged() -> None:
    values = np.concatenate([_lively(50, 20), [180, 400, 400, 400, 400, 320, 250], _lively(50, 100)])
    flag = next(f for f in _flags(_channel("battery_amps", values)) if f.kind == "saturated")
    assert "400" in flag.message
    assert "4 samples" in flag.message


def test_a_peak_current_of_one_sample_is_not_at_a_stop() -> None:
    values = np.concatenate([_lively(50, 20), [180, 400, 380, 320, 250], _lively(50, 100)])
    assert "saturated" not in _kinds(_channel("battery_amps", values))


def test_a_signal_that_falls_to_zero_for_good_while_the_engine_runs_on_is_lost() -> None:
    values = _lively(400, 600)
    values[100:] = 0.0
    flag = next(
        f
        for f in _flags(_channel("itt", values), _channel("ng", _lively(400, 90, 2)))
        if f.kind == "signal_lost"
    )
    assert (flag.start_s, flag.end_s) == (49.5, 199.5)
    assert "stays there until the end, while the engine runs on" in flag.message


def test_gas_generator_speed_that_falls_to_zero_while_the_engine_stays_hot_is_lost() -> None:
    values = _lively(400, 90)
    values[100:160] = 0.0
    flag = next(
        f
        for f in _flags(_channel("ng", values), _channel("itt", _lively(400, 600, 2)))
        if f.kind == "signal_lost"
    )
    assert (flag.start_s, flag.end_s) == (49.5, 80.0)
    assert "stays there for 30 s" in flag.message


def test_fuel_cut_is_no_lost_signal() -> None:
    flow, ng = _lively(400, 120), _lively(400, 60, 2)
    flow[100:] = 0.0
    ng[100:] = 60 * np.exp(-np.arange(300) / 20)
    assert "signal_lost" not in _kinds(_channel("fuel_flow", flow, unit="kg/h"), _channel("ng", ng))


def test_a_fall_to_zero_at_the_very_end_is_not_judged() -> None:
    values = _lively(400, 600)
    values[-15:] = 0.0
    assert "signal_lost" not in _kinds(_channel("itt", values), _channel("ng", _lively(400, 90, 2)))


@pytest.mark.parametrize("level", [1372.0, 24.0])
def test_a_thermocouple_that_jumps_to_the_top_or_the_cold_and_stands_is_open(level: float) -> None:
    values = _lively(400, 600)
    values[100:160] = level
    flag = next(
        f
        for f in _flags(_channel("itt", values), _channel("ng", _lively(400, 90, 2)))
        if f.kind == "open_thermocouple"
    )
    assert (flag.start_s, flag.end_s) == (49.5, 79.5)
    assert f"to {level:.0f} °C" in flag.message
    assert "may be open, and limits may be missed" in flag.message


def test_a_light_off_is_no_open_thermocouple() -> None:
    itt = np.concatenate(
        [np.full(50, 20.0), np.linspace(20, 820, 5), 820 - 300 * (1 - np.exp(-np.arange(200) / 20))]
    )
    ng = np.concatenate([np.linspace(0, 20, 50), np.linspace(20, 60, 205)])
    kinds = _kinds(_channel("itt", np.round(itt, 1)), _channel("ng", ng))
    assert "open_thermocouple" not in kinds


def test_a_flame_out_is_no_open_thermocouple_nor_lost() -> None:
    itt, ng = _lively(400, 600), _lively(400, 90, 2)
    itt[100:] = np.round(20 + 500 * np.exp(-np.arange(300) / 4))
    ng[100:] = np.round(90 * np.exp(-np.arange(300) / 15))
    assert {"open_thermocouple", "signal_lost"}.isdisjoint(_kinds(_channel("itt", itt), _channel("ng", ng)))


def test_the_second_engine_is_judged_by_its_own_speed() -> None:
    itt = _lively(400, 600)
    itt[100:] = 1372.0
    second = _channel("itt.2", itt)
    assert "open_thermocouple" not in _kinds(second, _channel("ng", _lively(400, 90, 2)))
    assert "open_thermocouple" in _kinds(second, _channel("ng.2", _lively(400, 90, 2)))


def test_coarse_steps_are_told() -> None:
    values = np.repeat(np.arange(20.0, 820.0, 10.0), 5)
    flag = next(f for f in _flags(_channel("itt", values)) if f.kind == "coarse")
    assert "steps of 10 °C" in flag.message


@pytest.mark.parametrize(("interval_s", "told"), [(1.0, False), (2.0, False), (5.0, True)])
def test_rare_samples_of_the_temperature_are_told(interval_s: float, told: bool) -> None:
    channel = _channel("itt", _lively(100, 600), time_s=np.arange(100) * interval_s)
    assert any("is sampled every" in flag.message for flag in _flags(channel)) is told


def test_many_flags_of_a_kind_are_summed_up() -> None:
    values = _lively(2000, 600)
    values[10::20] = 950.0
    found = [f for f in _flags(_channel("itt", values)) if f.kind == "spike"]
    assert len(found) == 21
    assert "more of this kind" in found[-1].message


@pytest.mark.parametrize(
    ("values", "step"), [([1.0, 1.0], None), ([], None), ([0.0, 0.1, 0.3], 0.1), ([5.0, 20.0], 15.0), ([0.1 + 0.2, 0.3, 0.4], 0.1)]
)  # fmt: skip
def test_resolution_is_the_smallest_step(values: list[float], step: float | None) -> None:
    assert resolution(np.array(values)) == step


@given(
    st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=80),
    st.sampled_from(["itt", "ng", "starter", "battery_amps"]),
)
def test_whatever_the_values_every_flag_is_in_order_and_within_the_recording(
    values: list[float], name: str
) -> None:
    channel = _channel(name, values)
    found = _flags(channel)
    assert [f.start_s for f in found] == sorted(f.start_s for f in found)
    for flag in found:
        assert channel.time_s[0] <= flag.start_s <= flag.end_s <= channel.time_s[-1]
        assert flag.channel == name
        assert flag.message.endswith(".")


@pytest.mark.parametrize(
    "module",
    ["debrief.recording.quality.data_quality", "debrief.recording.quality.sample_faults", "debrief.words.units",
     "debrief.recording.model", "debrief.recording.reader", "debrief.recording.identity"],
)  # fmt: skip
def test_importing_stays_light(module: str) -> None:
    code = (
        f"import sys, {module}; "
        "print([m for m in ('pandas', 'pyarrow', 'PySide6', 'sqlite3') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_one_probe_that_reads_low_is_flagged() -> None:
    level = np.concatenate([np.full(50, 20.0), np.full(200, 600.0)])
    times = np.arange(250) * 0.5
    rng = np.random.default_rng(5)
    probes = {
        f"EGT {n}": _channel(f"EGT {n}", level * (0.8 if n == 3 else 1.0) + rng.normal(0, 3, 250), time_s=times, column=f"EGT {n}")
        for n in (1, 2, 3, 4)
    }  # fmt: skip
    shared = probes["EGT 1"].time_s
    probes = {name: replace(channel, time_s=shared) for name, channel in probes.items()}
    (flag,) = low_probes(probes)
    assert flag.kind == "low_probe"
    assert flag.channel == "EGT 3"
    assert "EGT 3 reads 480 °C where the probes beside it read 599 °C" in flag.message
    del probes["EGT 3"]
    assert low_probes(probes) == []


def test_of_few_values_the_step_is_what_all_differences_are_multiples_of() -> None:
    few = [14.6, 20.7, 21.5, 23.1, 24.0, 24.6, 26.7]  # tenths, of which no two lie one tenth apart
    assert resolution(np.array(few)) == pytest.approx(0.1)
    assert "coarse" not in _kinds(_channel("bus_volts", few))
    halves = [14.5, 20.0, 21.5, 23.0, 24.0, 26.5]
    assert resolution(np.array(halves)) == pytest.approx(0.5)


def test_cells_that_were_converted_and_rounded_keep_their_step() -> None:
    celsius = np.round((np.array([60, 61, 62, 64, 65, 70, 81]) - 32) / 1.8, 2)
    assert resolution(celsius) == pytest.approx(0.55, abs=0.01)
