"""Checks of the edges of a limit's window: idle, cut, lift-off, conditions, phases, each between its samples."""

from __future__ import annotations

from dataclasses import replace

from debrief.profile.model import AllowedRow, EngineProfile, FlightRules, Limit, WhereCondition
from debrief.recording.model import Channel, Recording
from tests.analysis.fault_making import Analysis, close
from tests.analysis.recording_making import PROFILE, RULES, Corners, normal_start, recording

ONCE_A_SECOND = 1.0


def torque(when: str = "running", **more: object) -> EngineProfile:
    """Return a profile whose only limit is torque above 50 %, for no longer than 1 s."""
    limit = Limit("torque", "overtorque", "torque", when, "%", "longest", (AllowedRow(50.0, 1.0),))
    return EngineProfile(
        "Test", start=RULES, flight=FlightRules(airborne_ias_kt=68.0), limits=(replace(limit, **more),)
    )


def high(**more: Corners) -> dict[str, Corners]:
    """Return a running engine with its torque at 60 % all the time."""
    return {"ng": [(0, 90)], "itt": [(0, 700)], "fuel_on": [(0, 1)], "torque": [(0, 60)]} | more


def bounds(lab: Analysis, traces: dict[str, Corners], profile: EngineProfile, end_s: float = 80.0) -> tuple:
    """Return (low, estimate, high) of the only overtorque, and the limit's windows, once a second."""
    a = lab.judge(traces, end_s, profile, rate_hz=ONCE_A_SECOND)
    (event,) = [e for e in a.events if e.kind == "overtorque"]
    return (event.duration_low_s, event.duration_s, event.duration_high_s), a.limits[0].windows


def edges_of(window: object) -> tuple:
    return (
        window.start_low_s, window.start_s, window.start_high_s,
        window.end_low_s, window.end_s, window.end_high_s,
    )  # fmt: skip


def test_idle_and_the_cut_lie_between_their_samples(lab: Analysis) -> None:
    # Ng passes 57 % at 47.03 s, between its samples at 47 s and 48 s. Fuel is on at 70 s, off at 71 s.
    traces = normal_start() | {"torque": [(0, 60)], "fuel_on": [(0, 0), (22, 1), (70.5, 0)]}
    (low, duration, most), (window,) = bounds(lab, traces, torque())
    assert (low, most) == (22.0, 24.0)
    idle = 47 + (57 - (20 + 38.5 * 24 / 25)) / (38.5 / 25)
    assert close(duration, 71 - idle)
    assert all(close(a, b) for a, b in zip(edges_of(window), (47, idle, 48, 70, 71, 71), strict=True))
    # In cycles of the engine the edges are the same.
    (low, _, most), _ = bounds(lab, traces, torque(count="total"))
    assert (low, most) == (22.0, 24.0)


def test_idle_is_reached_for_sure_only_past_half_a_step_and_within_its_three_seconds(lab: Analysis) -> None:
    # In steps of 0.5: 56.5 at 46 s is below 57 by a whole step, 57.0 and 57.0 at 47 s and 48 s may be 56.8,
    # 57.5 at 49 s is not below.
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (46, 56.5), (47, 57), (48, 57), (49, 57.5), (52, 59)]
    traces = normal_start() | {"torque": [(0, 60)], "ng": ng}
    a = lab.judge(traces, 80, torque(), rate_hz=ONCE_A_SECOND, resolution=0.5)
    (window,) = a.limits[0].windows
    assert all(close(a, b) for a, b in zip(edges_of(window)[:3], (46, 47, 49), strict=True))
    # It stays at 57.0: at idle it was within 3 s all the same, or idle would not be seen.
    stays = normal_start() | {"torque": [(0, 60)], "ng": [*ng[:6], (70, 57)]}
    (window,) = lab.judge(stays, 80, torque(), rate_hz=ONCE_A_SECOND, resolution=0.5).limits[0].windows
    assert all(close(a, b) for a, b in zip(edges_of(window)[:3], (46, 47, 50), strict=True))


def test_conditions_and_the_air_lie_between_their_samples(lab: Analysis) -> None:
    # On from the sample at 21 s to that at 39 s: it went on after 20 s and off before 40 s.
    switch = high(generator_on=[(0, 0), (20.5, 1), (39.5, 0)])
    profile = torque(where=(WhereCondition("generator_on", equals=1.0),))
    assert bounds(lab, switch, profile)[0] == (18.0, 19.0, 20.0)
    # Ng passes 80 % at 20.5 s and 39.5 s, between its samples at 79 and 81.
    speed = high(ng=[(0, 79), (20, 79), (21, 81), (39, 81), (40, 79)])
    assert bounds(lab, speed, torque(where=(WhereCondition("ng", above=80.0),)))[0] == (18.0, 19.0, 20.0)
    slow = high(ng=[(0, 81), (20, 81), (21, 79), (39, 79), (40, 81)])
    assert bounds(lab, slow, torque(where=(WhereCondition("ng", below=80.0),)))[0] == (18.0, 19.0, 20.0)
    wheels = high(weight_on_wheels=[(0, 1), (20.5, 0), (39.5, 1)])
    assert bounds(lab, wheels, torque("airborne"))[0] == (18.0, 19.0, 20.0)
    speed = high(ias=[(0, 58), (20, 58), (21, 78), (39, 78), (40, 58)])
    found, (window,) = bounds(lab, speed, torque("airborne"))
    assert found == (18.0, 19.0, 20.0)
    assert edges_of(window) == (20.0, 20.5, 21.0, 39.0, 39.5, 40.0)
    # On the ground it is the other way round: at most until 21 s, at least until 20 s.
    first, last = bounds_on_ground(lab, wheels)
    assert edges_of(first)[3:] == (20.0, 21.0, 21.0)
    assert edges_of(last)[:3] == (39.0, 40.0, 40.0)


def bounds_on_ground(lab: Analysis, traces: dict[str, Corners]) -> tuple:
    return lab.judge(traces, 80, torque("ground"), rate_hz=ONCE_A_SECOND).limits[0].windows


def test_phases_begin_and_end_between_the_samples_that_tell_them(lab: Analysis) -> None:
    # Roll from the sample at 20 s on, up between 49 s and 50 s, 400 ft higher at 60 s; level from 160 s.
    traces = high(
        ias=[(0, 0), (20, 29), (50, 90), (250, 120)],
        weight_on_wheels=[(0, 1), (49.5, 0)],
        palt=[(0, 0), (50, 0), (60, 400), (160, 4400), (250, 4400)],
    )
    a = lab.judge(traces, 250, torque("any", phases=("climb",)), rate_hz=ONCE_A_SECOND)
    (phase,) = [p for p in a.phases if p.name == "climb"]
    (window,) = a.limits[0].windows
    assert (window.start_s, window.end_s) == (phase.start_s, phase.end_s) == (60.0, phase.end_s)
    assert window.end_low_s <= phase.end_s - 5.0
    assert window.end_high_s >= phase.end_s + 1.0
    assert (window.start_low_s, window.start_high_s) == (55.0, 61.0)
    (window,) = (
        lab.judge(traces, 250, torque("any", after_takeoff_s=30.0), rate_hz=ONCE_A_SECOND).limits[0].windows
    )
    roll = next(p for p in a.phases if p.name == "takeoff").start_s
    assert (window.start_s, window.end_s) == (roll, roll + 30.0)
    assert window.end_low_s < roll + 30.0 < window.end_high_s


def test_the_ends_of_a_start_window_lie_between_their_samples(lab: Analysis) -> None:
    limit = Limit("itt", "hot_start", "itt", "start", "degC", "total", (AllowedRow(500.0, 1.0),))

    def judged(traces: dict[str, Corners], **rules: object) -> object:
        profile = replace(PROFILE, start=replace(RULES, **rules), limits=(limit,))
        return lab.judge(traces, 120, profile, rate_hz=ONCE_A_SECOND)

    # The starter goes on between 9 s and 10 s. ITT is above 500 until 58 s at 1 degC/s: counted past idle, 47 s.
    itt = [(0, 15), (23, 15), (26, 560), (30, 700), (48, 510), (58, 500), (80, 480)]
    a = judged(normal_start() | {"itt": itt, "starter": [(0, 0), (9.5, 1), (46, 0)]})
    (window,) = a.limits[0].windows
    assert (window.start_low_s, window.start_s, window.start_high_s) == (9.0, 10.0, 10.0)
    (event,) = [e for e in a.events if e.kind == "hot_start"]
    # Above from the sample at 26 s to that at 57 s, and from after 25 s to before 58 s.
    assert (event.duration_low_s, event.duration_high_s) == (31.0, 33.0)
    # Never at idle: the window ends 30 s after light-off, which lies between 22 s and 24 s.
    slow = normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (120, 40)]}
    (window,) = judged(slow, start_window_max_s=30.0, hung_ng_rate_pct_per_s=None).limits[0].windows
    assert (window.end_low_s, window.end_s, window.end_high_s) == (52.0, 53.0, 54.0)
    # Cut at 35 s; below 300 degC from the sample at 51 s on (310 at 50 s).
    cut = slow | {"fuel_on": [(0, 0), (22, 1), (35, 0)], "itt": [*itt[:4], (35, 610), (65, 10), (120, 10)]}
    cut |= {
        "ng": [(0, 0), (10, 0), (17, 20), (35, 40), (45, 6), (47, 0)],
        "starter": [(0, 0), (10, 1), (36, 0)],
    }
    (window,) = judged(cut).limits[0].windows
    assert (window.end_low_s, window.end_s, window.end_high_s) == (50.0, 51.0, 51.0)
    # Started again at 45.5 s while hot: the first window ends where the second opens, between 45 s and 46 s.
    again = cut | {"starter": [(0, 0), (10, 1), (36, 0), (45.5, 1), (50, 0)]}
    first, second = judged(again).limits[0].windows
    assert (first.end_low_s, first.end_s, first.end_high_s) == (45.0, 46.0, 46.0)
    assert (second.start_low_s, second.start_s) == (45.0, 46.0)
    assert (first.start_number, second.start_number) == (1, 2)


def test_a_cut_that_only_ng_tells_came_before_ng_fell_through_idle(lab: Analysis) -> None:
    # Cut at 60 s from 90 %: Ng falls by 6 %/s and passes idle, 58 %, at 65.3 s, where the cut is then taken to be.
    traces = {
        "ng": [(0, 90), (60, 90), (75, 0)],
        "itt": [(0, 700), (60, 700), (75, 300)],
        "torque": [(0, 60)],
    }
    (low, _, most), _ = bounds(lab, traces, torque())
    assert low <= 60.0
    assert (most or 99.0) >= 65.0
    # A flame-out is seen between two samples.
    out = high(ng=[(0, 90), (40, 90), (55, 0)], itt=[(0, 700), (40, 700), (55, 100)])
    (window,) = lab.judge(out, 80, torque(), rate_hz=ONCE_A_SECOND).limits[0].windows
    assert window.end_low_s < window.end_s < window.end_high_s


def test_a_highest_value_beside_an_edge_of_the_window_may_not_have_counted(lab: Analysis) -> None:
    # Torque rises to 80 % at 70 s and 100 % at 71 s. The cut came between, so the highest that surely counted is 80 %.
    cut = normal_start() | {"fuel_on": [(0, 0), (22, 1), (70.5, 0)]}
    a = lab.judge(cut | {"torque": [(0, 60), (69, 60), (71, 100)]}, 80, torque(), rate_hz=ONCE_A_SECOND)
    (event,) = [e for e in a.events if e.kind == "overtorque"]
    assert (event.peak_low, event.peak) == (80.0, 100.0)
    assert event.peak_high >= 100.0
    top = a.flight_measures["highest_torque_running"]
    assert (top.low, top.value) == (80.0, 100.0)
    # A minimum likewise, upside down.
    below = torque(allowed=(AllowedRow(50.0, 1.0),), below=True)
    low = cut | {"torque": [(0, 40), (69, 40), (70, 30), (71, 20)]}
    (event,) = [e for e in lab.judge(low, 80, below, rate_hz=ONCE_A_SECOND).events if e.kind == "overtorque"]
    assert (event.peak_low, event.peak, event.peak_high) == (30.0, 20.0, 20.0)
    # Idle lies between 47 s (100 %) and 48 s (80 %): 80 % is the highest that counted, 100 % may have.
    falls = normal_start() | {"torque": [(0, 100), (47, 100), (49, 60), (80, 60)]}
    a = lab.judge(falls, 80, torque(), rate_hz=ONCE_A_SECOND)
    (event,) = [e for e in a.events if e.kind == "overtorque"]
    assert (event.peak_low, event.peak, event.peak_high) == (80.0, 80.0, 100.0)
    assert a.flight_measures["highest_torque_running"].high == 100.0


def test_where_a_gap_hides_the_phase_a_limit_of_phases_is_not_judged(lab: Analysis) -> None:
    # Level at 4000 ft from 160 s; the height is not recorded from 200 s to 240 s: it may have climbed or sunk there.
    def judged(torque_at: float) -> object:
        traces = high(
            ias=[(0, 0), (20, 29), (50, 90), (350, 120)],
            weight_on_wheels=[(0, 1), (49.5, 0)],
            palt=[(0, 0), (50, 0), (60, 400), (160, 4400), (350, 4400)],
            torque=[
                (0, 20),
                (torque_at, 20),
                (torque_at + 1, 60),
                (torque_at + 20, 60),
                (torque_at + 21, 20),
            ],
        )
        made = recording(traces, 350, 1.0)
        channel = made.channels["palt"]
        keep = (channel.time_s <= 200) | (channel.time_s >= 240)
        holed = Channel("palt", "ft", channel.time_s[keep], channel.values[keep])
        return lab.of(
            made.with_channels(dict(made.channels) | {"palt": holed}), torque("any", phases=("cruise",))
        )

    hidden = judged(210.0)
    assert hidden.limits[0].result == "not_judged"
    assert [(p.start_s, p.end_s) for p in hidden.not_judged if p.limit_id == "torque"] == [(200.0, 240.0)]
    # Where torque was low in the gap, its phase does not matter.
    assert [p for p in judged(270.0).not_judged if p.limit_id == "torque"] == []
    assert judged(270.0).limits[0].result == "exceeded"


def test_a_gap_that_may_hide_a_higher_level_or_the_windows_edge_is_not_judged(lab: Analysis) -> None:
    def holed(traces: dict[str, Corners], begin: float, end: float, *names: str) -> Recording:
        made = recording(traces, 80, 8.0)
        channels = dict(made.channels)
        for name in names:
            channel = channels[name]
            keep = (channel.time_s <= begin) | (channel.time_s >= end)
            channels[name] = Channel(name, channel.unit, channel.time_s[keep], channel.values[keep])
        return made.with_channels(channels)

    two = torque(allowed=(AllowedRow(50.0, 60.0), AllowedRow(90.0, 0.0)))
    # Torque is at 60 % on both sides of the gap: within the 60 s that 50 % is allowed, but 90 % may have been passed.
    a = lab.of(
        holed(high(torque=[(0, 40), (20, 40), (21, 60), (30, 60), (31, 40)]), 24.0, 28.0, "torque"), two
    )
    assert a.limits[0].result == "not_judged"
    assert [(p.start_s, p.end_s) for p in a.not_judged if p.limit_id == "torque"] == [(24.0, 28.0)]
    # Idle came between 46 s and 52 s. Torque was not recorded there, where the limit may have applied.
    cold = normal_start() | {"torque": [(0, 20)]}
    made = holed(cold, 46.0, 52.0, "ng", "torque")
    points = [p for p in lab.of(made, torque()).not_judged if p.limit_id == "torque"]
    assert [(p.start_s, p.end_s) for p in points] == [(46.0, 52.0)]


def test_time_above_a_level_is_the_same_in_the_measure_and_in_the_limit(lab: Analysis) -> None:
    # The starter comes on again between 61 s and 61.5 s with ITT still above 830 degC, so the second attempt opens there.
    hot = {
        "itt": [(0, 15), (23, 15), (26, 900), (32, 1000), (60, 850), (61, 850), (75, 900), (110, 700)],
        "starter": [(0, 0), (10, 1), (40, 0), (61.2, 1), (100, 0)],
        "fuel_on": [(0, 0), (22, 1), (50, 0), (70, 1)],
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (45, 35), (61, 25), (75, 30), (110, 60)],
        "external_power": [(0, 0)],
    }
    a = lab.judge(hot, 110, PROFILE, rate_hz=2.0)
    found = 0
    for event in a.events:
        if event.limit_id != "itt-start":
            continue
        (start,) = [s for s in a.starts if s.number == event.start_number]
        for level in event.levels:
            measure = start.measures[f"time_above_{level.level:g}"]
            held = (level.duration_s, level.duration_low_s, level.duration_high_s)
            assert (measure.value, measure.low, measure.high) == held
            found += 1
    assert found == 3
    first = a.starts[0].measures["time_above_830"]
    # It lit between samples, crossed 830 on the way to 900, and the first attempt lasts to 61.5 s, at least to 61 s.
    assert close(first.value, 61.5 - (23 + 3 * 815 / 885))
    assert close(first.high - first.low, 1.0)
