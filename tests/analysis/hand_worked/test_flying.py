"""Checks of the flight: phases, beta, run-down, highest values."""

from __future__ import annotations

from dataclasses import replace

from debrief.profile.model import FlightRules
from tests.analysis.fault_making import Analysis, close, kinds
from tests.analysis.recording_making import PROFILE

FLYING = replace(
    PROFILE,
    flight=FlightRules(airborne_ias_kt=68.0, flight_gate_power_lever_pct=22.0),
    limits=(),
    starter=replace(PROFILE.starter, duty=(), external_duty=()),
)
WHEELS = [(0, 1), (100, 0), (800, 1)]


def flight(**more: list[tuple[float, float]]) -> dict:
    """Return a flight: roll from 80 s, up at 100 s with 75 kt, climb to 4000 ft, down at 800 s, stop at 830 s."""
    return {
        "ng": [(0, 65), (90, 65), (100, 95), (790, 80), (800, 65), (900, 65)],
        "itt": [(0, 550), (100, 750), (800, 600), (900, 550)],
        "ias": [(0, 0), (80, 0), (100, 75), (200, 140), (780, 90), (800, 65), (830, 10), (900, 0)],
        "palt": [(0, 500), (100, 500), (300, 4500), (600, 4500), (800, 500), (900, 500)],
        "fuel_on": [(0, 1)],
        "starter": [(0, 0)],
        "power_lever": [(0, 60)],
        "weight_on_wheels": WHEELS,
    } | more


class Times(dict):
    """From when to when each phase was, the last of its name; NaN for one that never was."""

    def __missing__(self, name: str) -> tuple[float, float]:
        return float("nan"), float("nan")


def phases(lab: Analysis, **more: list[tuple[float, float]]) -> Times:
    a = lab.judge(flight(**more), 900, FLYING, rate_hz=4.0)
    return Times((p.name, (p.start_s, p.end_s)) for p in a.phases)


def test_the_phases_follow_the_flight(lab: Analysis) -> None:
    found = phases(lab)
    # 30 kt on the roll at 88 s; 400 ft above lift-off at 20 ft/s after 20 s: 120 s.
    assert close(found["takeoff"][0], 88.0, 0.3)
    assert close(found["takeoff"][1], 120.0, 0.3)
    # 20 ft/s are 1200 ft/min. Over the 30 s around 307.5 s the change is 300 ft/min; looked at every 5 s.
    assert close(found["climb"][1], 310.0)
    assert close(found["cruise"][1], 595.0, 5.0)
    assert close(found["descent"][1], 800.0)
    # 30 kt on the roll-out: 65 kt less 55 kt in 30 s, after 19.1 s.
    assert close(found["landing"][1], 800 + 30 * 35 / 55, 0.3)
    assert found["ground"][1] == 900.0


def test_three_hundred_feet_a_minute_are_the_border_of_level_flight(lab: Analysis) -> None:
    def middle(ft_per_min: float) -> str:
        top = 4500 + ft_per_min * 5
        found = phases(lab, palt=[(0, 500), (100, 500), (300, 4500), (600, top), (800, 500), (900, 500)])
        return next(name for name, (a, b) in found.items() if a <= 450 <= b)

    assert (middle(250.0), middle(400.0)) == ("cruise", "climb")


def test_bounces_and_short_pieces_are_no_phases(lab: Analysis) -> None:
    bounce = flight(weight_on_wheels=[(0, 1), (50, 0), (54, 1), (100, 0), (800, 1)])
    names = [p.name for p in lab.judge(bounce, 900, FLYING, rate_hz=4.0).phases]
    assert names == ["ground", "takeoff", "climb", "cruise", "descent", "landing", "ground"]
    hop = phases(lab, weight_on_wheels=[(0, 1), (50, 0), (57, 1)])
    assert close(hop["takeoff"][1], 57.0, 0.3)
    # Without any climb the take-off is over 90 s after lift-off.
    assert close(phases(lab, palt=[(0, 500)])["takeoff"][1], 190.0, 0.3)
    # A step of 200 ft in 10 s in the cruise is no climb of its own.
    step = [(0, 500), (100, 500), (300, 4500), (450, 4500), (460, 4700), (600, 4700), (800, 500), (900, 500)]
    a = lab.judge(flight(palt=step), 900, FLYING, rate_hz=4.0)
    assert [p.name for p in a.phases].count("climb") == 1


def test_the_shutdown_lasts_until_the_engine_stands(lab: Analysis) -> None:
    found = phases(lab, ng=[(0, 65), (850, 65), (863, 0), (900, 0)], fuel_on=[(0, 1), (850, 0)])
    # 5 % after 12 s; below it at the next sample.
    assert found["shutdown"] == (850.0, 862.25)
    assert found["off"] == (862.25, 900.0)


def beta(
    lab: Analysis, begin: float, lasts: float, wheels: list[tuple[float, float]] | None, **more: list
) -> list:
    lever = [
        (0, 60),
        (begin - 0.25, 60),
        (begin, 22),
        (begin + 0.25, 10),
        (begin + lasts - 0.25, 10),
        (begin + lasts, 22),
        (begin + lasts + 0.25, 60),
        (900, 60),
    ]
    traces = flight(power_lever=lever, **more)
    if wheels is None:
        del traces["weight_on_wheels"]
    else:
        traces["weight_on_wheels"] = wheels
    return [s for s, _ in kinds(lab.judge(traces, 900, FLYING, rate_hz=4.0), "beta_in_flight")]


def test_beta_with_weight_on_wheels_needs_three_seconds_before_and_two_during(lab: Analysis) -> None:
    up = [(0, 1), (100, 0), (500, 1)]
    assert beta(lab, 104.0, 2.5, up) == ["limit"]
    assert beta(lab, 102.0, 2.5, up) == ["possible"]
    assert beta(lab, 104.0, 1.5, up) == ["possible"]
    assert beta(lab, 600.0, 5.0, up) == []
    assert beta(lab, 499.0, 5.0, up) == []  # one second before the touchdown: the landing
    assert beta(lab, 497.0, 5.0, up) == ["limit"]


def test_a_lever_that_flickers_at_the_gate_is_below_it_once(lab: Analysis) -> None:
    def events(rests_s: float) -> list:
        # Down to 10 % for 1 s, up to 34 % for `rests_s`, ten times; each flank crosses the gate half way.
        lever = [(0.0, 34.0), (400.0, 34.0)]
        for n in range(10):
            at = 400.0 + n * (1.5 + rests_s)
            lever += [(at, 34.0), (at + 0.25, 10.0), (at + 1.25, 10.0), (at + 1.5, 34.0)]
        lever += [(900.0, 34.0)]
        a = lab.judge(flight(power_lever=sorted(set(lever))), 900, FLYING, rate_hz=4.0)
        return [e for e in a.events if e.kind == "beta_in_flight"]

    # Between the crossings it is 0.25 s longer above: 1.75 s are a flicker, 2.25 s are not.
    (event,) = _only(events(1.5))
    assert close(event.duration_s, 10 * 1.25)
    # Surely below for 1 s at a time, with 2 s between: that is no flicker for sure.
    assert close(event.duration_low_s, 1.0)
    assert close(event.duration_high_s, 10 * 1.5)
    assert len(event.spans) == 10
    assert event.severity == "limit"
    assert len(events(2.25)) == 10


def _only(found: list) -> list:
    assert len(found) == 1
    return found


def test_beta_from_airspeed_alone_needs_a_hundred_feet_above_touchdown(lab: Analysis) -> None:
    # Airspeed falls through 68 kt at 797.6 s, at 548 ft; -20 ft/s before.
    assert beta(lab, 780.0, 5.0, None) == ["limit"]  # 800 ft and more
    # Down to 548 + 4.6 x 20 = 640 ft at 793 s... lowest 640 - 548 = 92 ft above touchdown.
    assert beta(lab, 790.0, 3.0, None) == ["limit"]  # as far as it was high
    assert beta(lab, 793.0, 3.0, None) == []
    # Lowest 112 ft above touchdown at 792 s.
    assert beta(lab, 790.0, 2.0, None) == ["limit"]


def test_run_down_is_from_forty_to_ten_percent(lab: Analysis) -> None:
    ng = [(0, 65), (850, 65), (860, 40.4), (881, 9.4), (900, 0)]
    cut = {"ng": ng, "fuel_on": [(0, 1), (850, 0)]}
    run = lab.judge(flight(**cut), 900, FLYING, rate_hz=4.0).flight_measures["run_down"]
    # 31 % in 21 s: 30 % take 30 x 21 / 31 s.
    assert close(run.value, 30 * 21 / 31)
    assert close(run.low, 30 * 21 / 31 - 0.5)
    turned = flight(**cut, starter=[(0, 0), (855, 1), (870, 0)])
    assert lab.judge(turned, 900, FLYING, rate_hz=4.0).flight_measures["run_down"].value is None
    from tests.analysis.recording_making import recording

    made = recording(flight(**cut), 900, 4.0)
    channel = made.channels["ng"]
    keep = (channel.time_s <= 858) | (channel.time_s >= 862)
    holed = replace(channel, time_s=channel.time_s[keep], values=channel.values[keep])
    a = lab.of(made.with_channels(dict(made.channels) | {"ng": holed}), FLYING)
    assert "gap" in (a.flight_measures["run_down"].why or "")


def test_the_highest_values_are_those_while_running(lab: Analysis) -> None:
    # 750 while running; 780 of a hot probe after the cut does not count.
    itt = [(0, 550), (100, 750), (850, 600), (870, 780), (900, 700)]
    ng = [(0, 65), (100, 95), (850, 65), (863, 0), (900, 0)]
    measures = lab.judge(
        flight(itt=itt, ng=ng, fuel_on=[(0, 1), (850, 0)]), 900, FLYING, rate_hz=4.0
    ).flight_measures
    assert close(measures["highest_itt_running"].value, 750.0)
    assert close(measures["airborne_time"].value, 700.0)
    assert close(measures["running_time"].value, 850.0)
    # Four times a second: the cut came between 849.75 s and 850 s; lift-off and touchdown likewise.
    assert close(measures["running_time"].low, 849.75)
    assert close(measures["running_time"].high, 850.0)
    assert close(measures["airborne_time"].low, 699.75)
    assert close(measures["airborne_time"].high, 700.25)
    # It rises by 40 degC/s until the cut between 849.75 s (590 degC) and 850 s (600 degC).
    rising = [(0, 550), (835, 0), (850, 600), (900, 590)]
    top = lab.judge(
        flight(itt=rising, ng=ng, fuel_on=[(0, 1), (850, 0)]), 900, FLYING, rate_hz=4.0
    ).flight_measures["highest_itt_running"]
    assert close(top.low, 590.0)
    assert top.high >= 600.0


def test_time_in_the_air_is_not_counted_where_the_wheels_are_silent(lab: Analysis) -> None:
    from tests.analysis.recording_making import recording

    made = recording(flight(weight_on_wheels=[(0, 1), (100, 0), (800, 1)]), 900, 4.0)
    wheels = made.channels["weight_on_wheels"]

    def silent(begin: float, end: float) -> object:
        keep = (wheels.time_s <= begin) | (wheels.time_s >= end)
        holed = replace(wheels, time_s=wheels.time_s[keep], values=wheels.values[keep])
        a = lab.of(made.with_channels(dict(made.channels) | {"weight_on_wheels": holed}), FLYING)
        return a.flight_measures["airborne_time"]

    # In the air from 100 s to 300 s and from 700 s to 800 s for sure; it may have landed in between.
    part = silent(300.0, 700.0)
    assert close(part.value, 300.0)
    assert close(part.low, 299.75)
    assert close(part.high, 700.25)
    # Of a flight that lies in the gap nothing is known but that it is no longer than the gap.
    none = silent(50.0, 850.0)
    assert (none.value, none.low, none.high) == (None, 0.0, 800.0)
    assert none.why == "whether it flew was not recorded there"
    # The recorder ends in flight: what comes later than two seconds after may have been in the air, too.
    cut = silent(300.0, 1000.0)
    assert close(cut.value, 200.0)
    assert close(cut.high, 200.25 + 598.0)


def test_running_time_is_not_counted_where_nothing_tells_that_it_ran(lab: Analysis) -> None:
    from tests.analysis.recording_making import recording

    made = recording(flight(), 900, 4.0)

    def silent(*names: str) -> object:
        holed = {}
        for name in names:
            channel = made.channels[name]
            keep = (channel.time_s <= 300) | (channel.time_s >= 500)
            holed[name] = replace(channel, time_s=channel.time_s[keep], values=channel.values[keep])
        return lab.of(made.with_channels(dict(made.channels) | holed), FLYING)

    assert close(silent("ng", "itt").flight_measures["running_time"].low, 900.0)
    assert close(silent("itt", "fuel_on").flight_measures["running_time"].low, 900.0)
    a = silent("ng", "itt", "fuel_on")
    part = a.flight_measures["running_time"]
    assert (part.value, part.low, part.high) == (700.0, 700.0, 900.0)
    times = [r.times_s for r in a.flight_evidence["running_time"].readings]
    assert times == [(0.0,), (300.0,), (500.0,), (900.0,)]
    assert silent("fuel_on").flight_measures["running_time"].value == 900.0
