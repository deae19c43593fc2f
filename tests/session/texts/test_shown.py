"""The copy of an assessment that is looked at in chosen units: every number converted once, none judged again."""

from __future__ import annotations

import json

import pytest

from debrief.report.formats.text import assessment_text
from debrief.session.document import assessment_document
from debrief.session.evidence.why import measure_why
from debrief.session.texts.definitions import definition_of, level_name, level_of, measure_title
from debrief.session.texts.in_units import in_units
from debrief.session.texts.story import story
from debrief.words.display_units import AS_COMPUTED, parse_units
from tests.demo_assessing import DEMOS, assessed

FOREIGN = parse_units("degF,bar,lb/h,m,km/h")
RISES = {"burning_after_cut"}


@pytest.fixture(scope="module", params=DEMOS, ids=lambda path: path.stem)
def pair(request):
    canonical = assessed(request.param)
    return canonical, in_units(canonical, FOREIGN)


def same(shown: float | None, canonical: float | None, unit: str, *, is_difference: bool = False) -> bool:
    if canonical is None or shown is None:
        return shown is canonical
    return shown == pytest.approx(FOREIGN.value(canonical, unit, is_difference=is_difference), abs=1e-9)


def test_every_measure_of_a_start_is_converted_with_its_bounds_and_its_samples(pair):
    canonical, shown = pair
    for start, other in zip(canonical.starts, shown.starts, strict=True):
        assert len(start.measures) == len(other.measures)
        for (name, a), (other_name, b) in zip(start.measures.items(), other.measures.items(), strict=True):
            assert b.unit == FOREIGN.of(a.unit)
            for x, y in ((b.value, a.value), (b.low, a.low), (b.high, a.high)):
                assert same(x, y, a.unit), name
            for r, s in zip(start.evidence[name].readings, other.evidence[other_name].readings, strict=True):
                assert s.index == r.index
                assert all(same(y, x, r.unit) for x, y in zip(r.values, s.values, strict=True))
        assert same(other.peak_itt_c, start.peak_itt_c, "degC")
        assert same(other.residual_itt_c, start.residual_itt_c, "degC")
        for f, g in zip(start.factors, other.factors, strict=True):
            assert same(g.value, f.value, f.unit)
            assert same(g.reference, f.reference, f.unit)


def test_every_event_and_limit_is_converted_and_none_is_judged_anew(pair):
    canonical, shown = pair
    assert (shown.verdict, len(shown.events)) == (canonical.verdict, len(canonical.events))
    for event, other in zip(canonical.events, shown.events, strict=True):
        is_rise = event.kind in RISES
        assert same(other.peak, event.peak, event.unit)
        assert same(other.level, event.level, event.unit, is_difference=is_rise)
        assert same(other.band_past_edge_value, event.band_past_edge_value, event.unit, is_difference=True)
        assert (other.start_s, other.duration_s, other.severity) == (
            event.start_s,
            event.duration_s,
            event.severity,
        )
        for a, b in zip(event.levels, other.levels, strict=True):
            assert same(b.level, a.level, event.unit)
            assert b.result == a.result
    for name, proof in canonical.flight_evidence.items():
        for given, reading in zip(proof.readings, shown.flight_evidence[name].readings, strict=True):
            assert reading.unit == FOREIGN.of(given.unit)
            assert all(same(b, a, given.unit) for a, b in zip(given.values, reading.values, strict=True))
    for limit, held in zip(canonical.limits, shown.limits, strict=True):
        assert same(held.nearest_level, limit.nearest_level, limit.unit)
        assert same(held.margin_value, limit.margin_value, limit.unit, is_difference=True)
    assert shown.profile is not None
    for given, other in zip(canonical.profile.limits, shown.profile.limits, strict=True):
        for row, changed in zip(given.allowed, other.allowed, strict=True):
            assert same(changed.level, row.level, given.unit)


def test_channels_and_markings_are_converted_and_what_the_file_said_is_kept(pair):
    canonical, shown = pair
    for name, channel in canonical.recording.channels.items():
        other = shown.recording.channels[name]
        assert other.unit == FOREIGN.of(channel.unit)
        assert other.column_unit == channel.column_unit
        assert other.values[0] == pytest.approx(FOREIGN.value(float(channel.values[0]), channel.unit))
    for name, gauge in canonical.profile.gauges.items():
        other = shown.profile.gauges[name]
        assert same(other.range[1], gauge.range[1], gauge.unit)
        for a, b in zip(gauge.red_lines, other.red_lines, strict=True):
            assert same(b, a, gauge.unit)


def test_no_text_of_it_keeps_a_canonical_unit(pair):
    canonical, shown = pair
    text = assessment_text(shown)
    actions = [band.action for limit in canonical.profile.limits for band in limit.bands]
    for action in actions:
        text = text.replace(action, "")
    told = [text, shown.sentence, *(note for start in shown.starts for note in start.notes)]
    told += [event.message for event in shown.events]
    told += [event.evidence.rule for event in shown.events if event.evidence]
    told += [event.evidence.formula for event in shown.events if event.evidence]
    told += [flag.message for flag in shown.quality]
    told += [f"{step.title} {step.detail}" for step in story(shown)]
    for start in shown.starts:
        for name in start.measures:
            why = measure_why(shown, start, name)
            assert "[°C" not in why.rule
            told += [
                why.title,
                why.value,
                *(words for words, _ in why.profile),
                *(sample for _, samples in why.samples for sample in samples),
            ]
    for words in told:
        for unit in ("°C", "degC", "degC/s", " psi", " kg/h", " kt", " ft"):
            assert f"{unit} " not in f"{words} ".replace(",", " ").replace(";", " ").replace(".", " "), words


def test_the_data_are_always_canonical_and_a_copy_is_refused(pair):
    canonical, shown = pair
    assert in_units(canonical, AS_COMPUTED) is canonical
    before = json.dumps(assessment_document(canonical))
    with pytest.raises(ValueError, match="canonical units"):
        assessment_document(shown)
    with pytest.raises(ValueError, match="not converted again"):
        in_units(shown, FOREIGN)
    assert json.dumps(assessment_document(canonical)) == before


def test_the_name_of_a_level_carries_its_unit_only_where_that_is_not_canonical():
    assert level_name("time_above", 830.0) == "time_above_830"
    assert level_name("time_above", 1526.0, "degF") == "time_above_1526_degF"
    assert level_of("cut_after_1688_degF") == ("cut_after", 1688.0)
    assert level_of("peak_itt") is None
    assert measure_title("time_above_1526_degF") == "Time above 1526 °F"
    assert definition_of("time_above_1526_degF").line == definition_of("time_above_830").line
