"""What a channel shows at an instant, and how far a speed may have gone on between its samples: by hand."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.sampling_bounds import coasted, driven
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE


@pytest.mark.parametrize(
    ("time_s", "value"),
    [
        (8.0, 100.0),  # 2 s before the first sample
        (7.9, None),
        (10.25, 102.5),
        (12.0, 120.0),  # inside the gap from 11 to 30 s: the nearer end, within 2 s
        (29.0, 300.0),
        (20.0, None),
        (33.0, 310.0),
        (33.1, None),
    ],
)
def test_where_nothing_was_sampled_a_value_is_that_of_the_nearest_sample_within_two_seconds(time_s, value):
    t = np.concatenate((np.arange(10.0, 11.01, 0.25), np.arange(30.0, 31.01, 0.25)))
    values = 10.0 * t
    values[t == 11.0] = 120.0
    view = EngineView(Recording({"itt": Channel("itt", "degC", t, values)}, 31.0), PROFILE, 1)
    found = view.value("itt", time_s)
    assert found == (None if value is None else pytest.approx(value))


def speed(*values: float, gap: bool = False) -> Trace:
    """Return Ng sampled each second from 0 s on; `gap`: nothing is known of its last interval."""
    gaps = np.zeros(len(values) - 1, dtype=np.bool_)
    gaps[-1] = gap
    return Trace(np.arange(float(len(values))), np.array(values), gaps)


def test_a_speed_may_have_gone_on_as_it_last_went():
    # 2 % a second: 0.5 s after the last sample 33 %. A falling speed was highest on its sample, and the other way round.
    assert driven(speed(28.0, 30.0, 32.0), 2.0, 2.5) == pytest.approx(33.0)
    assert driven(speed(36.0, 34.0, 32.0), 2.0, 2.5) == 32.0
    assert coasted(speed(14.0, 10.0, 6.0), 2.0, 2.5) == pytest.approx(4.0)
    assert coasted(speed(2.0, 4.0, 6.0), 2.0, 2.5) == 6.0
    assert coasted(speed(9.0, 6.0, 3.0), 2.0, 4.0) == 0.0  # no engine turns backwards


def test_a_speed_without_two_neighbouring_samples_tells_no_slope():
    assert driven(speed(30.0, 32.0, gap=True), 1.0, 1.5) is None
    assert coasted(speed(30.0, 32.0), 0.0, 0.5) is None


def test_of_equal_highest_samples_the_first_is_told():
    trace = speed(1.0, 9.0, 3.0, 9.0, 2.0)
    windows = np.array([[0.0, 2.0], [2.5, 4.0]])
    assert trace.highest(windows) == (1.0, 9.0)
    assert trace.highest(windows[1:]) == (3.0, 9.0)
    assert trace.highest(np.array([[1.25, 1.75]])) is None
