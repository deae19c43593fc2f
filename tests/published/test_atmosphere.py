"""Standard atmosphere, altitudes, wind and referred speed against published values.

Every table names its source. "Computed" tables are cross-checks worked from the constants, not published.
Tolerances come from the rounding of the source, or are stated with the reason.
"""

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from debrief.analysis.measures import atmosphere as atm

HPA_PER_INHG = 33.8638866667

# ICAO Doc 7488, 3rd edition 1993, as transcribed in the tests of the open library `ambiance`
# (airinnova/ambiance, tests/table_data.py, commit 232032b). Geometric m, geopotential m, K, Pa, kg/m3.
# The row of -2500 m is left out: its transcribed Celsius and kelvin contradict each other.
ICAO_ROWS = [
    (-5000, -5004, 320.676, 177762.0, 1.93113),
    (0, 0, 288.150, 101325.0, 1.22500),
    (1000, 1000, 281.651, 89876.3, 1.11166),
    (2000, 1999, 275.154, 79501.4, 1.00655),
    (11000, 10981, 216.774, 22699.9, 0.364801),
    (11019, 11000, 216.650, 22632.0, 0.363918),
    (15000, 14965, 216.650, 12111.8, 0.194755),
    (20000, 19937, 216.650, 5529.29, 0.0889097),
]


@pytest.mark.parametrize(("geometric_m", "geopotential_m", "kelvin", "pascal", "density"), ICAO_ROWS[1:])
def test_temperature_pressure_and_density_equal_the_icao_table(
    geometric_m, geopotential_m, kelvin, pascal, density
):
    h = atm.geopotential_ft(geometric_m / 0.3048)
    assert h * 0.3048 == pytest.approx(geopotential_m, abs=0.5)
    assert atm.isa_temperature_k(h) == pytest.approx(kelvin, abs=0.001)
    # 11 019 m is 11 000 m geopotential only to the metre: half a metre is 8e-5 of the pressure.
    tolerance = 1e-4 if geometric_m == 11019 else 1e-5
    assert atm.delta(h) * 101325.0 == pytest.approx(pascal, rel=tolerance)
    assert atm.sigma(h) * 1.225 == pytest.approx(density, rel=tolerance)


def test_the_row_below_minus_5_km_geopotential_is_outside_the_model():
    h_ft = -5004 / 0.3048
    assert np.isnan(atm.delta(h_ft))
    # One metre inside, the table's own lapse carries over the 4 m: 0.026 K, and 0.05 % of the pressure.
    assert atm.isa_temperature_k(-4999 / 0.3048) == pytest.approx(320.676, abs=0.04)


# US Standard Atmosphere 1976, summary of the equations and constants,
# http://scipp.ucsc.edu/outreach/balloon/atmos/1976%20Standard%20Atmosphere.htm
def test_the_printed_equations_of_the_us_standard_atmosphere_agree():
    h = np.array([0.0, 5000.0, 18000.0, 36089.0])
    np.testing.assert_allclose(atm.theta(h), 1 - h / 145442, rtol=2e-6)
    np.testing.assert_allclose(atm.delta(h), (1 - h / 145442) ** 5.255876, rtol=1e-5)
    np.testing.assert_allclose(atm.sigma(h), (1 - h / 145442) ** 4.255876, rtol=1e-5)
    high = np.array([36100.0, 45000.0, 60000.0])
    np.testing.assert_allclose(atm.theta(high), 0.751865, atol=5e-7)
    np.testing.assert_allclose(atm.delta(high), 0.223361 * np.exp((36089 - high) / 20806), rtol=2e-5)
    np.testing.assert_allclose(atm.sigma(high), 0.297076 * np.exp((36089 - high) / 20806), rtol=2e-5)


# Printed table in geopotential feet, psia and degF,
# https://engineersedge.com/calculators/standard_atmospheric_data_15729.htm. Its rows do not follow its own
# equation closer than 0.01 psi, and its 30 000 ft row is that of the geometric altitude: both are stated.
@pytest.mark.parametrize(
    ("feet", "psia", "fahrenheit"),
    [
        (0, 14.696, 59.0),
        (1000, 14.175, 55.4),
        (2000, 13.664, 51.9),
        (3000, 13.173, 48.3),
        (5000, 12.230, 41.2),
        (10000, 10.108, 23.4),
        (15000, 8.296, 5.5),
        (20000, 6.758, -12.3),
        (30000, 4.371, -47.8),
    ],
)
def test_a_printed_table_in_psi_and_fahrenheit_agrees(feet, psia, fahrenheit):
    h = atm.geopotential_ft(float(feet)) if feet == 30000 else float(feet)
    assert atm.delta(h) * 14.6959 == pytest.approx(psia, abs=0.01)
    assert atm.isa_temperature_k(h) * 1.8 - 459.67 == pytest.approx(fahrenheit, abs=0.15)


# The open library `fluids` (US Standard Atmosphere 1976), which takes geometric altitude.
@pytest.mark.parametrize("h_ft", [0.0, 5_000.0, 10_000.0, 18_000.0, 25_000.0, 30_000.0, 36_089.24, 40_000.0])
def test_an_independent_library_agrees_once_its_altitude_is_converted(h_ft):
    h = h_ft * 0.3048
    geometric = 6_356_766.0 * h / (6_356_766.0 - h)
    other = ATMOSPHERE_1976(geometric)
    assert atm.delta(h_ft) * 101325.0 == pytest.approx(other.P, rel=5e-6)
    assert atm.isa_temperature_k(h_ft) == pytest.approx(other.T, abs=0.001)
    assert atm.sigma(h_ft) * 1.225 == pytest.approx(other.rho, rel=5e-6)
    assert atm.geopotential_ft(geometric / 0.3048) == pytest.approx(h_ft, abs=1e-6)


# Computed from the constants and cross-checked by two libraries; not published.
@pytest.mark.parametrize(
    ("feet", "kelvin", "delta", "sigma"),
    [
        (-1000, 290.1312, 1.036670, 1.029591),
        (8000, 272.3004, 0.742782, 0.786016),
        (12000, 264.3756, 0.635982, 0.693173),
        (18000, 252.4884, 0.499381, 0.569914),
        (25000, 238.6200, 0.371092, 0.448119),
        (36089.24, 216.6500, 0.223361, 0.297076),
        (45000, 216.6500, 0.145548, 0.193583),
    ],
)
def test_computed_rows_agree(feet, kelvin, delta, sigma):
    assert atm.isa_temperature_k(float(feet)) == pytest.approx(kelvin, abs=0.0001)
    assert atm.delta(float(feet)) == pytest.approx(delta, abs=1e-6)
    assert atm.sigma(float(feet)) == pytest.approx(sigma, abs=1e-6)


# Pilot's Handbook of Aeronautical Knowledge (FAA-H-8083-25), density altitude chart, sample problem 1:
# elevation 5883 ft, altimeter 30.10 inHg, 70 degF -> pressure altitude 5718 ft, density altitude 7700 ft.
# Read at http://www.flightlearnings.com/2011/04/14/performance-charts-density-altitude-charts/
def test_the_handbook_sample_gives_its_pressure_and_density_altitude():
    palt = atm.pressure_altitude_ft(5883.0, 30.10 * HPA_PER_INHG)
    assert palt == pytest.approx(5718, abs=1)
    # Read from a chart: 50 ft is its thickness of line.
    assert atm.density_altitude_ft(palt, (70 - 32) / 1.8) == pytest.approx(7700, abs=50)


@pytest.mark.parametrize(
    ("elevation_ft", "inhg", "palt_ft"),
    [
        # PHAK Fig 10-3, caption; http://www.flyinhighokc.com/pilotshandbook/pages/10-4.html
        (0.0, 29.7, 205),
        # Flight Theory and Aerodynamics, Fig 2.3 (source given there: FAA 2008a)
        (3500.0, 30.10, 3335),
    ],
)
def test_published_pressure_altitudes_agree(elevation_ft, inhg, palt_ft):
    assert atm.pressure_altitude_ft(elevation_ft, inhg * HPA_PER_INHG) == pytest.approx(palt_ft, abs=1)


# Computed from the exact relation; not published.
def test_computed_settings_and_density_altitudes_agree():
    settings = np.array([28.0, 29.0, 29.5, 29.92, 30.5, 31.0]) * HPA_PER_INHG
    np.testing.assert_allclose(
        atm.pressure_altitude_ft(np.zeros(6), settings), [1824.9, 862.8, 391.8, 1.2, -531.1, -983.4], atol=0.1
    )
    palt = np.array([0.0, 5000.0, 5470.0, 9000.0, 2000.0])
    oat = np.array([30.0, 30.0, 35.0, 25.0, 40.0])
    np.testing.assert_allclose(
        atm.density_altitude_ft(palt, oat), [1723.9, 7800.7, 8895.2, 12105.7, 5233.9], atol=0.1
    )
    assert atm.isa_deviation_c(5718.0, 21.111) == pytest.approx(17.44, abs=0.005)


# The American weather service's formula for dry air, as printed in a copy headed "Density Altitude"
# (https://info.5y1.org/air-density-at-altitude-calculator_1_6711f2.html):
# DA = 145366 (1 - (17.326 p/T)^0.235), p in inHg, T in degrees Rankine. It is an approximation that lies
# up to some 20 ft above the exact value.
@pytest.mark.parametrize(
    ("palt_ft", "oat_c"), [(5718.0, 21.111), (0.0, 30.0), (5000.0, 30.0), (2000.0, 40.0)]
)
def test_density_altitude_lies_near_the_weather_service_formula(palt_ft, oat_c):
    inhg = float(atm.delta(palt_ft)) * 29.9213
    formula = 145366 * (1 - (17.326 * inhg / ((oat_c + 273.15) * 1.8)) ** 0.235)
    assert atm.density_altitude_ft(palt_ft, oat_c) == pytest.approx(formula, abs=25)


@pytest.mark.parametrize(
    ("speed", "wind_from", "runway", "headwind", "crosswind"),
    [
        # PHAK sample problem 10, Fig 11-31; read at
        # https://www.flightliteracy.com/aircraft-performance-charts-part-three/ . From the left: negative.
        (25.0, 140.0, 170.0, 22.0, -13.0),
        # FAA knowledge test, figures 36 and 37; read at https://www.redhorseaviation.com/post/crosswind-component
        (30.0, 220.0, 180.0, 23.0, 19.0),
        # A training organisation's flight-computer lesson: crosswind 16 kt from the left.
        (25.0, 210.0, 250.0, None, -16.0),
        # A light aircraft's operating manual, p. 5-4: head 7.1 kt, cross 8.4 kt.
        (11.0, 70.0, 120.0, 7.1, -8.4),
    ],
)
def test_published_wind_components_agree(speed, wind_from, runway, headwind, crosswind):
    head, cross = atm.wind_components_kt(speed, wind_from, runway)
    # Read from charts: 0.6 kt.
    assert cross == pytest.approx(crosswind, abs=0.6)
    if headwind is not None:
        assert head == pytest.approx(headwind, abs=0.6)


# Examination question of an airline pilot course: runway 20, wind from 255, crosswind limit 17 kt: 20.75 kt.
def test_the_wind_at_a_published_crosswind_limit_has_that_component():
    assert atm.wind_components_kt(20.75, 255.0, 200.0)[1] == pytest.approx(17.0, abs=0.005)


# A simulated turbofan data set of NASA Ames (A. Saxena and K. Goebel, 2008, "C-MAPSS"): total temperature at
# the fan inlet T2 [degR], physical and corrected fan speed [rpm]. That the round altitudes are geopotential,
# and the Mach numbers nominal, is inferred from this very agreement: a supporting check, not the main proof.
NASA_ROWS = [
    (0.0, 0.00, 518.67, 2388.14, 2388.21),
    (10_000.0, 0.25, 489.05, 2319.01, 2388.15),
    (20_000.0, 0.70, 491.19, 2323.87, 2387.99),
    (25_000.0, 0.62, 462.54, 1915.11, 2028.03),
    (35_000.0, 0.84, 449.44, 2222.65, 2387.72),
    (42_000.0, 0.84, 445.00, 2211.57, 2387.66),
]


@pytest.mark.parametrize(("palt_ft", "mach", "t2_rankine", "rpm", "corrected_rpm"), NASA_ROWS)
def test_total_temperature_and_corrected_speed_equal_the_simulated_engine(
    palt_ft, mach, t2_rankine, rpm, corrected_rpm
):
    oat_c = atm.isa_temperature_k(palt_ft) - 273.15
    true_kt = mach * atm.A0_KT * np.sqrt(atm.theta(palt_ft))
    conditions = atm.total_conditions(palt_ft, oat_c, atm.cas_kt(true_kt, palt_ft, oat_c))
    assert conditions.mach == pytest.approx(mach, abs=1e-9)
    assert conditions.theta * 518.67 == pytest.approx(t2_rankine, abs=0.01)
    published = atm.TotalConditions(theta=t2_rankine / 518.67, delta=1.0, mach=mach)
    assert atm.referred(published, ng=rpm).ng == pytest.approx(corrected_rpm, rel=1e-4)


# Computed; not published. A worked example of ITT / theta was not found in print.
@pytest.mark.parametrize(
    ("palt_ft", "oat_c", "ng", "itt_c"),
    [(5000.0, 30.0, 92.620, 670.86), (2000.0, -10.0, 99.410, 814.35), (0.0, 35.0, 91.865, 655.54)],
)
def test_computed_referred_values_agree(palt_ft, oat_c, ng, itt_c):
    values = atm.referred(atm.total_conditions(palt_ft, oat_c), ng=95.0, itt_c=720.0)
    assert values.ng == pytest.approx(ng, abs=0.0006)
    assert values.itt_c == pytest.approx(itt_c, abs=0.006)


def test_computed_referred_torque_and_flow_agree():
    values = atm.referred(atm.total_conditions(5000.0, 30.0), torque=1500.0, fuel_flow=400.0)
    assert values.torque == pytest.approx(1802.78, abs=0.01)
    assert values.fuel_flow == pytest.approx(468.70, abs=0.01)
