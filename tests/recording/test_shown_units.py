"""Numbers in the units that a person reads, from the one table of units."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.wording import beside, plain, said, unit_words
from debrief.errors import UserError
from debrief.recording.sentence import Quantity, sentence
from debrief.recording.shown_units import AS_COMPUTED, CHOICES, parse_units, shown_units
from debrief.recording.units import BY_NAME

FAHRENHEIT = parse_units("degF")


@pytest.mark.parametrize(
    ("text", "unit", "value", "by_hand"),
    [
        # NIST SP 811, appendix B.8: t/°F = 1.8 t/°C + 32; 1 psi = 6.894757 E+03 Pa; 1 lb = 0.4535924 kg;
        # 1 ft = 0.3048 m; 1 kn = 1.852 km/h
        ("degF", "degC", 830.0, 1526.0),
        ("degF", "degC", -40.0, -40.0),
        ("bar", "psi", 40.0, 40 * 6894.757 / 1e5),
        ("kPa", "psi", 40.0, 40 * 6.894757),
        ("lb/h", "kg/h", 100.0, 100 / 0.4535924),
        ("m", "ft", 1000.0, 304.8),
        ("m", "ft/min", 1000.0, 5.08),
        ("km/h", "kt", 100.0, 185.2),
        ("mph", "kt", 100.0, 185.2 / 1.609344),
    ],
)
def test_values_follow_the_published_factors(text, unit, value, by_hand):
    assert parse_units(text).value(value, unit) == pytest.approx(by_hand, rel=1e-6)


def test_a_difference_and_a_rate_do_not_move_with_the_zero():
    assert FAHRENHEIT.value(100.0, "degC", is_difference=True) == pytest.approx(180.0)
    assert FAHRENHEIT.value(5.0, "degC/s") == pytest.approx(9.0)
    assert FAHRENHEIT.of("degC/s") == "degF/s"


def test_what_has_no_choice_stays_as_it_is():
    units = parse_units("degF,bar,lb/h,m,km/h")
    for unit in ("%", "V", "A", "s", "rpm", "0/1", "deg", "%/s", "mohm"):
        assert units.of(unit) == unit
        assert units.value(12.5, unit) == 12.5
    assert AS_COMPUTED.are_canonical
    assert parse_units("degC, psi").are_canonical
    assert shown_units({}) == AS_COMPUTED


def test_units_are_named_in_any_spelling_and_told_back_in_one():
    assert parse_units(" °F ,bars,kph,metres").words == "degF,bar,m,km/h"
    assert parse_units(parse_units("degF,kPa").words) == parse_units("degF,kPa")


@pytest.mark.parametrize("text", ["K", "furlong", "degF,V", "rpm"])
def test_a_unit_that_cannot_be_chosen_is_refused_with_what_there_is(text):
    with pytest.raises(UserError, match="degC or degF"):
        parse_units(text)


def test_two_units_for_one_kind_are_refused():
    with pytest.raises(UserError, match="pressure is to be in bar and in kPa"):
        parse_units("bar,kPa")


def test_every_unit_that_can_be_chosen_is_in_the_table_with_its_kinds_quantity():
    for units in CHOICES.values():
        assert len({BY_NAME[unit].quantity for unit in units}) == 1


ways = [(kind, unit) for kind, units in CHOICES.items() for unit in units[1:]]


@given(
    way=st.sampled_from(ways),
    level=st.integers(1, 20_000).map(lambda n: n / 10),
    over=st.floats(1e-4, 50.0),
    sign=st.sampled_from([1, -1]),
)
def test_a_value_beyond_a_limit_reads_beyond_it_in_every_unit(way, level, over, sign):
    kind, _ = way
    units = shown_units(dict([way]))
    unit = CHOICES[kind][0]
    to = units.of(unit)
    value, limit = (units.value(x, unit) for x in (level + sign * over, level))
    text = beside(value, limit, to).removesuffix(unit_words(to)).strip().replace("\N{MINUS SIGN}", "-")
    printed = float(plain(limit).replace("\N{MINUS SIGN}", "-"))
    if abs(value - limit) > 2e-5 * max(abs(limit), 1.0):  # six digits are printed
        assert math.copysign(1, float(text) - printed) == sign
        assert float(text) != printed


def test_a_sentence_is_said_in_the_units_asked_for():
    told = sentence(
        "ITT was above {level} for {time} (highest {peak}, up by {rise} at {rate}).",
        level=Quantity(830, "degC", is_given=True),
        time="3.1 s",
        peak=Quantity(830.4, "degC", beside=830.0),
        rise=Quantity(100, "degC", is_difference=True),
        rate=Quantity(10, "degC/s"),
    )
    assert said(told) == "ITT was above 830 °C for 3.1 s (highest 830.4 °C, up by 100 °C at 10 °C/s)."
    assert (
        said(told, FAHRENHEIT)
        == "ITT was above 1526 °F for 3.1 s (highest 1527 °F, up by 180 °F at 18 °F/s)."
    )
    assert said(told, AS_COMPUTED) == said(told)


def test_words_with_braces_and_sentences_within_sentences_are_kept():
    inner = sentence("{who} at {v}", who="{x}", v=Quantity(1.0, "V"))
    assert said(sentence("Then {inner}.", inner=inner)) == "Then {x} at 1.0 V."
    assert said(inner + " and on") == "{x} at 1.0 V and on"
