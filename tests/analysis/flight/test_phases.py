"""The phases as a person would tell them, whatever the rate and the noise, and what happened at the fields."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.flight.landings import find_landings
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.starts.edge_bounds import air_window
from tests.analysis.flight.made_flights import FIELD_FT, FLYING, Course, recorded

RATES = [(0.5, 1.0), (1.0, 2.0), (4.0, 0.0), (16.0, 2.0)]


def names(course: Course, rate_hz=4.0, noise=0.0, wheels=True, seed=1, without=()):
    corners = {k: v for k, v in course.corners(wheels).items() if k not in without}
    a = assess(recorded(corners, course.time_s, rate_hz, noise, seed), FLYING)
    return [p.name for p in a.phases]


def landings(course: Course, rate_hz=4.0, noise=0.0, wheels=True):
    view = EngineView(recorded(course.corners(wheels), course.time_s, rate_hz, noise), FLYING, 1)
    air = air_window(view)
    return find_landings(view, air.rows)


def standard() -> Course:
    """Climb with a short level-off, cruise with a step of height and a change of speed, descent with a level-off."""
    c = Course().take_off()
    c.to(200, 4000, 120).to(40, 4000).to(400, 11000, 110).to(60, 11500).to(60, 11500, 150)
    c.to(700, 11500, 155).to(20, 11700).to(500, 11700, 150)
    c.to(300, 6000, 160).to(45, 6000).to(250, 1500, 110)
    return c.land()


STANDARD = ["ground", "takeoff", "climb", "cruise", "descent", "landing", "ground"]


@pytest.mark.parametrize(("rate_hz", "noise"), RATES)
@pytest.mark.parametrize("wheels", [True, False])
def test_a_standard_flight_has_its_exact_list(rate_hz, noise, wheels):
    assert names(standard(), rate_hz, noise, wheels) == STANDARD


def manoeuvres(seed: int, minutes: int = 60) -> Course:
    """Climb to 9000 ft, an hour in which height and speed keep changing by dice, and home."""
    rng = np.random.default_rng(seed)
    c = Course().take_off().to(420, 9000, 130)
    until, up = c.time_s + 60 * minutes, True
    while c.time_s < until:
        height = c.palt[-1][1]
        up = height < 6500 or (height < 10500 and (not up if rng.random() < 0.75 else up))
        height += (1 if up else -1) * rng.uniform(300, 2500)
        c.to(rng.uniform(20, 110), height, rng.uniform(85, 190))
        if rng.random() < 0.2:
            c.to(rng.uniform(10, 70), ias=rng.uniform(85, 190))
    return c.to(400, 1500, 110).land()


@pytest.mark.parametrize(("rate_hz", "noise"), RATES)
@pytest.mark.parametrize("seed", range(6))
def test_an_hour_of_manoeuvres_is_told_as_a_person_would(rate_hz, noise, seed):
    found = names(manoeuvres(seed), rate_hz, noise, wheels=False)
    # The dice may let it descend for five minutes at first: that is told.
    usual = ["ground", "takeoff", "climb", "manoeuvring", "descent", "landing", "ground"]
    assert found in (usual, [*usual[:3], "descent", *usual[3:]])
    assert found == names(manoeuvres(seed), 4.0, wheels=False)


def test_manoeuvres_between_two_stretches_of_level_flight():
    c = Course().take_off().to(400, 8000, 120).to(600, 8000, 150)
    for _ in range(5):
        c.to(45, 6500, 190).to(60, 8200, 100)
    c.to(30, 8000, 150).to(600, 8000).to(350, 1500, 110).land()
    expected = [*STANDARD[:4], "manoeuvring", "cruise", *STANDARD[4:]]
    for rate_hz, noise in RATES:
        assert names(c, rate_hz, noise) == expected


def test_speed_that_keeps_changing_at_one_height_is_manoeuvring_and_one_change_is_none():
    c = Course().take_off().to(400, 8000, 120).to(600, 8000, 120)
    for _ in range(5):
        c.to(60, ias=75).to(60, ias=120)
    c.to(600).to(350, 1500, 110).land()
    assert names(c, 1.0, 1.0) == [*STANDARD[:4], "manoeuvring", "cruise", *STANDARD[4:]]
    once = Course().take_off().to(400, 8000, 120).to(600).to(60, ias=160).to(600).to(350, 1500, 110).land()
    assert names(once, 1.0, 1.0) == STANDARD


def circuit(c: Course) -> Course:
    """From the runway to a height of 1200 ft, along and down to 200 ft above the field."""
    return c.to(80, FIELD_FT + 1200, 100).to(100).to(120, FIELD_FT + 200, 85)


def test_go_arounds_are_climbs_after_descents_and_no_manoeuvres():
    c = Course().take_off().to(400, 8000, 120).to(600, 8000, 150).to(420, FIELD_FT + 200, 85)
    for _ in range(3):
        c = circuit(c)
    c.land()
    expected = [*STANDARD[:5], *["climb", "cruise", "descent"] * 3, *STANDARD[5:]]
    for wheels in (True, False):
        for rate_hz, noise in RATES:
            assert names(c, rate_hz, noise, wheels) == expected
        found = landings(c, wheels=wheels)
        assert len(found.go_arounds) == 3
        assert (found.touch_and_goes, found.either, len(found.full_stops)) == ((), (), 1)


def touch_and_go(c: Course) -> Course:
    c.to(20, FIELD_FT, 75).on_wheels(1.0).to(8, ias=60).to(8, ias=75).on_wheels(0.0)
    return c


@pytest.mark.parametrize("wheels", [True, False])
@pytest.mark.parametrize(("rate_hz", "noise"), RATES)
def test_touch_and_goes_are_a_landing_and_a_takeoff(wheels, rate_hz, noise):
    c = circuit(Course().take_off())
    for _ in range(2):
        c = circuit(touch_and_go(c))
    c.land()
    once = ["takeoff", "climb", "cruise", "descent", "landing"]
    assert names(c, rate_hz, noise, wheels) == ["ground", *once * 3, "ground"]
    found = landings(c, rate_hz, noise, wheels)
    assert (len(found.touch_and_goes), len(found.full_stops), len(found.flights)) == (2, 1, 3)
    assert found.go_arounds == found.either == ()


def test_a_touch_of_three_seconds_counts_where_it_came_down_and_climbs_and_a_bounce_does_not():
    c = circuit(Course().take_off()).to(20, FIELD_FT, 75).on_wheels(1.0).to(3).on_wheels(0.0)
    c = circuit(c).to(20, FIELD_FT, 80).on_wheels(1.0).to(1).on_wheels(0.0).to(3).on_wheels(1.0)
    c.to(30, ias=20).to(60, ias=0)
    found = landings(c)
    assert (len(found.touch_and_goes), len(found.full_stops)) == (1, 1)


def test_without_wheels_a_pass_at_the_level_of_the_field_may_be_either():
    c = circuit(Course().take_off()).to(20, FIELD_FT + 20, 80)
    c = circuit(c).land()
    assert len(landings(c, wheels=False).either) == 1
    assert landings(c, wheels=False).go_arounds == ()
    assert len(landings(c, wheels=True).go_arounds) == 1


def test_several_flights_in_one_recording():
    c = Course()
    for _ in range(2):
        c.take_off().to(200, 4000, 120).to(600).to(200, 1500, 110).land()
    for wheels in (True, False):
        assert names(c, 1.0, 1.0, wheels) == [*STANDARD, *STANDARD[1:]]
        assert len(landings(c, wheels=wheels).full_stops) == 2


def test_slow_flight_by_airspeed_alone_is_no_landing():
    c = Course().take_off().to(400, 8000, 120).to(300).to(60, 8000, 60).to(60, 7950, 55).to(60, 8000, 120)
    c.to(600).to(350, 1500, 110).land()
    found = landings(c, 1.0, 1.0, wheels=False)
    assert len(found.flights) == 1
    assert "landing" not in names(c, 1.0, 1.0, wheels=False)[:5]


def test_a_rejected_takeoff_is_no_flight_by_airspeed_alone():
    c = Course().to(60).to(15, ias=80).to(15, ias=80).to(20, ias=10)
    assert names(c, wheels=False) == ["ground"]


@pytest.mark.parametrize("source", ["altitude", "vs"])
def test_altitude_or_vertical_speed_alone_tell_the_same_phases(source):
    c = standard()
    corners = c.corners()
    palt = corners.pop("palt")
    if source == "altitude":
        corners["altitude"] = [(t, h - 250.0) for t, h in palt]
    else:
        corners["vs"] = []
        for (a, low), (b, high) in itertools.pairwise(palt):
            rate = 60.0 * (high - low) / (b - a)
            corners["vs"] += [(a + 0.01, rate), (b - 0.01, rate)]
    a = assess(recorded(corners, c.time_s, 2.0, 1.0), FLYING)
    assert [p.name for p in a.phases] == STANDARD


def test_phases_never_overlap_and_leave_nothing_of_a_running_flight_out():
    for course in (standard(), manoeuvres(3), manoeuvres(4, 10)):
        a = assess(recorded(course.corners(), course.time_s, 1.0, 2.0), FLYING)
        assert a.phases[0].start_s == 0.0
        assert a.phases[-1].end_s == a.recording.duration_s
        for before, after in zip(a.phases, a.phases[1:], strict=False):
            assert before.end_s == after.start_s


def test_a_gap_in_the_middle_of_a_climb_is_no_phase_of_its_own():
    c = standard()
    whole = recorded(c.corners(), c.time_s, 1.0, 1.0)
    keep = (whole.channels["palt"].time_s < 400) | (whole.channels["palt"].time_s > 460)
    channels = {n: type(ch)(n, ch.unit, ch.time_s[keep], ch.values[keep]) for n, ch in whole.channels.items()}
    a = assess(type(whole)(channels, whole.duration_s), FLYING)
    assert [p.name for p in a.phases] == STANDARD
