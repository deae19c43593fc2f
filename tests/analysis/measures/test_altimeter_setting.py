"""Pressure and density altitude at a start from a recorded altitude and a stated altimeter setting."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Start
from debrief.errors import UserError
from debrief.recording.identity import altimeter_setting, with_entered
from tests.analysis.recording_making import PROFILE, normal_start, recording

ALTITUDE = normal_start() | {"altitude": [(0, 5883.0)], "oat": [(0, 30.0)]}


def start_of(altimeter: str | None, **more: list[tuple[float, float]]) -> Start:
    made = with_entered(recording(ALTITUDE | more, 80), altimeter=altimeter)
    return assess(made, PROFILE).starts[0]


def test_the_pressure_altitude_of_a_stated_setting_is_that_of_the_published_example():
    # The published example that the function is checked by: 5883 ft at 30.10 inHg is 5718 ft.
    height = start_of("30.10 inHg").measures["pressure_altitude"]
    assert height.value == pytest.approx(5718.0, abs=1.0)
    assert height.inferred
    # Half of 0.01 inHg on each side is some 4.6 ft; a higher setting gives a lower height.
    assert height.low == pytest.approx(height.value - 4.6, abs=0.2)
    assert height.high == pytest.approx(height.value + 4.6, abs=0.2)


def test_the_standard_setting_leaves_the_altitude_as_it_is():
    height = start_of("1013.25").measures["pressure_altitude"]
    assert height.value == pytest.approx(5883.0, abs=1e-6)
    dense = start_of("1013.25").measures["density_altitude"]
    assert dense.low < dense.value < dense.high
    assert dense.inferred


def test_without_a_setting_no_pressure_altitude_is_claimed_and_it_says_why():
    measures = start_of(None).measures
    assert measures["pressure_altitude"].value is None
    assert "altimeter setting" in measures["pressure_altitude"].why
    assert measures["density_altitude"].value is None


def test_a_recorded_pressure_altitude_needs_no_setting():
    height = start_of("950", palt=[(0, 5000.0)]).measures["pressure_altitude"]
    assert (height.value, height.low, height.inferred) == (5000.0, None, False)


@pytest.mark.parametrize(
    ("text", "hpa", "step"),
    [
        ("1013", 1013.0, 1.0), ("1013.2 hPa", 1013.2, 0.1), ("998 mb", 998.0, 1.0), ("29.92", 1013.21, 0.338639),
        ("29,92 inHg", 1013.21, 0.338639), ("30.1in", 1019.30, 3.38639),
    ],
)  # fmt: skip
def test_a_setting_is_read_with_its_unit_or_by_its_size(text, hpa, step):
    assert altimeter_setting(text) == pytest.approx((hpa, step), abs=0.01)


@pytest.mark.parametrize("text", ["", "standard", "500", "29.92 hPa", "1013 inHg", "FL100", "1013 ft"])
def test_what_is_no_setting_is_refused(text):
    assert altimeter_setting(text) is None
    if text:
        with pytest.raises(UserError, match="write it in hPa or inHg"):
            with_entered(recording(ALTITUDE, 80), altimeter=text)


def test_the_setting_of_the_preamble_is_used_and_one_that_is_none_is_asked_about(tmp_path):
    from debrief.recording.reader import read

    rows = "\n".join(f"{t},{t % 60},15" for t in range(30))
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(f"# altimeter-setting: 1018 hPa\nTime (s),Ng (%),ITT (degC)\n{rows}\n", encoding="utf-8")
    bad.write_text(f"# altimeter-setting: high\nTime (s),Ng (%),ITT (degC)\n{rows}\n", encoding="utf-8")
    told = read(good).identity
    assert (told.altimeter_setting_hpa, told.altimeter_setting_source) == (1018.0, "preamble")
    unread = read(bad)
    assert unread.identity.altimeter_setting_hpa is None
    assert any("altimeter setting" in q for q in unread.provenance.questions)


def test_the_setting_is_part_of_what_the_recording_says_of_itself():
    made = recording(ALTITUDE, 80)
    entered = with_entered(made, altimeter="1000")
    assert entered.identity == replace(
        made.identity,
        altimeter_setting_hpa=1000.0,
        altimeter_setting_step_hpa=1.0,
        altimeter_setting_source="option",
    )


def test_the_samples_shown_are_those_of_the_channel_that_told_the_altitude():
    def read(name: str, start: Start) -> list[str]:
        return [reading.channel for reading in start.evidence[name].readings]

    told = start_of("950", palt=[(0, 5000.0)])
    assert (read("pressure_altitude", told), read("density_altitude", told)) == (["palt"], ["palt", "oat"])
    # Pressure altitude from 60 s on only: at the opening, at 10 s, the altitude and the setting tell it.
    made = with_entered(recording(ALTITUDE | {"palt": [(0, 5000.0)]}, 80), altimeter="950")
    palt = made.channels["palt"]
    late = replace(palt, time_s=palt.time_s[palt.time_s >= 60], values=palt.values[palt.time_s >= 60])
    start = assess(made.with_channels({**made.channels, "palt": late}), PROFILE).starts[0]
    assert start.measures["pressure_altitude"].inferred
    assert (read("pressure_altitude", start), read("density_altitude", start)) == (
        ["altitude"],
        ["altitude", "oat"],
    )
