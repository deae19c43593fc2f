"""Where nothing happened an axis does not make noise look as if something had."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.charts.start_charts import plane_chart
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.lanes.lane_plan import plan_lane
from debrief.words.display_units import CHOICES
from debrief.words.units import BY_NAME, scale
from tests.session import assessment_maker as made

NUMBER = st.floats(-1e4, 1e4)


def cold():
    """A start in which the temperature crept from 6 to 16 degC."""
    assessment = made.hot_start()
    itt = assessment.recording.channels["itt"]
    values = np.linspace(6.0, 16.0, itt.values.size)
    channels = {**assessment.recording.channels, "itt": replace(itt, values=values)}
    return replace(assessment, recording=replace(assessment.recording, channels=channels), events=())


def test_a_temperature_that_did_not_rise_is_flat_in_the_lane_and_against_speed():
    assessment = cold()
    for profile in (assessment.profile, None):
        plan = plan_lane(replace(assessment, profile=profile), "itt")
        assert plan.low <= 6.0
        assert plan.high - plan.low >= 200.0
    chart = plane_chart(assessment, assessment.starts[0])
    assert chart.panes[0].y.range[1] >= 200.0


@given(NUMBER, st.floats(0, 1e4), st.floats(0, 1e3))
def test_a_widened_range_holds_both_values_and_spans_enough(low, span, least):
    high = low + span
    bottom, top = widened(low, high, least)
    assert bottom <= low
    assert top >= high - 1e-9
    assert top - bottom >= least - 1e-6
    if low >= 0:
        assert bottom >= 0


def test_an_unknown_unit_is_left_alone_and_oil_is_looked_at_closer_than_gas():
    assert least_span("x", "furlong") == 0.0
    assert least_span("oil_temp", "degC") < least_span("itt", "degC")


def test_one_table_serves_every_unit_that_a_person_can_choose():
    for kind in CHOICES.values():
        for unit in kind:
            for beside in (False, True):
                canonical = least_span("x", kind[0], beside_limit=beside)
                ratio = scale(1.0, BY_NAME[kind[0]], BY_NAME[unit]) - scale(
                    0.0, BY_NAME[kind[0]], BY_NAME[unit]
                )
                assert least_span("x", unit, beside_limit=beside) == pytest.approx(canonical * ratio)
    assert least_span("itt", "degF") == pytest.approx(360.0)
    assert least_span("ng", "%", beside_limit=True) < least_span("torque", "%", beside_limit=True)
    assert least_span("vs", "ft/min") == 0.0  # no speed of the aircraft: its span is not theirs
