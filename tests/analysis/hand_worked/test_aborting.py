"""Checks of how long an engine was motored after an abort."""

from __future__ import annotations

from dataclasses import replace

from debrief.profile.model import AbortRules
from tests.analysis.fault_making import Analysis, kinds
from tests.analysis.recording_making import PROFILE, Corners, normal_start


def test_an_abort_is_motored_for_twenty_seconds(lab: Analysis) -> None:
    asks = replace(PROFILE, abort=AbortRules(20.0))
    abort = {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 20), (75, 2)],
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (50, 250), (75, 120)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "bus_volts": [(0, 24)],
    }

    def short(off_s: float, end_s: float = 80, **more: Corners) -> list[tuple[str, str | None]]:
        traces = normal_start() | abort | {"starter": [(0, 0), (10, 1), (off_s, 0)]} | more
        return kinds(lab.judge(traces, end_s, profile=asks), "motoring_short")

    limit, possible = [("limit", None)], [("possible", None)]
    # Cut at 33 s, the last sample with fuel and with the starter 0.125 s before each edge.
    assert [short(at) for at in (52.75, 52.875, 53.0, 53.125)] == [limit, possible, possible, []]
    # Off long before the cut: nothing was motored, not even between two samples.
    traces = normal_start() | abort | {"starter": [(0, 0), (10, 1), (31, 0)]}
    (event,) = (e for e in lab.judge(traces, 80, profile=asks).events if e.kind == "motoring_short")
    assert event.duration_high_s == 0
    # The recording ends within 20 s of the cut, or with the starter still on.
    assert (short(42.0, 52), short(42.0, 54), short(90.0, 50)) == ([], limit, [])
    assert short(90.0, 53.0625) == []
    # Fuel that never lit, and fuel that came again, were no abort.
    assert short(42.0, itt=[(0, 15)]) == []
    assert (
        short(
            60.0,
            fuel_on=[(0, 0), (22, 1), (33, 0), (38, 1), (45, 0)],
            itt=[(0, 15), (23, 15), (27, 560), (37, 500), (80, 90)],
        )
        == []
    )
    # An engagement without fuel that follows is motoring; one with fuel is the next start.
    speed = [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (40, 2), (50, 2), (55, 18), (67, 18), (80, 0)]
    again = [(0, 0), (10, 1), (36, 0), (50, 1), (67.5, 0)]
    assert short(0, ng=speed, starter=again) == []
    assert short(0, 56, ng=speed, starter=again) == []  # still on when the recording ends
    assert short(0, ng=speed, starter=again, fuel_on=[(0, 0), (22, 1), (33, 0), (60, 1), (64, 0)]) == limit
