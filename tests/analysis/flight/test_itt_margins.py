"""The smallest ITT margin with its circumstances, and the curve by density altitude."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.measures import atmosphere
from debrief.profile.model import AllowedRow, Limit
from debrief.session.texts.in_units import in_units
from debrief.words.display_units import shown_units
from tests.analysis.flight.made_flights import FLYING, Course, recorded
from tests.analysis.recording_making import RUNNING_LIMIT

PROFILE = replace(FLYING, limits=(RUNNING_LIMIT,), flight=replace(FLYING.flight, oat_is="static_air"))


def climb():
    """To 12 500 ft in 1000 s; ITT rises by 10 degC in 1000 ft from 650 degC at the field, and OAT is 10 above standard."""
    c = Course().take_off().to(1000, 12500, 120).to(600).to(600, 1500, 120).land()
    height = np.array(c.palt)
    itt = [(t, 650.0 + 0.01 * (h - 500.0) if h >= 600 and t < c.time_s - 700 else 600.0) for t, h in height]
    isa = [(t, float(atmosphere.isa_temperature_k(h)) - 273.15 + 10.0) for t, h in height]
    return c, c.corners() | {"itt": itt, "oat": isa, "bleed": [(0, 1)], "separator": [(0, 0)]}


def assessed(profile=PROFILE, rate_hz=2.0, noise=0.0, **more):
    c, corners = climb()
    return assess(recorded(corners | more, c.time_s, rate_hz, noise), profile), c


def test_the_smallest_margin_and_the_air_that_it_was_in():
    a, c = assessed()
    of = a.flight_measures
    assert of["itt_margin_smallest"].value == pytest.approx(830 - 650 - 120, abs=0.1)
    top = of["itt_margin_smallest_at"].value
    assert c.palt[4][0] <= top <= c.palt[5][0]
    assert of["itt_margin_smallest_isa_deviation"].value == pytest.approx(10.0, abs=0.05)
    truth = atmosphere.density_altitude_ft(
        12500.0, float(atmosphere.isa_temperature_k(12500.0)) - 273.15 + 10.0
    )
    assert of["itt_margin_smallest_density_altitude"].value == pytest.approx(truth, abs=5.0)
    proof = a.flight_evidence["itt_margin_smallest"]
    told = {r.channel: r for r in proof.readings}
    assert told["itt"].what.endswith(("phase climb", "phase cruise"))
    assert (told["bleed"].values, told["separator"].values) == ((1.0,), (0.0,))


def test_the_margin_is_a_difference_in_other_units_too():
    a, _ = assessed()
    shown = in_units(a, shown_units({"temperature": "degF"}))
    for name in ("itt_margin_smallest", "itt_margin_smallest_isa_deviation"):
        assert shown.flight_measures[name].value == pytest.approx(1.8 * a.flight_measures[name].value)
    window, same = shown.flight.steady[0], a.flight.steady[0]
    assert window.itt_margin_c == pytest.approx(1.8 * same.itt_margin_c)
    assert window.itt == pytest.approx(1.8 * same.itt + 32.0)
    assert shown.flight.margin_curve[0].itt_margin_c == pytest.approx(
        1.8 * a.flight.margin_curve[0].itt_margin_c
    )


@pytest.mark.parametrize(("rate_hz", "noise"), [(0.5, 1.0), (4.0, 0.0), (16.0, 1.0)])
def test_the_curve_falls_as_itt_rises_with_height(rate_hz, noise):
    a, _ = assessed(rate_hz=rate_hz, noise=noise)
    curve = a.flight.margin_curve
    classes = [p.density_altitude_ft for p in curve]
    assert classes == sorted(set(classes))
    assert {d % 500 for d in classes} == {0.0}
    assert len(curve) > 18
    for point in curve[1:-1]:
        # At the upper edge of the class, where ITT is highest.
        palt = np.linspace(0, 13000, 2601)
        density = atmosphere.density_altitude_ft(palt, atmosphere.isa_temperature_k(palt) - 273.15 + 10.0)
        top = float(np.interp(point.density_altitude_ft + 500.0, density, palt))
        assert point.itt_margin_c == pytest.approx(180.0 - 0.01 * (top - 500.0), abs=4.0)
    assert min(p.itt_margin_c for p in curve) >= a.flight_measures["itt_margin_smallest"].value


def test_what_is_missing_is_said():
    of = assessed(replace(PROFILE, limits=()))[0].flight_measures
    assert of["itt_margin_smallest"].value is None
    assert "no limit" in of["itt_margin_smallest"].why
    of = assessed(replace(PROFILE, flight=FLYING.flight))[0].flight_measures
    assert of["itt_margin_smallest_density_altitude"].inferred
    c, corners = climb()
    del corners["oat"]
    a = assess(recorded(corners, c.time_s, 2.0), PROFILE)
    assert a.flight_measures["itt_margin_smallest"].value is not None
    assert a.flight_measures["itt_margin_smallest_density_altitude"].value is None
    assert a.flight.margin_curve == ()


def test_cautions_and_start_limits_give_no_margin_and_each_phase_its_own():
    start = Limit("s", "hot_start", "itt", "start", "degC", "total", (AllowedRow(700, 5),))
    caution = Limit("c", "overtemp", "itt", "running", "degC", "longest", (AllowedRow(690, 5, "caution"),))
    in_climb = Limit(
        "k", "overtemp", "itt", "running", "degC", "longest", (AllowedRow(780, 5),), phases=("takeoff",)
    )

    def value(*limits):
        return assessed(replace(PROFILE, limits=limits))[0].flight_measures["itt_margin_smallest"].value

    assert value(start, caution) is None
    assert value(start, caution, RUNNING_LIMIT) == pytest.approx(60.0, abs=0.1)
    # At take-off ITT is 650 to 654 degC: 126 below; the other limit stays the nearer one.
    assert value(in_climb) == pytest.approx(780 - 654, abs=3.0)
    assert value(in_climb, RUNNING_LIMIT) == pytest.approx(60.0, abs=0.1)
