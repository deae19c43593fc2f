"""The truth: counted on the model's state at 1 kHz, and equal to a second, plainer count."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.synth.truth import edges, time_beyond, truth_of
from tests.synth.scenarios import DEMO, START, run

LEVELS = (
    "[truth]\nstart_levels = {itt = [300, 600, 700], bus_volts = [20.0]}\nrunning_levels = {itt = [560]}\n"
)


def brute(values: list[float], level: float, below: bool) -> tuple[float, float, int]:
    """Return total, longest and number of runs by walking along the values."""
    total = longest = current = runs = 0
    for value in values:
        if (value < level) if below else (value > level):
            if current == 0:
                runs += 1
            current += 1
            total += 1
            longest = max(longest, current)
        else:
            current = 0
    return total / 1000, longest / 1000, runs


@given(st.lists(st.integers(0, 6), max_size=60), st.integers(0, 6), st.booleans())
def test_time_beyond_a_level_equals_a_walk_along_the_values(
    values: list[int], level: int, below: bool
) -> None:
    found = time_beyond(np.array(values, dtype=np.float64), float(level), below)
    total, longest, runs = brute([float(v) for v in values], float(level), below)
    assert found["total_s"] == pytest.approx(total)
    assert found["longest_s"] == pytest.approx(longest)
    assert found["runs"] == runs


@given(st.lists(st.booleans(), max_size=40))
def test_edges_rebuild_the_stretches(bits: list[bool]) -> None:
    begin, end = edges(np.array(bits, dtype=np.float64))
    rebuilt = [False] * len(bits)
    for a, b in zip(begin, end, strict=True):
        assert a < b
        rebuilt[a:b] = [True] * (b - a)
    assert rebuilt == bits


def test_the_truth_of_a_start_equals_a_plain_reading_of_the_states() -> None:
    simulation = run(START, duration_s=70.0, head=LEVELS)
    states = simulation.states
    truth = truth_of(simulation)
    (start,) = truth["starts"]
    assert start["starter_on_s"] == 5.0
    (fuel,) = start["fuel_periods"]
    assert fuel["on_s"] == 19.0
    assert fuel["off_s"] is None
    assert fuel["light_off_s"] == pytest.approx(int(np.argmax(states["lit"])) / 1000)
    assert fuel["ng_at_fuel_pct"] == pytest.approx(states["ng"][19000], abs=1e-3)
    idle = next(i for i in range(20000, 67000) if states["ng"][i : i + 3000].min() >= 57.0)
    assert start["idle_s"] == pytest.approx(idle / 1000)
    window = states["itt"][5000:idle]
    assert start["peak_itt"]["value"] == pytest.approx(window.max(), abs=1e-3)
    assert start["peak_itt"]["at_s"] == pytest.approx((5000 + int(window.argmax())) / 1000)
    for item in start["beyond"]:
        below = item["sense"] == "below"
        values = states[item["channel"]][5000:idle]
        total, longest, runs = brute(values.tolist(), item["level"], below)
        assert item["total_s"] == pytest.approx(total)
        assert item["longest_s"] == pytest.approx(longest)
        assert item["runs"] == runs
    (running,) = truth["running"]["beyond"]
    assert running["total_s"] == pytest.approx(brute(states["itt"][idle:].tolist(), 560.0, False)[0])


def test_an_attempt_ends_where_the_next_begins() -> None:
    body = "".join(
        f'[[actions]]\nat_s = {at}\nstarter = "{value}"\n'
        for at, value in ((5, "on"), (15, "off"), (45, "on"), (52, "off"))
    )
    truth = truth_of(run(body, duration_s=60.0))
    assert [s["starter_on_s"] for s in truth["starts"]] == [5.0, 45.0]
    assert [s["starter_off_s"] for s in truth["starts"]] == [15.0, 52.0]
    assert truth["starts"][0]["end_s"] == 45.0
    assert all(s["idle_s"] is None and s["fuel_periods"] == [] for s in truth["starts"])
    assert truth["running"]["spans_s"] == []


def all_truths() -> dict[str, Any]:
    return {
        path.name: json.loads(path.read_text(encoding="utf-8")) for path in sorted(DEMO.glob("*.truth.json"))
    }


@pytest.mark.parametrize("name", sorted(all_truths()))
def test_a_demo_flight_gives_the_recorder_quiet_time_before_and_after(name: str) -> None:
    truth = all_truths()[name]
    first, last = truth["starts"][0], truth["starts"][-1]
    assert first["starter_on_s"] >= 10.0
    end = last["idle_s"] or max([last["starter_off_s"], *(p["off_s"] for p in last["fuel_periods"])])
    assert truth["duration_s"] - end >= 20.0


@pytest.mark.parametrize("name", sorted(all_truths()))
def test_a_demo_flight_keeps_its_distance_from_every_level_in_time(name: str) -> None:
    # Allowed seconds above the levels of the example profile: a start that comes close would be ambiguous.
    allowed = {830.0: 20.0, 920.0: 6.0}
    for start in all_truths()[name]["starts"]:
        for item in start["beyond"]:
            if item["channel"] == "itt" and item["level"] in allowed:
                assert abs(item["total_s"] - allowed[item["level"]]) > 1.5
        assert abs(start["peak_itt"]["value"] - 1030.0) > 40.0
        assert abs(start["starter_run_s"] - 45.0) > 1.5
        assert start["ng_at_starter_on_pct"] < 5.0
