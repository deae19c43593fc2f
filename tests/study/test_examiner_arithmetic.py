"""The examiner's own arithmetic, by hand: what it holds to be true is true of what it writes."""

from __future__ import annotations

import numpy as np
import pytest

from tests.study.examiner import measures
from tests.study.examiner.answers import Answer, Case, Target, met, most, table
from tests.study.examiner.engine import Fuel, Hang, Plan, above, fly, start_plan
from tests.study.examiner.families import gaps, hung, levels, ordinary, sensors, twins
from tests.study.examiner.recorder import Recorder, sampled, scatter, stamp, text
from tests.study.examiner.rules import PROFILE, keys_of, without
from tests.study.examiner.run import FAMILIES, family


def test_time_above_is_that_of_straight_lines() -> None:
    # Up from 0 to 100 in 1 s, down in 4 s: above 50 for 0.5 s and 2 s. Equal is not above.
    t, values = np.array([0.0, 1.0, 5.0]), np.array([0.0, 100.0, 0.0])
    assert above(t, values, 50.0) == pytest.approx(2.5)
    assert above(t, np.array([50.0, 50.0, 50.0]), 50.0) == 0.0


def test_a_start_has_the_peak_the_light_off_and_the_gain_of_its_plan() -> None:
    hang = Hang(46.0, 0.33, 20.0)
    made = fly(Plan(100.0, ((8.0, None),), (Fuel(19.0, 20.0, 1e6, peak_c=911.0, hang=hang),), step=0.02))
    assert made.highest("itt", 0.0, 100.0) == pytest.approx(911.0)
    assert made.at("itt", 20.0) == pytest.approx(15.0)
    assert made.at("itt", 20.5) > 100.0
    begin = made.first_above("ng", 46.0, 20.0)
    assert begin is not None
    assert made.at("ng", begin + 15.0) - made.at("ng", begin + 5.0) == pytest.approx(3.3, abs=0.01)
    idle = made.first_above("ng", 59.0, 20.0, held=3.0)
    assert idle is not None
    assert made.at("ng", idle) == pytest.approx(59.0)
    assert made.lowest("ng", idle, idle + 3.0) >= 59.0 - 1e-9


def test_the_first_passing_counts_only_if_it_is_held() -> None:
    made = fly(Plan(60.0, ((8.0, 12.0), (30.0, None)), ()))
    first = made.first_above("ng", 5.0, 0.0)
    assert first is not None
    assert 8.0 < first < 12.0
    held = made.first_above("ng", 5.0, 0.0, held=20.0)
    assert held is not None
    assert held > 30.0


def test_the_battery_gives_the_resistance_of_its_plan() -> None:
    run, fuel = start_plan()
    made = fly(Plan(40.0, (run,), (fuel,)))
    inside = (made.t > 9.0) & (made.t < 19.0)
    volts, amps = made.states["bus_volts"][inside], made.states["battery_amps"][inside]
    slope = np.polyfit(amps, volts, 1)[0]
    assert -1000.0 * slope == pytest.approx(8.6)


def test_a_held_value_stands_at_its_level() -> None:
    made = levels.held("itt", 785.0, 100.0)
    assert made.lowest("itt", levels.FROM_S, levels.FROM_S + 100.0) == pytest.approx(785.0)
    assert made.highest("itt", 0.0, made.t[-1]) == pytest.approx(785.0)


def test_a_governor_that_settles_slowly_is_at_idle_within_ten_seconds_of_95_percent() -> None:
    made = hung.flight(0.0, False)
    near, idle = made.first_above("ng", 57.0, 20.0), made.first_above("ng", 59.0, 20.0, held=3.0)
    assert near is not None
    assert idle is not None
    assert idle - near < 10.0


def test_noise_has_its_deviation_and_leans_on_the_value_before() -> None:
    rng = np.random.default_rng(1)
    noise = scatter(rng, 40_000, 2.0, 0.7)
    assert noise.std() == pytest.approx(2.0, rel=0.03)
    assert np.corrcoef(noise[1:], noise[:-1])[0, 1] == pytest.approx(0.7, abs=0.02)


def test_a_slow_bus_repeats_its_rows_and_a_late_ammeter_shows_what_was() -> None:
    run, fuel = start_plan()
    made = fly(Plan(40.0, (run,), (fuel,)))
    t, values = sampled(made, Recorder(4.0, 0.0, held=4, step=0.0), [1])
    whole = t.size // 4 * 4
    assert np.ptp(values["ng"][:whole].reshape(-1, 4), axis=1).max() == 0.0
    _, prompt = sampled(made, Recorder(4.0, 0.0, step=0.0), [1])
    _, late = sampled(made, Recorder(4.0, 0.0, step=0.0, amps_late=0.5), [1])
    assert late["battery_amps"][2:] == pytest.approx(prompt["battery_amps"][:-2])


def test_clocks_are_written_as_recorders_write_them() -> None:
    assert [stamp(3725.75, c) for c in ("elapsed", "hh:mm:ss", "hh:mm:ss.000", "hh:mm:ss.fff", "iso")] == [
        "3725.750",
        "11:02:05",
        "11:02:05.000",
        "11:02:05.750",
        "2031-05-04T11:02:05.750Z",
    ]


def test_equal_seeds_write_equal_recordings() -> None:
    made = hung.flight(1.1, False)
    assert text(made, Recorder(), [7]) == text(made, Recorder(), [7])
    assert text(made, Recorder(), [7]) != text(made, Recorder(), [8])


def test_a_fault_spoils_its_own_channel_only() -> None:
    for name in ("ITT frozen after a slow drift", "torque dead from mid-run"):
        t, good = sampled(sensors.flight(), Recorder(1.0), [1])
        _, bad = sampled(sensors.flight(), Recorder(1.0), [1])
        sensors.FAULTS[name].spoil(t, bad)
        other = [c for c in good if not np.array_equal(good[c], bad[c])]
        assert other == ["itt" if name.startswith("ITT") else "torque"]
        assert np.ptp(bad[other[0]][t >= sensors.FAIL_S]) == 0.0


def test_headings_carry_their_engine() -> None:
    first, second = twins.STYLES["Left Ng, Right Ng"]
    assert (twins.heading(first, "itt"), twins.heading(second, "ng")) == ("Left ITT (degC)", "Right Ng (%)")
    assert twins.heading(twins.STYLES["No. 1 Ng, No. 2 Ng"][1], "fuel_on") == "No. 2 Fuel On"
    assert twins.heading(twins.STYLES["itt, itt.2"][1], "fuel_on") == "fuel_on.2"
    assert len(set(twins.STYLES.values())) == len(twins.STYLES)


def test_measures_are_those_of_the_plan() -> None:
    run, fuel = start_plan(off=150.0)
    made = fly(Plan(220.0, (run,), (fuel,), step=0.02))
    true = measures.of_start(made, Recorder(4.0))
    assert true["fuel_to_light_off"] == pytest.approx(1.0)
    assert true["source_resistance"] == 8.6
    assert true["peak_itt"] == pytest.approx(728.0)
    assert true["time_above_780"] == 0.0
    assert true["starter_total"] == pytest.approx(made.starter[0][1] - 8.0)
    # A first-order motoring to 19 % with 4.5 s: after 11 s 17.35 %, and 2 s before it a mean slope of 0.46 %/s.
    assert true["ng_at_fuel"] == pytest.approx(19.0 * (1 - np.exp(-11 / 4.5)), abs=0.03)
    assert true["ng_rate_at_fuel"] == pytest.approx(
        19.0 * (np.exp(-9 / 4.5) - np.exp(-11 / 4.5)) / 2, abs=0.01
    )
    said = {
        "ng_at_fuel": {"low": 17.0, "high": 17.2},
        "fuel_to_light_off": {"low": 1.0, "high": 1.25},
        "peak_itt": {"low": None, "high": 1.0},
    }
    assert {name: holds for name, holds, _ in measures.held(true, said)} == {
        "ng_at_fuel": False,
        "fuel_to_light_off": True,
    }
    flown = measures.of_flight(made)
    assert flown["highest_np_running"] == pytest.approx(1275.0, abs=10.0)
    assert 5.0 < flown["run_down"] < 20.0


def test_what_a_gap_in_the_profile_hides_is_real() -> None:
    # Well beyond: also of the second lowest row of a recorder of 1 Hz.
    weak, early = gaps.flight("low volts"), gaps.flight("early fuel")
    assert weak.lowest("bus_volts", 9.0, 10.0) < 14.0
    assert weak.at("bus_volts", 10.0) < 14.3
    assert early.at("ng", early.fuel[0][0] + 1.0) < 11.0
    assert gaps.flight("hot start").highest("itt", 0.0, 120.0) == pytest.approx(1000.0)
    assert gaps.flight("overtorque aloft").time_above("torque", 106.0, 0.0, 330.0) > 20.0


def test_an_ordinary_recording_is_well_inside_the_limits() -> None:
    for n, kind in enumerate(ordinary.KINDS):
        made, _ = ordinary.drawn(kind, np.random.default_rng(n))
        begin, release = made.starter[0]
        assert release - begin < 43.0
        assert made.highest("itt", 0.0, made.t[-1]) < 775.0
        assert (
            made.highest("itt", made.lights[0] + 40.0, made.t[-1] if len(made.lights) < 2 else made.lights[1])
            < 742.0
        )
        assert made.highest("torque", 0.0, made.t[-1]) < 95.0
        assert made.lowest("bus_volts", begin + 1.0, release) > 16.0
        assert made.at("ng", made.fuel[0][0]) > 15.8


def test_keys_are_taken_out_of_the_profile() -> None:
    assert "idle_ng_pct" in keys_of("start")
    assert "idle_ng_pct" not in without("idle_ng_pct")
    assert len(without("idle_ng_pct").splitlines()) == len(PROFILE.splitlines()) - 1


def test_a_share_is_met_while_chance_makes_that_many() -> None:
    # Of 36 with 2 % each: 0, 1 or 2 in 96.6 of 100 studies (binomial), 0 or 1 in 83.8.
    assert most(36, 0.02) == 2
    assert most(110, 15 / 110, exact=True) == 15
    assert most(50, 0.0) == 0
    # By the normal approximation 1000 + 1.645 x 30.8 = 1050.7.
    assert most(20_000, 0.05) == pytest.approx(1051, abs=1)


def test_a_row_is_met_by_its_own_answers() -> None:
    rows = {"x": Target("nothing"), "y": Target("holds", missed=0.05, covers=True)}
    answers = [Answer("x", "within"), Answer("y", "1.5"), Answer("y", "2.5", "missed")]
    assert met(answers[:1], rows["x"])
    assert not met([Answer("x", "exceeded", "false")], rows["x"])
    lines, failed = table(answers, rows)
    assert failed == 0
    assert "0.500" in lines[2]


@pytest.mark.parametrize("name", FAMILIES)
def test_every_recording_has_its_row_and_its_own_name(name: str) -> None:
    subject = family(name)
    cases = subject.cases(0.05)
    assert len({case.name for case in cases}) == len(cases)
    assert subject.targets()


def test_the_examiner_notices_a_program_that_is_silent_and_one_that_invents() -> None:
    from tests.study.examiner.asking import Made, Said

    silent = Said(
        {
            "verdict": "within",
            "sentence": "",
            "events": [],
            "starts": [],
            "limits": [],
            "not_judged": [],
            "recording": {"quality": [], "questions": []},
        }
    )
    event = {
        "kind": "hung_start",
        "reason": "stagnated",
        "severity": "limit",
        "channel": "itt",
        "sensor_suspect": False,
        "levels": [{"level": 785.0, "result": "exceeded"}],
    }
    assert silent.document is not None
    loud = Said({**silent.document, "verdict": "exceeded", "events": [event]})
    hang = Case("hung", "0.5 x, 4 Hz, no noise", 0, (0.5, 4.0, 0.0, False))
    assert hung.judged(hang, Made("", "", (0.5, False)), silent)[0].wrong == "missed"
    assert hung.judged(hang, Made("", "", (0.5, False)), loud)[0].wrong == ""
    assert hung.judged(hang, Made("", "", (1.1, False)), loud)[0].wrong == "false"
    at = Case("levels", "itt at, 4 Hz", 0, ("itt", 0.0, 4.0, ""))
    assert levels.judged(at, Made("", "", ("itt", 785.0)), loud)[0].wrong == "false"
    assert levels.judged(at, Made("", "", ("itt", 785.0)), silent)[0].wrong == ""
    lower = {
        **event,
        "levels": [{"level": 745.0, "result": "exceeded"}, {"level": 785.0, "result": "possible"}],
    }
    part = Said({**silent.document, "events": [lower]})
    assert levels.judged(at, Made("", "", ("itt", 785.0)), part)[0].said == "possible"
    frozen = Case("sensors", "ITT frozen to the end", 0, (4.0, 0.0))
    assert sensors.judged(frozen, Made("", ""), silent)[0].wrong == "missed"
