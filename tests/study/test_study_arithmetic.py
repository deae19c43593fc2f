"""The study's own arithmetic, by hand: a study that counts wrongly proves nothing."""

from __future__ import annotations

import numpy as np
import pytest

from tests.study.dense import Sampling, blur_s, edges, runs
from tests.study.items import Item, Row
from tests.study.judging import Bound
from tests.study.table import counts, share
from tests.study.truth import Truth


def test_edges_are_the_first_step_on_and_the_first_off_again() -> None:
    on = np.array([1, 0, 0, 1, 1, 0, 1], dtype=bool)
    assert edges(on) == [(0, 1), (3, 5), (6, 7)]


def test_a_short_break_joins_two_runs_and_is_not_counted() -> None:
    on = np.zeros(10_000, dtype=bool)
    on[1000:3000] = on[4500:5000] = on[8000:9000] = True
    assert runs(on, 2.0) == [(1000, 5000, 2.5), (8000, 9000, 1.0)]


def test_the_blur_is_the_intervals_in_which_the_level_is_crossed() -> None:
    # A triangle: up from 0 to 100 in 1 s, down again in 1 s; above 50 from 0.5 s to 1.5 s.
    values = np.concatenate((np.arange(0, 1000) * 0.1, np.arange(1000, -1, -1) * 0.1))
    every = Sampling(np.arange(0, 2001, 400, dtype=np.int64), 0.0, 0.0)
    inside = np.ones(values.size, dtype=bool)
    assert blur_s(values, 50.0, inside, every) == pytest.approx(0.8)  # 0.4-0.8 s and 1.2-1.6 s
    # Half a step of 5 more: 45 to 55 is 0.1 s on each side.
    coarse = Sampling(every.steps, 5.0, 0.0)
    assert blur_s(values, 50.0, inside, coarse) == pytest.approx(1.0, abs=0.003)


def test_a_question_about_a_minimum_turns_round() -> None:
    row = Row(14.0, 0.1, 15.0)
    item = Item("early_fuel", None, "limit", "fuel_ng", [row], True, 0, 1, "start", ())
    assert item.happened
    assert item.beyond(row) == 1.0
    item.under = False
    assert not item.happened


def test_a_bound_holds_up_to_its_slack() -> None:
    assert Bound("x", "", 5.0, 4.0, 6.0, 0.0, False).holds
    assert Bound("x", "", 6.05, 4.0, 6.0, 0.1, False).holds
    assert not Bound("x", "", 6.2, 4.0, 6.0, 0.1, False).holds
    assert Bound("x", "", 99.0, 4.0, None, 0.0, False).holds


def test_a_rise_after_the_cut_counts_from_the_lowest_and_only_if_it_is_fast() -> None:
    from tests.study.truth import FuelTime

    truth = object.__new__(Truth)
    down, up = np.linspace(600, 400, 4001), np.linspace(400, 580, 10_001)  # 18 degC/s
    slow = np.linspace(580, 700, 40_001)  # 3 degC/s
    truth.states = {"itt": np.concatenate((down, up[1:], slow[1:]))}
    truth.size = truth.states["itt"].size
    fuel = FuelTime(-100, 0, None, True)
    truth.fuels = [fuel]
    rise, _ = truth.fast_rise_c(fuel)
    # From 400: after t s the rise is 180 + 3 (t - 10), the rate limit 5 t: equal at t = 75, so all of it is fast.
    assert rise == pytest.approx(300.0)
    rise, _ = truth.fast_rise_c(fuel, 10.0)
    # 180 + 3 (t - 10) = 10 t at t = 150/7 s, so 214.3 degC.
    assert rise == pytest.approx(1500.0 / 7.0, abs=0.1)


def test_shares_of_nothing_are_unknown() -> None:
    assert share(0, 0) is None
    assert counts([]) == {"TP": 0, "FN": 0, "FP": 0, "TN": 0, "open": 0, "withheld": 0}
