"""Laws, edges and refusals of the atmosphere functions; published values are in tests/published."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.measures import atmosphere as atm

altitudes = st.floats(atm.LOWEST_FT, atm.HIGHEST_FT)
low_altitudes = st.floats(-2000.0, 30_000.0)
temperatures = st.floats(-60.0, 50.0)


@given(altitudes)
def test_standard_air_has_no_deviation_and_its_own_density_altitude(palt_ft):
    oat_c = atm.isa_temperature_k(palt_ft) - 273.15
    assert atm.isa_deviation_c(palt_ft, oat_c) == pytest.approx(0.0, abs=1e-9)
    density = atm.density_altitude_ft(palt_ft, oat_c)
    if atm.LOWEST_FT + 1 < palt_ft < atm.HIGHEST_FT - 1:
        assert density == pytest.approx(palt_ft, abs=0.01)


@given(low_altitudes, temperatures)
def test_density_altitude_gives_back_the_density(palt_ft, oat_c):
    density = atm.density_altitude_ft(palt_ft, oat_c)
    if math.isfinite(density):
        assert atm.sigma(density) == pytest.approx(atm.sigma(palt_ft, oat_c), rel=1e-9)


@given(low_altitudes, temperatures, st.floats(0.1, 30.0))
def test_warmer_air_raises_the_density_altitude(palt_ft, oat_c, warmer):
    cold, warm = (atm.density_altitude_ft(palt_ft, t) for t in (oat_c, oat_c + warmer))
    if math.isfinite(cold) and math.isfinite(warm):
        assert warm > cold


@given(st.lists(altitudes, min_size=2, max_size=20, unique=True))
def test_pressure_falls_as_altitude_rises_through_the_tropopause(heights):
    h = np.sort(np.array(heights))
    assert np.all(np.diff(atm.delta(h)) <= 0)


def test_both_branches_meet_at_the_tropopause():
    edge = np.array([atm.TROPOPAUSE_FT - 1e-6, atm.TROPOPAUSE_FT, atm.TROPOPAUSE_FT + 1e-6])
    for function in (atm.theta, atm.delta, atm.sigma):
        assert np.ptp(function(edge)) < 1e-10


@given(st.floats(850.0, 1099.0), st.floats(0.1, 1.0))
def test_a_higher_setting_gives_a_lower_pressure_altitude(setting, more):
    assert atm.pressure_altitude_ft(1000.0, setting + more) < atm.pressure_altitude_ft(1000.0, setting)


def test_the_standard_setting_leaves_the_altitude_unchanged():
    assert atm.pressure_altitude_ft(4321.0, 1013.25) == pytest.approx(4321.0, abs=1e-9)


@pytest.mark.parametrize("setting", [29.92, 0.0, -5.0, 1200.0, math.nan, math.inf, 2992.0])
def test_a_setting_that_is_not_in_hpa_gives_nan(setting):
    assert math.isnan(atm.pressure_altitude_ft(1000.0, setting))


@pytest.mark.parametrize("palt_ft", [-16_500.0, 65_700.0, math.nan, math.inf, -math.inf])
def test_outside_the_model_every_function_gives_nan(palt_ft):
    for value in (
        atm.isa_temperature_k(palt_ft),
        atm.theta(palt_ft),
        atm.theta(palt_ft, 15.0),
        atm.delta(palt_ft),
        atm.sigma(palt_ft),
        atm.density_altitude_ft(palt_ft, 15.0),
        atm.isa_deviation_c(palt_ft, 15.0),
        atm.tas_kt(100.0, palt_ft, 15.0),
        atm.cas_kt(100.0, palt_ft, 15.0),
        atm.total_conditions(palt_ft, 15.0).delta,
        atm.total_conditions(palt_ft, 15.0).theta,
    ):
        assert math.isnan(value)


@pytest.mark.parametrize("oat_c", [-273.15, -400.0, math.nan, math.inf])
def test_an_impossible_temperature_gives_nan(oat_c):
    assert math.isnan(atm.density_altitude_ft(0.0, oat_c))
    assert math.isnan(atm.isa_deviation_c(0.0, oat_c))
    assert math.isnan(atm.tas_kt(100.0, 0.0, oat_c))


@given(st.floats(0.0, 250.0), st.floats(0.0, 360.0), st.floats(0.0, 360.0))
def test_wind_components_keep_the_speed_and_turn_with_the_runway(speed, wind_from, heading):
    head, cross = atm.wind_components_kt(speed, wind_from, heading)
    assert math.hypot(head, cross) == pytest.approx(speed, abs=1e-9)
    opposite = atm.wind_components_kt(speed, wind_from, heading + 180.0)
    assert opposite == pytest.approx((-head, -cross), abs=1e-9)


def test_signs_of_the_wind_are_head_and_right():
    assert atm.wind_components_kt(10.0, 0.0, 0.0) == pytest.approx((10.0, 0.0))
    assert atm.wind_components_kt(10.0, 180.0, 0.0) == pytest.approx((-10.0, 0.0), abs=1e-12)
    assert atm.wind_components_kt(10.0, 90.0, 0.0) == pytest.approx((0.0, 10.0), abs=1e-12)
    assert atm.wind_components_kt(10.0, 350.0, 10.0)[1] < 0


def test_a_negative_wind_speed_gives_nan():
    assert all(math.isnan(part) for part in atm.wind_components_kt(-3.0, 90.0, 0.0))


@given(st.floats(0.0, 300.0), low_altitudes, temperatures)
def test_true_and_calibrated_airspeed_are_inverse(cas, palt_ft, oat_c):
    tas = atm.tas_kt(cas, palt_ft, oat_c)
    assert atm.cas_kt(tas, palt_ft, oat_c) == pytest.approx(cas, abs=1e-5)


@given(st.floats(0.0, 600.0))
def test_at_sea_level_in_standard_air_true_airspeed_is_calibrated(cas):
    assert atm.tas_kt(cas, 0.0, 15.0) == pytest.approx(cas, rel=1e-9, abs=1e-5)


def test_at_low_speed_true_airspeed_follows_the_density_alone():
    # Incompressible flow: TAS = CAS / sqrt(sigma), to 0.1 % at 80 kt.
    assert atm.tas_kt(80.0, 10_000.0, -5.0) == pytest.approx(
        80.0 / math.sqrt(atm.sigma(10_000.0, -5.0)), rel=1e-3
    )


def test_supersonic_or_negative_airspeed_gives_nan():
    assert math.isnan(atm.tas_kt(700.0, 0.0, 15.0))
    assert math.isnan(atm.tas_kt(500.0, 60_000.0, -56.5))
    assert math.isnan(atm.tas_kt(-1.0, 0.0, 15.0))
    beyond = atm.total_conditions(0.0, 15.0, 700.0)
    assert math.isnan(beyond.theta)
    assert math.isnan(beyond.delta)


def test_static_and_total_thermometers_differ_by_the_ram_rise():
    static = atm.total_conditions(8000.0, 0.0, 180.0)
    total = atm.total_conditions(8000.0, 0.0, 180.0, oat_is="total")
    assert total.theta == pytest.approx(273.15 / 288.15)
    assert static.theta == pytest.approx(total.theta * (1 + 0.2 * static.mach**2))
    assert static.delta == total.delta > atm.delta(8000.0)


def test_an_undeclared_thermometer_is_refused():
    with pytest.raises(ValueError, match="static"):
        atm.total_conditions(0.0, 15.0, oat_is="maybe")  # type: ignore[arg-type]


def test_referring_at_sea_level_in_standard_air_changes_nothing():
    values = atm.referred(atm.total_conditions(0.0, 15.0), ng=95.0, itt_c=720.0, torque=80.0, fuel_flow=200.0)
    assert (values.ng, values.itt_c, values.torque, values.fuel_flow) == pytest.approx((95, 720, 80, 200))


def test_a_referred_value_that_was_not_given_stays_unknown():
    assert atm.referred(atm.total_conditions(0.0, 15.0), ng=95.0).itt_c is None


def test_scalars_give_floats_and_arrays_broadcast():
    assert type(atm.delta(5000.0)) is float
    assert type(atm.delta(np.float64(5000.0))) is float
    out = atm.density_altitude_ft(np.array([[0.0], [5000.0]]), np.array([0.0, 15.0, math.nan]))
    assert out.shape == (2, 3)
    assert np.isnan(out[:, 2]).all()
    assert np.isfinite(out[:, :2]).all()
    assert atm.delta(np.array([])).shape == (0,)


def test_arguments_are_not_written_to():
    heights = np.array([0.0, 1e6])
    heights.setflags(write=False)
    atm.density_altitude_ft(heights, 15.0)
    np.testing.assert_array_equal(heights, [0.0, 1e6])
