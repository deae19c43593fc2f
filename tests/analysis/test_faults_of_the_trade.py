"""Faults that this trade makes, one for each subject, and the hand-worked test that must notice each.

A bound swapped, a rule of three seconds dropped, a comparison the wrong way round. They show that the tests can fail; how
well the tests of the whole analysis notice any change is measured by a mutation tester outside the everyday run (see
DEVELOPERS.md).
"""

from __future__ import annotations

import sys
from importlib import import_module

import pytest

from tests.analysis.fault_making import FAULTY, Fault, faulty_analysis, true_analysis

FAULTS = (
    Fault(
        "motoring after an abort",
        "motoring_rule",
        "motoring_short",
        "cut.fuel.light_off_s is None or ",
        "",
        "test_aborting",
        "test_an_abort_is_motored_for_twenty_seconds",
    ),
    Fault(
        "time above: estimate",
        "exceedance",
        "_to_crossings",
        "estimate[crossed, 0] = t[i] + (",
        "estimate[crossed, 0] = t[i] + 0.5 * (",
        "test_arithmetic",
        "test_crossings_lie_on_the_straight_line",
    ),
    Fault(
        "time above: low",
        "exceedance",
        "time_above",
        "low = np.column_stack((t[starts], t[ends]))",
        "low = estimate",
        "test_arithmetic",
        "test_the_lower_bound_is_between_samples_that_are_both_above",
    ),
    Fault(
        "time above: high",
        "exceedance",
        "time_above",
        "wide = np.column_stack((t[before], t[after]))",
        "wide = estimate",
        "test_arithmetic",
        "test_the_upper_bound_reaches_to_the_samples_just_outside",
    ),
    Fault(
        "gap rule",
        "exceedance",
        "time_above",
        "breaks = trace.gap_index",
        "breaks = trace.gap_index[:0]",
        "test_arithmetic",
        "test_nothing_is_claimed_across_a_gap",
    ),
    Fault(
        "peak between samples",
        "peak_bounds",
        "_crossings",
        "(v + up * x)[good]",
        "(v + 0 * up * x)[good]",
        "test_arithmetic",
        "test_the_peak_may_stand_where_the_outer_slopes_meet",
    ),
    Fault(
        "half resolution",
        "traces",
        "Trace.peak",
        "upper + self.doubt)",
        "upper)",
        "test_arithmetic",
        "test_half_a_step_of_the_recorder_belongs_to_the_upper_bound",
    ),
    Fault(
        "rejoin",
        "interval_sets",
        "group_edges",
        ">= rejoin_s",
        "> rejoin_s",
        "test_arithmetic",
        "test_a_break_of_two_seconds_ends_a_run_and_a_shorter_one_does_not",
    ),
    Fault(
        "bands",
        "chart_bands",
        "band_at",
        "level >= edge",
        "level > edge",
        "test_arithmetic",
        "test_a_band_begins_on_its_lower_edge_and_ends_with_the_chart",
    ),
    Fault(
        "light-off",
        "light_off",
        "",
        "RISE_WITHIN_S = 3.0",
        "RISE_WITHIN_S = 2.75",
        "test_beginnings",
        "test_forty_degrees_within_three_seconds_are_a_light_off",
    ),
    Fault(
        "idle 3 s",
        "light_off",
        "",
        "IDLE_FOR_S = 3.0",
        "IDLE_FOR_S = 2.5",
        "test_beginnings",
        "test_idle_is_three_seconds_at_or_above_the_tolerance",
    ),
    Fault(
        "starter bridge",
        "engagements",
        "",
        "STARTER_BRIDGE_S = 1.0",
        "STARTER_BRIDGE_S = 0.75",
        "test_beginnings",
        "test_a_starter_gap_of_less_than_a_second_is_bridged",
    ),
    Fault(
        "generator trimming",
        "engagements",
        "starter_runs",
        "if generating is not None",
        "if False",
        "test_beginnings",
        "test_a_starter_bit_that_stays_on_counts_until_the_machine_generates",
    ),
    Fault(
        "inference of the starter",
        "engagements",
        "_inferred_runs",
        "if dropped or not rose",
        "if dropped and not rose",
        "test_beginnings",
        "test_without_a_starter_channel_the_engagement_is_inferred",
    ),
    Fault(
        "inference of light-off",
        "fuel_stretches",
        "_from_flames",
        "if speed is not None and speed < view.turning_pct and not engaged",
        "if True",
        "test_beginnings",
        "test_without_a_fuel_channel_the_flame_is_inferred_and_bounds_fuel",
    ),
    Fault(
        "start window end",
        "attempts",
        "_close",
        "end = min(end, longest)",
        "pass",
        "test_beginnings",
        "test_start_limits_end_two_minutes_after_light_off",
    ),
    Fault(
        "window after abort",
        "engine_view",
        "",
        "COOLED_ITT_C = 300.0",
        "COOLED_ITT_C = 400.0",
        "test_beginnings",
        "test_after_an_abort_start_limits_go_on_until_the_engine_has_cooled",
    ),
    Fault(
        "outcome",
        "reported_starts",
        "outcome_of",
        'if attempt.idle_s is not None:\n        return "completed"',
        "pass",
        "test_beginnings",
        "test_each_start_comes_out_as_the_first_that_fits",
    ),
    Fault(
        "flame-out",
        "light_off",
        "",
        "FLAME_OUT_FOR_S = 3.0",
        "FLAME_OUT_FOR_S = 2.0",
        "test_beginnings",
        "test_a_flame_out_is_three_seconds_of_falling_together",
    ),
    Fault(
        "attempts",
        "attempts",
        "find_attempts",
        "time_s + IDLE_FOR_S) is None",
        "time_s + IDLE_FOR_S) is not None",
        "test_beginnings",
        "test_a_running_engine_opens_no_attempt",
    ),
    Fault(
        "duty: run",
        "starter_duty",
        "_run_event",
        "run.duration_s > limit + TOLERANCE_S",
        "run.duration_s >= limit",
        "test_duties",
        "test_a_run_of_more_than_45_seconds_is_too_long",
    ),
    Fault(
        "duty: rest",
        "starter_duty",
        "_rest_event",
        "rest < wanted - TOLERANCE_S",
        "rest < wanted - 1",
        "test_duties",
        "test_the_rest_that_the_run_before_asks_for_is_kept",
    ),
    Fault(
        "duty: reset",
        "starter_duty",
        "duty_events",
        "fresh = rested",
        "fresh = False",
        "test_duties",
        "test_a_long_rest_or_a_completed_start_begins_the_order_anew",
    ),
    Fault(
        "duty: external",
        "starter_duty",
        "allowed_for",
        'if power == "external"',
        "if False",
        "test_duties",
        "test_external_power_has_a_table_of_its_own",
    ),
    Fault(
        "duty: unknown source",
        "starter_duty",
        "allowed_for",
        "return Allowed(strict, False)",
        "return Allowed(strict, True)",
        "test_duties",
        "test_an_unknown_source_takes_the_stricter_table_as_possible",
    ),
    Fault(
        "not judged",
        "applicability",
        "scope_of",
        "scope.units = [(n, w.known(unknown)) for n, w in scope.units]\n    if limit.phases:",
        "pass\n    if limit.phases:",
        "test_edging",
        "test_where_a_gap_hides_the_phase_a_limit_of_phases_is_not_judged",
    ),
    Fault(
        "phases",
        "edge_bounds",
        "",
        "TAXI_KT = 30.0",
        "TAXI_KT = 40.0",
        "test_flying",
        "test_the_phases_follow_the_flight",
    ),
    Fault(
        "beta in flight",
        "beta_in_flight",
        "",
        "BEFORE_S = 3.0",
        "BEFORE_S = 1.0",
        "test_flying",
        "test_beta_with_weight_on_wheels_needs_three_seconds_before_and_two_during",
    ),
    Fault(
        "run-down",
        "flight_measures",
        "",
        "RUN_DOWN_FROM_PCT = 40.0",
        "RUN_DOWN_FROM_PCT = 50.0",
        "test_flying",
        "test_run_down_is_from_forty_to_ten_percent",
    ),
    Fault(
        "certain",
        "limit_event",
        "event_from",
        "and run.duration_low_s > row.seconds + TOLERANCE_S",
        "",
        "test_judging",
        "test_certain_is_what_the_lower_bound_exceeds_too",
    ),
    Fault(
        "zero-second rule",
        "limit_event",
        "result_of",
        "row.seconds == 0 or",
        "",
        "test_judging",
        "test_any_sample_above_exceeds_a_zero_second_limit",
    ),
    Fault(
        "below",
        "judge",
        "judge_limit",
        "sign = -1.0 if limit.below else 1.0",
        "sign = 1.0",
        "test_judging",
        "test_a_minimum_is_judged_upside_down",
    ),
    Fault(
        "run to its end",
        "exceedance",
        "_lengthened",
        "if k == len(runs_s) or not runs_s[k, 0] < end:",
        "if True:",
        "test_judging",
        "test_a_run_above_a_start_level_at_idle_counts_to_its_end",
    ),
    Fault(
        "where",
        "applicability",
        "scope_of",
        "for condition in limit.where:",
        "for condition in ():",
        "test_judging",
        "test_a_limit_holds_only_where_its_conditions_do",
    ),
    Fault(
        "spike",
        "spikes",
        "spike_samples",
        "np.sign(before) != np.sign(after)",
        "np.sign(before) == np.sign(after)",
        "test_judging",
        "test_an_exceedance_that_rests_on_a_spike_is_possible",
    ),
    Fault(
        "sensor sense",
        "stands_still",
        "",
        "LEAST_S = 10.0",
        "LEAST_S = 8.0",
        "test_judging",
        "test_a_temperature_that_stands_while_ng_moves_is_not_believed",
    ),
    Fault(
        "verdict order",
        "verdict",
        "verdict_of",
        'if any(e.severity == "limit" for e in events):\n        return "exceeded"',
        "pass",
        "test_judging",
        "test_the_verdict_is_the_first_that_fits",
    ),
    Fault(
        "source resistance",
        "source_resistance",
        "_line",
        "-current[there]",
        "current[there]",
        "test_measuring",
        "test_the_source_resistance_is_the_slope_of_volts_on_amperes",
    ),
    Fault(
        "abort: several cuts",
        "fuel_cuts",
        "cuts_of",
        "fuel.on_s if n else attempt.begin_s",
        "attempt.begin_s",
        "test_repeated",
        "test_each_cut_is_timed_by_its_own_fuel",
    ),
    Fault(
        "peak of a start",
        "reported_starts",
        "build_start",
        "counted.following[1]), run_on_s)",
        "counted.following[1]), 0.0)",
        "test_repeated",
        "test_the_peak_reaches_as_far_as_the_run_that_counts",
    ),
    Fault(
        "hung: stagnated",
        "hang_detection",
        "_slopes",
        "rules.hung_for_s, rules.hung_ng_rate_pct_per_s",
        "rules.hung_for_s, 0.5 * rules.hung_ng_rate_pct_per_s",
        "test_rules",
        "test_a_gain_under_a_third_of_a_percent_a_second_is_a_hang",
    ),
    Fault(
        "hung: too slow",
        "hang_detection",
        "_too_slow",
        "due = light_off + within",
        "due = light_off + within + 0.5",
        "test_rules",
        "test_idle_must_come_within_45_seconds_of_light_off",
    ),
    Fault(
        "stabilisation",
        "reported_starts",
        "_stable",
        "abs(rate.value) < criterion",
        "abs(rate.value) < 0.5 * criterion",
        "test_rules",
        "test_ng_is_stable_under_the_profiles_slope",
    ),
    Fault(
        "early fuel",
        "fuel_rules",
        "early_fuel",
        '"limit" if high < least and sure',
        '"limit" if low < least and sure',
        "test_rules",
        "test_fuel_below_the_minimum_is_judged_by_its_bounds",
    ),
    Fault(
        "residual heat",
        "fuel_rules",
        "residual_heat",
        "value <= most",
        "value < most",
        "test_rules",
        "test_residual_heat_is_itt_above_the_profiles_at_fuel",
    ),
    Fault(
        "voltage before",
        "starter_rules",
        "voltage",
        "value >= least",
        "value > least",
        "test_rules",
        "test_the_resting_voltage_is_the_median_of_the_five_seconds_before",
    ),
    Fault(
        "voltage while cranking",
        "electrics",
        "cranking_windows",
        "[(run.start_s + SETTLED_S, _driven",
        "[(run.start_s, _driven",
        "test_rules",
        "test_the_lowest_voltage_counts_from_one_second_on",
    ),
    Fault(
        "no light-off",
        "fuel_rules",
        "light_off",
        "took <= wait",
        "took < wait",
        "test_rules",
        "test_light_off_must_come_within_ten_seconds_of_fuel",
    ),
    Fault(
        "burning after the cut",
        "flame_rules",
        "",
        "BURN_RATE_C_PER_S = 5.0",
        "BURN_RATE_C_PER_S = 4.5",
        "test_rules",
        "test_a_rise_after_the_cut_is_burning_from_five_degrees_a_second_on",
    ),
    Fault(
        "fuel reintroduced",
        "fuel_rules",
        "fuel_returns",
        "motored < wanted",
        "motored <= wanted",
        "test_rules",
        "test_fuel_again_needs_fifteen_seconds_of_motoring",
    ),
    Fault(
        "engaged while turning",
        "starter_rules",
        "engaged_while_turning",
        "max(part) + ng.half_resolution <= most",
        "max(part) + ng.half_resolution <= most + 1",
        "test_rules",
        "test_the_starter_engages_at_eight_percent_at_most",
    ),
)


def hand_worked(fault: Fault):
    """Return the test that must notice a fault."""
    return getattr(import_module(f"tests.analysis.hand_worked.{fault.tests}"), fault.test)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.subject)
def test_the_fault_is_noticed(fault):
    with faulty_analysis(fault) as analysis:
        try:
            hand_worked(fault)(analysis)
        except AssertionError:
            return
    pytest.fail(f"{fault.test} does not notice: {fault}")


def test_a_faulty_copy_leaves_the_true_analysis_alone_and_is_gone_afterwards():
    (fault,) = (one for one in FAULTS if one.subject == "time above: estimate")
    true = true_analysis()
    with faulty_analysis(fault) as analysis:
        assert analysis.exceedance is not true.exceedance
        assert analysis.assess is not true.assess
        assert analysis.atmosphere is true.atmosphere
    assert not [name for name in sys.modules if name.startswith(FAULTY)]


def test_a_fault_that_has_lost_its_place_or_changes_nothing_is_told():
    lost = Fault("none", "exceedance", "time_above", "no such text", "", "", "")
    with pytest.raises(AssertionError, match="stands there 0 times"):
        lost.text()
    words = Fault("none", "exceedance", "time_above", "Equal is not above.", "Equal is not above!", "", "")
    with faulty_analysis(words) as analysis:
        for fault in FAULTS:
            hand_worked(fault)(analysis)


def test_each_subject_is_named_once():
    assert len({fault.subject for fault in FAULTS}) == len(FAULTS) >= 45
