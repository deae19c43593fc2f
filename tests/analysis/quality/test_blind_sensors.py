"""Sensors that fail while the engine runs are seen by what the others do; those that rest or are governed are not doubted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.model import AllowedRow, EngineProfile, FlightRules, Limit, StarterRules
from debrief.recording.model import Channel, Recording
from debrief.words.channels import CANONICAL
from tests.analysis.recording_making import PROFILE, RUNNING_LIMIT

Values = dict[str, np.ndarray]

NG = Limit("ng", "overspeed_ng", "ng", "running", "%", "longest", (AllowedRow(101, 5),))
TORQUE = Limit("torque", "overtorque", "torque", "airborne", "%", "longest", (AllowedRow(100, 5),))
NP = Limit("np", "overspeed_np", "np", "running", "rpm", "longest", (AllowedRow(1950, 5),))
JUDGED = replace(
    PROFILE,
    limits=(RUNNING_LIMIT, NG, TORQUE, NP),
    starter=StarterRules(),
    flight=FlightRules(airborne_ias_kt=68.0),
)
STEP = {"ng": 0.1, "itt": 1.0, "torque": 0.1, "np": 1.0, "fuel_flow": 0.5, "bus_volts": 0.1}
NOISE = {"ng": 0.05, "itt": 1.2, "torque": 0.2, "np": 1.5, "fuel_flow": 0.4, "bus_volts": 0.05}


def flown(
    spoil: Callable[[np.ndarray, Values], None] = lambda t, v: None,
    hz: float = 4.0,
    noise: float = 1.0,
    step: Mapping[str, float] = STEP,
    profile: EngineProfile = JUDGED,
) -> Assessment:
    """Return a flight that begins at idle and ends there at 600 s: power at 60, 160, 300 and 450 s, fuel cut at 580 s."""
    t = np.arange(0.0, 620.0, 1.0 / hz)
    rng = np.random.default_rng(3)
    target = np.select([t < 60, t < 160, t < 300, t < 450, t < 580], [62.0, 93.0, 88.0, 75.0, 62.0], 0.0)
    ng = target.copy()
    for k in range(1, t.size):
        ng[k] = ng[k - 1] + (target[k] - ng[k - 1]) / hz / (1.5 if t[k] < 580 else 8.0)
    lit = t < 580
    true = {
        "ng": ng,
        "itt": np.where(lit, 560 + 6.0 * (ng - 62), 560 * np.exp(-(t - 580) / 60)),
        "torque": np.where(lit, np.maximum(5 + 2.6 * (ng - 62), 0), 0.0),
        "np": np.where(lit, np.minimum(1250 + 60 * (ng - 62), 1900), 0.0),
        "fuel_flow": np.where(lit, 80 + 4 * (ng - 62), 0.0),
        "bus_volts": np.full(t.size, 28.0),
    }
    values = {n: v + noise * NOISE[n] * rng.standard_normal(t.size) for n, v in true.items()}
    values = {n: np.round(v / step[n]) * step[n] for n, v in values.items()}
    values["fuel_on"] = lit.astype(float)
    values["ias"] = np.where((t > 80) & (t < 500), 110.0, 0.0)
    spoil(t, values)
    channels = {
        n: Channel(n, CANONICAL[n], t, v, column=n, resolution=step.get(n, 1.0)) for n, v in values.items()
    }
    return assess(Recording(channels, float(t[-1])), profile)


def stands(channel: str, value: float | None, begin: float, end: float = 1e9) -> Callable[..., None]:
    def spoil(t: np.ndarray, values: Values) -> None:
        here = (t >= begin) & (t < end)
        values[channel][here] = values[channel][np.searchsorted(t, begin) - 1] if value is None else value

    return spoil


def doubted(a: Assessment) -> list[tuple[str, str]]:
    kinds = ("sensor_sense", "signal_lost", "open_thermocouple", "sensor_step", "cold_reading", "dead_speed")
    return [(q.channel, q.kind) for q in a.quality if q.kind in kinds]


def result(a: Assessment, channel: str) -> str:
    return next(r.result for r in a.limits if r.channel == channel)


@pytest.mark.parametrize("hz", [1.0, 4.0])
@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_a_flight_with_nothing_wrong_has_no_doubt(hz: float, noise: float) -> None:
    a = flown(hz=hz, noise=noise)
    assert doubted(a) == []
    assert a.verdict == "within", a.sentence


@pytest.mark.parametrize(
    "coarse", [{"itt": 10.0}, {"ng": 1.0}, {"torque": 5.0}, {"np": 25.0, "fuel_flow": 10.0}]
)
def test_a_coarse_recorder_holds_its_values_without_a_doubt(coarse: dict[str, float]) -> None:
    a = flown(noise=0.3, step=STEP | coarse)
    assert doubted(a) == []


@pytest.mark.parametrize("hz", [1.0, 4.0])
@pytest.mark.parametrize("noise", [0.0, 1.0])
@pytest.mark.parametrize("channel", ["itt", "ng", "torque"])
def test_one_that_freezes_while_the_others_move_is_not_within(channel: str, noise: float, hz: float) -> None:
    a = flown(stands(channel, None, 250.0), hz, noise)
    assert (channel, "sensor_sense") in doubted(a)
    assert result(a, channel) == "not_judged"
    assert a.verdict == "undetermined"
    assert "stood still" in a.sentence


def test_a_slow_drift_before_it_freezes_hides_nothing() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        slow = (t >= 200) & (t < 250)
        values["itt"][slow] = np.round(716 - 0.2 * (t[slow] - 200))
        values["itt"][t >= 250] = 706.0

    a = flown(spoil, noise=0.0)
    assert ("itt", "sensor_sense") in doubted(a)
    assert a.verdict == "undetermined"


def test_one_that_flickers_by_a_step_stands_still_as_well() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        here = t >= 250
        values["itt"][here] = 706.0 + (np.arange(int(here.sum())) // 3 % 2)

    assert ("itt", "sensor_sense") in doubted(flown(spoil))


def test_a_frozen_propeller_is_a_footnote() -> None:
    a = flown(stands("np", None, 500.0))
    assert doubted(a) == []  # governed and at idle nothing more moves it
    a = flown(stands("np", 1900.0, 100.0))
    assert ("np", "sensor_sense") in doubted(a)
    assert (result(a, "np"), a.verdict) == ("not_judged", "within")
    assert [p.core for p in a.not_judged if p.channel == "np"] == [False]


def test_power_at_constant_temperature_in_a_climb_is_no_doubt() -> None:
    # The crew holds 700 °C for 200 s while torque falls by 30 % with height, 9 % a minute.
    def spoil(t: np.ndarray, values: Values) -> None:
        here = (t >= 160) & (t < 360)
        values["itt"][here] = 700.0
        values["torque"][here] = np.round(80 - 0.15 * (t[here] - 160), 1)
        values["fuel_flow"][here] = np.round(190 - 0.2 * (t[here] - 160))
        values["ng"][here] = 88.0

    a = flown(spoil, step=STEP | {"itt": 5.0}, noise=0.0)
    assert ("itt", "sensor_sense") not in doubted(a)


@pytest.mark.parametrize("hz", [1.0, 4.0])
@pytest.mark.parametrize(
    ("channel", "value", "kind"),
    [("itt", 0.0, "signal_lost"), ("itt", 18.0, "open_thermocouple"), ("ng", 0.0, "signal_lost"),
     ("torque", 0.0, "signal_lost")],
)  # fmt: skip
def test_one_that_is_lost_in_flight_leaves_the_verdict_open(
    channel: str, value: float, kind: str, hz: float
) -> None:
    for end in (1e9, 280.0):
        a = flown(stands(channel, value, 250.0, end), hz)
        assert (channel, kind) in doubted(a)
        assert result(a, channel) == "not_judged"
        assert a.verdict == "undetermined"


@pytest.mark.parametrize("channel", ["np", "bus_volts"])
def test_propeller_and_volts_that_are_lost_are_named_and_leave_the_verdict(channel: str) -> None:
    a = flown(stands(channel, 0.0, 250.0))
    assert (channel, "signal_lost") in doubted(a)
    assert a.verdict == "within"
    assert [p.core for p in a.not_judged if p.channel == channel] == [False]


def test_a_sensor_that_dies_after_the_shutdown_is_no_doubt() -> None:
    assert doubted(flown(stands("itt", 0.0, 590.0))) == []
    assert doubted(flown(stands("ng", 0.0, 583.0))) == []


@pytest.mark.parametrize("hz", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("level", [999.0, 1200.0, 1372.0])
def test_what_rests_on_an_open_probe_is_possible_and_suspect(level: float, hz: float) -> None:
    for end in (1e9, 258.0):
        a = flown(stands("itt", level, 250.0, end), hz)
        assert ("itt", "open_thermocouple") in doubted(a)
        assert a.verdict == "possible"
        events = [e for e in a.events if e.kind == "overtemp" and e.severity != "caution"]
        assert events
        assert all(e.severity == "possible" and e.sensor_suspect and not e.certain for e in events)
        assert "Sensor suspect: ITT jumped from" in events[0].message


def test_an_overtemperature_before_the_probe_opens_stays_certain() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        values["itt"] += np.interp(t, (95.0, 100.0, 120.0, 125.0), (0.0, 130.0, 130.0, 0.0)).round()
        stands("itt", 999.0, 250.0)(t, values)

    a = flown(spoil)
    certain = [e for e in a.events if e.severity == "limit"]
    assert [(e.certain, e.sensor_suspect, 97 < e.start_s < 101) for e in certain] == [(True, False, True)]
    assert a.verdict == "exceeded"


def test_a_closed_power_lever_is_no_lost_torque() -> None:
    # At 1 Hz torque falls from 41 to 0 within a step; Ng follows in the seconds after.
    def spoil(t: np.ndarray, values: Values) -> None:
        values["torque"][(t >= 450) & (t < 580)] = 0.0

    assert doubted(flown(spoil, 1.0)) == []


@pytest.mark.parametrize("hz", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("by", [-120.0, -60.0])
def test_a_step_of_temperature_that_nothing_shares_leaves_the_verdict_open(by: float, hz: float) -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        values["itt"][t >= 250] += by

    a = flown(spoil, hz)
    (point,) = (p for p in a.not_judged if p.channel == "itt")
    assert point.start_s == pytest.approx(250, abs=1.1 / hz)
    assert "in one step that nothing else shared" in point.why
    assert (result(a, "itt"), a.verdict) == ("not_judged", "undetermined")


def test_what_is_exceeded_behind_a_step_upward_is_possible_and_a_step_back_ends_the_doubt() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        values["itt"][(t >= 200) & (t < 280)] += 140.0

    a = flown(spoil)
    assert [(e.severity, e.sensor_suspect) for e in a.events if e.severity != "caution"] == [
        ("possible", True)
    ]
    (flag,) = (q for q in a.quality if q.kind == "sensor_step")
    assert (flag.start_s, flag.end_s) == pytest.approx((200, 280), abs=0.3)


def test_a_power_change_and_bleed_air_are_no_steps_of_the_sensor() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        values["itt"][t >= 230] += 30.0  # bleed air
        quick = t >= 300  # a lever that is closed fast, seen at 1 Hz
        values["itt"][quick] -= 40.0
        values["fuel_flow"][quick] -= 20.0

    assert doubted(flown(spoil, 1.0)) == []


def test_one_sample_of_speed_that_no_rotor_makes_is_suspect() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        values["ng"][np.searchsorted(t, 250.0)] = 112.0

    limit = replace(NG, allowed=(AllowedRow(103, 0),))
    a = flown(spoil, profile=replace(JUDGED, limits=(limit,)))
    (event,) = a.events
    assert (event.severity, event.sensor_suspect) == ("possible", True)


def test_a_row_of_zeros_in_flight_is_no_start() -> None:
    def spoil(t: np.ndarray, values: Values) -> None:
        for row in values.values():
            row[np.searchsorted(t, 250.0)] = 0.0

    a = flown(spoil)
    assert a.starts == ()
    assert [r.result for r in a.limits if r.channel == "np"] == ["within"]


def test_a_speed_that_dies_makes_no_doubt_of_a_temperature_that_rests() -> None:
    assert doubted(flown(stands("ng", 0.0, 250.0), noise=0.0)) == [("ng", "signal_lost")]
