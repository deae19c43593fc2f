"""Digits and words of a gauge agree with the limit beside them."""

from dataclasses import replace

import numpy as np

from debrief.profile.model import Gauge
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import colours, has_room_for_its_text, painted, shown_text
from tests.session import assessment_maker as made


def test_a_gauge_that_is_just_beyond_a_level_reads_beyond_it(desk):
    """830.3 degC rounds to 830: the digits would deny what the words below them say."""
    assessment = made.hot_start()
    itt = assessment.recording.channels["itt"]
    values = np.full_like(itt.values, 830.3)
    channels = {**assessment.recording.channels, "itt": replace(itt, values=values)}
    recording = replace(assessment.recording, channels=channels)
    desk.show(made.counted(replace(assessment, recording=recording)))
    desk.window.replay.seek(20.0)
    gauge = desk.window.gauges.gauge("itt")
    assert "above 830" in gauge.used_words
    assert gauge.words == "830.3"


def test_where_a_finding_begins_and_ends_the_digits_are_those_of_its_level(desk):
    """There the line between samples crosses the level, but for the rounding of floats: 830.000000."""
    assessment = assessed(next(path for path in DEMOS if path.name.startswith("12_")))
    (event,) = [e for e in assessment.events if e.limit_id is not None]
    desk.show(assessment)
    gauge = desk.window.gauges.gauge("itt")
    for time_s, used in ((event.start_s, 0.0), (event.end_s, event.duration_s)):
        desk.window.replay.seek(time_s)
        assert gauge.words == "830"
        assert gauge.used_words == f"above 830: {used:.1f} s, 5 s allowed"


def test_tapes_say_the_seconds_in_use_as_loudly_as_dials_and_of_which_channel(desk):
    desk.show(made.hot_start())
    panel = desk.window.gauges
    panel.show_tapes(True)
    levels = made.hot_start().events[1].levels
    red, ink = (desk.theme.color(role).name() for role in ("limit", "ink"))
    desk.window.replay.seek(levels[0].start_s + 0.3)
    used = desk.user.find("Seconds used of the seconds allowed")
    assert shown_text(used) == "ITT above 830: 0.3 s, 20 s allowed"
    assert ink in colours(used)
    assert red not in colours(used)
    desk.window.replay.seek(levels[-1].start_s + 0.3)
    assert shown_text(used).startswith("ITT above 1030: 0.3 s, none allowed")
    assert red in colours(used)
    assert ink not in colours(used)
    # Beside the tape that it is of, which is the first, and whole.
    assert used.geometry().bottom() <= panel.gauge("itt").geometry().top()
    assert has_room_for_its_text(used)
    desk.window.replay.seek(levels[0].end_s + 1.0)
    assert shown_text(used) == ""


def test_the_words_below_a_small_dial_fit_and_say_that_they_are_of_the_time_until_now(desk):
    whole = made.hot_start()
    ng = whole.recording.channels["ng"]
    more = {
        "np": replace(ng, name="np", unit="rpm", values=20 * ng.values),
        "fuel_flow": replace(ng, name="fuel_flow", unit="kg/h", values=7 * ng.values),
    }
    gauges = {**whole.profile.gauges, "fuel_flow": Gauge("fuel_flow", "kg/h", (0, 200), (), (), (), ())}
    recording = replace(whole.recording, channels={**whole.recording.channels, **more})
    desk.show(replace(whole, recording=recording, profile=replace(whole.profile, gauges=gauges)))
    desk.window.resize(1280, 900)
    desk.window.replay.seek(30.0)
    user = desk.user.part("Gauges")
    for name, word in (
        ("Gas generator speed", "%"), ("Bus voltage", "V"), ("Power turbine or propeller speed", "rpm"), ("Fuel flow", "kg/h")
    ):  # fmt: skip
        gauge = user.find(name)
        (below,) = (one for one in painted(gauge) if "so far" in one.text)
        assert f"{word}, {'min' if word == 'V' else 'max'} so far " in below.text.replace(" ·", ",")
        assert 0 <= below.rect.left() < below.rect.right() <= gauge.width()
