"""Of several engines whatever is said names its engine; of one none is named."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from debrief.analysis.assess import assess
from debrief.analysis.model import Assessment
from debrief.profile.loader import find
from debrief.recording.reader import read
from debrief.report.formats.text import assessment_text
from debrief.session.evidence.measure_tables import flight_rows
from debrief.session.lanes.lane_plan import plan_lane
from debrief.session.limits.instrument_readings import Instrument, discretes
from debrief.session.texts.story import story
from debrief.words.channels import ENGINE_CHANNELS, channel_symbol

DEMO = Path(__file__).parents[2] / "demo_flights"


@cache
def assessed(second: str | None) -> Assessment:
    """Return a cool start, beside it the start of another demo flight as that of the second engine."""
    recording = read(DEMO / "01_cool_normal_start.csv")
    channels = dict(recording.channels)
    if second is not None:
        for name, channel in read(DEMO / second).channels.items():
            if name in ENGINE_CHANNELS:
                channels[f"{name}.2"] = replace(channel, name=f"{name}.2")
    return assess(recording.with_channels(channels), find("tarn-tg7"))


def test_each_finding_names_its_engine() -> None:
    result = assessed("05_hot_start_aborted_motored.csv")
    assert result.events
    assert all(str(one.message).startswith(f"Engine {one.engine}: ") for one in result.events)
    assert "Exceeded: Engine 2: ITT was above" in result.sentence
    assert "of engine 2 was" not in result.sentence


def test_each_open_point_and_limit_names_its_engine() -> None:
    result = assessed("05_hot_start_aborted_motored.csv")
    assert {one.engine for one in result.not_judged} == {1, 2}
    assert all(str(one.why).startswith(f"engine {one.engine}: ") for one in result.not_judged)
    assert all(one.why.startswith(f"engine {one.engine}: ") for one in result.limits if one.why)
    text = assessment_text(result)
    limits = [line for line in text.splitlines() if "(itt-start" in line]
    assert [f"engine {n}" in line for n, line in enumerate(limits, 1)] == [True, True]


def test_a_failed_start_is_that_of_its_engine() -> None:
    result = assessed("06_hot_start_aborted_not_motored.csv")
    heads = [step.title for step in story(result) if step.shape == "heading"]
    assert heads == ["Start, engine 1", "Start, engine 2"]


@pytest.mark.parametrize("engine", [1, 2])
def test_instruments_lanes_and_measures_name_the_engine(engine: int) -> None:
    result = assessed("05_hot_start_aborted_motored.csv")
    assert channel_symbol(Instrument(result, "itt", engine).label_name) == f"ITT {engine}"
    assert channel_symbol(Instrument(result, "bus_volts", engine).label_name) == "Bus"
    assert all(one.words.endswith(f"engine {engine}") for one in discretes(result, 5.0, engine)[:3])
    assert plan_lane(result, "itt", engine).symbol == f"ITT {engine}"
    titles = [row.title for row in flight_rows(result.flight_measures)]
    assert any(title.endswith(f", engine {engine}") for title in titles)
    assert all(title.endswith(("engine 1", "engine 2")) for title in titles)


def test_of_one_engine_none_is_named() -> None:
    result = assessed(None)
    assert "engine 1" not in assessment_text(result).lower()
    assert channel_symbol(Instrument(result, "itt").label_name) == "ITT"
    assert plan_lane(result, "itt").symbol == "ITT"
