"""A step of ITT that Ng and fuel flow do not share is told with time and size, and nothing else is."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.flight.itt_consistency import fitted_robustly
from tests.analysis.flight.made_flights import recorded
from tests.analysis.flight.test_steady_windows import PROFILE, cruise


def powers(jump_at=None, by=0.0, over=2.0, **more):
    """Level cruise at three powers, ten minutes each; ITT may jump although nothing else does."""
    edges = [0, 600, 610, 1200, 1210, 1800]
    ng = [(t, v) for t, v in zip(edges, [95, 95, 92, 92, 90, 90], strict=True)]
    t = np.arange(0, 1801.0)
    held = np.interp(t, *zip(*ng, strict=True))
    itt = 720 + 12 * (held - 95)
    if jump_at is not None:
        itt = itt + by * np.clip((t - jump_at) / over, 0, 1)
    traces = cruise(
        ng=ng,
        itt=list(zip(t, itt, strict=True)),
        fuel_flow=[(a, 150 + 10 * (b - 95)) for a, b in ng],
        torque=[(a, 80 + 5 * (b - 95)) for a, b in ng],
        power_lever=[(a, 70 + 4 * (b - 95)) for a, b in ng],
        ias=[(0, 150)],
    )
    return traces | more


def told(traces, rate_hz=1.0, noise=1.0, seed=1):
    a = assess(recorded(traces, 1800.0, rate_hz, noise, seed), PROFILE)
    return a.flight_measures["itt_consistency"], [q for q in a.quality if q.kind == "itt_inconsistent"], a


@pytest.mark.parametrize(("rate_hz", "noise"), [(0.5, 1.0), (1.0, 2.0), (16.0, 1.0)])
@pytest.mark.parametrize("by", [-20.0, 15.0])
def test_a_step_of_the_sensor_is_told_with_time_and_size(rate_hz, noise, by):
    measure, flags, a = told(powers(900.0, by), rate_hz, noise)
    assert measure.value == pytest.approx(by, abs=3.0 * noise)
    assert measure.low <= measure.value <= measure.high
    (flag,) = flags
    assert flag.start_s - 15 <= 900.0 <= flag.end_s + 15
    assert flag.message.startswith("ITT rose" if by > 0 else "ITT fell")
    assert a.flight_evidence["itt_consistency"].readings
    assert a.verdict == "within"


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("rate_hz", "noise"), [(0.5, 2.0), (4.0, 1.0)])
def test_an_engine_as_it_was_raises_no_doubt(seed, rate_hz, noise):
    measure, flags, _ = told(powers(), rate_hz, noise, seed)
    assert flags == []
    assert abs(measure.value) < 4.0 * noise


def test_a_drift_and_a_load_are_no_step():
    assert told(powers(750.0, 20.0, over=400.0))[1] == []
    loaded = powers(900.0, 15.0, generator_on=[(0, 0), (900, 1)])
    assert told(loaded)[1] == []


def test_a_large_step_is_told_once():
    _, flags, a = told(powers(900.0, -120.0, over=1.0), noise=0.5)
    assert len([q for q in a.quality if q.kind == "sensor_step"]) == 1
    assert flags == []


def test_what_is_missing_is_said():
    traces = powers()
    del traces["fuel_flow"]
    measure, flags, _ = told(traces)
    assert (measure.value, flags) == (None, [])
    assert "fuel flow" in measure.why.lower()


def test_the_fit_is_that_of_most_values():
    rng = np.random.default_rng(2)
    x = np.column_stack((rng.normal(95, 3, 200), rng.normal(150, 20, 200), np.ones(200)))
    truth = 3.0 * x[:, 0] - 0.5 * x[:, 1] + 7.0
    y = truth + rng.normal(0, 0.5, 200)
    y[:30] += 50.0
    assert np.abs(fitted_robustly(x, y) - truth).max() < 1.5


def test_noise_that_hangs_together_for_half_a_minute_is_no_step():
    rng = np.random.default_rng(4)
    said = 0
    for _ in range(15):
        slow = np.zeros(1801)
        keeps = float(np.exp(-1.0 / 30.0))
        for k in range(1, slow.size):
            slow[k] = keeps * slow[k - 1] + np.sqrt(1 - keeps**2) * rng.normal(0.0, 3.0)
        traces = powers()
        traces["itt"] = [(t, v + s) for (t, v), s in zip(traces["itt"], slow, strict=True)]
        said += len(told(traces)[1])
    assert said <= 1
