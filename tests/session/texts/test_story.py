from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from debrief.analysis.model import Phase
from debrief.session.lanes.lane_events import event_spans, marks, ribbon
from debrief.session.lanes.lane_plan import level_lines, standard_lanes
from debrief.session.session import Session, prepare
from debrief.session.texts.story import story
from tests.session import assessment_maker as made


def _titles(assessment):
    return [step.title for step in story(assessment)]


def test_the_story_of_a_start_is_told_in_order():
    assert _titles(made.hot_start()) == [
        "Starter on",
        "Fuel on",
        "Light-off",
        "Hot start",
        "Peak ITT",
        "Fuel cut",
        "Starter off",
        "Aborted",
    ]


def test_steps_carry_the_numbers_that_a_reader_asks_for():
    steps = {s.title: s for s in story(made.hot_start())}
    assert steps["Starter on"].detail == "bus 25.4 V, lowest 19.6 V (after the first second)"
    assert steps["Fuel on"].detail == "Ng 8.6 %, minimum 15"
    assert steps["Light-off"].detail == "1.2 s after fuel"
    assert steps["Hot start"].detail.startswith("peak 1087 °C; ")
    assert steps["Fuel cut"].detail.endswith("after 1030 °C was crossed")
    assert steps["Starter off"].detail == "37.0 s on; 20.0 s motored after the cut"
    assert steps["Aborted"].detail == "idle not reached, highest Ng 43.7 %"


def test_shapes_stand_for_severity():
    assessment = made.hot_start()
    shapes = {s.title: s.shape for s in story(assessment)}
    assert shapes["Hot start"] == "diamond"
    assert shapes["Fuel on"] == "diamond"
    assert shapes["Light-off"] == "circle"
    assert shapes["Aborted"] == "triangle"
    possible = tuple(replace(e, severity="possible") for e in assessment.events)
    assert {s.shape for s in story(replace(assessment, events=possible)) if s.event} == {"hollow_diamond"}
    assert "Hot start, possibly" in _titles(replace(assessment, events=possible))


def test_a_value_that_is_not_known_is_said_and_never_zero():
    assessment = made.hot_start()
    start = replace(
        assessment.starts[0], ng_at_fuel_pct=None, rest_bus_volts=None, min_bus_volts=None, fuel_periods=()
    )
    steps = {s.title: s for s in story(replace(assessment, starts=(start,)))}
    assert steps["Fuel on"].detail == "Ng not known"
    assert steps["Starter on"].detail == "bus voltage not known"


def test_what_was_inferred_is_called_so():
    assessment = made.hot_start()
    start = replace(assessment.starts[0], inferred=("starter_on_s",))
    steps = {s.title: s for s in story(replace(assessment, starts=(start,)))}
    assert steps["Starter on"].detail.endswith("; inferred")


def test_an_event_outside_a_start_stands_among_the_phases():
    assessment = made.hot_start()
    later = replace(assessment.events[1], kind="overtemp", start_number=None, start_s=80.0, end_s=85.0)
    phases = (Phase("climb", 70.0, 90.0), Phase("cruise", 90.0, 110.0))
    titles = _titles(replace(assessment, events=(*assessment.events, later), phases=phases))
    assert titles[-3:] == ["Climb", "Overtemperature", "Cruise"]
    assert titles[0] == "Start 1"


def test_several_starts_have_headings():
    assessment = made.hot_start()
    second = replace(assessment.starts[0], number=2, begin_s=70.0, starter_on_s=70.0, fuel_periods=(),
                     fuel_on_s=None, light_off_s=None, fuel_off_s=None, starter_off_s=90.0, outcome="motoring")  # fmt: skip
    titles = _titles(replace(assessment, starts=(*assessment.starts, second)))
    assert titles.count("Start 1") == titles.count("Start 2") == 1
    assert titles[-1] == "Motoring only"


def test_every_step_can_be_spoken():
    spoken = [s.spoken for s in story(made.hot_start())]
    assert "Hot start, limit exceeded, at 0:16.8" in spoken[3]


def test_the_session_begins_at_the_peak_of_the_worst_finding():
    assessment = made.hot_start()
    session = Session(Path("x.csv"), assessment, prepare(assessment))
    assert session.story[session.selected].title == "Hot start"
    assert session.playback.position_s == assessment.events[1].peak_s
    assert session.framing.begin_s <= 10.0
    assert session.framing.end_s >= 47.0


def test_a_limit_event_in_a_start_asks_for_the_manual():
    assessment = made.hot_start()
    session = Session(Path("x.csv"), assessment, prepare(assessment))
    assert session.after_limit == "Do not attempt another start before consulting the manual."
    calm = replace(assessment, events=())
    assert Session(Path("x.csv"), calm, prepare(calm)).after_limit is None


def test_next_event_stops_at_findings_not_at_steps():
    assessment = made.hot_start()
    session = Session(Path("x.csv"), assessment, prepare(assessment))
    session.playback.seek(0.0)
    assert session.playback.next_event() == 14.0
    assert session.story[session.index_of_finding(14.0)].title == "Fuel on"


def test_limit_lines_are_named_and_end_where_they_no_longer_apply():
    assessment = made.hot_start()
    lines = list(level_lines(assessment, assessment.recording.channels["itt"]))
    assert [line.text for line in lines] == ["830: 20 s", "920: 6 s", "1030: never"]
    assert {(line.begin_s, line.end_s) for line in lines} == {(10.0, 45.0)}


def test_a_lane_without_a_channel_is_planned_as_such():
    lanes = {lane.name: lane for lane in standard_lanes(made.hot_start())}
    assert lanes["torque"].channel is None
    assert lanes["itt"].high >= 1087


def test_spans_marks_and_ribbon_come_from_the_assessment():
    assessment = made.hot_start()
    assert [m.word for m in marks(assessment)] == ["fuel", "light-off", "peak", "fuel cut"]
    assert [s.label for s in event_spans(assessment)] == ["Early fuel", "Hot start"]
    words = [p.word for p in ribbon(assessment)]
    assert words == ["Off", "Motoring", "Fuel on", "Lit", "Motoring after the cut", "Run-down", "Off"]


def test_ribbon_parts_never_overlap():
    parts = ribbon(made.hot_start())
    assert all(a.end_s <= b.begin_s + 1e-9 for a, b in pairwise(parts))


def test_a_note_on_early_fuel_is_a_step_of_its_own_at_the_time_that_fuel_came():
    assessment = made.hot_start()
    start = assessment.starts[0]
    early = next(e for e in assessment.events if e.kind == "early_fuel")
    note = replace(early, severity="note", start_s=start.fuel_on_s - 0.25, peak_s=start.fuel_on_s)
    events = tuple(note if e is early else e for e in assessment.events)
    steps = story(replace(assessment, events=events))
    step = next(s for s in steps if s.event is note)
    assert (step.title, step.shape, step.time_s) == ("Early fuel, a note", "circle", start.fuel_on_s)
    assert next(s for s in steps if s.title == "Fuel on").event is None
    assert not step.is_finding
