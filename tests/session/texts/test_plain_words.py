"""A start in plain words: the same sentences for the student's paper and the story of the replay."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from debrief.session.texts.plain_words import plain_words
from tests.demo_assessing import DEMOS, assessed


def words_of(name: str) -> str:
    made = assessed(next(path for path in DEMOS if path.name.startswith(name)))
    return " ".join(plain_words(made, made.starts[0]))


def test_a_normal_start_is_told_with_its_limits() -> None:
    assert words_of("01") == (
        "Fuel came in at 20.3 % Ng; the minimum is 15 %. Ng had settled before fuel. ITT at fuel on was 23 °C; the limit is 190 °C. "
        "Light-off came 0.8 s after fuel; the limit is 10 s. Peak ITT was 745 °C at 0:33.5. "
        "Idle came 26.3 s after light-off; the limit is 45 s. Lowest voltage was 19.5 V (after the first second); the minimum is 18 V."
    )


def test_who_did_not_motor_is_told_so_and_not_that_it_was_for_no_time() -> None:
    assert "After the fuel cut-off the engine was not motored; the minimum is 20 s." in words_of("06")


def test_fuel_before_the_minimum_is_told_with_what_was_missing() -> None:
    assert "Fuel came in at 9.8 % Ng, 5.2 % Ng below the minimum of 15 %." in words_of("02")


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_plain_words_have_no_bounds_and_no_start_has_none(path: Path) -> None:
    made = assessed(path)
    for start in made.starts:
        lines = plain_words(made, start)
        assert lines
        assert not [line for line in lines if re.search(r"\([^)]* to ", line)]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_no_finding_of_a_start_is_left_out(path: Path) -> None:
    made = assessed(path)
    shown = {
        "early_fuel": "Fuel came in at",
        "low_start_voltage": "Lowest voltage",
        "residual_heat": "ITT at fuel on",
        "no_light_off": "No light-off",
        "motoring_short": "After the fuel cut-off",
        "hot_start": "Peak ITT",
        "overtemp": "",  # of the flight, which no start tells
    }
    for start in made.starts:
        whole = " ".join(plain_words(made, start))
        for event in made.events_of(start):
            assert shown.get(event.kind, event.message) in whole


def test_a_fire_after_shutdown_and_its_fuel_are_told() -> None:
    assert "something was still burning." in words_of("19")
    assert "Fuel still flowed after the fuel cut-off in start 1: 10 kg/h for 31.5 s." in words_of("19")
