"""Conversion factors against NIST Special Publication 811 (2008 edition), appendix B.8.

Each value is the table's own, to its own seven digits; lines in bold there are exact.
"""

from __future__ import annotations

import numpy as np
import pytest

from debrief.words.units import BY_NAME, convert, scale, torque_factor

FACTORS = [
    # (line of the table, our unit, our unit of the result, printed factor)
    ("pound-force foot to newton meter", "lbf ft", "N m", 1.355818e00),
    ("pound-force inch to newton meter", "lbf in", "N m", 1.129848e-01),
    ("kilogram-force meter to newton meter", "kgf m", "N m", 9.80665e00),
    ("psi to kilopascal", "psi", "kPa", 6.894757e00),
    ("bar to kilopascal", "bar", "kPa", 1.0e02),
    ("millibar to kilopascal", "mbar", "kPa", 1.0e-01),
    ("atmosphere, standard, to kilopascal", "atm", "kPa", 1.01325e02),
    ("inch of mercury, conventional, to kilopascal", "inHg", "kPa", 3.386389e00),
    ("kilogram-force per square centimeter to kilopascal", "kgf/cm2", "kPa", 9.80665e01),
    ("pound per hour to kilogram per second", "lb/h", "kg/s", 1.259979e-04),
    ("pound per minute to kilogram per second", "lb/min", "kg/s", 7.559873e-03),
    ("pound per second to kilogram per second", "lb/s", "kg/s", 4.535924e-01),
    ("knot to meter per second", "kt", "m/s", 5.144444e-01),
    ("mile per hour to meter per second", "mph", "m/s", 4.4704e-01),
    ("kilometer per hour to meter per second", "km/h", "m/s", 2.777778e-01),
    ("foot per minute to meter per second", "ft/min", "m/s", 5.08e-03),
    ("foot per second to meter per second", "ft/s", "m/s", 3.048e-01),
    ("foot to meter", "ft", "m", 3.048e-01),
    ("revolution per minute to radian per second", "rpm", "rad/s", 1.047198e-01),
    ("radian to degree", "rad", "deg", 5.729578e01),
    ("minute to second", "min", "s", 6.0e01),
    ("hour to second", "h", "s", 3.6e03),
    ("day to second", "d", "s", 8.64e04),
    ("gallon (U.S.) to liter", "gal/h", "L/h", 3.785412e00),
    ("pound-force to newton", "lbf", "N", 4.448222e00),
    ("pound (avoirdupois) to kilogram", "lb", "kg", 4.535924e-01),
    ("horsepower (550 ft lbf/s) to watt", "hp", "W", 7.456999e02),
]


@pytest.mark.parametrize(("line", "unit", "to", "factor"), FACTORS, ids=[row[0] for row in FACTORS])
def test_factors_are_those_of_the_table(line: str, unit: str, to: str, factor: float) -> None:
    got = scale(1.0, BY_NAME[unit], BY_NAME[to])
    assert float(got) == pytest.approx(factor, rel=1e-6)


def test_temperatures_follow_the_tables_formulas() -> None:
    # SP 811: t/°C = (t/°F - 32)/1.8; t/°C = T/K - 273.15; T/K = (T/°R)/1.8
    for fahrenheit in (-40.0, 32.0, 59.0, 212.0, 1500.0):
        assert convert([fahrenheit], "degF", "itt")[0][0] == (fahrenheit - 32) / 1.8
    assert convert([288.15], "K", "oat")[0][0] == pytest.approx(15.0, abs=1e-12)
    assert convert([518.67], "degR", "oat")[0][0] == pytest.approx(15.0, abs=1e-12)


def test_the_fixed_points_of_the_two_scales_meet() -> None:
    assert convert([32.0, 212.0, -40.0], "degF", "itt")[0].tolist() == [0.0, 100.0, -40.0]


def test_torque_from_pound_feet_to_newton_metres_and_back() -> None:
    factor = torque_factor("lbf ft", "N m")
    assert factor == pytest.approx(1.355818, rel=1e-6)
    back = torque_factor("N m", "lbf ft")
    assert factor is not None
    assert back is not None
    assert np.isclose(factor * back, 1.0, rtol=1e-15)
