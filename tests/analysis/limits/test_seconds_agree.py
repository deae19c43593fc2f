"""The seconds above a level are the same number in the measure, the limit's count, the curve and the band."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.analysis import assess
from debrief.analysis.limits.chart_bands import edge_seconds
from debrief.analysis.model import Assessment, CountedRuns
from debrief.profile.model import AllowedRow, Band
from tests.analysis.recording_making import (
    PROFILE,
    RULES,
    RUNNING_LIMIT,
    START_LIMIT,
    normal_start,
    recording,
)

ONE = Band("I", ((600.0, 60.0), (650.0, 0.0), (1200.0, 0.0)), "")
TEMPERATURES = st.lists(
    st.sampled_from([560.0, 760.0, 840.0, 900.0, 940.0, 1040.0, 1095.0]), min_size=6, max_size=14
)
MADE = st.builds(
    replace,
    st.just(START_LIMIT),
    count=st.sampled_from(["total", "longest"]),
    rejoin_s=st.sampled_from([0.5, 3.0]),
    band_method=st.sampled_from(["peak_vs_time_above", "curve"]),
    band_base=st.sampled_from([None, 750.0, 830.0, 870.0, 920.0]),
    bands=st.just((ONE,)),
    when=st.sampled_from(["start", "start", "start", "running"]),
)


def flown(temperatures: list[float], idle_s: float) -> dict[str, list[tuple[float, float]]]:
    """Return a start that lights at 23 s and reaches idle, with a corner of ITT every 3 s from 26 s on; cut at the end."""
    end = 26.0 + 3.0 * len(temperatures)
    itt = [(0, 15), (23, 15), *((26.0 + 3.0 * k, v) for k, v in enumerate(temperatures)), (end + 10, 200)]
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (idle_s, 58.5), (end, 60), (end + 10, 3)]
    return normal_start() | {"itt": itt, "ng": ng, "fuel_on": [(0, 0), (22, 1), (end, 0)]}


def judged(limit, temperatures, rate_hz=4.0, idle_s=40.0, window_s=120.0) -> Assessment:
    profile = replace(
        PROFILE, start=replace(RULES, start_window_max_s=window_s), limits=(limit, RUNNING_LIMIT)
    )
    end = 26.0 + 3.0 * len(temperatures) + 12.0
    return assess(recording(flown(temperatures, idle_s), end, rate_hz), profile)


def by_run(counted: CountedRuns, begin_s: float, end_s: float) -> float:
    """Return the longest of the runs that meet a stretch, each summed by itself."""
    lengths: dict[int, float] = {}
    met = set()
    for (a, b), run in zip(counted.pieces.tolist(), counted.run.tolist(), strict=True):
        lengths[run] = lengths.get(run, 0.0) + b - a
        if a <= end_s and b >= begin_s:
            met.add(run)
    return max((lengths[run] for run in met), default=0.0)


@settings(max_examples=100)
@given(
    MADE,
    TEMPERATURES,
    st.sampled_from([1.0, 4.0, 7.0]),
    st.sampled_from([28.0, 33.0, 40.0]),
    st.sampled_from([4.0, 9.0, 120.0]),
)
def test_measure_limit_and_curve_have_the_same_seconds_above_each_level(
    limit, temperatures, rate_hz, idle_s, window_s
):
    limit = replace(limit, when="start")
    around = temperatures, rate_hz, idle_s, window_s
    # The curve's own levels, from the lowest of the limit up, each made a level of the limit.
    own = [x for s in judged(limit, *around).starts if s.time_above for x in s.time_above.levels if x > 830.0]
    levels = [830.0, *sorted({*own[:: max(len(own) // 6, 1)]})]
    assessment = judged(replace(limit, allowed=tuple(AllowedRow(x, 20.0) for x in levels)), *around)
    result = next(one for one in assessment.limits if one.id == limit.id)
    for start in assessment.starts:
        curve = (
            dict(zip(start.time_above.levels, start.time_above.total_s, strict=True))
            if start.time_above
            else {}
        )
        for level, counted in zip(levels, result.counted, strict=True):
            pieces = counted.pieces[counted.start_number == start.number]
            seconds = float((pieces[:, 1] - pieces[:, 0]).sum())
            assert curve.get(level, seconds) == pytest.approx(seconds, abs=1e-6), level
            if f"{level:g}" == str(level).removesuffix(".0"):
                assert start.measures[f"time_above_{level:g}"].value == pytest.approx(seconds, abs=1e-9)


@settings(max_examples=100)
@given(
    MADE,
    TEMPERATURES,
    st.sampled_from([1.0, 4.0, 7.0]),
    st.sampled_from([28.0, 33.0, 40.0]),
    st.sampled_from([4.0, 9.0, 120.0]),
)
def test_the_band_is_told_from_the_seconds_that_a_level_at_the_base_has(
    limit, temperatures, rate_hz, idle_s, window_s
):
    """With the base as one more level of the limit, allowed for so long that nothing passes it, nothing changes."""
    base = 830.0 if limit.band_base is None else limit.band_base
    rows = {row.level: row for row in (*limit.allowed, AllowedRow(base, 1e6, "caution"))} | {
        row.level: row for row in limit.allowed
    }
    fuller = replace(limit, allowed=tuple(rows[level] for level in sorted(rows)), band_base=base)
    plain, full = (judged(one, temperatures, rate_hz, idle_s, window_s) for one in (limit, fuller))
    counted = next(r for r in full.limits if r.id == limit.id).counted[sorted(rows).index(base)]
    events, others = ([e for e in a.events if e.limit_id == limit.id] for a in (plain, full))
    assert [(e.band, e.band_past_edge_s, e.band_past_edge_value) for e in events] == [
        (e.band, e.band_past_edge_s, e.band_past_edge_value) for e in others
    ]
    for event in events:
        if event.band is None or event.band_past_edge_s is None:
            continue
        seconds = event.band_past_edge_s + edge_seconds(ONE, event.peak)
        own = counted.start_number == (event.start_number or 0)
        if event.start_number is None:
            told = by_run(counted, min(x.start_s for x in event.levels), max(x.end_s for x in event.levels))
        else:
            told = max(
                np.bincount(counted.run[own], (counted.pieces[:, 1] - counted.pieces[:, 0])[own]), default=0.0
            )
        assert told == pytest.approx(seconds, abs=1e-9)
