"""Numbers in the units that a person reads, from the one table of units."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.words.display_units import AS_COMPUTED, CHOICES, parse_units, shown_units
from debrief.words.numbers import beside, decimals_for, number, plain, reference_beside, unit_words
from debrief.words.sentence import Quantity, sentence
from debrief.words.units import BY_NAME

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
    text = _number(beside(value, limit, to).removesuffix(unit_words(to)))
    printed = _number(reference_beside(value, limit, to))
    if abs(value - limit) > 2e-5 * max(abs(limit), 1.0):  # six digits are printed
        assert math.copysign(1, text - printed) == sign
        assert text != printed
    # Where only the limit is named, a value in its usual decimals never reads on the wrong side of it.
    beside_it = _number(plain(limit, to))
    if plain(limit, to) != plain(limit):
        assert (_number(number(value, decimals_for(to))) - beside_it) * sign >= 0


def _number(text):
    return float(text.strip().replace("\N{MINUS SIGN}", "-"))


@pytest.mark.parametrize(
    ("level", "unit", "text", "words"),
    [
        # 80 psi are 80 x 6894.757 Pa: the digits that six would show are of the conversion, not of the limit.
        (80.0, "psi", "bar", "5.52"),
        (80.0, "psi", "kPa", "552"),
        (10_000.0, "ft", "m", "3048"),
        (65.0, "kg/h", "lb/h", "143"),
        # What is exact stays as it is, and a profile's own number keeps every digit.
        (830.0, "degC", "degF", "1526"),
        (57.2, "degC", "degF", "135"),
        (8.0, "kt", "km/h", "15"),
        (100.0, "psi", "bar", "6.89"),
        (36.2594, "psi", "bar", "2.5"),
        (830.125, "degC", "", "830.125"),
        (0.25, "psi", "", "0.25"),
    ],
)
def test_a_converted_limit_has_the_decimals_of_values_in_its_unit(level, unit, text, words):
    units = parse_units(text) if text else AS_COMPUTED
    to = units.of(unit)
    assert plain(units.value(level, unit), to) == words


def test_where_rounding_would_turn_limit_and_value_round_both_get_more_digits():
    bar = parse_units("bar")
    limit, value = bar.value(80.0, "psi"), bar.value(80.02, "psi")
    assert limit < value < 5.52
    assert (beside(value, limit, "bar"), reference_beside(value, limit, "bar")) == ("5.517 bar", "5.516")
    told = sentence(
        "Oil pressure was above {level} (highest {peak}).",
        level=Quantity(80.0, "psi", is_given=True),
        peak=Quantity(80.02, "psi", beside=80.0),
    )
    assert told.shown(bar) == "Oil pressure was above 5.516 bar (highest 5.517 bar)."
    assert told == "Oil pressure was above 80 psi (highest 80.02 psi)."


def test_a_converted_number_without_a_unit_has_four_digits():
    assert plain(5.5158058) == "5.516"
    assert plain(551.58058) == "551.6"
    assert plain(12345.6789) == "12346"
    assert plain(-0.0551580) == "\N{MINUS SIGN}0.055158"


def test_a_sentence_is_said_in_the_units_asked_for():
    told = sentence(
        "ITT was above {level} for {time} (highest {peak}, up by {rise} at {rate}).",
        level=Quantity(830, "degC", is_given=True),
        time="3.1 s",
        peak=Quantity(830.4, "degC", beside=830.0),
        rise=Quantity(100, "degC", is_difference=True),
        rate=Quantity(10, "degC/s"),
    )
    assert told == "ITT was above 830 °C for 3.1 s (highest 830.4 °C, up by 100 °C at 10 °C/s)."
    assert (
        told.shown(FAHRENHEIT)
        == "ITT was above 1526 °F for 3.1 s (highest 1527 °F, up by 180 °F at 18 °F/s)."
    )
    assert told.shown(AS_COMPUTED) is told


def test_words_with_braces_and_sentences_within_sentences_are_kept():
    inner = sentence("{who} at {v}", who="{x}", v=Quantity(1.0, "V"))
    assert sentence("Then {inner}.", inner=inner) == "Then {x} at 1.0 V."
    assert inner + " and on" == "{x} at 1.0 V and on"
