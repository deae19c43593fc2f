"""Checks of the rules of a start: hang, fuel, heat, voltage, light-off, burning, factors, the abort."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.profile.model import EngineProfile, FactorRules
from tests.analysis.fault_making import Analysis, close, kinds
from tests.analysis.recording_making import PROFILE, RULES, normal_start, recording


def with_rules(**changes: float | str | None) -> EngineProfile:
    return replace(PROFILE, start=replace(RULES, **changes))


def hang(lab: Analysis, gain_pct_per_s: float, begin: float = 33.0, **options: float) -> list:
    """Return the hung events of a start that climbs evenly from 34 % at `begin` until 70 s."""
    top = 34 + gain_pct_per_s * (70 - begin)
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (begin, 34), (70, top), (80, top + 5)]
    return [e for e in lab.judge(normal_start() | {"ng": ng}, 69, **options).events if e.kind == "hung_start"]


def test_a_gain_under_a_third_of_a_percent_a_second_is_a_hang(lab: Analysis) -> None:
    # 0.3 %/s over 5 s is the rule: 0.28 %/s gains 1.4 %, 0.32 %/s gains 1.6 %.
    (event,) = _one(hang(lab, 0.28))
    assert (event.severity, event.reason, event.certain) == ("limit", "stagnated", True)
    # Before 33 s Ng gains 1.4 %/s; the first 5 s with less than 1.5 % begin when 1.12 x + 1.4 < 1.5: at 32.9 s.
    assert close(event.start_s, 33.0, 0.13)
    assert [e.reason for e in hang(lab, 0.32)] != ["stagnated"]


def _one(found: list) -> list:
    assert len(found) == 1
    return found


def test_the_first_three_seconds_of_a_flame_are_no_hang(lab: Analysis) -> None:
    # Lit at 23 s; Ng stands until `climbs`, then gains 2 %/s. 5 s without gain from 26 s on end at 31 s.
    def found(climbs: float) -> int:
        ng = [(0, 0), (10, 0), (17, 20), (climbs, 20), (climbs + 20, 60), (90, 60)]
        return len(kinds(lab.judge(normal_start() | {"ng": ng}, 90), "hung_start"))

    # At 30.125 s the last 5 s gained 0.25 % at 2 %/s: before 31 s nothing counts, at 31 s 2 % have come.
    assert found(30.0) == 0
    assert found(31.0) == 1


def test_a_recorders_step_a_gap_or_idle_is_no_hang(lab: Analysis) -> None:
    # 0.28 %/s recorded in steps of 0.5 % may be 0.3 %/s: rounding of five seconds leaves 0.02 open, and neither is told.
    rules = with_rules(idle_within_s=None)
    for rate in (0.28, 0.32):
        assert hang(lab, rate, resolution=0.5, profile=rules) == []
    # Far from it either way nothing is open: 0.1 %/s, and 0.6 %/s, which is only too slow.
    assert [(e.severity, e.reason) for e in hang(lab, 0.1, resolution=0.5)] == [("limit", "stagnated")]
    assert [(e.severity, e.reason) for e in hang(lab, 0.6, resolution=0.5)] == [("limit", "too_slow")]
    # A gap from 36 to 42 s: whether Ng stood still there nobody knows.
    made = recording(normal_start(), 80, 8.0)
    ng = made.channels["ng"]
    seen = np.interp(ng.time_s, [0, 10, 17, 23, 36, 42, 55, 80], [0, 0, 20, 20, 40, 40, 60, 60])
    keep = (ng.time_s <= 36) | (ng.time_s >= 42)
    holed = replace(ng, time_s=ng.time_s[keep], values=seen[keep])
    a = lab.of(made.with_channels(dict(made.channels) | {"ng": holed}))
    assert kinds(a, "hung_start") == []
    # Cut between 49 s and 50 s, where Ng has fallen from 48.6 % to 35 % already: it stood nowhere while it burnt.
    fell = {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), (49, 48.6), (49.1, 48), (50, 35), (60, 0), (80, 0)]}
    a = lab.judge(normal_start() | fell | {"fuel_on": [(0, 0), (22, 1), (49.1, 0)]}, rate_hz=1.0)
    assert kinds(a, "hung_start") == []
    # Up by 0.4 %/s to 57 % at 40 s, and the recording ends after 2.5 s there: no longer below idle.
    near = [(0, 0), (10, 0), (17, 20), (23, 20), (30, 53), (40, 57), (80, 57)]
    assert kinds(lab.judge(normal_start() | {"ng": near}, 42.5), "hung_start") == []


def test_idle_must_come_within_45_seconds_of_light_off(lab: Analysis) -> None:
    # Lit at 23 s, so due at 68 s. Ng passes 57 % on a line whose end is chosen for it.
    def found(reaches: float) -> list[tuple[str, str | None]]:
        ng = [(0, 0), (10, 0), (17, 20), (23, 20), (reaches, 57), (reaches + 10, 60), (95, 60)]
        return kinds(lab.judge(normal_start() | {"ng": ng}, 95), "hung_start")

    assert found(68.0) == []
    assert found(68.25) == [("caution", "too_slow")]
    # Never at idle: 0.5 %/s is no stagnation, but it is too slow from 68 s on.
    (event,) = _one(hang(lab, 0.5))
    assert (event.severity, event.reason, event.start_s) == ("limit", "too_slow", 68.0)
    # The recording ends at the very instant: it is due, and not there.
    assert kinds(
        lab.judge(normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), (68, 50)]}, 68), "hung_start"
    ) == [("limit", "too_slow")]

    # Cut between 67.875 s and 68 s, lit between 22.875 s and 23.125 s: 45 s may have passed, or less. One sample
    # earlier it was 44.875 s, and at most 45 s: 44.9 s may have passed.
    cut = normal_start() | {"fuel_on": [(0, 0), (22, 1), (67.9375, 0)]}
    cut["ng"] = [(0, 0), (10, 0), (17, 20), (23, 20), (67.9375, 50), (75, 0), (95, 0)]
    (event,) = [e for e in lab.judge(cut, 95).events if e.kind == "hung_start"]
    assert (event.severity, event.certain) == ("limit", False)
    earlier = cut | {"fuel_on": [(0, 0), (22, 1), (67.875, 0)]}
    a = lab.judge(earlier, 95, with_rules(idle_within_s=44.9))
    (event,) = _one([e for e in a.events if e.kind == "hung_start"])
    assert (event.severity, event.reason) == ("possible", "too_slow")


def test_noise_neither_makes_nor_breaks_a_hang(lab: Analysis) -> None:
    rng = np.random.default_rng(5)
    rules = with_rules(idle_within_s=None)

    def found(rate: float, noise: float) -> list[tuple[str, str | None]]:
        made = recording(
            {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 34), (70, 34 + 37 * rate)]}, 69, 8.0
        )
        ng = made.channels["ng"]
        whole = recording(normal_start(), 69, 8.0)
        noisy = replace(ng, values=ng.values + rng.normal(0.0, noise, ng.values.size))
        return kinds(lab.of(whole.with_channels(dict(whole.channels) | {"ng": noisy}), rules), "hung_start")

    # A gain of 0.3 %/s is asked. With a noise of 0.1 % the slope of 41 readings over 5 s is unsure by 0.1 / sqrt(89.7) of
    # deviation, 0.011 %/s, four times which are 0.04 %/s: 0.33 %/s is not told from it, 0.15 %/s is.
    assert found(0.33, 0.1) == []
    assert found(0.52, 0.1) == []
    assert found(0.15, 0.1) == [("limit", "stagnated")]
    assert found(0.32, 0.001) == []
    assert found(0.28, 0.001) == [("limit", "stagnated")]


def test_a_gap_that_may_hide_a_hang_is_not_judged(lab: Analysis) -> None:
    def points(corners: list[tuple[float, float]], begin: float, end: float, **rules: float) -> list:
        made = recording(normal_start(), 80, 8.0)
        ng = made.channels["ng"]
        t, v = np.array([(0.0, 0.0), (10, 0), (17, 20), (23, 20), *corners]).T
        keep = (ng.time_s <= begin) | (ng.time_s >= end)
        holed = replace(ng, time_s=ng.time_s[keep], values=np.interp(ng.time_s, t, v)[keep])
        profile = replace(PROFILE, start=replace(PROFILE.start, **rules))
        a = lab.of(made.with_channels(dict(made.channels) | {"ng": holed}), profile)
        assert kinds(a, "hung_start") == []
        return [(p.start_s, p.end_s) for p in a.not_judged if p.what == "hung start" and "gap" in p.why]

    # 1.5 % a second. Nothing from 36 s to 42 s: it may have stood there for 5 s and caught up.
    assert points([(48, 57.5), (80, 59)], 36.0, 42.0) == [(36.0, 42.0)]
    # Nothing for 3 s: had it stood, it would have gained 2 s of 1.5 % over 5 s, 3 %: more than 1.5 %.
    assert points([(48, 57.5), (80, 59)], 36.0, 39.0) == []
    # It was slower before: 0.4 %/s over the 2 s before the gap are too little; and likewise after it.
    assert points([(30, 32), (36, 34.4), (39, 42), (48, 57.5), (80, 59)], 36.0, 39.0) == [(36.0, 39.0)]
    assert points([(36, 44), (39, 53), (43, 54.6), (46, 58), (80, 59)], 36.0, 39.0) == [(36.0, 39.0)]
    # At idle nothing hangs.
    assert points([(48, 57.5), (80, 59)], 60.0, 70.0) == []
    # Lit somewhere between 22 s and 27 s, at 27 s already hot: the 5 s with less than 1.5 % that end at 31 s do not
    # count, since it may have been lit for 4 s only; 30 s to 35 s would.
    made = recording(
        normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (30, 20), (50, 60), (80, 60)]}, 80, 8.0
    )
    itt = made.channels["itt"]
    keep = (itt.time_s <= 22) | (itt.time_s >= 27)
    holed = replace(itt, time_s=itt.time_s[keep], values=itt.values[keep])
    a = lab.of(made.with_channels(dict(made.channels) | {"itt": holed}))
    assert kinds(a, "hung_start") == []
    # Idle is due 25 s after light-off, at 48 s, and Ng passed it somewhere between 46 s and 52 s.
    rules = {"hung_ng_rate_pct_per_s": None, "idle_within_s": 25.0}
    assert points([(46, 55), (52, 59), (80, 59)], 46.0, 52.0, **rules) == [(46.0, 52.0)]


def test_a_hang_that_recovers_is_a_caution(lab: Analysis) -> None:
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (30, 34), (40, 34.5), (55, 58.5), (90, 59)]
    a = lab.judge(normal_start() | {"ng": ng}, 90)
    assert kinds(a, "hung_start") == [("caution", "stagnated")]
    assert a.starts[0].outcome == "completed"
    # Fuel off and on again in one engagement: 45 s count from the second flame at 43 s, so 80 s is in time.
    twice = {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (42, 21), (80, 58), (99, 58.5)],
        "itt": [(0, 15), (23, 15), (25, 300), (30, 300), (36, 60), (43, 60), (46, 500), (50, 700), (99, 600)],
        "fuel_on": [(0, 0), (22, 1), (30, 0), (42, 1)],
        "starter": [(0, 0), (10, 1), (60, 0)],
    }
    assert kinds(lab.judge(normal_start() | twice, 99), "hung_start") == []


def test_ng_is_stable_under_the_profiles_slope(lab: Analysis) -> None:
    # Over the 2 s before fuel at 22 s.
    def stable(slope: float, rate_hz: float = 8.0, resolution: float | None = None) -> bool | None:
        ng = [(0, 0), (10, 0), (17, 18), (20, 20), (23, 20 + 3 * slope), (48, 58.5), (80, 59)]
        return (
            lab.judge(normal_start() | {"ng": ng}, rate_hz=rate_hz, resolution=resolution)
            .starts[0]
            .ng_stable_at_fuel
        )

    assert (stable(0.28), stable(0.32), stable(0.2), stable(-0.5)) == (True, False, True, False)
    # Steps of 5 %: the slope is less certain than the criterion. Two samples in 2 s: no slope at all.
    assert stable(0.0, resolution=5.0) is None
    assert stable(0.0, rate_hz=0.5) is None


def test_the_slope_is_that_of_least_squares_with_its_error(lab: Analysis) -> None:
    # x 0 1 2 3, y 0 2 1 3: slope 0.8; residuals -0.3 0.9 -0.9 0.3, sum of squares 1.8; error sqrt(0.9 / 5).
    slope, error = lab.point_readings.slope(lab.trace([0, 1, 2, 3], [0, 2, 1, 3]), 0, 3)
    assert close(slope, 0.8)
    assert close(error, (0.9 / 5) ** 0.5)
    # All on the line, in steps of 1: the error is that of the step, 1 / sqrt(12), over sqrt(5).
    _, error = lab.point_readings.slope(lab.trace([0, 1, 2, 3], [0, 1, 2, 3], half=0.5), 0, 3)
    assert close(error, (1 / 12 / 5) ** 0.5)


def test_fuel_below_the_minimum_is_judged_by_its_bounds(lab: Analysis) -> None:
    # Ng climbs from 0 at 10 s by 2 %/s: 0.25 % in a sample interval.
    def early(fuel_s: float, **options: object) -> list[tuple[str, str | None]]:
        traces = normal_start(fuel_s=22) | {
            "ng": [(0, 0), (10, 0), (20, 20), (23, 20), (48, 58.5), (80, 59)],
            "fuel_on": [(0, 0), (fuel_s, 1)],
        }
        return kinds(lab.judge(traces, **options), "early_fuel")

    assert early(17.375) == [("limit", None)]  # 14.5 to 14.75 %
    assert early(17.5) == [("possible", None)]  # 14.75 to 15 %
    assert early(17.625) == [("note", None)]  # 15 to 15.25 %
    assert early(18.875) == [("note", None)]  # 17.75 %
    assert early(19.0) == []  # 18 %: as advised
    assert early(15.0, profile=with_rules(fuel_control="automatic")) == []


def test_fuel_told_by_its_flow_is_at_most_possible(lab: Analysis) -> None:
    traces = normal_start(fuel_s=14.0) | {"fuel_flow": [(0, 0), (13.875, 0), (14, 50), (80, 50)]}
    del traces["fuel_on"]
    assert kinds(lab.judge(traces), "early_fuel") == [("possible", None)]
    # A relight at 12 % Ng, 40 s after the flame was cut: nobody waits for Ng there.
    air = {
        "ng": [(0, 80), (20, 80), (40, 12), (80, 12)],
        "itt": [(0, 600), (20, 600), (40, 150), (80, 150)],
        "fuel_on": [(0, 1), (20, 0), (60, 1)],
        "starter": [(0, 0)],
    }
    a = lab.judge(air)
    assert [s.kind for s in a.starts] == ["relight"]
    assert kinds(a, "early_fuel") == []


def test_residual_heat_is_itt_above_the_profiles_at_fuel(lab: Analysis) -> None:
    def hot(at_fuel: float) -> list[tuple[str, str | None]]:
        itt = [(0, 100), (10, 100), (21, at_fuel), (23, at_fuel), (26, 560), (30, 700), (48, 560), (80, 540)]
        return kinds(lab.judge(normal_start() | {"itt": itt}), "residual_heat")

    assert hot(190.0) == []
    assert hot(191.0) == [("caution", None)]


def test_the_resting_voltage_is_the_median_of_the_five_seconds_before(lab: Analysis) -> None:
    def low(*rest: tuple[float, float]) -> list[tuple[str, str | None]]:
        volts = [*rest, (10, 23), (10.125, 19.5), (40, 23), (50, 28), (80, 28)]
        return kinds(lab.judge(normal_start() | {"bus_volts": volts}), "low_start_voltage")

    assert low((0, 23)) == []
    assert low((0, 22.75), (9.875, 22.75)) == [("caution", "before")]
    # Two seconds of a dip, to the last second before the starter, in five: the median is not moved.
    assert low((0, 23), (7.875, 23), (8, 20), (9.75, 20)) == []


def test_the_lowest_voltage_counts_from_one_second_on(lab: Analysis) -> None:
    def low(sag_until: float) -> tuple[float | None, list[tuple[str, str | None]]]:
        volts = [
            (0, 25),
            (10, 25),
            (10.125, 15),
            (sag_until, 15),
            (sag_until + 0.125, 20),
            (50, 24),
            (80, 28),
        ]
        a = lab.judge(normal_start() | {"bus_volts": volts})
        return a.starts[0].min_bus_volts, kinds(a, "low_start_voltage")

    assert low(10.75)[1] == []
    assert low(11.125) == (15.0, [("caution", "cranking")])


def test_light_off_must_come_within_ten_seconds_of_fuel(lab: Analysis) -> None:
    def found(lit_s: float, off_s: float = 80.0) -> list[tuple[str, str | None]]:
        itt = [(0, 15), (lit_s, 15), (lit_s + 3, 560), (lit_s + 7, 700), (60, 560), (80, 540)]
        traces = {"itt": itt if lit_s < 60 else [(0, 15)], "fuel_on": [(0, 0), (22, 1), (off_s, 0)]}
        return kinds(lab.judge(normal_start() | traces), "no_light_off")

    assert found(32.0) == []
    assert found(32.125) == [("limit", "late")]
    assert found(99.0, 32.0) == []
    assert found(99.0, 32.125) == [("limit", None)]


AFTER_CUT = {
    "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 20), (75, 2)],
    "fuel_on": [(0, 0), (22, 1), (33, 0)],
    "starter": [(0, 0), (10, 1), (54, 0)],
}


def test_a_rise_after_the_cut_is_burning_from_five_degrees_a_second_on(lab: Analysis) -> None:
    def burns(rise: float, rate: float, **more: list[tuple[float, float]]) -> list[tuple[str, str | None]]:
        end = 44 + rise / rate
        itt = [
            (0, 15),
            (23, 15),
            (27, 560),
            (33, 700),
            (44, 200),
            (end, 200 + rise),
            (end + 5, 100),
            (99, 90),
        ]
        return kinds(lab.judge(normal_start() | AFTER_CUT | {"itt": itt} | more, 99), "burning_after_cut")

    assert burns(150.0, 10.0) == [("limit", None)]
    assert burns(140.0, 10.0) == []
    assert burns(160.0, 5.2) == [("limit", None)]
    assert burns(160.0, 4.8) == []
    # The rise is that of fuel given again at 45 s: no burning after a cut.
    assert burns(160.0, 10.0, fuel_on=[(0, 0), (22, 1), (33, 0), (44, 1), (70, 0)]) == []
    # Without a fuel channel the cut is only inferred: nobody knows when fuel went.
    silent = normal_start() | AFTER_CUT | {
        "ng": [(0, 0), (10, 0), (17, 20), (48, 58.5), (60, 58.5), (75, 2), (99, 2)],
        "itt": [(0, 15), (23, 15), (27, 560), (60, 540), (70, 200), (90, 400), (99, 380)],
    }  # fmt: skip
    del silent["fuel_on"]
    assert kinds(lab.judge(silent, 99), "burning_after_cut") == []


def test_fuel_again_needs_fifteen_seconds_of_motoring(lab: Analysis) -> None:
    def back(on_s: float, starter_off_s: float = 70.0) -> list[tuple[str, str | None]]:
        traces = normal_start() | {
            "ng": [(0, 0), (10, 0), (17, 20), (60, 20), (80, 40)],
            "itt": [(0, 15)],
            "fuel_on": [(0, 0), (22, 1), (31, 0), (on_s, 1)],
            "starter": [(0, 0), (10, 1), (starter_off_s, 0)],
        }
        return kinds(lab.judge(traces), "fuel_reintroduced")

    assert back(46.0) == []
    assert back(45.875) == [("caution", None)]
    # Released 10 s after the cut: the rest of the time nobody motored.
    assert back(60.0, 41.0) == [("caution", None)]
    # A normal shutdown leaves no fuel behind.
    shut = normal_start() | {
        "ng": [
            (0, 0),
            (10, 0),
            (17, 20),
            (23, 20),
            (48, 58.5),
            (60, 59),
            (80, 2),
            (90, 2),
            (97, 20),
            (130, 20),
        ],
        "fuel_on": [(0, 0), (22, 1), (60, 0), (110, 1)],
        "starter": [(0, 0), (10, 1), (46, 0), (100, 1), (130, 0)],
    }
    assert kinds(lab.judge(shut, 130), "fuel_reintroduced") == []


def test_the_starter_engages_at_eight_percent_at_most(lab: Analysis) -> None:
    # Running down by 2 %/s from 12 % at 10 s: 0.25 % in a sample interval.
    def engaged(at_s: float) -> list[tuple[str, str | None]]:
        traces = normal_start() | {
            "ng": [(0, 12), (10, 12), (16, 0), (80, 0)],
            "itt": [(0, 15)],
            "starter": [(0, 0), (at_s, 1), (at_s + 10, 0)],
            "fuel_on": [(0, 0)],
        }
        return [k for k in kinds(lab.judge(traces), "starter_overrun") if k[1] == "engaged_while_turning"]

    assert engaged(11.5) == [("limit", "engaged_while_turning")]  # 9 to 9.25 %
    assert engaged(12.0) == [("possible", "engaged_while_turning")]  # 8 to 8.25 %
    assert engaged(12.125) == []  # 7.75 to 8 %


def test_factors_are_what_was_present_outside_the_reference(lab: Analysis) -> None:
    traces = normal_start(1060, fuel_s=14.0) | {
        "oat": [(0, 35)],
        "palt": [(0, 2000)],
        "wind_speed": [(0, 8)],
        "wind_from": [(0, 180)],
        "heading": [(0, 0)],
    }
    references = FactorRules(tailwind_kt=8.0, oat_c=35.0, density_altitude_ft=6000.0)

    def found(profile: EngineProfile = PROFILE, **more: list[tuple[float, float]]) -> list[str]:
        start = lab.judge(traces | more, profile=replace(profile, factors=references)).starts[0]
        return [f.kind for f in start.factors]

    # 2000 ft and 35 degC are a density altitude of some 4700 ft: not reached.
    assert found() == ["early_fuel", "ng_not_stable", "tailwind", "oat"]
    assert found(wind_from=[(0, 0)], oat=[(0, 34.9)]) == ["early_fuel", "ng_not_stable"]
    assert found(with_rules(fuel_control="automatic")) == ["tailwind", "oat"]
    # In steps of 4 % the slope is less certain than the criterion, and so is no factor.
    coarse = lab.judge(traces, profile=replace(PROFILE, factors=references), resolution=4.0).starts[0]
    assert coarse.ng_stable_at_fuel is None
    assert "ng_not_stable" not in [f.kind for f in coarse.factors]
    least = with_rules(min_bus_volts_before=25.2, fuel_control="automatic")
    assert found(least) == ["tailwind", "oat"]
    # A good start has none; a failed one has them although no limit of the engine was exceeded.
    good = lab.judge(normal_start() | {"oat": [(0, 40)]}, profile=replace(PROFILE, factors=references))
    assert good.starts[0].factors == ()
    cold = normal_start() | {"itt": [(0, 15)], "oat": [(0, 40)], "fuel_on": [(0, 0), (22, 1), (30, 0)]}
    failed = lab.judge(cold, profile=replace(PROFILE, factors=references))
    assert "oat" in [f.kind for f in failed.starts[0].factors]
