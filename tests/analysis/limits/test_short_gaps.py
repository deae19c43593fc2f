"""What a gap may hide: nothing that the limit's time would not allow all the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Recording
from tests.analysis.recording_making import PROFILE, recording

ROWS = (AllowedRow(780, 20, "limit"), AllowedRow(830, 5, "limit"))


def flown(
    gap_s: float, count: str = "longest", gaps: int = 1, rows: tuple[AllowedRow, ...] = ROWS
) -> Assessment:
    """Return a running engine at 700 degC that is recorded four times a second, with gaps in ITT a minute apart."""
    made = recording({"ng": [(0, 90)], "itt": [(0, 700)], "fuel_on": [(0, 1)], "starter": [(0, 0)]}, 600, 4.0)
    itt = made.channels["itt"]
    since = (itt.time_s - 100.0) % 60.0
    lost = (since > 1e-6) & (since < gap_s - 1e-6) & (itt.time_s > 100.0) & (itt.time_s < 100.0 + 60.0 * gaps)
    cut = replace(itt, time_s=itt.time_s[~lost], values=itt.values[~lost])
    limit = Limit("itt-running", "overtemp", "itt", "running", "degC", count, rows)
    profile = replace(PROFILE, limits=(limit,))
    return assess(Recording({**made.channels, "itt": cut}, made.duration_s), profile)


@pytest.mark.parametrize(("gap_s", "hides"), [(3.0, False), (5.0, False), (6.0, True), (19.0, True)])
def test_one_no_longer_than_the_time_allowed_hides_nothing(gap_s: float, hides: bool) -> None:
    found = flown(gap_s)
    assert bool([p for p in found.not_judged if p.limit_id]) is hides
    assert found.limits[0].result == ("not_judged" if hides else "within")
    assert found.verdict == ("undetermined" if hides else "within")


def test_where_no_time_is_allowed_any_gap_may_hide_it() -> None:
    assert flown(3.0, rows=(*ROWS, AllowedRow(900, 0, "limit"))).verdict == "undetermined"


@pytest.mark.parametrize(("gaps", "hides"), [(1, False), (2, True)])
def test_of_a_total_all_gaps_count_together(gaps: int, hides: bool) -> None:
    found = flown(4.0, count="total", gaps=gaps, rows=(AllowedRow(830, 5, "limit"),))
    assert bool([p for p in found.not_judged if p.limit_id]) is hides


def test_a_short_gap_between_runs_just_below_the_time_joins_them() -> None:
    # 831 degC for 4 s, then a gap of 4 s: nobody knows that it was not 831 degC all the time.
    made = recording({"ng": [(0, 90)], "itt": [(0, 700)], "fuel_on": [(0, 1)], "starter": [(0, 0)]}, 300, 4.0)
    itt = made.channels["itt"]
    values = np.where((itt.time_s >= 100) & (itt.time_s < 104), 831.0, itt.values)
    lost = (itt.time_s > 105.0) & (itt.time_s < 109.0)
    cut = replace(itt, time_s=itt.time_s[~lost], values=values[~lost])
    limit = Limit("itt-running", "overtemp", "itt", "running", "degC", "longest", ROWS)
    found = assess(
        Recording({**made.channels, "itt": cut}, made.duration_s), replace(PROFILE, limits=(limit,))
    )
    assert [p for p in found.not_judged if p.limit_id]
