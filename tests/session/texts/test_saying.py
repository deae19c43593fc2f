import pickle
import re
from dataclasses import replace
from pathlib import Path

import pytest

from debrief.analysis import assess
from debrief.analysis.model import NotJudged
from debrief.analysis.verdict import footnotes
from debrief.profile import find
from debrief.recording.reader import read
from debrief.report.formats.text import assessment_text
from debrief.session.texts.plain_names import (
    NO_FACTOR,
    for_paper,
    for_window,
    key_said,
    key_words,
    keys_in_words,
    moment_of,
    no_factor,
    not_judged_title,
)
from debrief.session.texts.story import story
from debrief.words.asked import Asked, Doubt
from debrief.words.channels import CHANNELS
from debrief.words.events import EVENTS
from debrief.words.numbers import clock_text
from tests.session import assessment_maker as made

ROOT = Path(__file__).parents[3]


RAW = re.compile(
    rf"(?<![\w.\-/\"=])({'|'.join(name for name in (*CHANNELS, *EVENTS) if '_' in name)})(?![\w\-/=])"
)
"""A channel or a kind of finding by its name in the data."""


def without_np(path: Path, folder: Path) -> Path:
    """Return a copy of a recording whose oil temperature and propeller speed have other names."""
    text = path.read_text(encoding="utf-8")
    out = folder / path.name
    out.write_text(
        text.replace("Oil temp (degC)", "Spare A", 1).replace("Np (rpm)", "Spare B", 1), encoding="utf-8"
    )
    return out


@pytest.mark.parametrize("path", sorted((ROOT / "demo_flights").glob("*.csv")), ids=lambda path: path.stem)
def test_no_text_of_an_assessment_holds_a_name_of_the_data(path: Path, tmp_path: Path) -> None:
    recording = read(without_np(path, tmp_path))
    assessment = assess(recording, find("tarn-tg7"))
    told = recording.provenance
    texts = [
        assessment.sentence,
        *(
            text
            for event in assessment.events
            for text in (event.message, event.evidence.rule, event.evidence.formula)
        ),
        *(text for item in assessment.not_judged for text in (not_judged_title(item), item.why)),
        *(flag.message for flag in assessment.quality),
        *(for_window(text) for text in (*told.decisions, *told.repairs, *told.questions)),
        *(note for start in assessment.starts for note in start.notes),
        *(measure.why or "" for start in assessment.starts for measure in start.measures.values()),
        *(limit.why or "" for limit in assessment.limits),
    ]
    assert [text for text in texts if RAW.search(text)] == []


def test_a_limit_that_was_not_judged_is_named_in_words():
    assert not_judged_title(NotJudged("overspeed_np", "", "np-max", "np")) == "Overspeed, propeller"
    assert not_judged_title(NotJudged("of_my_own", "", "own", "np")) == "Of my own"
    assert not_judged_title(NotJudged("starter duty", "")) == "starter duty"


def test_the_window_offers_its_own_menu_in_place_of_an_option_and_the_paper_nothing():
    ways = '; name it with --map itt="T4:degF" or --map itt="T4:degC"'
    asked = Asked(Doubt("may_be", ('"T4" may be ', None), "itt", ((1, "degF"), (1, "degC")), ways))
    assert asked == f'"T4" may be itt{ways}'
    assert for_window(asked) == '"T4" may be ITT. To fix: File, Columns.'
    assert for_paper(asked) == '"T4" may be ITT.'
    assert for_window(pickle.loads(pickle.dumps(asked))) == for_window(asked)
    second = Asked(Doubt("not_found", (None, " was not found"), "oil_temp.2", ()))
    assert for_paper(second) == "Oil temperature of engine 2 was not found."


def test_a_bad_start_without_a_factor_says_so_and_a_good_one_says_nothing():
    assessment = made.hot_start()
    start = assessment.starts[0]
    bare = replace(start, factors=())
    assert no_factor(assessment, start) == ""
    assert no_factor(assessment, bare) == NO_FACTOR
    assert no_factor(assessment, replace(bare, outcome="completed"), ()) == ""
    assert no_factor(replace(assessment, profile=None), bare) == ""


def test_keys_of_the_profile_become_words_with_their_line():
    profile = replace(made.profile(), lines={"start.min_fuel_ng_pct": 16})
    words = f"least Ng for fuel ({profile.start.min_fuel_ng_pct:g} %, line 16 of the profile)"
    assert key_words("start.min_fuel_ng_pct", profile) == words
    assert keys_in_words("below `min_fuel_ng_pct`: limit", profile) == f"below the {words}: limit"
    assert key_words("limits.itt-start", None) == "limit itt-start"
    said = key_said("start.min_fuel_ng_pct", profile)
    assert str(said) == words
    assert said.text(f"line {said.line}") == words.replace(" of the profile", "")
    assert (said.value, said.line is None) == ("15 %", False)


def test_what_was_not_recorded_is_named_once(tmp_path: Path) -> None:
    recording = read(without_np(ROOT / "demo_flights/01_cool_normal_start.csv", tmp_path))
    open_points = {item.what: item for item in assess(recording, find("tarn-tg7")).not_judged}
    assert open_points["oil_temp_high"].why == "not recorded"
    assert open_points["overspeed_np"].why == "Np was not recorded"


def test_an_early_fuel_stands_at_its_fuel_in_the_story_the_text_and_on_the_paper() -> None:
    assessment = assess(read(ROOT / "demo_flights/02_early_fuel_hot.csv"), find("tarn-tg7"))
    (event,) = (e for e in assessment.events if e.kind == "early_fuel")
    assert event.start_s < moment_of(event) == assessment.starts[0].fuel_on_s
    at = clock_text(moment_of(event))
    assert f"  {at}  Procedure: Early fuel" in assessment_text(assessment)
    assert clock_text(next(step.time_s for step in story(assessment) if step.event is event)) == at


def test_names_in_the_list_of_what_was_not_judged_are_small_in_any_order() -> None:
    points = [NotJudged("overspeed_np", "np not recorded", "np-max", "np")]
    assert footnotes(points) == "Not checked: propeller overspeed."


def test_a_starter_that_went_off_with_the_cut_was_not_off_before_it() -> None:
    assessment = assess(read(ROOT / "demo_flights/06_hot_start_aborted_not_motored.csv"), find("tarn-tg7"))
    (off,) = (step for step in story(assessment) if step.title == "Starter off")
    assert off.detail.endswith("; off with the fuel cut-off")
