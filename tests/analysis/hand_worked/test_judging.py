"""Checks of how limits are judged: results, windows, conditions, spikes, the sensor's sense, the verdict."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.profile.model import AllowedRow, EngineProfile, Limit, WhereCondition
from debrief.recording.model import Recording
from tests.analysis.fault_making import Analysis, close, kinds
from tests.analysis.recording_making import PROFILE, STARTER, normal_start, recording

NO_DUTY = replace(STARTER, duty=(), external_duty=())


def one(channel: str = "itt", *rows: tuple[float, ...], **more: object) -> EngineProfile:
    """Return the profile with a single limit and no duty."""
    allowed = tuple(AllowedRow(*row) for row in rows) or (AllowedRow(800, 5),)
    unit = {"itt": "degC", "torque": "%", "oil_press": "psi", "ng": "%"}[channel]
    options = {"when": "running", "count": "longest"} | more
    limit = Limit("one", "overtemp", channel, unit=unit, allowed=allowed, **options)
    return replace(PROFILE, starter=NO_DUTY, limits=(limit,))


def running(itt: list[tuple[float, float]], **more: list[tuple[float, float]]) -> dict:
    """Return a running engine."""
    return {"ng": [(0, 90)], "itt": itt, "fuel_on": [(0, 1)], "starter": [(0, 0)]} | more


def plateau(
    seconds: float, begin: float = 20.0625, high: float = 900.0, low: float = 700.0
) -> list[tuple[float, float]]:
    """Return ITT that is above its half-way level for exactly `seconds`, half way between samples at 8 Hz."""
    return [(0, low), (begin - 0.125, low), (begin + 0.125, high), (begin + seconds - 0.125, high),
            (begin + seconds + 0.125, low), (400, low)]  # fmt: skip


def result(lab: Analysis, a: object) -> tuple[str, list[str]]:
    return a.limits[0].result, [e.severity for e in a.events if e.limit_id == "one"]


def test_exceeded_by_the_estimate_and_possible_by_the_upper_bound(lab: Analysis) -> None:
    # The samples just outside are 0.0625 s away on both sides: the upper bound is 0.125 s longer.
    def judged(seconds: float, end_s: float = 60.0) -> tuple[str, list[str]]:
        return result(lab, lab.judge(running(plateau(seconds)), end_s, one("itt", (800, 5))))

    assert judged(4.625) == ("within", [])
    assert judged(5.0) == ("possible", ["possible"])
    assert judged(5.0625) == ("exceeded", ["limit"])
    # The recording ends 4 s into it: at least 4 s.
    assert judged(30.0, 24.0) == ("possible", ["possible"])


def test_certain_is_what_the_lower_bound_exceeds_too(lab: Analysis) -> None:
    def certain(seconds: float) -> list[bool]:
        return [e.certain for e in lab.judge(running(plateau(seconds)), 60, one("itt", (800, 5))).events]

    # The samples just inside are 0.0625 s away on both sides: the lower bound is 0.125 s shorter.
    assert certain(5.125) == [False]
    assert certain(5.5) == [True]


def test_a_caution_row_is_never_more_than_a_caution(lab: Analysis) -> None:
    def judged(seconds: float) -> tuple[str, list[str]]:
        return result(lab, lab.judge(running(plateau(seconds)), 60, one("itt", (800, 5, "caution"))))

    assert judged(5.0) == ("within", [])
    assert judged(20.0) == ("caution", ["caution"])


def test_any_sample_above_exceeds_a_zero_second_limit(lab: Analysis) -> None:
    def holed(values: list[float], times: list[float]) -> Recording:
        made = recording(running([(0, 700)]), 60, 1.0)
        itt = made.channels["itt"]
        keep = (itt.time_s < 20) | (itt.time_s > 50)
        t = np.concatenate((itt.time_s[itt.time_s < 20], times, itt.time_s[itt.time_s > 50]))
        v = np.concatenate((itt.values[itt.time_s < 20], values, itt.values[itt.time_s > 50]))
        assert keep.any()
        return made.with_channels(dict(made.channels) | {"itt": replace(itt, time_s=t, values=v)})

    # One sample above, with gaps of 16 s on both sides: above, nobody knows for how long.
    a = lab.of(holed([810.0], [35.0]), one("itt", (800, 0)))
    assert [e.severity for e in a.events] == ["limit"]
    assert (a.events[0].duration_s, a.events[0].duration_low_s) == (0.0, 0.0)
    # Only the slopes point above 800 between two samples: possible.
    tip = running([(0, 700), (19, 700), (20, 790), (21, 790), (22, 700), (60, 700)])
    assert result(lab, lab.judge(tip, 60, one("itt", (800, 0)), rate_hz=1.0)) == ("possible", ["possible"])


def test_possible_findings_under_ten_seconds_apart_are_one_event(lab: Analysis) -> None:
    def events(second: float) -> int:
        both = [p for p in plateau(5.0) if p[0] < 26] + [p for p in plateau(5.0, second) if p[0] > 26]
        return len(lab.judge(running(both), 80, one("itt", (800, 5))).events)

    # The first is over at 25.0625 s: 9.5 s and 10.5 s.
    assert (events(34.5625), events(35.5625)) == (1, 2)


def test_total_sums_over_one_engine_cycle(lab: Analysis) -> None:
    # 4 s and 4 s, far apart: 8 s in total are more than 5 s.
    both = [p for p in plateau(4.0) if p[0] < 26] + [p for p in plateau(4.0, 60.0) if p[0] > 26]
    total = one("itt", (800, 5), count="total")
    assert result(lab, lab.judge(running(both), 100, total)) == ("exceeded", ["limit"])
    assert result(lab, lab.judge(running(both), 100, one("itt", (800, 5))))[0] == "within"
    # In two cycles, with the engine stopped in between, 4 s each: within.
    shut = running(
        both,
        ng=[(0, 90), (30, 90), (32, 2), (50, 2), (52, 90), (100, 90)],
        fuel_on=[(0, 1), (30, 0), (45, 1)],
    )
    shut["itt"] = (
        [p for p in both if p[0] < 26]
        + [(30, 700), (31, 60), (45, 60), (47, 700)]
        + [p for p in both if p[0] > 50]
    )
    assert result(lab, lab.judge(shut, 100, total))[1] == []


def test_a_minimum_is_judged_upside_down(lab: Analysis) -> None:
    press = [(0, 60), (20, 60), (20.25, 20), (30.25, 20), (30.5, 60), (80, 60)]
    a = lab.judge(running([(0, 700)], oil_press=press), 80, one("oil_press", (40, 5), below=True))
    assert a.limits[0].result == "exceeded"
    # 40 psi is half way down and half way up.
    assert (a.events[0].peak, a.events[0].level, close(a.events[0].duration_s, 10.25)) == (20.0, 40.0, True)
    assert (a.limits[0].nearest_level, a.limits[0].margin_value) == (40.0, -20.0)


def test_the_margin_is_to_the_nearest_level(lab: Analysis) -> None:
    both = one("itt", (750, 30), (850, 5))
    # Above 750 and 850 for about 8 s: 850 is exceeded by 3 s, and by 50 degC.
    itt = [(0, 700), (20, 700), (20.25, 900), (28.25, 900), (28.5, 700), (80, 700)]
    limit = lab.judge(running(itt), 80, both).limits[0]
    assert (limit.result, limit.nearest_level, limit.margin_value) == ("exceeded", 850.0, -50.0)
    assert close(limit.margin_seconds, 5 - 8.125, 0.01)
    # Both levels exceeded, for 40 s: the worse one is told.
    long = lab.judge(
        running([(0, 700), (20, 700), (20.25, 900), (60.25, 900), (60.5, 700)]), 80, both
    ).limits[0]
    assert long.nearest_level == 850.0
    # Never above 750: all 30 s are left, and 50 degC.
    cool = lab.judge(running([(0, 700)]), 80, both).limits[0]
    assert (cool.nearest_level, cool.margin_seconds, cool.margin_value) == (750.0, 30.0, 50.0)


def hot_until(lab: Analysis, cool_s: float, *more: tuple[float, float]) -> object:
    """Return a start that is above 830 degC from 25 s until `cool_s`; idle is at 47.03 s."""
    itt = [
        (0, 15),
        (23, 15),
        (24, 760),
        (24.875, 760),
        (25.125, 900),
        (cool_s - 0.125, 900),
        (cool_s + 0.125, 760),
        *more,
        (120, 700),
    ]
    return lab.judge(normal_start() | {"itt": itt}, 120, replace(PROFILE, starter=NO_DUTY))


def test_a_run_above_a_start_level_at_idle_counts_to_its_end(lab: Analysis) -> None:
    # The window ends at idle, 47.03 s: 22 s above 830 by then; the run goes on to 55 s.
    a = hot_until(lab, 55.0, (70, 760), (70.25, 900), (90, 900), (90.25, 760))
    assert [e.level for e in a.events if e.kind == "hot_start"] == [830.0]
    assert close(next(e for e in a.events if e.kind == "hot_start").duration_s, 30.0, 0.1)
    # A second run, from 70 s on, is no matter of the start.
    itt = [
        (0, 15),
        (23, 15),
        (24, 760),
        (24.875, 760),
        (25.125, 900),
        (40, 900),
        (41, 760),
        (70, 760),
        (71, 900),
        (120, 900),
    ]
    b = lab.judge(normal_start() | {"itt": itt}, 120, replace(PROFILE, starter=NO_DUTY))
    assert [e.kind for e in b.events if e.kind == "hot_start"] == []


def test_running_limits_apply_outside_the_start_window(lab: Analysis) -> None:
    # 15 s at 900 in the start: within 20 s of the start's limit; the running limit of 5 s does not apply.
    a = hot_until(lab, 40.0)
    assert [e.kind for e in a.events if e.severity == "limit"] == []


def test_a_limit_holds_only_where_its_conditions_do(lab: Analysis) -> None:
    hot = running(
        plateau(20.0),
        weight_on_wheels=[(0, 1), (100, 0)],
        np=[(0, 1800)],
        ias=[(0, 0), (80, 0), (100, 75), (300, 120)],
    )
    hot["palt"] = [(0, 0), (100, 0), (300, 4000)]

    def judged(itt: list[tuple[float, float]] | None = None, **options: object) -> str:
        return (
            lab.judge(hot | ({"itt": itt} if itt else {}), 300, one("itt", (800, 5), **options))
            .limits[0]
            .result
        )

    assert judged() == "exceeded"
    assert judged(when="ground") == "exceeded"
    assert judged(when="airborne") == "within"
    assert judged(where=(WhereCondition("np", below=1000.0),)) == "within"
    assert judged(where=(WhereCondition("np", above=1000.0),)) == "exceeded"
    assert judged(where=(WhereCondition("np", equals=1800.0),)) == "exceeded"
    assert judged(where=(WhereCondition("bleed", equals=1.0),)) == "not_judged"
    assert judged(phases=("climb",)) == "within"
    # The take-off begins with the roll before 100 s: 60 s later only the rating of 300 s still holds.
    late = plateau(20.0, 180.0)
    assert judged(late, after_takeoff_s=60.0, when="any") == "within"
    assert judged(late, after_takeoff_s=200.0, when="any") == "exceeded"
    assert judged(late, outside_takeoff_s=60.0, when="any") == "exceeded"
    assert judged(late, outside_takeoff_s=200.0, when="any") == "within"
    assert judged(late, outside_takeoff_s=60.0, after_takeoff_s=200.0, when="any") == "exceeded"
    assert judged(late, outside_takeoff_s=60.0, after_takeoff_s=70.0, when="any") == "within"


def test_a_gap_with_nothing_above_beside_it_is_not_judged(lab: Analysis) -> None:
    def holed(itt: list[tuple[float, float]]) -> Recording:
        made = recording(running(itt), 60, 8.0)
        channel = made.channels["itt"]
        keep = (channel.time_s <= 30) | (channel.time_s >= 40)
        hole = replace(channel, time_s=channel.time_s[keep], values=channel.values[keep])
        return made.with_channels(dict(made.channels) | {"itt": hole})

    a = lab.of(holed([(0, 700)]), one("itt", (800, 5)))
    assert [(p.limit_id, p.start_s, p.end_s) for p in a.not_judged] == [("one", 30.0, 40.0)]
    assert (a.limits[0].result, a.verdict) == ("not_judged", "undetermined")
    # 2 s above before the gap: the run may have lasted through it, so it is possible and not unseen.
    b = lab.of(
        holed([(0, 700), (27.875, 700), (28.125, 900), (30, 900), (30.125, 700), (60, 700)]),
        one("itt", (800, 5)),
    )
    assert (b.limits[0].result, list(b.not_judged)) == ("possible", [])
    without = running([(0, 700)])
    del without["itt"]
    assert [p.why for p in lab.judge(without, 60, one("itt", (800, 5))).not_judged if p.limit_id] == [
        "ITT was not recorded"
    ]


SPIKY = [(0, 600), (50, 600), (50.125, 1100), (50.25, 600), (100, 600)]


def spiky(itt: list[tuple[float, float]], *, rate: float = 600.0) -> EngineProfile:
    return replace(one("itt", (900, 0)), max_rate={"itt": rate})


def test_an_exceedance_that_rests_on_a_spike_is_possible(lab: Analysis) -> None:
    # 4000 degC/s up and down again.
    a = lab.judge(running(SPIKY), 100, spiky(SPIKY))
    assert [(e.severity, e.sensor_suspect, e.certain, e.peak) for e in a.events] == [
        ("possible", True, False, 1100.0)
    ]
    assert (a.verdict, [q.kind for q in a.quality]) == ("possible", ["spike"])
    # The same height reached by a jump that stays is no spike.
    step = [(0, 600), (50, 600), (50.125, 1100), (51, 1100), (51.125, 600), (100, 600)]
    b = lab.judge(running(step), 100, spiky(step))
    assert [(e.severity, e.sensor_suspect) for e in b.events] == [("limit", False)]
    # A fast rise that comes down slowly is none either.
    saw = [(0, 600), (50, 600), (50.125, 1100), (52, 600), (100, 600)]
    c = lab.judge(running(saw), 100, spiky(saw))
    assert [(e.severity, e.sensor_suspect) for e in c.events] == [("limit", False)]
    assert list(c.quality) == []


def test_one_sample_that_fuel_flow_and_ng_contradict_is_suspect(lab: Analysis) -> None:
    def found(jump: float = 200.0, **more: object) -> tuple[list, list[str]]:
        itt = [(0, 700), (30, 700), (30.125, 700 + jump), (30.25, more.pop("after", 700)), (60, 700)]
        traces = running(itt, fuel_flow=[(0, 120)]) | more
        traces = {name: corners for name, corners in traces.items() if corners is not None}
        a = lab.judge(traces, 60, one("itt", (780, 0)))
        return [(e.severity, e.sensor_suspect) for e in a.events if e.limit_id == "one"], [
            q.kind for q in a.quality
        ]

    # The test profile knows no rate: it is the other two channels that tell.
    assert found() == ([("possible", True)], ["spike"])
    assert found(after=740) == ([("possible", True)], ["spike"])
    # Where one of them moves with it, or was not recorded, or the signal stays up, nothing is suspect.
    sure = ([("limit", False)], [])
    assert found(fuel_flow=[(0, 120), (30, 120), (30.125, 130), (30.25, 120)]) == sure
    assert found(ng=[(0, 90), (30, 90), (30.125, 92), (30.25, 90)]) == sure
    assert found(fuel_flow=None) == sure
    assert found(after=790) == sure
    assert found(90.0) == sure
    # Once every 2 s anything may have happened between the samples.
    a = lab.judge(
        running([(0, 700), (30, 700), (32, 900), (34, 700), (60, 700)], fuel_flow=[(0, 120)]),
        60,
        one("itt", (780, 0)),
        rate_hz=0.5,
    )
    assert [e.sensor_suspect for e in a.events] == [False]
    assert not lab.spikes._stood(lab.trace([0, 1, 9, 10], [5, 5, 5, 5], gaps=[1]), 4.0, 5.0, 1.0)
    # In a signal that jumps by 100 degC all the time, one more tells nothing.
    rng = np.random.default_rng(2)
    rough = recording(running([(0, 700)], fuel_flow=[(0, 120)]), 60, 8.0)
    itt = rough.channels["itt"]
    jumping = replace(itt, values=itt.values + rng.normal(0.0, 80.0, itt.values.size))
    view = lab.engine_view.EngineView(
        rough.with_channels(dict(rough.channels) | {"itt": jumping}), a.profile, 1
    )
    assert lab.spikes.contradicted_samples(view, "itt").size == 0


def test_a_spike_is_within_one_interval_and_faster_than_the_engine(lab: Analysis) -> None:
    t = [0, 1, 2, 3, 4]
    spikes = lab.spikes.spike_samples
    assert spikes(lab.trace(t, [0, 0, 101, 0, 0]), 100).tolist() == [2]
    assert spikes(lab.trace(t, [0, 0, 100, -1, 0]), 100).tolist() == []
    assert spikes(lab.trace(t, [0, 0, 101, 0, 0], gaps=[1]), 100).tolist() == []


def test_from_light_off_until_ten_seconds_after_the_peak_no_itt_is_set_aside(lab: Analysis) -> None:
    # The flame at 23 s, the peak of 860 at 30 s; single samples stand out at 28 s and at 39 s.
    assert _spikes_at(lab, 28.0) == []
    assert _spikes_at(lab, 39.0) == []


def _spikes_at(lab: Analysis, at: float) -> list[str]:
    """Return the flags of a start with one sample of 855 degC at an instant, up and down by 1240 degC/s or more."""
    corners = [(0, 15), (23, 15), (26, 560), (27, 600), (29, 600), (30, 860), (31, 700), (60, 700)]
    itt = sorted(
        [c for c in corners if c[0] != at]
        + [(at - 0.125, 700 if at > 31 else 600), (at, 855), (at + 0.125, 700 if at > 31 else 600)]
    )
    profile = replace(PROFILE, starter=NO_DUTY, max_rate={"itt": 800.0})
    flags = lab.judge(normal_start() | {"itt": itt}, 60, profile).quality
    return [q.kind for q in flags if q.kind == "spike"]


def test_later_than_ten_seconds_after_the_peak_it_is(lab: Analysis) -> None:
    assert _spikes_at(lab, 42.0) == ["spike"]


def test_a_temperature_that_stands_while_ng_moves_is_not_believed(lab: Analysis) -> None:
    def flags(flat_s: float, moved: float, fuel: list[tuple[float, float]] | None = None) -> tuple[int, str]:
        # ITT moves by 8 degC/s but for the stretch; Ng climbs by `moved` inside it.
        itt = [(0, 500), (20, 660), (20 + flat_s, 660), (60, 900)]
        ng = [(0, 70), (21, 70), (21 + flat_s - 2, 70 + moved), (60, 70 + moved)]
        a = lab.judge(
            running(itt, ng=ng, fuel_on=fuel or [(0, 1)]), 60, replace(PROFILE, starter=NO_DUTY, limits=())
        )
        return sum(q.kind == "sensor_sense" for q in a.quality), a.verdict

    assert flags(11.0, 10.0) == (1, "undetermined")
    assert flags(9.0, 10.0) == (0, "within")
    assert flags(11.0, 9.0) == (0, "within")
    # With fuel off after 5 s of it nothing burns that could move the temperature.
    assert flags(11.0, 10.0, [(0, 1), (25, 0)])[0] == 0


def event(
    lab: Analysis,
    severity: str,
    kind: str = "overtemp",
    event_class: str = "engine",
    at: float = 1.0,
    **more: object,
) -> object:
    return lab.model.Event(kind, event_class, 1, severity, at, at + 1, f"{kind} {severity}.", **more)


def point(lab: Analysis, what: str = "oil temperature", core: bool = False) -> object:
    return lab.model.NotJudged(what, "not known", core=core)


def test_the_verdict_is_the_first_that_fits(lab: Analysis) -> None:
    of = lab.verdict.verdict_of
    limit, possible, caution = (event(lab, s) for s in ("limit", "possible", "caution"))
    footnote, core = point(lab), point(lab, core=True)
    assert of([caution, possible, limit], [core]) == "exceeded"
    assert of([caution, possible], [core]) == "possible"
    assert of([caution], [footnote, core]) == "undetermined"
    assert of([caution], [footnote]) == "within"
    assert of([], []) == "within"


def test_the_sentence_says_which_core_question_is_open_and_leaves_the_footnotes_out(lab: Analysis) -> None:
    say = lab.verdict.sentence_of
    limit, caution = event(lab, "limit"), event(lab, "caution", "residual_heat")
    hung = event(lab, "limit", "hung_start", at=0.0)
    failed = event(lab, "limit", "no_light_off", "procedure")
    early = event(lab, "limit", "early_fuel", "procedure")
    footnote, core = point(lab), point(lab, "outcome of the start", core=True)
    assert say("exceeded", [limit], [], [footnote, footnote]) == "Exceeded: overtemp limit."
    assert say("exceeded", [limit], [], [footnote, core, core]) == (
        "Exceeded: overtemp limit. Cannot be told: not known, so there is no verdict on the outcome of the start."
    )
    assert say("exceeded", [failed, early, caution], [], []) == (
        "Start failed: no_light_off limit. Also, procedure: early_fuel limit. Caution: residual_heat caution."
    )
    # The hotter one first, although the hang came before it; three events: two are told.
    many = [event(lab, "limit", "overspeed_ng", at=1.0), limit, event(lab, "limit", "oil_press_low", at=5.0)]
    told = say("exceeded", [hung, *many], [], [])
    assert told.startswith(
        "Exceeded: overtemp limit. overspeed_ng limit. And 1 more. Start failed: hung_start"
    )
    hangs = [event(lab, "possible", "hung_start")]
    assert say("possible", hangs, [], []).startswith("Start possibly failed: hung_start possible.")
    fits = lab.model.NotJudged("whether the profile fits", "it is for another engine", core=True)
    told = say("undetermined", [], [], [footnote, core, fits])
    assert told == (
        "Cannot be told: it is for another engine, so there is no verdict on whether the profile fits; "
        "not known, so there is no verdict on the outcome of the start. "
        "Nothing exceeded in what was recorded."
    )
    told = say("exceeded", [limit, *many], [], [fits])
    assert told.startswith(
        "Exceeded: overtemp limit. The profile may not fit: it is for another engine. overtemp limit."
    )
    assert told.count("may not fit") == 1
    assert "Cannot be told" not in told
    assert say("within", [], [], [footnote]) == "Nothing exceeded in what was recorded."


def test_footnotes_name_what_else_was_not_checked_and_never_a_core_question(lab: Analysis) -> None:
    say = lab.verdict.footnotes
    assert say([]) == "Everything in the profile was judged."
    assert (
        say([point(lab), point(lab, "hung start", core=True), point(lab)]) == "Not checked: oil temperature."
    )
    assert say([point(lab, core=True)]) == ""
    assert say([point(lab, f"rule {n}") for n in range(7)]).endswith("rule 3, rule 4 and 2 more.")


def test_a_profile_for_another_engine_cannot_be_within(lab: Analysis) -> None:
    made = recording(normal_start(), 80, 8.0)
    other = replace(made, identity=replace(made.identity, engine_model="Quill"))
    profile = replace(PROFILE, engines=("TG-7",))
    found = lab.of(other, profile)
    assert found.verdict == "undetermined"
    assert found.sentence.startswith(
        'Cannot be told: the recording is of a "Quill", the profile is for TG-7, so there is no verdict on whether the profile fits.'
    )
    assert found.not_judged[0].what == "whether the profile fits"
    assert (
        lab.of(replace(made, identity=replace(made.identity, engine_model="TG-7")), profile).verdict
        == "within"
    )
    try:
        none = lab.assess.assess(made, None)
    except AttributeError:
        none = None
    assert none is not None
    assert (none.verdict, list(none.events)) == ("undetermined", [])
    assert kinds(none, "hot_start") == []
