"""A start behind another: worked by hand on straight lines, and the laws of shifting and of gaps."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.recording.model import Channel
from debrief.session.comparing.compared_start import behind_start, compared_start, start_in_play
from debrief.session.comparing.difference_words import fuel_words, moment_forms, reading_words
from debrief.session.comparing.start_curves import INSTANTS, StartCurves, start_curves
from debrief.session.texts.in_units import in_units
from debrief.words.display_units import ShownUnits
from tests.session import assessment_maker as made


def lines(
    name="good.csv", *, starter=10.0, fuel=20.0, slope=2.0, itt=500.0, ng=18.0, begin=0.0, end=60.0, **other
):
    """Ng rises by `slope` percent a second from starter on; ITT stands; samples each half second."""
    t = np.arange(begin, end + 1e-9, 0.5)
    channels = {
        "ng": Channel("ng", "%", t, slope * np.clip(t - starter, 0.0, None)),
        "itt": Channel("itt", "degC", t, np.full_like(t, itt)),
    }
    moments = {"starter_on": starter, "fuel_on": fuel, "light_off": fuel + 1.0}
    given = {"starts": (), "key": (name, 1, 1), "ng_at_fuel_pct": ng, **other}
    return StartCurves(
        name, {**channels, **given.pop("channels", {})}, moments, (starter - 5.0, end), **given
    )


def moved(curves, seconds):
    """The same start, recorded this much later."""
    return replace(
        curves,
        channels={n: replace(c, time_s=c.time_s + seconds) for n, c in curves.channels.items()},
        moments={n: at + seconds for n, at in curves.moments.items()},
        frame=(curves.frame[0] + seconds, curves.frame[1] + seconds),
    )


def test_at_the_same_time_after_fuel_both_read_what_was_recorded_there():
    """Here fuel came 8.5 s after the starter, there 10 s: 4 s later Ng was 25 % and 28 %, ITT 640 and 500."""
    both = compared_start(lines("bad.csv", starter=12.0, fuel=20.5, itt=640.0, ng=17.0), lines(), "fuel_on")
    assert both.offset_s == 0.5
    assert both.reading("ng", 4.0) == pytest.approx((25.0, 28.0, -3.0))
    assert both.reading("itt", 4.0) == pytest.approx((640.0, 500.0, 140.0))
    assert both.behind_at("ng", "%", 24.5) == pytest.approx(28.0)
    assert reading_words(both, 24.5) == "4.0 s after fuel on: ITT 140 °C higher, Ng 3.0 % lower."
    assert fuel_words(both) == "Fuel came 1.5 s and 1.0 % Ng earlier."


@pytest.mark.parametrize(
    ("fuel", "ng", "words"),
    [
        (9.0, 9.0, "Fuel came 11.0 s and 9.0 % Ng earlier."),
        (23.0, 20.0, "Fuel came 3.0 s and 2.0 % Ng later."),
        (18.0, 20.0, "Fuel came 2.0 s earlier and at 2.0 % higher Ng."),
        (20.0, 17.0, "Fuel came at the same time after starter on and at 1.0 % lower Ng."),
        (19.0, None, "Fuel came 1.0 s earlier."),
        (20.04, 18.04, "Fuel came at the same time after starter on and at the same Ng."),
    ],
)
def test_fuel_is_told_by_its_time_after_the_starter_and_its_speed(fuel, ng, words):
    own = lines("bad.csv", starter=10.0, fuel=fuel, ng=ng)
    for instant in INSTANTS:
        assert fuel_words(compared_start(own, lines(), instant)) == words


def test_of_a_start_whose_starter_is_not_known_the_speed_alone_is_told():
    own = replace(lines(ng=16.0), moments={"fuel_on": 20.0})
    assert fuel_words(compared_start(own, lines(), "fuel_on")) == "Fuel came at 2.0 % lower Ng."
    assert fuel_words(compared_start(replace(own, ng_at_fuel_pct=None), lines(), "fuel_on")) == ""


@settings(max_examples=40, deadline=None)
@given(st.floats(-500, 5000), st.floats(-500, 5000), st.sampled_from(INSTANTS), st.floats(-12, 45))
def test_when_either_was_recorded_changes_nothing(own_s, other_s, instant, since):
    plain = compared_start(lines("bad.csv", starter=11.3, fuel=19.1), lines(), instant)
    later = compared_start(
        moved(lines("bad.csv", starter=11.3, fuel=19.1), own_s), moved(lines(), other_s), instant
    )
    assert later.offset_s == pytest.approx(plain.offset_s + own_s - other_s)
    assert (later.begin_s, later.end_s) == pytest.approx((plain.begin_s, plain.end_s))
    assert fuel_words(later) == fuel_words(plain)
    for name in ("ng", "itt"):
        for one, two in zip(plain.reading(name, since), later.reading(name, since), strict=True):
            # At the very edge of the samples rounding decides on which side a time lies.
            assert one is None or two is None or two == pytest.approx(one, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.floats(-400, 400), st.sampled_from(INSTANTS))
def test_a_start_behind_itself_recorded_at_another_time_lies_on_its_own_trace(seconds, instant):
    own = start_curves(made.hot_start(), made.hot_start().starts[0])
    both = compared_start(own, moved(own, seconds), instant)
    for name in ("ng", "itt", "bus_volts"):
        channel = own.channels[name]
        drawn = both.behind(name, channel.unit).view(
            both.begin_s + both.zero_s, both.end_s + both.zero_s, 9999
        )
        inside = np.interp(drawn.time_s, channel.time_s, channel.values)
        assert drawn.values == pytest.approx(inside, abs=1e-5 * np.abs(channel.values).max() + 1e-6)


def test_a_gap_of_the_compared_start_is_not_bridged_and_unknown_is_said():
    good = lines()
    cut = {n: c.time_s for n, c in good.channels.items()}
    keep = (cut["itt"] < 22.0) | (cut["itt"] > 30.0)
    itt = replace(good.channels["itt"], time_s=cut["itt"][keep], values=good.channels["itt"].values[keep])
    both = compared_start(
        lines("bad.csv", ng=18.0), replace(good, channels={**good.channels, "itt": itt}), "fuel_on"
    )
    assert both.behind_at("itt", "degC", 25.0) is None
    assert both.reading("itt", 5.0) == (500.0, None, None)
    assert reading_words(both, 25.0).endswith(": Ng the same, ITT not known in both.")
    drawn = both.behind("itt", "degC").view(0.0, 60.0, 1000)
    assert not drawn.connect[np.flatnonzero(drawn.time_s < 22.0)[-1]]


def test_what_was_not_recorded_or_is_in_another_unit_lies_nowhere():
    rpm = replace(lines().channels["ng"], unit="rpm")
    both = compared_start(lines("bad.csv"), lines(channels={"ng": rpm}), "fuel_on")
    assert both.behind("ng", "%") is None
    assert both.behind_at("ng", "%", 25.0) is None
    assert both.reading("ng", 5.0)[2] is None
    assert both.behind("torque", "%") is None
    assert "Ng not known in both" in reading_words(both, 25.0)


def test_outside_both_starts_nothing_lies_behind_and_nothing_is_said():
    both = compared_start(lines("bad.csv", end=40.0), lines(end=40.0), "fuel_on")
    assert (both.begin_s, both.end_s) == (-15.0, 20.0)
    for outside in (4.9, 40.1):
        assert both.behind_at("itt", "degC", outside) is None
        assert reading_words(both, outside) == ""
    assert both.behind_at("itt", "degC", 5.0) is not None


def test_a_start_without_the_instant_says_so_and_draws_nothing():
    dry = replace(lines("dry.csv"), moments={"starter_on": 10.0})
    both = compared_start(lines("bad.csv"), dry, "fuel_on")
    assert moment_forms(both, 20.0) == ("No fuel on is known in dry.csv: align at another instant.",)
    neither = compared_start(dry, dry, "light_off")
    assert neither.problem == "No light-off is known in dry.csv and dry.csv: align at another instant."
    assert both.behind("ng", "%") is None
    assert compared_start(lines("bad.csv"), dry, "starter_on").is_shown


def two_starts():
    assessment = made.hot_start()
    first = assessment.starts[0]
    second = replace(first, number=2, begin_s=first.end_s + 1.0, end_s=first.end_s + 30.0)
    return replace(assessment, starts=(first, second))


def test_a_start_of_the_same_file_is_called_by_its_number_and_itself_is_not_compared():
    assessment = two_starts()
    first, second = assessment.starts
    behind = start_curves(assessment, second)
    assert behind.name == f"start 2 of {assessment.recording.provenance.file_name}"
    both = behind_start(assessment, first, behind, "fuel_on")
    assert both.other.name == "start 2"
    assert both.is_shown
    itself = behind_start(assessment, second, behind, "fuel_on")
    assert itself.problem == "This is the compared start itself."
    assert itself.behind("itt", "degC") is None


def test_in_other_units_the_difference_is_in_them_too():
    """140 °C between two temperatures are 252 °F; each is converted by itself, as the gauges are."""
    plain = made.hot_start()
    shown = in_units(plain, ShownUnits((("degC", "degF"),)))
    cooler = replace(plain.recording.channels["itt"], values=plain.recording.channels["itt"].values - 140.0)
    provenance = replace(plain.recording.provenance, sha256="1" * 64, file_name="cool.csv")
    recording = replace(
        plain.recording.with_channels({**plain.recording.channels, "itt": cooler}), provenance=provenance
    )
    other = start_curves(replace(plain, recording=recording), plain.starts[0])
    both = behind_start(shown, shown.starts[0], other, "fuel_on")
    assert both.reading("itt", 5.0)[2] == pytest.approx(252.0)
    assert "ITT 252 °F higher" in reading_words(both, both.zero_s + 5.0)


def test_the_start_in_play_is_that_of_the_time_else_the_last_before_else_the_first():
    first, second = two_starts().starts
    assert start_in_play((first, second), 1, first.begin_s - 5.0) is first
    assert start_in_play((first, second), 1, first.begin_s) is first
    assert start_in_play((first, second), 1, second.begin_s - 0.1) is first
    assert start_in_play((first, second), 1, second.end_s + 500.0) is second
    assert start_in_play((first, second), 2, 0.0) is None
