"""The table of units: every spelling means one thing, and conversion loses nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.words.channels import CANONICAL
from debrief.words.units import (
    BY_NAME,
    UNITS,
    canonical_unit,
    convert,
    find_unit,
    scale,
    torque_factor,
)


def test_every_unit_has_a_source() -> None:
    assert all(unit.source for unit in UNITS)


def test_every_canonical_unit_is_in_the_table() -> None:
    assert set(CANONICAL.values()) <= set(BY_NAME)


def test_no_spelling_belongs_to_two_units() -> None:
    owners: dict[str, set[str]] = {}
    for unit in UNITS:
        for spelling in (unit.name, *unit.spellings):
            owners.setdefault(spelling, set()).add(unit.name)
    assert {spelling: names for spelling, names in owners.items() if len(names) > 1} == {}


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("C", "degC"), ("°C", "degC"), ("[deg C]", "degC"), ("deg_F", "degF"), ("F", "degF"), ("psi", "psi"),
        ("PSI", "psi"), ("PPH", "lb/h"), ("RPM", "rpm"), ("rpm x1000", "krpm"), ("Nm", "N m"), ("N·m", "N m"),
        ("ft-lbs", "lbf ft"), ("KTS", "kt"), ("fpm", "ft/min"), ("Volts", "V"), ("AMPS", "A"), ("mb", "mbar"),
        ("sec", "s"), ("msec", "ms"), ("mA", "mA"), ("MPa", "MPa"), ("%", "%"), ("% RPM", "%"), ("on/off", "0/1"),
    ],
)  # fmt: skip
def test_trade_spellings(spelling: str, name: str) -> None:
    assert canonical_unit(spelling) == name


@pytest.mark.parametrize("spelling", ["", "furlong", "x", "degX", "[]"])
def test_what_is_no_unit_is_none(spelling: str) -> None:
    assert find_unit(spelling) is None
    assert canonical_unit(spelling) is None


def test_conversion_to_the_channel_keeps_what_only_a_profile_can_scale() -> None:
    assert convert([30.0], "krpm", "ng")[1] == "rpm"
    assert convert([90.0], "%", "np")[1] == "%"
    assert convert([1500.0], "ft-lb", "torque")[1] == "lbf ft"
    assert convert([150.0], "daNm", "torque") == (pytest.approx([1500.0]), "N m")
    assert convert([40.0], "psi", "torque")[1] == "psi"
    assert convert([40.0], "bar", "torque.2")[1] == "psi"


@pytest.mark.parametrize(
    ("unit", "channel", "words"), [("furlong", "itt", "not a unit"), ("psi", "itt", "measures pressure")]
)
def test_a_wrong_unit_is_refused(unit: str, channel: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        convert([1.0], unit, channel)


def test_missing_stays_missing() -> None:
    assert np.isnan(convert([np.nan], "degF", "itt")[0][0])


@pytest.mark.parametrize(
    ("unit", "reference", "factor"),
    [("lbf ft", "lbf ft", 1.0), ("ft-lbs", "lbf ft", 1.0), ("N m", "lbf ft", 0.737562), ("psi", "psi", 1.0),
     ("psi", "lbf ft", None), ("%", "N m", None), ("nonsense", "N m", None), ("N m", "nonsense", None)],
)  # fmt: skip
def test_torque_factors(unit: str, reference: str, factor: float | None) -> None:
    got = torque_factor(unit, reference)
    assert got is None if factor is None else got == pytest.approx(factor, rel=1e-5)


_PAIRS = [(a, b) for a in UNITS for b in UNITS if a.quantity == b.quantity]


@given(st.sampled_from(_PAIRS), st.floats(-1e6, 1e6))
def test_there_and_back_is_where_it_began(pair: tuple[object, object], value: float) -> None:
    one, other = pair
    there = scale([value], one, other)  # type: ignore[arg-type]
    back = scale(there, other, one)  # type: ignore[arg-type]
    assert back[0] == pytest.approx(value, rel=1e-9, abs=1e-6)


@given(st.sampled_from(UNITS), st.floats(allow_nan=False))
def test_the_same_unit_changes_no_bit(unit: object, value: float) -> None:
    assert scale([value], unit, unit)[0] == value  # type: ignore[arg-type]
