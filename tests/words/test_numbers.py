"""A value beside its limit: on its own side of it where it is, and never with the digits that floats leave over."""

import hypothesis.strategies as st
import pytest
from hypothesis import given

from debrief.words.numbers import number_beside, reference_beside

LEVELS = st.integers(-5000, 20000).map(lambda tenths: tenths / 10)
UNITS = st.sampled_from(["degC", "%", "V", "rpm", "psi", "bar"])


@pytest.mark.parametrize("residue", [1e-12, -1e-12, 4e-9, -4e-9, 9e-7])
def test_the_rounding_of_a_float_is_not_written(residue):
    assert number_beside(1030 * (1 + residue), 1030, "degC") == "1030"
    assert reference_beside(1030 * (1 + residue), 1030, "degC") == "1030"
    assert number_beside(830.5 * (1 + residue), 830.5, "degC") == "830.5"
    assert number_beside(18 * (1 + residue), 18, "V") == "18.0"


@given(LEVELS, UNITS, st.floats(-1e-6, 1e-6))
def test_a_residue_reads_as_the_level(level, unit, residue):
    value, reference = (write(level + residue, level, unit) for write in (number_beside, reference_beside))
    assert len(value.partition(".")[2]) <= 2
    if unit != "bar":  # shown in it only: the level itself is rounded
        assert (
            float(value.replace("\N{MINUS SIGN}", "-"))
            == float(reference.replace("\N{MINUS SIGN}", "-"))
            == level
        )


@given(LEVELS, UNITS, st.floats(1e-4, 5.0), st.booleans())
def test_what_is_clearly_beyond_reads_beyond(level, unit, apart, above):
    apart *= max(1.0, abs(level))
    value = level + (apart if above else -apart)
    shown, reference = (
        float(write(value, level, unit).replace("\N{MINUS SIGN}", "-"))
        for write in (number_beside, reference_beside)
    )
    assert (shown > reference) if above else (shown < reference)
