"""Steady windows against the power check charts of a profile: read between the points, never outside of them."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis import assess
from debrief.analysis.flight.power_checks import power_check, read_chart
from debrief.analysis.flight_model import SteadyWindow
from debrief.profile.model import FlightRules, PowerChart, PowerPoint
from debrief.session.document import assessment_document
from tests.analysis.recording_making import PROFILE, recording

TORQUES, ALTITUDES, AIRS = (40.0, 60.0, 80.0), (0.0, 5000.0, 10000.0), (-10.0, 10.0, 30.0)


def plane(torque: float, altitude: float, air: float) -> float:
    """A chart that is straight in each direction: between its points nothing is lost."""
    return 300.0 + 4.0 * torque + 0.006 * altitude + 2.0 * air + 0.00005 * torque * altitude


def chart(*without: tuple[float, float, float], channel: str = "itt") -> PowerChart:
    points = tuple(
        PowerPoint(*at, plane(*at)) for at in itertools.product(TORQUES, ALTITUDES, AIRS) if at not in without
    )
    return PowerChart("Cruise", channel, "degC", points)  # type: ignore[arg-type]


@given(st.floats(40, 80), st.floats(0, 10000), st.floats(-10, 30))
def test_between_the_points_it_is_read_along_straight_lines(
    torque: float, altitude: float, air: float
) -> None:
    value, why = read_chart(chart(), (torque, altitude, air))
    assert why is None
    assert value == pytest.approx(plane(torque, altitude, air), abs=1e-6)


@given(st.sampled_from(list(itertools.product(TORQUES, ALTITUDES, AIRS))))
def test_on_a_point_it_is_the_points_own_number_whatever_is_missing_around(
    at: tuple[float, float, float],
) -> None:
    others = [
        one
        for one in itertools.product(TORQUES, ALTITUDES, AIRS)
        if one != at and sum(map(abs, one)) % 3 == 0
    ]
    value, why = read_chart(chart(*others), at)
    # Axes may have shrunk: then it is at the edge, and still its own point.
    assert (value, why) == (pytest.approx(plane(*at)), None)


@pytest.mark.parametrize(
    ("at", "why"),
    [
        ((39.9, 5000, 10), "outside the chart: torque"),
        ((80.1, 5000, 10), "outside the chart: torque"),
        ((60, -1, 10), "outside the chart: pressure altitude"),
        ((60, 10001, 10), "outside the chart: pressure altitude"),
        ((60, 5000, 30.5), "outside the chart: outside air temperature"),
        ((90, 5000, 40), "outside the chart: torque and outside air temperature"),
    ],
)  # fmt: skip
def test_outside_the_chart_nothing_is_read(at: tuple[float, float, float], why: str) -> None:
    assert read_chart(chart(), at) == (None, why)


def test_beside_a_point_that_is_not_in_the_chart_nothing_is_read() -> None:
    holed = chart((80.0, 10000.0, 30.0))
    assert read_chart(holed, (70.0, 7500.0, 20.0)) == (None, "the chart has no points around it")
    assert read_chart(holed, (50.0, 7500.0, 20.0))[0] is not None
    # On the plane of the points that are there the missing one has no weight.
    assert read_chart(holed, (60.0, 7500.0, 20.0))[0] == pytest.approx(plane(60.0, 7500.0, 20.0))


WINDOW = SteadyWindow(1, 100.0, 400.0, "cruise", 5000.0, 10.0, torque=60.0, ng=92.0, itt=620.0)


def test_the_margin_is_what_the_chart_allows_less_what_was_measured() -> None:
    found = power_check(WINDOW, chart())
    assert (found.measured, found.allowed) == (620.0, plane(60.0, 5000.0, 10.0))
    assert found.margin == pytest.approx(plane(60.0, 5000.0, 10.0) - 620.0)
    assert (found.start_s, found.end_s, found.name, found.why) == (100.0, 400.0, "Cruise", None)
    assert power_check(WINDOW, chart(channel="ng")).measured == 92.0


def test_what_the_window_does_not_know_is_said() -> None:
    lacking = replace(WINDOW, torque=None, why={"torque": "not recorded"})
    assert power_check(lacking, chart()).why == "torque: not recorded"
    lacking = replace(WINDOW, oat_c=None, why={"oat_c": "the air is not known"})
    assert power_check(lacking, chart()).why == "outside air temperature: the air is not known"
    lacking = replace(WINDOW, itt=None, why={"itt": "ITT was not recorded"})
    found = power_check(lacking, chart())
    assert (found.why, found.measured, found.allowed, found.margin) == (
        "ITT was not recorded",
        None,
        None,
        None,
    )


@pytest.mark.parametrize("name", ["bleed", "separator"])
def test_a_chart_for_bleed_or_separator_off_says_nothing_of_a_window_with_it_on(name: str) -> None:
    only = replace(chart(), **{name: "off"})  # type: ignore[arg-type]
    assert power_check(replace(WINDOW, **{name: False}), only).why is None  # type: ignore[arg-type]
    on = power_check(replace(WINDOW, **{name: True}), only)  # type: ignore[arg-type]
    assert (on.why, on.measured, on.allowed, on.margin) == (f"the chart is for {name} off", 620.0, None, None)
    unknown = power_check(WINDOW, only)
    assert (unknown.why, unknown.margin) == (
        f"{name} was not recorded, and the chart is for {name} off",
        None,
    )
    assert power_check(replace(WINDOW, **{name: True}), replace(only, **{name: "on"})).why is None  # type: ignore[arg-type]


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_a_steady_flight_is_held_against_the_chart_of_the_profile(rate_hz: float) -> None:
    t_end = 900.0
    made = recording(
        {
            "ng": [(0, 92)], "itt": [(0, 620)], "torque": [(0, 60)], "np": [(0, 1800)], "palt": [(0, 5000)], "oat": [(0, 10)],
            "ias": [(0, 140)], "power_lever": [(0, 70)], "fuel_on": [(0, 1)], "starter": [(0, 0)],
        },
        t_end,
        rate_hz,
    )  # fmt: skip
    rng = np.random.default_rng(1)
    noisy = {
        n: replace(c, values=c.values + size * rng.normal(size=c.values.size))
        for n, size in (("itt", 1.0), ("torque", 0.2), ("ng", 0.05))
        for c in (made.channels[n],)
    }
    profile = replace(
        PROFILE, flight=FlightRules(airborne_ias_kt=68.0, oat_is="static"), power_checks=(chart(),)
    )
    a = assess(made.with_channels({**made.channels, **noisy}), profile)
    (found,) = a.flight.power_checks
    assert (found.engine, found.name, found.channel) == (1, "Cruise", "itt")
    assert found.torque == pytest.approx(60.0, abs=0.1)
    assert found.margin == pytest.approx(plane(60.0, 5000.0, 10.0) - 620.0, abs=1.0)
    (told,) = assessment_document(a)["flight"]["power_checks"]
    assert told["margin"] == found.margin
    assert assess(made, replace(profile, power_checks=())).flight.power_checks == ()
