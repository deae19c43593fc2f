"""Start attempts: how they open, end and come out, each told by a drawn recording."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, EarlierRun, StarterRun
from tests.analysis.recording_making import PROFILE, RULES, STARTER, normal_start, recording

RESTED = (StarterRun(-90000.0, -89970.0, 30.0, 30.0, 30.0, "battery"),)


def judge(traces, end_s=80.0, profile=PROFILE, earlier=RESTED, **options) -> Assessment:
    return assess(recording(traces, end_s, **options), profile, earlier)


def kinds(assessment: Assessment) -> list[tuple[str, str, str | None]]:
    return [(e.kind, e.severity, e.reason) for e in assessment.events]


def hung_start(cut_s: float | None = 60.0):
    fuel = [(0, 0), (22, 1)] + ([(cut_s, 0)] if cut_s else [])
    end = cut_s or 80
    return normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 34), (end, 35), (end + 15, 3)],
        "itt": [(0, 15), (23, 15), (28, 640), (end, 700), (end + 15, 280)],
        "fuel_on": fuel,
    }


def test_a_good_start_is_completed_and_everything_is_judged():
    a = judge(normal_start())
    assert (a.verdict, kinds(a)) == ("within", [])
    (s,) = a.starts
    assert (s.kind, s.outcome) == ("ground", "completed")
    assert s.starter_on_s == pytest.approx(10.0)
    assert s.starter_off_s == pytest.approx(46.0)
    assert s.fuel_on_s == pytest.approx(22.0)
    assert s.light_off_s == pytest.approx(23.0)
    # Ng passes 57 % (idle less tolerance) on the line from (23, 20) to (48, 58.5).
    assert s.idle_s == pytest.approx(23 + 25 * 37 / 38.5)
    assert s.fuel_off_s is None
    assert s.peak_itt_c == pytest.approx(700.0)
    assert s.residual_itt_c == pytest.approx(15.0)
    assert s.rest_bus_volts == pytest.approx(25.2)
    assert s.max_motoring_ng_pct == pytest.approx(20.0)
    assert s.ng_stable_at_fuel is True
    assert s.factors == ()
    assert a.sentence.startswith("Nothing exceeded in what was recorded.")


def test_lowest_voltage_counts_from_one_second_after_the_starter():
    traces = normal_start() | {"bus_volts": [(0, 25), (10, 25), (10.2, 14), (10.8, 19), (40, 23), (50, 28)]}
    (s,) = judge(traces).starts
    assert s.min_bus_volts == pytest.approx(19 + 4 * 0.2 / 29.2, abs=0.02)


def test_a_hang_then_a_cut_is_hung_not_aborted():
    a = judge(hung_start())
    assert a.starts[0].outcome == "hung"
    (event,) = [e for e in a.events if e.kind == "hung_start"]
    assert (event.severity, event.reason, event.recovered) == ("limit", "stagnated", False)
    assert event.start_s == pytest.approx(33.0, abs=1.5)
    assert event.end_s == pytest.approx(60.0)


def test_a_hang_that_recovers_is_completed_with_a_caution():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (30, 34), (40, 34.5), (55, 58.5), (90, 59)]
    }
    a = judge(traces, 90)
    assert a.starts[0].outcome == "completed"
    (event,) = [e for e in a.events if e.kind == "hung_start"]
    assert (event.severity, event.recovered) == ("caution", True)
    assert a.verdict == "within"
    assert f"Caution: {event.message}" in a.sentence


def test_a_slow_start_that_never_stagnates_is_too_slow():
    traces = normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), (90, 52), (100, 52.1)]}
    a = judge(traces, 75)
    (event,) = [e for e in a.events if e.kind == "hung_start"]
    assert (event.severity, event.reason) == ("limit", "too_slow")
    assert event.start_s == pytest.approx(23 + 45)


def test_fuel_cut_before_idle_is_aborted():
    traces = normal_start(1060) | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 20), (75, 2)],
        "itt": [(0, 15), (23, 15), (27, 850), (31, 1060), (33, 1040), (50, 250), (75, 120)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (54, 0)],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (53.9, 22), (54, 25), (80, 25)],
    }
    a = judge(traces)
    (s,) = a.starts
    assert (s.outcome, s.fuel_off_s) == ("aborted", pytest.approx(33.0))
    assert s.measures["motored_after_cut"].value == pytest.approx(21.0)
    assert s.measures["cut_after_1030"].low <= 33 - (27 + 4 * 180 / 210) <= s.measures["cut_after_1030"].high
    assert s.measures["itt_at_starter_release"].value == pytest.approx(250 - 130 * 4 / 25, abs=1)
    assert s.window_end_s == s.end_s == pytest.approx(60 + 15 * 15 / 18, abs=0.2)


def test_start_limits_go_on_after_an_abort_until_the_engine_has_cooled():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (45, 3), (80, 0)],
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (80, 230)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (34, 0)],
    }
    (s,) = judge(traces).starts
    assert s.end_s < 46
    assert s.window_end_s == pytest.approx(33 + 47 * 400 / 470, abs=0.2)


def test_fuel_without_light_off_fails_the_start_and_is_not_called_exceeded():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (40, 20), (55, 3)],
        "itt": [(0, 15), (80, 15)],
        "fuel_on": [(0, 0), (22, 1), (36, 0)],
        "starter": [(0, 0), (10, 1), (42, 0)],
    }
    a = judge(traces)
    assert a.starts[0].outcome == "no_light_off"
    (event,) = [e for e in a.events if e.kind == "no_light_off"]
    assert (event.event_class, event.severity, event.reason) == ("procedure", "limit", None)
    assert event.duration_s == pytest.approx(14.0)
    assert a.sentence.startswith("Start failed:")
    assert "Exceeded" not in a.sentence


def test_a_late_light_off_says_late():
    traces = normal_start() | {"itt": [(0, 15), (34, 15), (37, 560), (41, 700), (48, 560), (80, 540)]}
    (event,) = [e for e in judge(traces).events if e.kind == "no_light_off"]
    assert event.reason == "late"
    assert event.duration_s == pytest.approx(12.0)


def test_motoring_with_a_fuel_channel_that_shows_none():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (30, 20), (45, 3)],
        "itt": [(0, 15), (80, 15)],
        "fuel_on": [(0, 0)],
        "starter": [(0, 0), (10, 1), (30, 0)],
    }
    a = judge(traces)
    assert (a.starts[0].outcome, a.verdict, kinds(a)) == ("motoring", "within", [])


def test_without_a_fuel_channel_no_light_off_stays_unknown():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (30, 20), (45, 3)],
        "itt": [(0, 15), (80, 15)],
        "starter": [(0, 0), (10, 1), (30, 0)],
    }
    del traces["fuel_on"]
    a = judge(traces)
    assert a.starts[0].outcome == "unknown"
    assert any("fuel may be in the engine" in p.why for p in a.not_judged)
    assert a.verdict == "undetermined"


def test_a_recording_that_ends_inside_a_start_is_incomplete():
    a = judge(normal_start(), 35)
    assert a.starts[0].outcome == "incomplete"
    assert a.verdict == "undetermined"


def test_a_flame_that_goes_out_with_fuel_on_is_flamed_out():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 42), (48, 10), (60, 1)],
        "itt": [(0, 15), (23, 15), (27, 560), (31, 700), (33, 690), (48, 200), (80, 90)],
    }
    a = judge(traces)
    assert a.starts[0].outcome == "flamed_out"
    assert not [e for e in a.events if e.kind == "hung_start"]


def test_a_starter_inferred_from_speed_is_marked():
    traces = normal_start()
    del traces["starter"]
    (s,) = judge(traces).starts
    assert s.inferred == ("starter_on_s",)
    assert s.starter_on_s == pytest.approx(10.0, abs=0.2)
    assert s.starter_off_s is None
    assert s.outcome == "completed"


def test_a_light_off_inferred_without_fuel_channel_bounds_fuel_before_it():
    traces = normal_start()
    del traces["fuel_on"]
    (s,) = judge(traces).starts
    (period,) = s.fuel_periods
    assert period.source == "light_off"
    assert period.light_off_s == pytest.approx(23.0)
    assert period.on_low_s == pytest.approx(10.0)
    assert "light_off_s" in s.inferred
    assert s.fuel_on_s is None
    bounds = s.measures["fuel_on"]
    assert (bounds.value, bounds.low, bounds.high) == (None, pytest.approx(10.0), pytest.approx(23.0))
    assert s.ng_at_fuel_pct is None
    assert s.outcome == "completed"


def test_a_starter_gap_under_a_second_is_bridged():
    traces = normal_start() | {"starter": [(0, 0), (10, 1), (20, 0), (20.8, 1), (46, 0)]}
    (s,) = judge(traces).starts
    assert len(s.starter_runs) == 1


def test_a_starter_that_engages_again_while_lit_belongs_to_the_attempt():
    traces = normal_start() | {"starter": [(0, 0), (10, 1), (30, 0), (33, 1), (46, 0)]}
    a = judge(traces)
    assert len(a.starts) == 1
    assert len(a.starts[0].starter_runs) == 2
    assert ("starter_overrun", "limit", "engaged_while_turning") in kinds(a)


def test_a_starter_bit_that_stays_on_as_generator_counts_only_until_it_generates():
    traces = normal_start() | {"starter": [(0, 0), (10, 1)]}
    (s,) = judge(traces).starts
    assert s.starter_off_s == pytest.approx(50.1, abs=0.4)
    assert any("generating" in note for note in s.notes)


def test_motoring_after_an_abort_is_an_attempt_of_its_own():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (45, 4), (50, 4), (57, 20), (70, 20), (80, 6)],
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (45, 420), (80, 100)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (34, 0), (50, 1), (70, 0)],
    }
    a = judge(traces, 90)
    assert [s.outcome for s in a.starts] == ["aborted", "motoring"]
    assert ("starter_overrun", "limit", "rest_too_short") in kinds(a)
    assert [e.during_abort for e in a.events if e.reason == "rest_too_short"] == [True]


@pytest.mark.parametrize(
    ("fuel_s", "expected"),
    [
        (22.0, None),  # 20 %: on the plateau
        (14.0, ("early_fuel", "limit", None)),  # 11.4 %
        (15.27, ("early_fuel", "possible", None)),  # 15.0 % lies inside the sample interval
        (15.8, ("early_fuel", "note", None)),  # 16.6 %: above the minimum, below the advised
    ],
)
def test_fuel_before_the_minimum_speed(fuel_s, expected):
    a = judge(normal_start(fuel_s=fuel_s))
    found = [k for k in kinds(a) if k[0] == "early_fuel"]
    assert found == ([] if expected is None else [expected])


def test_automatic_fuel_control_is_not_the_crews_doing():
    profile = replace(PROFILE, start=replace(RULES, fuel_control="automatic"))
    a = judge(normal_start(fuel_s=14.0), profile=profile)
    assert kinds(a) == []


def test_residual_heat_and_low_voltage_are_cautions_and_do_not_change_the_verdict():
    traces = normal_start() | {
        "itt": [(0, 240), (22, 215), (23, 213), (26, 560), (31, 700), (48, 560), (80, 540)],
        "bus_volts": [(0, 22.4), (10, 22.4), (10.1, 16), (40, 23), (50, 28), (80, 28)],
    }
    a = judge(traces)
    assert sorted(kinds(a)) == [
        ("low_start_voltage", "caution", "before"),
        ("low_start_voltage", "caution", "cranking"),
        ("residual_heat", "caution", None),
    ]
    assert a.verdict == "within"
    assert "3 cautions: " in a.sentence
    assert a.sentence.endswith(" And 1 more.")


def test_fuel_back_before_the_purge_is_a_caution():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (41, 20), (63, 58.5), (90, 59)],
        "itt": [(0, 15), (41, 15), (44, 560), (48, 700), (63, 560), (90, 540)],
        "fuel_on": [(0, 0), (22, 1), (31, 0), (40, 1)],
        "starter": [(0, 0), (10, 1), (54, 0)],
    }
    a = judge(traces, 90)
    (s,) = a.starts
    assert len(s.fuel_periods) == 2
    assert ("fuel_reintroduced", "caution", None) in kinds(a)
    (event,) = [e for e in a.events if e.kind == "fuel_reintroduced"]
    assert event.duration_s == pytest.approx(9.0)
    assert s.fuel_on_s == pytest.approx(40.0)


def test_a_fast_rise_after_the_cut_is_burning_and_a_slow_one_is_heat_soak():
    base = {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 20), (75, 2)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (54, 0)],
    }
    burning = [(0, 15), (23, 15), (27, 560), (33, 700), (45, 200), (55, 480), (80, 200)]
    soaking = [(0, 15), (23, 15), (27, 560), (33, 700), (40, 200), (80, 380)]
    assert ("burning_after_cut", "limit", None) in kinds(judge(normal_start() | base | {"itt": burning}))
    assert ("burning_after_cut", "limit", None) not in kinds(judge(normal_start() | base | {"itt": soaking}))


def test_a_long_run_and_short_rests_are_starter_overruns():
    traces = {
        "ng": [(0, 0), (10, 0), (17, 20), (56, 20), (75, 1), (80, 1), (86, 20), (100, 20), (115, 1)],
        "itt": [(0, 15), (150, 15)],
        "bus_volts": [(0, 25)],
        "starter": [(0, 0), (10, 1), (57, 0), (80, 1), (100, 0)],
        "fuel_on": [(0, 0)],
        "external_power": [(0, 0)],
    }
    a = judge(traces, 150)
    long, short = (e for e in a.events)
    assert (long.reason, long.duration_s, long.allowed_s) == ("run_too_long", pytest.approx(47.0), 45)
    assert (short.reason, short.duration_s, short.allowed_s) == ("rest_too_short", pytest.approx(23.0), 90)
    assert a.sentence.startswith("Procedure:")


def test_an_unknown_power_source_takes_the_stricter_table_as_possible():
    traces = normal_start()
    del traces["external_power"]
    a = judge(traces)
    (event,) = a.events
    assert (event.reason, event.severity, event.allowed_s) == ("run_too_long", "possible", 30)
    only = replace(PROFILE, starter=replace(STARTER, external_duty=()))
    assert judge(traces, profile=only).events == ()


def test_rest_before_the_first_run_is_not_judged_unless_given():
    a = judge(normal_start(), earlier=())
    assert [p.what for p in a.not_judged] == ["starter rest before the first start"]
    assert a.verdict == "within"  # a footnote
    short = (StarterRun(-60.0, -30.0, 30.0, 30.0, 30.0, "battery"),)
    b = judge(normal_start(), earlier=short)
    (event,) = b.events
    assert (event.reason, event.duration_s) == ("rest_too_short", pytest.approx(40.0))
    assert b.context == (EarlierRun(**vars(short[0])),)


def test_a_recording_of_a_running_engine_has_no_start():
    traces = {
        "ng": [(0, 80), (80, 80)],
        "itt": [(0, 700), (80, 700)],
        "fuel_on": [(0, 1)],
        "starter": [(0, 0)],
        "bus_volts": [(0, 28)],
        "external_power": [(0, 0)],
    }
    a = judge(traces)
    assert (a.starts, a.began_running, a.verdict) == ((), True, "within")


def test_no_profile_judges_nothing_and_says_so():
    a = assess(recording(normal_start(1060), 80), None)
    assert (a.events, a.verdict) == ((), "undetermined")
    assert a.sentence == "Cannot be told: no engine profile is named, so nothing was judged."


def test_an_absent_key_is_not_judged_and_raises_no_event():
    profile = replace(PROFILE, start=replace(RULES, min_fuel_ng_pct=None, advised_fuel_ng_pct=None))
    assert kinds(judge(normal_start(fuel_s=14.0), profile=profile)) == []


def test_each_engine_is_assessed_by_itself():
    one = normal_start()
    two = {f"{k}.2": v for k, v in normal_start(1060).items() if k in ("ng", "itt", "starter", "fuel_on")}
    a = judge(one | two)
    assert [(s.engine, s.outcome) for s in a.starts] == [(1, "completed"), (2, "completed")]
    assert [(e.engine, e.kind, e.channel) for e in a.events] == [(2, "hot_start", "itt.2")]


def test_the_factors_of_a_bad_start_are_those_outside_their_reference():
    a = judge(normal_start(1060, fuel_s=14.0))
    assert [f.kind for f in a.starts[0].factors] == ["early_fuel", "ng_not_stable"]


def test_equal_inputs_give_equal_results():
    first, second = judge(hung_start()), judge(hung_start())
    assert first.events == second.events
    assert first.starts == second.starts
    assert first.sentence == second.sentence
