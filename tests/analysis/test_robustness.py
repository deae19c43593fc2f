"""Whatever was recorded is assessed: no exception, no endless search, a document that the schema describes."""

from __future__ import annotations

import json
import warnings
from dataclasses import replace
from functools import cache
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from debrief.analysis import assess
from debrief.profile.loader import load
from debrief.recording.model import Channel, Recording, frozen
from debrief.resources import resource
from debrief.session.document import assessment_document, dumps
from debrief.words.channels import CANONICAL, DISCRETE, base_name

PROFILE = load(resource("profiles/tarn-tg7.toml"))
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)  # no shrinking: it takes minutes with a tracer
NAMES = [*CANONICAL, "ng.2", "itt.2", "fuel_on.2", "starter.2"]
LEVELS = [
    0.0,
    1.0,
    5.0,
    15.0,
    40.0,
    57.0,
    58.0,
    72.0,
    101.5,
    190.0,
    780.0,
    830.0,
    830.1,
    920.0,
    1030.0,
    1100.0,
]


@cache
def schema() -> Any:
    return jsonschema.Draft202012Validator(json.loads(resource("assessment.schema.json").read_text("utf-8")))


@st.composite
def times(draw: st.DrawFn) -> np.ndarray:
    """Return sample times: none, one, even, jittered, with gaps, not beginning at 0."""
    n = draw(st.sampled_from([0, 1, 2, 3, 4, 10, 60, 200]))
    step = draw(st.sampled_from([0.0625, 0.1, 1.0, 3.0]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    steps = np.full(n, step)
    if draw(st.booleans()):
        steps = steps * rng.uniform(0.2, 1.8, n)
    if draw(st.booleans()):
        steps[rng.random(n) < 0.05] += draw(st.sampled_from([0.6, 5.0, 70.0]))
    return np.cumsum(steps) - steps[:1].sum() + draw(st.sampled_from([0.0, 0.0, 7.3, 500.0]))


@st.composite
def values(draw: st.DrawFn, name: str, n: int) -> np.ndarray:
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    if base_name(name) in DISCRETE:
        knots = rng.integers(0, 2, 6)
        return knots[np.minimum(np.arange(n) * 6 // max(n, 1), 5)].astype(float)
    kind = draw(st.sampled_from(["constant", "walk", "corners", "noise", "huge"]))
    if kind == "constant":
        return np.full(n, draw(st.sampled_from(LEVELS)))
    if kind == "walk":
        return draw(st.sampled_from(LEVELS)) + np.cumsum(rng.normal(0, 5, n))
    if kind == "corners":
        knots = np.array(draw(st.lists(st.sampled_from(LEVELS), min_size=2, max_size=6)))
        return np.interp(np.linspace(0, 1, n), np.linspace(0, 1, knots.size), knots)
    if kind == "noise":
        return rng.normal(draw(st.sampled_from(LEVELS)), 60, n)
    return rng.choice([-1e12, 0.0, 1e12, 1e300], n)


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    shared = frozen(draw(times()))
    channels = {}
    for name in draw(st.lists(st.sampled_from(NAMES), unique=True, max_size=14)):
        time_s = shared if draw(st.booleans()) else frozen(draw(times()))
        resolution = draw(st.sampled_from([None, None, 0.1, 1.0]))
        channels[name] = Channel(
            name, CANONICAL[base_name(name)], time_s, draw(values(name, time_s.size)), resolution=resolution
        )
    end = max((float(c.time_s[-1]) for c in channels.values() if c.time_s.size), default=0.0)
    return Recording(channels, end)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), phases=PHASES)
@given(recordings())
def test_any_recording_is_assessed_and_its_document_fits_the_schema(recording):
    before = {k: (c.time_s.copy(), c.values.copy()) for k, c in recording.channels.items()}
    document = assessment_document(assess(recording, PROFILE))
    text = dumps(document)
    schema().validate(json.loads(text))
    assert dumps(assessment_document(assess(recording, PROFILE))) == text
    for name, (t, v) in before.items():
        np.testing.assert_array_equal(recording.channels[name].time_s, t)
        np.testing.assert_array_equal(recording.channels[name].values, v)
    for event in document["events"]:
        assert event["start_s"] is not None
        assert event["end_s"] >= event["start_s"]
        if event["duration_s"] is not None and event["duration_low_s"] is not None:
            assert event["duration_low_s"] <= event["duration_s"] + 1e-9
            assert event["duration_high_s"] is None or event["duration_s"] <= event["duration_high_s"] + 1e-9
    assert (document["verdict"] == "exceeded") == any(e["severity"] == "limit" for e in document["events"])


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck), phases=PHASES)
@given(recordings(), st.sampled_from(["lat", "lon", "track", "gs"]))
def test_a_channel_that_no_rule_reads_changes_nothing(recording, name):
    plain = {k: v for k, v in recording.channels.items() if k != name}
    t = frozen(np.arange(0.0, 50.0, 0.7) / 50.0 * max(recording.duration_s, 1e-3))
    more = plain | {name: Channel(name, CANONICAL[name], t, np.cos(t))}

    def told(channels: dict[str, Channel]) -> str:
        document = assessment_document(assess(recording.with_channels(channels), PROFILE))
        document["recording"].pop("channels")
        return dumps(document)

    assert told(plain) == told(more)


def noisy(n: int, rate_hz: float, **channels: np.ndarray | float) -> Recording:
    time_s = frozen(np.arange(n) / rate_hz)
    return Recording(
        {k: Channel(k, CANONICAL[k], time_s, np.broadcast_to(v, n).copy()) for k, v in channels.items()},
        float(time_s[-1]),
    )


def passes(recording: Recording) -> int:
    """Return how many Python calls an assessment makes: unlike time, the same on a busy machine."""
    import sys

    count = 0

    def tally(frame: object, event: str, argument: object) -> None:
        nonlocal count
        count += 1

    old = sys.getprofile()
    sys.setprofile(tally)
    try:
        assess(recording, replace(PROFILE, max_rate={}))
    finally:
        sys.setprofile(old)
    return count


@pytest.mark.parametrize(
    "kind", ["temperature at its limit", "condition at its edge", "starter bit", "lever at the gate"]
)
def test_twice_as_long_a_noisy_recording_costs_at_most_about_twice_as_much(kind):
    def make(n: int) -> Recording:
        rng = np.random.default_rng(2)
        rate = 16.0
        channels: dict[str, np.ndarray | float] = {"ng": 95.0, "itt": 700.0, "fuel_on": 1.0}
        if kind == "temperature at its limit":
            channels["itt"], rate = 830 + rng.normal(0, 5, n), 1.0
        elif kind == "condition at its edge":
            channels |= {"ng": 72 + rng.normal(0, 2, n), "oil_press": 60 + rng.normal(0, 15, n)}
        elif kind == "starter bit":
            n, rate = n // 10, 1.0
            channels |= {"ng": rng.uniform(0, 30, n), "fuel_on": 0.0, "starter": rng.integers(0, 2, n) * 1.0}
        else:
            channels |= {"power_lever": 22 + rng.normal(0, 3, n), "weight_on_wheels": 0.0}
        return noisy(n, rate, **channels)

    small, large = passes(make(3000)), passes(make(6000))
    assert large < 2.4 * small + 20000


def test_warnings_of_arithmetic_do_not_reach_the_user():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assess(noisy(300, 10.0, ng=1e300, itt=np.tile([1e300, -1e300], 150), fuel_on=1.0), PROFILE)
