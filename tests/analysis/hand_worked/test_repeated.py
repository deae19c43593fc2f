"""Checks of starts in the air, of fuel that comes more than once, and of how far a start's peak reaches."""

from __future__ import annotations

from dataclasses import replace

from debrief.analysis.model import Start
from tests.analysis.fault_making import Analysis, close
from tests.analysis.recording_making import PROFILE, RULES, normal_start
from tests.analysis.rules.test_air_and_repeated_starts import AS_ON_GROUND, TWICE, windmilling

ASSISTED = {
    "ng": [(0, 85), (60, 85), (90, 12), (95, 12), (99, 20), (102, 20), (142, 60), (160, 60)],
    "starter": [(0, 0), (95, 1), (130, 0)],
    "bus_volts": [(0, 28), (60, 28), (60.125, 24.5), (95, 24.5), (95.125, 20), (130, 24.5), (142, 28)],
}


def test_the_rules_of_the_ground_hold_in_the_air_only_where_the_profile_says_so(lab: Analysis) -> None:
    def found(traces: dict, **options: object) -> tuple[set[str], set[str]]:
        a = lab.judge(traces, 160, **options)
        return {e.reason or e.kind for e in a.events}, {p.what for p in a.not_judged}

    rules = {"early_fuel", "residual_heat"}
    points = {"Ng at fuel", "whether Ng had stabilised", "residual heat"}
    assert found(windmilling()) == (set(), points)
    assert found(windmilling(), profile=AS_ON_GROUND) == (rules, set())
    assert found(windmilling(weight_on_wheels=[(0, 1)])) == (rules, set())
    nowhere = {k: v for k, v in windmilling().items() if k != "weight_on_wheels"}
    assert found(nowhere) == (set(), points)
    assert found(windmilling(**ASSISTED)) == (set(), points | {"Ng at starter on"})
    on_ground, _ = found(windmilling(**ASSISTED, weight_on_wheels=[(0, 1)]))
    assert "engaged_while_turning" in on_ground
    # What the profile does not ask is not missing, nor what another line says already: no ITT, no residual heat.
    unasked = replace(PROFILE, start=replace(RULES, max_residual_itt_c=None))
    assert found(windmilling(), profile=unasked) == (set(), points - {"residual heat"})
    # In steps of 4 % the slope of Ng is less certain than the criterion: where that is not asked, it is not missing.
    coarse = lab.judge(windmilling(), 160, resolution=4.0)
    assert all(p.why.startswith("in the air") for p in coarse.not_judged)
    # A wheel switch that opens or closes for a second as the starter comes on does not move the start.
    for wheels, turning in (([(0, 1), (95, 0), (95.5, 1)], True), ([(0, 0), (94.5, 1), (95.5, 0)], False)):
        bounced, _ = found(windmilling(**ASSISTED, weight_on_wheels=wheels))
        assert ("engaged_while_turning" in bounced) == turning
    # 9 s of fuel that does not light at 100 s, and fuel again 10 s later: in the air nobody motors.
    cold = {
        "itt": [(0, 650), (60, 650), (90, 240), (160, 100)],
        "fuel_on": [(0, 1), (60, 0), (100, 1), (109, 0), (119, 1)],
    }
    events, asked = found(windmilling(**cold))
    assert "fuel_reintroduced" not in events
    assert "motoring between fuel cut-off and fuel again" in asked
    events, _ = found(windmilling(**cold, weight_on_wheels=[(0, 1)]))
    assert "fuel_reintroduced" in events
    # Fuel that never lit leaves no flame to relight: 65 s after the last flame at 60 s it is a windmilling start.
    later = cold | {"fuel_on": [(0, 1), (60, 0), (100, 1), (109, 0), (125, 1)]}
    assert [s.kind for s in lab.judge(windmilling(**later), 160).starts] == ["relight", "windmilling"]


def _cuts(s: Start) -> tuple[float | None, ...]:
    names = ("cut_after_830", "first_cue", "cue_to_cut", "motored_after_cut", "itt_at_starter_release")
    return tuple(s.measures[name].value if name in s.measures else -1.0 for name in names)


def test_each_cut_is_timed_by_its_own_fuel(lab: Analysis) -> None:
    (s,) = lab.judge(TWICE, 90).starts
    # 830 degC at 49 s, cut at 51 s, motored to 70 s; 62 s on 160 to 120 degC in 28 s: 148.6 degC at 70 s.
    assert all(map(close, _cuts(s), (2.0, 49.0, 2.0, 19.0, 160 - 40 * 8 / 28)))
    assert "The cut-off at 0:29.0 came 3.0 s after its first cue" in s.notes[-1]
    assert "motored for 16.0 s until" in s.notes[-1]
    # The second fuel does not light: the first is the last that burned.
    cold = {"itt": [(0, 15), (23, 15), (24, 630), (28, 1030), (29, 1030), (40, 170), (90, 120)]}
    (s,) = lab.judge(TWICE | cold, 90).starts
    assert all(map(close, _cuts(s)[:4], (3.0, 26.0, 3.0, 16.0)))
    assert (s.measures["motored_after_cut"].low, _cuts(s)[4]) == (15.875, None)
    # The second fuel reaches idle, and hung from 50 s on before: no cue of the first cut.
    second = {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (29, 30), (34, 21), (46, 21), (50, 30), (60, 30.2), (80, 60), (99, 60)],
        "itt": [(0, 15), (23, 15), (24, 630), (29, 700), (40, 170), (46, 150), (50, 560), (55, 700), (80, 560), (99, 540)],
        "fuel_on": [(0, 0), (22, 1), (29, 0), (45, 1)],
    }  # fmt: skip
    (s,) = lab.judge(TWICE | second, 99).starts
    assert s.outcome == "completed"
    assert (_cuts(s)[1], _cuts(s)[3]) == (None, 16.0)
    # A hang of the first fuel, which stood at 20 % until it was cut, is no cue of the second cut.
    stood = {
        "ng": [(0, 0), (10, 0), (17, 20), (70, 20), (82, 0)],
        "fuel_on": [(0, 0), (22, 1), (36, 0), (45, 1), (51, 0)],
    }
    (s,) = lab.judge(TWICE | stood, 90).starts
    assert (s.outcome, _cuts(s)[1]) == ("hung", 49.0)
    # Cut at 29 s, released at 30 s: what turns it from 36 to 60 s is a start of its own, unless that had fuel.
    cooled = {"starter": [(0, 0), (10, 1), (30, 0), (36, 1), (60, 0)], "fuel_on": [(0, 0), (22, 1), (29, 0)]}
    s, _ = lab.judge(TWICE | cold | cooled, 90).starts
    assert s.notes[-1].startswith("The starter engaged again at 0:36.0 and motored for 24.0 s")
    fuelled = cooled | {"fuel_on": [(0, 0), (22, 1), (29, 0), (45, 1), (50, 0)]}
    assert "engaged again" not in " ".join(lab.judge(TWICE | cold | fuelled, 90).starts[0].notes)
    # A cut at idle is a shutdown, and no abort.
    shut = normal_start() | {"fuel_on": [(0, 0), (22, 1), (70, 0)]}
    assert "first_cue" not in lab.judge(shut).starts[0].measures


def test_the_peak_reaches_as_far_as_the_run_that_counts(lab: Analysis) -> None:
    # Idle at 47.03 s on the way up through 830 degC: 900 degC at 50 s, below 830 again at 60 s.
    itt = [(0, 15), (23, 15), (26, 560), (40, 760), (45, 840), (50, 900), (60, 830), (65, 600), (80, 540)]
    (s,) = lab.judge(normal_start() | {"itt": itt}).starts
    assert (s.peak_itt_c, s.peak_itt_s, s.measures["peak_itt"].value) == (900.0, 50.0, 900.0)
    assert s.fuel_periods[-1].peak_itt_c == 900.0


def test_what_is_told_twice_agrees_and_certain_is_so_by_its_bounds(lab: Analysis) -> None:
    def one(traces: dict, end_s: float, kind: str, rate_hz: float = 8.0) -> tuple[object, object]:
        a = lab.judge(normal_start() | traces, end_s, rate_hz=rate_hz)
        (event,) = [e for e in a.events if e.kind == kind and e.reason != "before"]
        return a, event

    # 920 degC is passed when idle is reached at 47.03 s, and 1050 at 50 s: the margin is to the event's peak.
    itt = [(0, 15), (23, 15), (26, 560), (40, 760), (45, 840), (50, 1050), (60, 830), (65, 600), (80, 540)]
    a, hot = one({"itt": itt}, 80, "hot_start")
    assert (hot.peak, a.limits[0].margin_value) == (1050.0, -130.0)
    # Lit at 34.5 s, which 0.5 Hz tells to 32 to 36 s: 10 s after fuel is not surely late.
    slow = {
        "itt": [(0, 15), (34.5, 15), (38, 560), (42, 700), (62, 560), (80, 540)],
        "ng": [(0, 0), (10, 0), (17, 20), (33, 20), (58, 59), (80, 59)],
    }
    assert not one(slow, 80, "no_light_off", 0.5)[1].certain
    cold = {"itt": [(0, 15)], "ng": [(0, 0), (10, 0), (17, 20), (80, 20)], "starter": [(0, 0), (10, 1)]}
    assert one(cold, 45, "no_light_off")[1].duration_high_s is None
    # At 0.5 Hz cut from 30 to 32 s and back from 44 to 46 s: 12 to 16 s, where 15 are wanted.
    again = cold | {"fuel_on": [(0, 0), (22, 1), (31, 0), (45, 1)], "starter": [(0, 0), (10, 1), (70, 0)]}
    assert not one(again, 80, "fuel_reintroduced", 0.5)[1].certain
    assert one(again, 80, "fuel_reintroduced")[1].certain
    # The bit stays on without generating: 16 V at 70 s is the lowest, though idle was reached at 47 s.
    sag = {
        "bus_volts": [(0, 25), (10, 25), (10.125, 19), (69, 23), (70, 16), (71, 23)],
        "starter": [(0, 0), (10, 1)],
    }
    _, low = one(sag, 80, "low_start_voltage")
    assert (low.peak, low.peak_s) == (16.0, 70.0)
