"""Checks of what is measured in a start: the abort, the first cue, steepness, source resistance."""

from __future__ import annotations

from dataclasses import replace

from debrief.profile.model import AllowedRow
from tests.analysis.fault_making import Analysis, close
from tests.analysis.hand_worked.test_rules import AFTER_CUT
from tests.analysis.recording_making import PROFILE, START_LIMIT, normal_start

HIGHER = replace(START_LIMIT, id="itt-start-2", allowed=(AllowedRow(900, 1),))


def test_the_abort_is_timed_from_each_level_to_the_cut(lab: Analysis) -> None:
    traces = normal_start() | AFTER_CUT | {
        # Up by 100 degC/s from 630 at 24 s: 830 at 26 s, 920 at 26.9 s; above them to the cut.
        "itt": [(0, 15), (23, 15), (24, 630), (28, 1030), (33, 1000), (54, 160), (75, 100)],
        "bus_volts": [(0, 25), (10, 25), (10.125, 19), (53, 22), (55, 25)],
    }  # fmt: skip
    measures = lab.judge(traces).starts[0].measures
    cut = measures["cut_after_920"]
    assert close(cut.value, 33 - 26.9)
    # The samples beside 26.9 s are 26.875 and 27; the last sample with fuel is 32.875.
    assert close(cut.low, 32.875 - 27.0)
    assert close(cut.high, 33 - 26.875)
    assert close(measures["motored_after_cut"].value, 21.0)
    assert close(measures["itt_at_starter_release"].value, 160.0)
    cut_off = (
        lab.judge(traces | {"starter": [(0, 0), (10, 1)], "bus_volts": [(0, 22)]}, 50).starts[0].measures
    )
    assert (cut_off["motored_after_cut"].value, cut_off["motored_after_cut"].high) == (17.0, None)


def test_the_first_cue_is_the_earliest_that_the_profile_names(lab: Analysis) -> None:
    def cue(**more: list[tuple[float, float]]) -> float | None:
        traces = normal_start() | AFTER_CUT | {
            "itt": [(0, 15), (23, 15), (24, 630), (28, 1030), (33, 1000), (54, 160), (75, 100)],
        } | more  # fmt: skip
        start = lab.judge(traces, profile=replace(PROFILE, limits=(START_LIMIT, HIGHER))).starts[0]
        first, way = start.measures["first_cue"].value, start.measures["cue_to_cut"].value
        assert first is None or close(way, start.fuel_off_s - first)
        return first

    assert close(cue(), 26.0)  # 830 degC
    # The bus falls through 18 V at 12 s, and again in the first second, which does not count.
    sag = [(0, 25), (10, 25), (10.125, 15), (10.5, 20), (11.5, 20), (12.5, 16), (54, 20), (75, 25)]
    assert close(cue(bus_volts=sag), 12.0)
    cool = [(0, 15), (23, 15), (27, 560), (33, 700), (54, 160), (75, 100)]
    assert cue(itt=cool) is None
    # A flame at 33 s: 10 s after fuel at 22 s have run out at 32 s.
    late = [(0, 15), (33, 15), (36, 560), (44, 700), (60, 200)]
    assert cue(itt=late, fuel_on=[(0, 0), (22, 1), (44, 0)]) == 32.0


def test_the_other_measures_of_a_start(lab: Analysis) -> None:
    traces = normal_start() | {
        "battery_amps": [
            (0, 10),
            (10, 10),
            (10.125, 900),
            (10.5, 900),
            (11.5, 400),
            (46, 200),
            (46.1, 10),
            (80, 10),
        ],
        "oat": [(0, 30)],
        "palt": [(0, 5000)],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.125, 19.5), (45.875, 22), (46, 24.5), (80, 24.5)],
    }
    # In one second 10, in two 6 a second.
    assert lab.point_readings.steepest(lab.trace(range(5), [0, 0, 10, 12, 12]), 0, 4).value == 10
    measures = lab.judge(traces).starts[0].measures
    # The drawn ITT rises from 15 at 23 s to 560 at 26 s, the drawn Ng by 38.5 % in 25 s.
    assert close(measures["itt_rise_rate"].value, 545 / 3)
    assert close(measures["ng_acceleration"].value, 38.5 / 25)
    assert close(measures["max_motoring_ng"].value, 20.0)
    assert close(measures["light_off_to_idle"].value, 25 * 37 / 38.5)
    assert close(measures["bus_volts_recovery"].value, 24.5)
    assert measures["inrush_current"].value == 900.0
    assert close(measures["density_altitude"].value, 7800.7, 0.05)  # the exact model at 5000 ft and 30 degC
    assert close(measures["starter_total"].value, 36.0)


def test_the_source_resistance_is_the_slope_of_volts_on_amperes(lab: Analysis) -> None:
    # E 25.2 V and 8 milliohm: 400 A give 22 V, 200 A 23.6 V, at rest 10 A give 25.12 V.
    def r(amps: list[tuple[float, float]], **more: list[tuple[float, float]]) -> object:
        volts = [(t, 25.2 - 0.008 * a) for t, a in amps]
        return (
            lab.judge(normal_start() | {"battery_amps": amps, "bus_volts": volts} | more)
            .starts[0]
            .measures["source_resistance"]
        )

    cranking = [
        (0, 10),
        (10, 10),
        (10.125, 900),
        (10.875, 900),
        (11, 400),
        (22, 200),
        (46, 190),
        (46.125, 10),
        (80, 10),
    ]
    assert close(r(cranking).value, 8.0, 0.01)
    assert r(cranking, external_power=[(0, 1)]).value is None
    # Rested 0.18 V higher: the drop would give 2.5 V / 290 A = 8.6 milliohm, the slope is 8 all the same.
    higher = {
        "bus_volts": [
            (0, 25.3),
            (10, 25.3),
            (10.125, 18),
            (10.875, 18),
            (11, 22),
            (22, 23.6),
            (46, 23.68),
            (80, 25.12),
        ]
    }
    assert close(r(cranking, **higher).value, 8.0, 0.01)
    # A drop in the first second that is none of the battery's own does not count.
    inrush = {
        "bus_volts": [
            (0, 25.12),
            (10, 25.12),
            (10.125, 8),
            (10.875, 8),
            (11, 22),
            (22, 23.6),
            (46, 23.68),
            (80, 25.12),
        ]
    }
    assert close(r(cranking, **inrush).value, 8.0, 0.01)
    # The ammeter at its stop of 300 A until 20 s, while 500 A drew the bus to 21.2 V: only what follows counts.
    stop = [
        (0, 10),
        (10, 10),
        (10.125, 300),
        (19.875, 300),
        (20, 290),
        (22, 200),
        (46, 190),
        (46.125, 10),
        (80, 10),
    ]
    drawn = [(t, 21.2 if 10 < t < 20 else 25.2 - 0.008 * a) for t, a in stop]
    assert close(r(stop, bus_volts=drawn).value, 8.0, 0.01)


def test_with_a_steady_current_it_is_the_drop_from_rest(lab: Analysis) -> None:
    # From 410 A down by 20 A (5 %): 25.12 V at 10 A to the medians of both, still 8 milliohm.
    amps = [(0, 10), (10, 10), (10.125, 410), (11, 410), (22, 390), (46, 390), (46.125, 10), (80, 10)]
    volts = [(t, 25.2 - 0.008 * a) for t, a in amps]
    start = lab.judge(normal_start() | {"battery_amps": amps, "bus_volts": volts}).starts[0]
    assert close(start.measures["source_resistance"].value, 8.0, 0.01)


def test_a_battery_that_fades_while_it_cranks_has_no_resistance(lab: Analysis) -> None:
    # 8 milliohm, and an open voltage that sinks by 1.1 V while the current falls: slope and drop disagree.
    amps = [(0, 10), (10, 10), (10.125, 400), (11, 400), (22, 200), (46, 190), (46.125, 10), (80, 10)]
    volts = [(0, 25.12), (10, 25.12), (10.125, 22), (11, 22), (22, 22.5), (46, 22.5), (80, 25)]
    start = lab.judge(normal_start() | {"battery_amps": amps, "bus_volts": volts}).starts[0]
    assert start.measures["source_resistance"].value is None
