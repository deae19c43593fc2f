"""Checks of where a start begins, lights, reaches idle and ends, how it came out, and what kind it was."""

from __future__ import annotations

from dataclasses import replace

from debrief.profile.model import EngineProfile
from debrief.recording.model import Recording
from tests.analysis.fault_making import RESTED, Analysis, close
from tests.analysis.recording_making import PROFILE, RULES, normal_start, recording

COLD = [(0, 15), (80, 15)]
ABORTED = {
    "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (45, 3), (80, 0)],
    "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (80, 230)],
    "fuel_on": [(0, 0), (22, 1), (33, 0)],
    "starter": [(0, 0), (10, 1), (34, 0)],
}


def lit_with_rate(lab: Analysis, rate_c_per_s: float) -> float | None:
    """Return the light-off of a start whose ITT rises evenly from 24 s on, by 60 degC in all."""
    top = 24 + 60 / rate_c_per_s
    itt = [(0, 15), (24, 15), (top, 75), (80, 75)]
    return lab.judge(normal_start() | {"itt": itt}).starts[0].light_off_s


def test_forty_degrees_within_three_seconds_are_a_light_off(lab: Analysis) -> None:
    # 13.5 degC/s gives 40.5 in 3 s, 13.25 gives 39.75.
    assert lit_with_rate(lab, 13.5) == 24.0
    assert lit_with_rate(lab, 13.25) is None
    # 40 degC and no more.
    step = [(0, 15), (24, 15), (25, 55), (80, 55)]
    assert lab.judge(normal_start() | {"itt": step}).starts[0].light_off_s == 24.0
    step = [(0, 15), (24, 15), (25, 54), (80, 54)]
    assert lab.judge(normal_start() | {"itt": step}).starts[0].light_off_s is None


def test_a_rise_before_fuel_is_no_light_off_of_it(lab: Analysis) -> None:
    # Warm air at 12 s, fuel at 22 s, the flame at 26 s; then the flame in the same sample interval as fuel.
    late = [(0, 15), (12, 15), (13, 70), (26, 70), (28, 560), (32, 700), (48, 560), (80, 540)]
    assert lab.judge(normal_start() | {"itt": late}).starts[0].light_off_s == 26.0
    itt = [(0, 15), (12, 15), (13, 70), (21.875, 70), (24, 560), (28, 700), (48, 560), (80, 540)]
    assert lab.judge(normal_start() | {"itt": itt}).starts[0].light_off_s == 22.0


def test_fuel_is_told_by_its_flow_where_there_is_no_lever(lab: Analysis) -> None:
    traces = normal_start()
    del traces["fuel_on"]
    # The flow climbs from 0 to 100 kg/h between 22 and 32 s, then 200: above 2 % of that, 4 kg/h, at 22.5 s.
    traces["fuel_flow"] = [(0, 0), (22, 0), (32, 100), (40, 200), (80, 200)]
    (start,) = lab.judge(traces).starts
    assert start.fuel_periods[0].source == "fuel_flow"
    assert start.fuel_on_s == 22.5
    assert "fuel_on_s" in start.inferred


def idles(lab: Analysis, ng: list[tuple[float, float]]) -> float | None:
    return lab.judge(normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), *ng]}, 90).starts[0].idle_s


def test_idle_is_three_seconds_at_or_above_the_tolerance(lab: Analysis) -> None:
    # Exactly 57 % is idle; it begins where 57 % is reached.
    assert close(idles(lab, [(48, 57), (90, 57)]), 48.0)
    # 57 % from 48 s for 2.875 s, then below; then 3 s from 60 s on.
    dip = [(48, 57), (50.875, 57), (51, 50), (59, 50), (60, 57), (63, 57), (63.125, 50), (90, 50)]
    assert close(idles(lab, dip), 60.0)
    short = [(48, 57), (50.875, 57), (51, 50), (59, 50), (60, 57), (62.875, 57), (63, 50), (90, 50)]
    assert idles(lab, short) is None


def test_a_starter_gap_of_less_than_a_second_is_bridged(lab: Analysis) -> None:
    def runs(until: float, rate_hz: float = 8.0) -> int:
        traces = normal_start() | {"starter": [(0, 0), (10, 1), (20, 0), (until, 1), (46, 0)]}
        return sum(len(s.starter_runs) for s in lab.judge(traces, rate_hz=rate_hz).starts)

    assert (runs(20.875), runs(21.0)) == (1, 2)
    # Once a second, one sample that says off stands for anything up to 2 s: bridged; two samples are not, nor is
    # one at an interval of 2 s.
    assert (runs(21.0, 1.0), runs(22.0, 1.0), runs(22.0, 0.5)) == (1, 2, 2)


def test_a_starter_bit_that_stays_on_counts_until_the_machine_generates(lab: Analysis) -> None:
    # 25.2 V at rest; up from 24 V at 50 s by 8 V/s: half a volt above rest after 1.7 / 8 s.
    volts = [(0, 25.2), (10, 25.2), (10.125, 19), (40, 23), (50, 24), (50.5, 28), (80, 28)]
    (start,) = lab.judge(normal_start() | {"starter": [(0, 0), (10, 1)], "bus_volts": volts}).starts
    assert close(start.starter_off_s, 50 + 1.7 / 8, 0.01)
    assert any("generating" in note for note in start.notes)
    # Two seconds above rest are no generator.
    blip = [(0, 25.2), (10, 25.2), (10.125, 19), (40, 23), (40.125, 28), (42, 28), (42.125, 23), (80, 23)]
    (start,) = lab.judge(normal_start() | {"starter": [(0, 0), (10, 1)], "bus_volts": blip}).starts
    assert start.starter_off_s is None


def test_two_seconds_above_rest_are_no_generator(lab: Analysis) -> None:
    blip = [(0, 25.2), (10, 25.2), (10.125, 19), (40, 23), (40.125, 28), (42, 28), (42.125, 23), (80, 23)]
    (start,) = lab.judge(normal_start() | {"starter": [(0, 0), (10, 1)], "bus_volts": blip}).starts
    assert start.starter_off_s is None


def test_without_a_starter_channel_the_engagement_is_inferred(lab: Analysis) -> None:
    still = {k: v for k, v in normal_start().items() if k != "starter"}
    (start,) = lab.judge(still).starts
    # Ng leaves rest (0.5 %: a tenth of standing) after 0.175 s of its 7 s to 20 %.
    assert close(start.starter_on_s, 10.125, 0.13)
    assert "starter_on_s" in start.inferred
    # ITT rising with Ng and the bus steady: nobody can say that a starter turned it.
    hot = still | {"itt": [(0, 15), (10, 15), (11, 100), (30, 700), (48, 560), (80, 540)]}
    steady = hot | {"bus_volts": [(0, 25)]}
    assert [s.starter_on_s for s in lab.judge(steady).starts] in ([None], [])
    # The same with a drop of 5.7 V, or cold with a steady bus: a starter did.
    assert [s.starter_on_s is not None for s in lab.judge(hot).starts] == [True]
    cold = still | {"bus_volts": [(0, 25)]}
    assert [s.starter_on_s is not None for s in lab.judge(cold).starts] == [True]


def test_without_a_fuel_channel_the_flame_is_inferred_and_bounds_fuel(lab: Analysis) -> None:
    traces = {k: v for k, v in normal_start().items() if k != "fuel_on"}
    (start,) = lab.judge(traces).starts
    assert start.light_off_s == 23.0
    assert start.fuel_on_s is None
    assert start.fuel_periods[0].on_s == 23.0
    assert "light_off_s" in start.inferred
    assert (start.measures["fuel_on"].low, start.measures["fuel_on"].high) == (10.0, 23.0)


def test_a_warm_wind_on_a_standing_engine_is_no_light_off(lab: Analysis) -> None:
    # Ng at 1 % (no more than the wind turns it) while ITT rises by 60 degC in 2 s.
    traces = {"ng": [(0, 1), (80, 1)], "itt": [(0, 15), (40, 15), (42, 75), (80, 75)], "starter": [(0, 0)]}
    assert list(lab.judge(traces).starts) == []


def test_start_limits_end_two_minutes_after_light_off(lab: Analysis) -> None:
    # Lit at 23 s, and never at idle: to 143 s. The attempt itself lasts to the recording's end.
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (30, 40), (200, 55)]
    (start,) = lab.judge(
        normal_start() | {"ng": ng, "itt": [(0, 15), (23, 15), (28, 640), (200, 640)]}, 200
    ).starts
    assert (start.window_end_s, start.end_s) == (143.0, 200.0)


def test_an_attempt_ends_at_idle_or_when_the_engine_stands(lab: Analysis) -> None:
    (start,) = lab.judge(normal_start()).starts
    idle = 23 + 25 * 37 / 38.5  # 57 % on the line from 20 % at 23 s to 58.5 % at 48 s
    assert close(start.end_s, idle)
    assert close(start.window_end_s, idle)
    (start,) = lab.judge(normal_start() | ABORTED).starts
    # 5 % on the line from 38 % at 33 s to 3 % at 45 s: 44.314 s; the first sample below is at 44.375 s.
    assert start.end_s == 44.375


def test_after_an_abort_start_limits_go_on_until_the_engine_has_cooled(lab: Analysis) -> None:
    (start,) = lab.judge(normal_start() | ABORTED).starts
    # 300 degC on the line from 700 at 33 s to 230 at 80 s: exactly 73 s; below it at the next sample.
    assert start.window_end_s == 73.125
    assert start.end_s < 46


def outcome(lab: Analysis, traces: dict, end_s: float = 80.0) -> str:
    return lab.judge(normal_start() | traces, end_s).starts[0].outcome


FLAMED_OUT = {
    "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 42), (48, 10), (60, 1)],
    "itt": [(0, 15), (23, 15), (27, 560), (31, 700), (33, 690), (48, 200), (80, 90)],
}
MOTORED = {
    "ng": [(0, 0), (10, 0), (17, 20), (30, 20), (45, 3)],
    "itt": COLD,
    "starter": [(0, 0), (10, 1), (30, 0)],
}


def test_each_start_comes_out_as_the_first_that_fits(lab: Analysis) -> None:
    hung = {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 34), (60, 35), (75, 3)],
        "itt": [(0, 15), (23, 15), (28, 640), (60, 700), (75, 280)],
        "fuel_on": [(0, 0), (22, 1), (60, 0)],
    }
    assert outcome(lab, {}) == "completed"
    assert outcome(lab, hung) == "hung"
    assert outcome(lab, ABORTED) == "aborted"
    assert outcome(lab, FLAMED_OUT) == "flamed_out"
    # The cut came 17 s after the flame had gone: that makes it no abort.
    assert outcome(lab, FLAMED_OUT | {"fuel_on": [(0, 0), (22, 1), (50, 0)]}) == "flamed_out"
    assert outcome(lab, MOTORED | {"fuel_on": [(0, 0)]}) == "motoring"
    # The recording ends while Ng runs down from 20 %: the starter is off, so nothing more is to be decided.
    assert outcome(lab, MOTORED | {"fuel_on": [(0, 0)]}, 35) == "motoring"
    assert outcome(lab, {}, 35) == "incomplete"
    assert outcome(lab, {"itt": COLD, "ng": [(0, 0), (10, 0), (17, 20), (80, 20)]}, 31.5) == "incomplete"
    assert outcome(lab, {"itt": COLD, "ng": [(0, 0), (10, 0), (17, 20), (80, 20)]}, 60) == "no_light_off"
    twice = MOTORED | {"ng": [(0, 0), (10, 0), (17, 20), (80, 20)], "fuel_on": [(0, 0)]}
    starts = lab.judge(
        normal_start() | twice | {"starter": [(0, 0), (10, 1), (30, 0), (50, 1), (60, 0)]}
    ).starts
    assert [(s.begin_s, s.end_s) for s in starts] == [(10, 50), (50, 80)]


def test_a_flame_out_is_three_seconds_of_falling_together(lab: Analysis) -> None:
    Trace = lab.trace
    find = lab.light_off.find_flame_out
    t = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14]
    # Ng falls by 2 %/s and ITT by 30 degC/s from 5 s to 8 s: 6 % and 90 degC (a tenth of 700 - 100 is 60).
    ng = Trace(t, [40, 40, 40, 40, 40, 40, 38, 36, 34, 34, 34, 34, 34, 34, 34])
    itt = Trace(t, [700, 700, 700, 700, 700, 700, 670, 640, 610, 610, 610, 610, 610, 610, 610])
    assert find(itt, ng, 0, 14) == 5.0
    # Two seconds of falling are none, nor is a fall of ITT alone, nor of Ng between two rises.
    two = Trace(t, [700, 700, 700, 700, 700, 700, 640, 580, 580, 580, 580, 580, 580, 580, 580])
    assert find(two, ng, 0, 14) is None
    flat = Trace(t, [40] * 15)
    assert find(itt, flat, 0, 14) is None
    jerky = Trace(t, [40, 40, 40, 40, 40, 40, 38, 38, 34, 34, 34, 34, 34, 34, 34])
    assert find(itt, jerky, 0, 14) is None


def test_the_kind_is_told_by_starter_air_and_the_last_flame(lab: Analysis) -> None:
    flying = {
        "ng": [(0, 80), (100, 80), (110, 20), (300, 20)],
        "itt": [(0, 600), (100, 600), (110, 150), (300, 150)],
        "bus_volts": [(0, 25)],
        "starter": [(0, 0)],
        "weight_on_wheels": [(0, 0)],
    }

    def kinds(**more: list[tuple[float, float]]) -> list[str]:
        return [s.kind for s in lab.judge(flying | more, 300).starts]

    assert kinds(fuel_on=[(0, 1), (100, 0), (130, 1)]) == ["relight"]
    assert kinds(fuel_on=[(0, 1), (100, 0), (200, 1)]) == ["windmilling"]
    assert kinds(fuel_on=[(0, 1), (100, 0)], starter=[(0, 0), (200, 1), (210, 0)]) == ["assisted_air"]
    rolling = {"weight_on_wheels": [(0, 1)], "fuel_on": [(0, 1), (100, 0), (200, 1)]}
    assert kinds(**rolling) == ["windmilling"]
    standing = rolling | {"ng": [(0, 80), (100, 80), (110, 2), (300, 2)]}
    assert kinds(**standing) == ["ground"]


def test_a_running_engine_opens_no_attempt(lab: Analysis) -> None:
    running = {
        "ng": [(0, 80), (80, 80)],
        "itt": [(0, 700), (80, 700)],
        "fuel_on": [(0, 1)],
        "starter": [(0, 0)],
    }
    a = lab.judge(running)
    assert (list(a.starts), a.began_running) == ([], True)
    # A starter that helps a lit engine below idle belongs to its attempt.
    traces = normal_start() | {"starter": [(0, 0), (10, 1), (30, 0), (33, 1), (46, 0)]}
    (start,) = lab.judge(traces).starts
    assert len(start.starter_runs) == 2


def test_fuel_after_the_starter_let_go_of_a_failed_start_is_another_attempt(lab: Analysis) -> None:
    # Fuel 22 to 30 s with the starter, cold; the starter off at 34 s; fuel again at 40 s, still turning.
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (80, 10)],
        "itt": COLD,
        "fuel_on": [(0, 0), (22, 1), (30, 0), (40, 1), (50, 0)],
        "starter": [(0, 0), (10, 1), (34, 0)],
    }
    assert [s.begin_s for s in lab.judge(traces).starts] == [10.0, 40.0]


def test_each_engine_has_its_own_channels_in_percent(lab: Analysis) -> None:
    two = {f"{k}.2": v for k, v in normal_start(1060).items() if k in ("ng", "itt", "starter", "fuel_on")}
    a = lab.judge(normal_start() | two)
    assert [(e.engine, e.kind) for e in a.events] == [(2, "hot_start")]
    assert close(a.starts[1].peak_itt_c, 1060.0)
    assert {"run_down", "run_down.2"} <= set(a.flight_measures)
    # Ng in rpm without a reference: nothing in percent is judged on it.
    from tests.analysis.recording_making import recording

    made = recording(normal_start(), 80, 8.0)
    ng = made.channels["ng"]
    rpm = replace(ng, unit="rpm", values=ng.values * 386.0)
    b = lab.of(made.with_channels(dict(made.channels) | {"ng": rpm}))
    assert b.starts[0].idle_s is None
    assert any("rpm" in p.why for p in b.not_judged)


def test_a_discrete_holds_from_its_first_sample_on(lab: Analysis) -> None:
    from tests.analysis.recording_making import recording

    channel = recording({"starter": [(0, 1), (2, 0), (4, 1), (6, 0)]}, 8, 1.0).channels["starter"]
    first, second = lab.switch_edges.on_periods(channel)
    assert (first.on_s, first.on_low_s, first.off_s, first.off_low_s) == (0, None, 2, 1)
    assert (second.on_s, second.on_low_s, second.off_s, second.off_low_s) == (4, 3, 6, 5)
    assert [lab.switch_edges.held_at(channel, t) for t in (1.9, 2.0, 5.5)] == [1, 0, 1]
    assert lab.switch_edges.holding(channel, 0.5, 1.5).tolist() == [[0, 2], [4, 6]]


def test_what_lies_outside_the_recording_or_the_start_is_not_its_own(lab: Analysis) -> None:
    inside = normal_start() | {"starter": [(0, 1), (46, 0)]}
    assert lab.judge(inside).starts[0].starter_on_s is None
    shut = normal_start() | {"fuel_on": [(0, 0), (22, 1), (70, 0)]}
    assert lab.judge(shut).starts[0].fuel_off_s is None
    assert len(RESTED) == 1
    assert PROFILE.start is RULES


NOMINAL = replace(PROFILE, start=replace(RULES, nominal_bus_volts=24.0))


def cut_at(
    lab: Analysis, traces: dict[str, list[tuple[float, float]]], begin_s: float, profile: EngineProfile
):
    """Judge what is left of a start that a recorder was switched on in."""
    whole = recording(traces, 80.0, 8.0)
    channels = {}
    for name, channel in whole.channels.items():
        later = channel.time_s >= begin_s
        channels[name] = replace(
            channel, time_s=channel.time_s[later] - begin_s, values=channel.values[later]
        )
    return lab.of(Recording(channels, whole.duration_s - begin_s), profile)


def _why_open(a: object) -> list[str]:
    return [str(p.why) for p in a.not_judged if p.what == "outcome of the start"]


def test_a_starter_bit_that_the_recording_begins_with_is_no_starter_while_it_generates(lab: Analysis) -> None:
    traces = normal_start() | {"starter": [(0, 0), (10, 1)]}
    # Switched on at 20 s: nobody saw the battery rest. 13/12 of 24 V and half a volt are 26.5 V: up from 24 V at
    # 50 s by 8 V/s, after 2.5 / 8 s.
    (start,) = cut_at(lab, traces, 20.0, NOMINAL).starts
    assert close(start.starter_off_s, 30.0 + 2.5 / 8, 0.02)
    # Switched on in the running engine: no engagement, nothing overrun, nothing open.
    running = cut_at(lab, traces, 55.0, NOMINAL)
    assert (running.starts, running.events, running.verdict) == ((), (), "within")
    # Without a nominal voltage neither is claimed: counted until 0.8 of idle, Ng at 46.4 % after 40.14 s.
    unknown = cut_at(lab, traces, 20.0, PROFILE)
    assert close(unknown.starts[0].starter_off_s, 23 + 26.4 / 1.54 - 20, 0.13)
    assert [point.what for point in unknown.not_judged if "starter run" in point.what] == [
        "length of a starter run"
    ]
    # A bus at 27 V that only cranks, from external power, is no generator.
    powered = {**traces, "bus_volts": [(0, 27)], "ng": [(0, 0), (10, 0), (17, 20), (80, 20)], "itt": [(0, 15)],
               "fuel_on": [(0, 0)]}  # fmt: skip
    (cranking,) = cut_at(lab, powered, 20.0, NOMINAL).starts
    assert cranking.starter_off_s is None


def test_a_recording_that_begins_while_the_starter_turns_the_engine_is_not_called_motoring(
    lab: Analysis,
) -> None:
    motoring = normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (46, 20), (60, 0)], "itt": [(0, 15)],
                                 "fuel_on": [(0, 0)]}  # fmt: skip
    assert lab.judge(motoring).starts[0].outcome == "motoring"
    # Fuel may have come and gone before 20 s. At 10 s the engine stood: nothing can have come before.
    begun = cut_at(lab, motoring, 20.0, PROFILE)
    assert begun.starts[0].outcome == "incomplete"
    assert _why_open(begun) == ["the recording begins after it was decided"]
    assert cut_at(lab, motoring, 10.0, PROFILE).starts[0].outcome == "motoring"


def test_a_recording_that_ends_when_the_wait_for_light_off_does_leaves_it_open(lab: Analysis) -> None:
    cold = normal_start() | {"itt": [(0, 15)]}
    ended = lab.judge(cold, 32.0)
    assert ended.starts[0].outcome == "incomplete"
    assert _why_open(ended) == ["the recording ends before it is decided"]
    assert lab.judge(cold, 32.125).starts[0].outcome == "no_light_off"


def test_the_voltage_at_rest_is_never_that_of_another_engagement(lab: Analysis) -> None:
    # Motored from 10 to 20 s and again from 21.5 s: the bus at rest in between is 24 V, cranking 20 V.
    volts = [
        (0, 25),
        (10, 25),
        (10.125, 20),
        (20, 20),
        (20.125, 24),
        (21.5, 24),
        (21.625, 20),
        (40, 20),
        (40.125, 25),
    ]
    base = {"itt": [(0, 15)], "fuel_on": [(0, 0)], "ng": [(0, 0), (10, 0), (17, 20), (40, 20), (60, 0)]}
    traces = normal_start() | base | {
        "starter": [(0, 0), (10, 1), (20, 0), (21.5, 1), (40, 0)], "bus_volts": volts,
    }  # fmt: skip
    first, second = lab.judge(traces, 75).starts
    assert close(second.measures["rest_bus_volts"].value, 24.0)
    # After the first run 1 to 6 s reach into the second: only the 0.5 s before it count.
    assert close(first.measures["bus_volts_recovery"].value, 24.0)
    # Two engagements of one attempt, while it is lit: the voltage after the starter is that after the last.
    lit = normal_start() | {
        "starter": [(0, 0), (10, 1), (30, 0), (33, 1), (46, 0)],
        "bus_volts": [(0, 25), (10, 25), (10.125, 20), (30, 20), (30.125, 24), (33, 24), (33.125, 20), (46, 20),
                      (46.125, 25)],
    }  # fmt: skip
    (start,) = lab.judge(lit).starts
    assert close(start.measures["bus_volts_recovery"].value, 25.0)
