"""The text form: the sentence first, everything in words, and never a word that approves."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from debrief.analysis.model import LevelResult, LimitResult, LimitWindow
from debrief.profile.model import AllowedRow, Limit
from debrief.report.content.options import ReportOptions
from debrief.report.content.phrases import limit_margin
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text, to_ascii
from debrief.session.lanes.lane_plan import level_lines
from debrief.session.texts.plain_names import severity_words
from debrief.session.texts.story import spoken_severity, story
from tests.demo_assessing import DEMOS, assessed
from tests.report.made_assessments import climb_overtemp, hot_start


def test_the_sentence_comes_before_everything_but_the_identity() -> None:
    lines = assessment_text(hot_start()).splitlines()
    assert lines[0].startswith("ZZ-TRN, engine TG-7 no. 118")
    assert lines[2].startswith("Exceeded: ITT was above 1030 °C for 6.4 s (6.2 to 6.6)")


def test_the_order_is_that_of_the_questions() -> None:
    text = assessment_text(hot_start())
    heads = ["\nStarts\n", "\nEvents\n", "\nLimits\n", "\nNot judged\n", "\nData quality\n", "\nRecording\n"]
    places = [text.index(head) for head in heads]
    assert places == sorted(places)


def test_a_limit_event_says_not_to_start_again() -> None:
    assert "Do not attempt another start before consulting the manual." in assessment_text(hot_start())
    assert "Do not attempt" not in assessment_text(hot_start(events=0))


def test_without_a_profile_it_says_how_to_name_one_and_shows_no_events() -> None:
    text = assessment_text(hot_start(with_profile=False))
    joined = " ".join(text.split())
    assert "Give one with --profile NAME" in joined
    assert "\nEvents\n" not in text


@pytest.mark.parametrize("made", [hot_start, climb_overtemp, lambda: hot_start(events=0)])
def test_no_word_approves(made: object) -> None:
    text = assessment_text(made()).lower()  # type: ignore[operator]
    for word in ("no fault", " ok ", "airworthy", "passed", "safe to"):
        assert word not in text
    assert "informs and never approves" in " ".join(text.split())


def test_lines_keep_to_the_width() -> None:
    for width in (60, 100):
        text = assessment_text(hot_start(), width=width)
        assert max(map(len, text.splitlines())) <= max(width, 72)  # a hash is not broken


def test_ascii_form_keeps_every_line_readable() -> None:
    text = to_ascii(assessment_text(hot_start()))
    assert text.isascii()
    assert "1030 deg C for 6.4 s" in text


def test_a_recording_that_begins_running_has_no_start_and_says_so() -> None:
    assert "begins with the engine running" in assessment_text(climb_overtemp())
    none = replace(hot_start(events=0), starts=())
    assert "None was found in this recording." in assessment_text(none)


@pytest.mark.parametrize("width", range(60, 100, 3))
def test_no_line_ends_between_a_number_and_its_unit(width: int) -> None:
    lines = assessment_text(hot_start(starts=3), width=width).splitlines()
    for line, following in itertools.pairwise(lines):
        first = following.split()[0] if following.strip() else ""
        assert not (line[-1:].isdigit() and first.rstrip(".,;)") in ("°C", "%", "V", "s")), line
    assert "\N{NO-BREAK SPACE}" not in "".join(lines)


def test_the_file_is_named_without_the_folder_that_it_lies_in_and_known_by_its_sum() -> None:
    made = hot_start()
    assert made.recording.provenance.path == f"/flights/{made.recording.provenance.file_name}"
    text = assessment_text(made)
    assert f"File {made.recording.provenance.file_name}, " in text
    assert "/flights" not in text
    assert f"SHA-256 {made.recording.provenance.sha256}" in text


def test_the_paper_names_the_file_without_the_folder_that_it_lies_in() -> None:
    content = repr(build(hot_start(), ReportOptions()))
    assert f"('File', '{hot_start().recording.provenance.file_name}')" in content
    assert "/flights" not in content


def test_a_procedure_is_never_said_to_be_exceeded_in_list_paper_and_story_as_in_the_verdict() -> None:
    made = hot_start()
    early = next(event for event in made.events if event.kind == "early_fuel")
    early = replace(early, severity="limit", event_class="procedure")
    made = replace(made, events=(early,))
    assert "Procedure: Early fuel" in assessment_text(made)
    for reader in ("technician", "student"):
        paper = repr(build(made, ReportOptions(reader=reader)))
        assert (f"Procedure: {early.message}" in paper) == (reader == "student")
        assert ("'Procedure'" in paper) == (reader == "technician")
        assert f"Exceeded: {early.message}" not in paper
    spoken = next(step.spoken() for step in story(made) if step.event is early)
    assert "procedure" in spoken
    assert "exceeded" not in spoken


def test_a_limit_of_the_engine_stays_exceeded_and_an_engine_that_never_lit_is_a_failed_start() -> None:
    event = next(event for event in hot_start().events if event.event_class == "engine")
    assert severity_words(replace(event, severity="limit")) == "Exceeded"
    lit = replace(event, event_class="procedure", severity="limit", kind="no_light_off", reason=None)
    assert severity_words(lit) == "Start failed"
    assert severity_words(replace(lit, reason="late")) == "Procedure"
    assert severity_words(replace(lit, severity="caution")) == "Caution"


def test_a_limit_that_was_kept_is_not_said_to_be_beyond_and_within_at_once() -> None:
    kept = LimitResult("itt-start", "hot_start", "itt", 1, "degC", "within", 920.0, 2.4, -26.0)
    assert limit_margin(kept) == "nearest level 920 °C: peak 26 °C above the level; 2.4 s left"
    level = LevelResult(920.0, 6.0, "limit", 3.6, 3.5, 3.7, "within")
    told = limit_margin(replace(kept, levels=(level,)))
    assert told == "nearest level 920 °C: peak 26 °C above the level; 3.6 of 6 s used"
    assert limit_margin(kept, below=True).startswith("nearest level 920 °C: lowest 26 °C below the level")
    # Time is only counted down where a level was passed: all of it is left of one that never was.
    away = replace(kept, margin_seconds=300.0, margin_value=16.0)
    assert limit_margin(away) == "nearest level 920 °C: 16 °C below the level"
    assert limit_margin(replace(away, margin_value=0.0)) == "nearest level 920 °C: level just reached"
    assert limit_margin(replace(kept, result="exceeded")) == "nearest level 920 °C"


def test_when_a_limit_holds_stands_with_its_level_and_not_behind_never() -> None:
    limit = Limit(
        "ng-max",
        "overspeed_ng",
        "ng",
        "running",
        "%",
        "longest",
        (AllowedRow(103.0, 0.0), AllowedRow(101.5, 10.0)),
    )
    ran = LimitWindow(0.0, 9.0, 0.0, 0.0, 9.0, 9.0)
    result = LimitResult("ng-max", "overspeed_ng", "ng", 1, "%", "within", windows=(ran,))
    made = replace(climb_overtemp(), limits=(result,))
    assert made.profile is not None
    made = replace(made, profile=replace(made.profile, limits=(limit,)))
    lines = list(level_lines(made, made.recording.channels["ng"]))
    assert [line.text_apart for line in lines][:2] == ["103 running: never", "101.5 running: 10 s"]
    assert [line.text for line in lines][:2] == ["103: never", "101.5: 10 s"]


def test_a_hang_exceeds_no_number_and_is_a_failed_start() -> None:
    event = next(event for event in hot_start().events if event.event_class == "engine")
    hung = replace(event, severity="limit", kind="hung_start", reason="stagnated")
    assert severity_words(hung) == "Start failed"
    assert severity_words(replace(hung, severity="possible")) == "Start possibly failed"
    assert severity_words(replace(hung, severity="caution")) == "Caution"
    assert "exceeded" not in spoken_severity(hung)


def test_a_copy_of_a_shipped_profile_is_named_with_its_file() -> None:
    assessment = hot_start()
    assert "from tarn-tg7.toml" not in " ".join(assessment_text(assessment).split())
    assert assessment.profile is not None
    copy = replace(assessment, profile=replace(assessment.profile, path="/home/pilot/myengine.toml"))
    said = " ".join(assessment_text(copy).split())
    assert "Tarn TG-7 (training example), revision A, from myengine.toml, not from approved data" in said
    words = str(build(copy, ReportOptions()))
    assert "revision A, from myengine.toml" in words


@pytest.mark.parametrize(("flight", "told"), [("19", True), ("21", True), ("12", False), ("20", False)])
def test_limits_that_read_within_say_that_rules_found_something_elsewhere(flight: str, told: bool) -> None:
    text = assessment_text(assessed(next(path for path in DEMOS if path.stem.startswith(flight))))
    limits = text[text.index("\nLimits\n") :]
    assert ("stands under Events" in " ".join(limits.split())) == told
