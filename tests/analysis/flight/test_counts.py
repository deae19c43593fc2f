"""Cycles, starts and the use of the hot section of recordings whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.model import FlightRules, LifeRules
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, normal_start, recording

HOURS_S = 1200.0
# Start, three runs up to take-off power, shutdown.
NG = [(48, 60), (100, 60), (110, 95), (300, 95), (310, 60), (400, 60), (410, 90), (500, 90), (510, 60), (600, 60),
      (610, 78), (700, 78), (710, 60), (900, 60), (930, 8), (960, 0), (1200, 0)]  # fmt: skip
ITT = [(48, 560), (100, 540), (110, 760), (300, 760), (310, 540), (400, 540), (410, 700), (500, 700), (510, 540), (600, 540),
       (610, 640), (700, 640), (710, 540), (900, 540), (903, 300), (1200, 180)]  # fmt: skip


def run(
    rate_hz: float = 4.0, noise: float = 0.0, resolution: float | None = None, seed: int = 0
) -> Recording:
    traces = normal_start()
    traces |= {
        "ng": [p for p in traces["ng"] if p[0] < 48] + NG,
        "itt": [p for p in traces["itt"] if p[0] < 48] + ITT,
        "fuel_on": [(0, 0), (22, 1), (900, 0)],
    }
    made = recording(traces, HOURS_S, rate_hz)
    rng = np.random.default_rng(seed)
    channels = dict(made.channels)
    for name, size in (("ng", 0.1), ("itt", 2.0)):
        one = channels[name]
        values = one.values + noise * size * rng.normal(size=one.values.size)
        if resolution:
            values = np.round(values / (resolution * size)) * resolution * size
        channels[name] = replace(
            one, values=values, resolution=None if resolution is None else resolution * size
        )
    return made.with_channels(channels)


def classes(a: Assessment, channel: str) -> dict[float, float]:
    return {one.range_from: one.cycles for one in a.flight.cycles if one.channel == channel}


# By hand. Ng 0, 60, 95, 60, 90, 60, 78, 60, 0: the ranges 30 (60-90-60) and 18 (60-78-60) close; the half cycles left are
# 0-95 and 95-0. ITT 15, 700 (start), 540, 760, 540, 700, 540, 640, 540, 180: 160 (700-540) of the start, 160, 100 close;
# 15-760 and 760-180 are left.
NG_TRUE = {90.0: 1.0, 30.0: 1.0, 10.0: 1.0}
ITT_TRUE = {700.0: 0.5, 550.0: 0.5, 150.0: 2.0, 100.0: 1.0}


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_cycles_are_counted_by_class_at_every_rate(rate_hz: float) -> None:
    a = assess(run(rate_hz), PROFILE)
    assert classes(a, "ng") == NG_TRUE
    assert classes(a, "itt") == ITT_TRUE
    for name, count in (("cycles_ng", 3.0), ("cycles_itt", 4.0)):
        measure = a.flight_measures[name]
        assert (measure.value, measure.low, measure.high, measure.unit) == (count, count, count, "")


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("resolution", [None, 0.5])
def test_noise_makes_no_cycles_and_hides_none(rate_hz: float, resolution: float | None) -> None:
    wrong = 0
    for seed in range(12):
        a = assess(run(rate_hz, 1.0, resolution, seed), PROFILE)
        # A range may fall into the class beside its own, since noise makes it larger: the count stays.
        wrong += sum(classes(a, "ng").values()) != 3.0
        wrong += sum(classes(a, "itt").values()) != 4.0
    assert wrong <= 1


def test_a_sample_that_cannot_be_believed_makes_no_cycle() -> None:
    made = run(4.0)
    ng = made.channels["ng"]
    values = ng.values.copy()
    values[np.searchsorted(ng.time_s, [200.0, 450.0])] = 0.0
    spiked = made.with_channels({**made.channels, "ng": replace(ng, values=values)})
    a = assess(spiked, replace(PROFILE, max_rate={"ng": 25.0}))
    assert classes(a, "ng") == NG_TRUE


def test_what_a_gap_hides_leaves_the_count_open_above() -> None:
    made = run(4.0)
    keep = (made.channels["ng"].time_s < 330) | (made.channels["ng"].time_s > 380)
    channels = {
        name: Channel(c.name, c.unit, c.time_s[keep], c.values[keep]) if name in ("ng", "itt") else c
        for name, c in made.channels.items()
    }
    measure = assess(made.with_channels(channels), PROFILE).flight_measures["cycles_ng"]
    assert (measure.value, measure.low, measure.high) == (3.0, 3.0, None)
    assert measure.why == "a gap in Ng hides what it did there"


def test_without_a_channel_nothing_is_counted_and_it_is_said() -> None:
    made = run(4.0)
    a = assess(made.with_channels({k: c for k, c in made.channels.items() if k != "itt"}), PROFILE)
    assert a.flight_measures["cycles_itt"].value is None
    assert "not recorded" in (a.flight_measures["cycles_itt"].why or "")
    assert classes(a, "itt") == {}
    assert classes(a, "ng") == NG_TRUE


def test_starts_that_came_to_idle_are_counted_and_those_left_open_are_bounds() -> None:
    measure = assess(run(4.0), PROFILE).flight_measures["starts_completed"]
    assert (measure.value, measure.low, measure.high) == (1.0, 1.0, 1.0)
    cut = assess(recording(normal_start(), 40.0), PROFILE)
    measure = cut.flight_measures["starts_completed"]
    assert cut.starts[0].outcome == "incomplete"
    assert (measure.value, measure.low, measure.high) == (0.0, 0.0, 1.0)
    blind = replace(PROFILE, start=replace(PROFILE.start, idle_ng_pct=None))
    measure = assess(run(4.0), blind).flight_measures["starts_completed"]
    assert (measure.value, measure.low, measure.high) == (None, 0.0, 1.0)
    assert "idle Ng" in (measure.why or "")


LIFE = LifeRules(reference_itt_c=760.0, larson_miller_c=20.0, reference_life_h=1000.0)


def test_the_hot_section_is_told_only_by_the_profiles_own_numbers() -> None:
    assert assess(run(), PROFILE).flight_measures["hot_section_use"].value is None
    for rules in (replace(LIFE, reference_itt_c=None), replace(LIFE, larson_miller_c=None)):
        measure = assess(run(), replace(PROFILE, life=rules)).flight_measures["hot_section_use"]
        assert measure.value is None
        assert "the profile gives no" in (measure.why or "")


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_the_use_of_the_hot_section_is_the_integral_over_the_whole_run(rate_hz: float, noise: float) -> None:
    t = np.arange(47.2, 900.0, 0.01)  # 57 % at 47.2 s, where the start ends
    corners = [p for p in normal_start()["itt"] if p[0] < 48] + ITT
    kelvin = np.interp(t, *np.array(corners, dtype=float).T) + 273.15
    truth = float(np.sum(10 ** (23.0 * (1.0 - (760.0 + 273.15) / kelvin))) * 0.01)
    measure = assess(run(rate_hz, noise), replace(PROFILE, life=LIFE)).flight_measures["hot_section_use"]
    assert measure.unit == "s"
    assert measure.value == pytest.approx(truth, rel=0.02)
    assert measure.low is not None
    assert measure.high is not None
    assert measure.low <= truth <= measure.high
    # At the reference for 190 s, and 60 degC and more below it for the rest.
    assert 190.0 < truth < 215.0


def test_a_hot_start_of_seconds_uses_no_days_of_the_hot_section() -> None:
    hot = {"itt": [(0, 15), (23, 15), (26, 900), (29, 1150), (33, 900), (47, 560), *ITT]}
    made = run()
    itt = recording(hot, HOURS_S, 4.0).channels["itt"]
    profile = replace(PROFILE, life=LIFE)
    cool, warm = (
        assess(made.with_channels({**made.channels, "itt": one}), profile)
        for one in (made.channels["itt"], itt)
    )
    assert [e.kind for e in warm.events if e.kind == "hot_start"]
    use = [a.flight_measures["hot_section_use"].value for a in (cool, warm)]
    assert use[1] == pytest.approx(use[0], abs=0.5)


def test_what_a_gap_in_itt_hides_is_not_counted_and_leaves_it_open_above() -> None:
    made = run(4.0)
    keep = (made.channels["itt"].time_s < 150) | (made.channels["itt"].time_s > 200)
    itt = made.channels["itt"]
    holed = Channel("itt", "degC", itt.time_s[keep], itt.values[keep])
    with_gap = made.with_channels({**made.channels, "itt": holed})
    whole = assess(made, replace(PROFILE, life=LIFE)).flight_measures["hot_section_use"]
    part = assess(with_gap, replace(PROFILE, life=LIFE)).flight_measures["hot_section_use"]
    assert whole.value is not None
    assert part.value == pytest.approx(whole.value - 50.0, abs=0.6)
    assert part.high is None
    assert "gap" in (part.why or "")


def test_a_second_engine_is_counted_by_itself() -> None:
    made = run(4.0)
    second = {
        f"{n}.2": replace(c, name=f"{n}.2") for n, c in made.channels.items() if n in ("ng", "itt", "fuel_on")
    }
    flat = replace(second["ng.2"], values=np.zeros(second["ng.2"].values.size))
    a = assess(made.with_channels({**made.channels, **second, "ng.2": flat}), PROFILE)
    assert {one.engine for one in a.flight.cycles} == {1, 2}
    assert {one.channel for one in a.flight.cycles if one.engine == 2} == {"itt"}
    assert a.flight_measures["cycles_itt.2"].value == 4.0


# Idle, three lift-offs: 100 s, after a touch-and-go at 300 s, after a full stop and taxi at 600 s.
AIR = [(0, 1), (100, 0), (300, 1), (320, 0), (500, 1), (600, 0), (800, 1)]
IAS = [(0, 0), (80, 0), (100, 80), (290, 90), (300, 80), (310, 55), (320, 80), (490, 90), (500, 80), (530, 5), (580, 5), (600, 80),
       (790, 90), (800, 80), (830, 0), (900, 0)]  # fmt: skip
PALT = [(0, 500), (100, 500), (150, 1500), (250, 1500), (299, 500), (321, 500), (400, 1500), (499, 500), (600, 500), (700, 1500), (799, 500),
        (900, 500)]  # fmt: skip
CYCLED = replace(PROFILE, life=LifeRules(cycle_factor=0.25), flight=FlightRules(airborne_ias_kt=68.0))


def circuits(began: bool = False, wheels: bool = True, from_s: float = 0.0) -> Recording:
    shift = 0.0 if began else 100.0
    traces = {} if began else normal_start()
    later = {
        "ng": [(0, 60), (90, 60), (95, 95), (290, 80), (480, 80), (505, 60), (590, 60), (595, 95), (790, 80), (805, 60), (900, 60)],
        "itt": [(0, 540), (90, 540), (95, 740), (505, 540), (590, 540), (595, 740), (805, 540), (900, 540)],
        "ias": IAS, "palt": PALT, "weight_on_wheels": AIR,
    }  # fmt: skip
    for name, corners in later.items():
        traces[name] = [p for p in traces.get(name, []) if p[0] < shift] + [
            (t + shift, v) for t, v in corners
        ]
    if began:
        traces |= {"fuel_on": [(0, 1)], "starter": [(0, 0)]}
    if not wheels:
        del traces["weight_on_wheels"]
    made = recording(traces, 900.0 + shift, 4.0)
    if not from_s:
        return made
    keep = next(iter(made.channels.values())).time_s >= from_s
    return Recording(
        {
            n: replace(c, time_s=c.time_s[keep] - from_s, values=c.values[keep])
            for n, c in made.channels.items()
        },
        made.duration_s - from_s,
    )


def counted(a: Assessment, name: str) -> tuple[float | None, float | None, float | None]:
    measure = a.flight_measures[name]
    return measure.value, measure.low, measure.high


@pytest.mark.parametrize("wheels", [True, False])
def test_flights_touch_and_goes_and_equivalent_cycles_of_circuits(wheels: bool) -> None:
    a = assess(circuits(wheels=wheels), CYCLED)
    assert counted(a, "flights") == (2.0, 2.0, 2.0)
    assert counted(a, "touch_and_goes") == (1.0, 1.0, 1.0)
    # One start, two further take-offs: 1 + 2 x 0.25.
    assert counted(a, "equivalent_cycles") == (1.5, 1.5, 1.5)
    assert a.flight_evidence["equivalent_cycles"].readings


def test_of_an_engine_that_ran_before_the_first_take_off_is_left_open() -> None:
    assert counted(assess(circuits(began=True), CYCLED), "equivalent_cycles") == (0.5, 0.5, 0.75)
    # It begins in the air: it took off before, so both later ones are further ones.
    assert counted(assess(circuits(began=True, from_s=200.0), CYCLED), "equivalent_cycles") == (0.5, 0.5, 0.5)
    assert counted(assess(circuits(began=True, from_s=200.0), CYCLED), "flights") == (2.0, 2.0, 2.0)


def test_without_what_tells_flight_or_the_profiles_factor_nothing_is_counted() -> None:
    made = circuits()
    blind = made.with_channels(
        {n: c for n, c in made.channels.items() if n not in ("ias", "weight_on_wheels")}
    )
    a = assess(blind, CYCLED)
    for name in ("flights", "touch_and_goes", "equivalent_cycles"):
        assert a.flight_measures[name].value is None
        assert a.flight_measures[name].why == "neither weight on wheels nor airspeed tells ground from air"
    assert counted(assess(made, PROFILE), "equivalent_cycles")[0] is None
