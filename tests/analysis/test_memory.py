"""What an assessment takes of memory: some channels' worth of samples, however many of them noise makes remarkable."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.signal import peak_bounds
from debrief.profile.loader import find
from debrief.recording.model import Channel, Recording, frozen
from debrief.words.channels import CANONICAL


def restless(rows: int) -> Recording:
    """Return an engine whose values are saw teeth 16 times a second: a tip between samples may be near any of them."""
    row = np.arange(rows)
    time_s = frozen(row / 16.0)
    made = {
        "ng": 70.0 + row % 9,
        "itt": 600.0 + row % 13,
        "torque": 60.0 + row % 7,
        "np": 1800.0 + row % 5,
        "oil_temp": 80.0 + row % 3,
        "fuel_on": np.ones(rows),
    }
    return Recording(
        {k: Channel(k, CANONICAL[k], time_s, frozen(v)) for k, v in made.items()}, float(time_s[-1])
    )


def test_an_assessment_takes_some_channels_worth_of_samples_at_its_most() -> None:
    """A sample takes eight bytes here and some three in the file, of which ten times are promised for all that is done."""
    recording, profile = restless(200_000), find("tarn-tg7")
    assess(restless(200), profile)
    tracemalloc.start()
    try:
        assess(recording, profile)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    one = recording.channels["itt"].values.nbytes
    assert most < 20 * one, f"{most / one:.0f} times one of six channels"


@pytest.mark.parametrize("gaps", [0.0, 0.01])
def test_looking_part_by_part_finds_the_same_tips(gaps: float, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(2)
    time_s, values = np.cumsum(rng.uniform(0.1, 1.0, 5000)), np.round(rng.normal(0.0, 3.0, 5000), 1)
    gap = rng.random(4999) < gaps
    whole = peak_bounds.tents(time_s, values, gap, 0.1, 0.2)
    monkeypatch.setattr(peak_bounds, "PART", 100)
    parts = peak_bounds.tents(time_s, values, gap, 0.1, 0.2)
    assert whole[0].size > 500
    for one, other in zip(whole, parts, strict=True):
        np.testing.assert_array_equal(one, other)
