"""The demo flights, each read and assessed once for all tests of a process. No test module.

What comes out is frozen and its arrays are read-only, so no test can spoil it for another. A test that is about
reading or assessing itself, or whose home folder holds a history, calls `assess_file`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from debrief.analysis.model import Assessment
from debrief.session.assessing.file_assessment import assess_file

DEMOS = sorted((Path(__file__).parents[1] / "demo_flights").glob("*.csv"))
OFTEN = ("01", "02", "06", "11", "12", "17", "19", "20", "21")
"""Flights that show all there is to show: with these alone a costly test runs every time, with the others when slow ones do."""


def often(path: Path) -> tuple[pytest.MarkDecorator, ...]:
    """Return the marks of a costly test with one demo flight."""
    return () if path.stem.startswith(OFTEN) else (pytest.mark.slow,)


@cache
def assessed(path: Path) -> Assessment:
    """Return the assessment of a demo flight, as `assess_file` gives it in an empty home."""
    assessment = assess_file(path)
    assert assessment.recording.profile_name is not None
    assert not any(channel.values.flags.writeable for channel in assessment.recording.channels.values())
    return assessment
