"""A recorder that is switched on or off inside a start: what is left of it claims nothing that the whole denies."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, StarterRun
from debrief.recording.model import Recording
from tests.analysis.recording_making import PROFILE, RULES, Corners, normal_start, recording

PROFILE_24 = replace(PROFILE, start=replace(RULES, nominal_bus_volts=24.0))
RESTED = (StarterRun(-90000.0, -89970.0, 30.0, 30.0, 30.0, "battery"),)
COLD = [(0, 15)]
ABORT = {
    "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 30), (40, 20), (54, 20), (70, 0), (90, 0)],
    "fuel_on": [(0, 0), (22, 1), (33, 0)],
    "starter": [(0, 0), (10, 1), (54, 0)],
    "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (54, 22), (55, 25)],
}
STARTS: dict[str, dict[str, Corners]] = {
    "normal": {},
    "hot, aborted": ABORT | {"itt": [(0, 15), (23, 15), (24, 630), (28, 1090), (33, 1000), (54, 160), (90, 100)]},
    "no light-off": ABORT | {"itt": COLD, "fuel_on": [(0, 0), (22, 1), (40, 0)]},
    "burning after the cut": ABORT
    | {"itt": [(0, 15), (23, 15), (27, 560), (33, 700), (38, 300), (40, 300), (48, 650), (90, 200)]},
    "hung": ABORT
    | {
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (60, 750), (62, 500), (90, 200)],
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 38), (75, 0), (90, 0)],
        "fuel_on": [(0, 0), (22, 1), (60, 0)],
        "starter": [(0, 0), (10, 1), (40, 0)],
    },
    "flamed out": ABORT
    | {
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (36, 500), (60, 100), (90, 60)],
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 8), (75, 0), (90, 0)],
        "fuel_on": [(0, 0), (22, 1), (70, 0)],
        "starter": [(0, 0), (10, 1), (30, 0)],
    },
    "fuel again": {
        "itt": [(0, 15), (23, 15), (24, 630), (26, 900), (30, 300), (40, 150), (44, 150), (45, 600), (49, 720), (90, 560)],
        "fuel_on": [(0, 0), (22, 1), (27, 0), (36, 1)],
        "starter": [(0, 0), (10, 1), (52, 0)],
        "ng": [(0, 0), (10, 0), (17, 20), (44, 20), (70, 58.5), (90, 59)],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (52, 23), (53, 24.6), (80, 28)],
    },
    "starter bit as generator": {"starter": [(0, 0), (10, 1)]},
    "motoring": ABORT | {"itt": [(0, 60), (90, 30)], "fuel_on": [(0, 0)], "starter": [(0, 0), (10, 1), (40, 0)]},
}  # fmt: skip
END_S = 90.0


@cache
def whole(name: str) -> Recording:
    return recording(normal_start() | STARTS[name], END_S, 8.0)


@cache
def part(name: str, begin_s: float, end_s: float) -> Assessment:
    channels = {}
    for channel in whole(name).channels.values():
        kept = (channel.time_s >= begin_s) & (channel.time_s <= end_s)
        channels[channel.name] = replace(
            channel, time_s=channel.time_s[kept] - begin_s, values=channel.values[kept]
        )
    return assess(Recording(channels, end_s - begin_s), PROFILE_24, RESTED)


def certain(assessment: Assessment) -> set[tuple[str, str | None]]:
    return {(e.kind, e.reason) for e in assessment.events if e.severity == "limit" and e.certain}


CUTS = [float(x) for x in np.arange(1.0, END_S - 1.0, 5.5)]


@pytest.mark.parametrize("name", STARTS)
def test_a_part_of_a_start_exceeds_for_certain_only_what_the_whole_does(name):
    known = certain(part(name, 0.0, END_S))
    for cut in CUTS:
        for begin, end in ((cut, END_S), (0.0, cut)):
            left = part(name, begin, end)
            assert certain(left) <= known, (begin, end)
            cautions = {e.kind for e in left.events if e.severity == "caution"}
            assert cautions <= {e.kind for e in part(name, 0.0, END_S).events}, (begin, end)


@pytest.mark.parametrize("name", STARTS)
def test_a_part_of_a_start_came_out_as_the_whole_or_is_open(name):
    outcomes = [start.outcome for start in part(name, 0.0, END_S).starts]
    assert len(outcomes) == 1
    for cut in CUTS:
        for begin, end in ((cut, END_S), (0.0, cut)):
            left = part(name, begin, end)
            assert len(left.starts) <= 1, (begin, end)
            for start in left.starts:
                open_ones = {"incomplete"}
                if name == "fuel again" and end < END_S:
                    open_ones.add("aborted")  # the fuel that follows is not recorded
                if end < END_S and outcomes[0] in ("hung", "flamed_out", "completed"):
                    open_ones.add("hung")
                assert start.outcome in {*outcomes, *open_ones}, (begin, end)
                if start.outcome == "incomplete":
                    # Before fuel came nothing can have gone wrong that the verdict is about.
                    told = {p.core for p in left.not_judged if p.what == "outcome of the start"}
                    assert told == {bool(start.fuel_periods)}, (begin, end)
                    assert left.verdict != "within" or not start.fuel_periods, (begin, end)


@pytest.mark.parametrize("name", STARTS)
def test_what_is_measured_in_a_part_that_holds_the_start_is_what_is_measured_in_the_whole(name):
    (start,) = part(name, 0.0, END_S).starts
    (same,) = part(name, 4.0, END_S).starts
    for measure, value in start.measures.items():
        moved = 4.0 if measure in ("fuel_on", "first_cue") else 0.0
        if value.value is None:
            assert same.measures[measure].value is None, measure
        else:
            assert same.measures[measure].value == pytest.approx(value.value - moved, abs=1e-6), measure
