"""A trial is the analysis's own counting: with the profile's numbers its result, with others what they would have given."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.session.limits.trial import LimitTrial, Nearest, nearest_words
from debrief.session.texts.in_units import in_units
from debrief.words.display_units import parse_units
from tests.demo_assessing import DEMOS, assessed


def _nearest(trial: LimitTrial) -> Nearest:
    steps = trial.nearest()
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def _result(assessment, limit_id):
    return next(one for one in assessment.limits if one.id == limit_id)


def _demo(number: str):
    return assessed(next(path for path in DEMOS if path.name.startswith(number)))


def _numbers(one):
    return (one.duration_s, one.duration_low_s, one.duration_high_s, one.result)


@pytest.mark.parametrize(
    "path", [p for p in DEMOS if p.name[:2] in ("02", "06", "12", "18")], ids=lambda p: p.stem
)
def test_with_the_profiles_numbers_a_trial_is_the_assessment(path):
    assessment = assessed(path)
    for result in assessment.limits:
        for row, level in enumerate(result.levels):
            trial = LimitTrial(assessment, result, row)
            assert _numbers(trial.judged(trial.level, trial.seconds)) == _numbers(level)


def test_a_finding_has_the_levels_that_its_limit_has():
    assessment = _demo("06")
    (event,) = [one for one in assessment.events if one.limit_id == "itt-start"]
    assert [_numbers(one) for one in _result(assessment, "itt-start").levels] == [
        _numbers(one) for one in event.levels
    ]


@pytest.mark.parametrize(
    ("level", "seconds"), [(700.0, 5.0), (835.0, 5.0), (840.0, 1.0), (846.0, 0.0), (900.0, 5.0)]
)
def test_other_numbers_give_what_a_profile_with_them_would_have_given(level, seconds):
    assessment = _demo("12")
    profile = assessment.profile
    limit = next(one for one in profile.limits if one.id == "itt-running")
    other = replace(limit, allowed=(replace(limit.allowed[1], level=level, seconds=seconds),))
    judged = assess(assessment.recording, replace(profile, limits=(other,)))
    trial = LimitTrial(assessment, _result(assessment, "itt-running"), 1)
    assert _numbers(trial.judged(level, seconds)) == _numbers(_result(judged, "itt-running").levels[0])


@pytest.mark.parametrize("number", ["02", "06", "12", "17"])
def test_the_nearest_change_turns_the_result_and_a_step_less_does_not(number):
    assessment = _demo(number)
    for limit_id in ("itt-start", "itt-running"):
        result = _result(assessment, limit_id)
        for row in range(len(result.levels)):
            trial = LimitTrial(assessment, result, row)
            found = _nearest(trial)
            away = 1 if found.is_beyond else -1

            def beyond(level, seconds, trial=trial):
                return trial.judged(level, seconds).result in ("exceeded", "possible", "caution")

            if found.level is not None:
                assert beyond(found.level, trial.seconds) != found.is_beyond
                assert beyond(found.level - away * trial.step, trial.seconds) == found.is_beyond
            if found.seconds is not None:
                assert beyond(trial.level, found.seconds) != found.is_beyond
                assert beyond(trial.level, found.seconds - away * 0.1) == found.is_beyond


def test_a_minimum_is_turned_the_other_way():
    assessment = _demo("12")
    result = _result(assessment, "oil-press-min")
    trial = LimitTrial(assessment, result, 0)
    found = _nearest(trial)
    assert not found.is_beyond
    assert found.level is not None
    assert found.level > trial.level
    assert "or more (" in nearest_words(trial, found)


def test_levels_go_in_and_out_in_the_units_shown():
    assessment = _demo("06")
    shown = in_units(assessment, parse_units("degF"))
    own = LimitTrial(assessment, _result(assessment, "itt-start"), 2)
    trial = LimitTrial(shown, _result(shown, "itt-start"), 2)
    assert trial.level == pytest.approx(1886.0)
    assert _numbers(trial.judged(2012.0, 0.0)) == _numbers(own.judged(1100.0, 0.0))
    found, in_celsius = _nearest(trial), _nearest(own)
    assert (found.level - 32) / 1.8 == pytest.approx(in_celsius.level, abs=1.0)
