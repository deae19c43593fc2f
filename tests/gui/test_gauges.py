"""Digits and words of a gauge agree with the limit beside them."""

from dataclasses import replace

import assessment_maker as made
import numpy as np


def test_a_gauge_that_is_just_beyond_a_level_reads_beyond_it(desk):
    """830.3 degC rounds to 830: the digits would deny what the words below them say."""
    assessment = made.hot_start()
    itt = assessment.recording.channels["itt"]
    values = np.full_like(itt.values, 830.3)
    channels = {**assessment.recording.channels, "itt": replace(itt, values=values)}
    desk.show(replace(assessment, recording=replace(assessment.recording, channels=channels)))
    desk.window.replay.seek(20.0)
    gauge = desk.window.gauges.gauge("itt")
    assert "above 830" in gauge.used_words
    assert gauge.words == "830.3"
