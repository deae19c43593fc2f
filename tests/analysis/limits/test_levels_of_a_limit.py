"""A limit keeps the worst run of each of its levels: the worst of them is the limit's own result."""

from __future__ import annotations

import pytest

from tests.demo_assessing import DEMOS, assessed

ORDER = ("within", "not_judged", "caution", "possible", "exceeded")


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_worst_level_is_the_result(path):
    """Also where it rests on a spike (18) and is only possible."""
    assessment = assessed(path)
    for result in assessment.limits:
        if not result.levels:
            assert result.result == "not_judged" or not result.windows, "judged, but its levels are not told"
            continue
        worst = max((one.result for one in result.levels), key=ORDER.index)
        assert worst == result.result
        limit = next(one for one in assessment.profile.limits if one.id == result.id)
        assert [(x.level, x.allowed_s) for x in result.levels] == [
            (r.level, r.seconds) for r in limit.allowed
        ]


def test_no_level_of_a_finding_is_firmer_than_the_finding():
    found = [event for path in DEMOS for event in assessed(path).events if event.severity == "possible"]
    assert any(event.sensor_suspect and event.levels for event in found)
    assert all(level.result != "exceeded" for event in found for level in event.levels)
