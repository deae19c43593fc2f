import pickle
from dataclasses import replace
from pathlib import Path

from debrief.analysis import assess
from debrief.analysis.model import NotJudged
from debrief.analysis.verdict import footnotes
from debrief.profile import find
from debrief.recording import read
from debrief.report.formats.text import assessment_text
from debrief.session.texts.plain_names import (
    NO_FACTOR,
    for_window,
    in_words,
    key_words,
    keys_in_words,
    moment_of,
    no_factor,
    not_judged_words,
)
from debrief.session.texts.story import story
from debrief.words.asked import Asked, Doubt
from debrief.words.numbers import clock_text
from tests.session import assessment_maker as made

ROOT = Path(__file__).parents[3]


def test_raw_names_become_words_and_what_is_quoted_stays():
    assert in_words("oil_temp not recorded") == "Oil temperature not recorded"
    assert in_words("No sample of bus_volts for 3 s.") == "No sample of bus voltage for 3 s."
    assert in_words('column "oil_temp" may be itt') == 'column "oil_temp" may be ITT'
    assert in_words("limit itt-start of /data/oil_temp.csv") == "limit itt-start of /data/oil_temp.csv"


def test_a_limit_that_was_not_judged_is_named_in_words():
    item = NotJudged("overspeed_np", "np not recorded")
    assert not_judged_words(item) == ("Overspeed, propeller", "Np not recorded")


def test_the_window_offers_its_own_menu_in_place_of_an_option():
    ways = '; name it with --map itt="T4:degF" or --map itt="T4:degC"'
    asked = Asked(Doubt("may_be", ('"T4" may be ', None), "itt", ((1, "degF"), (1, "degC")), ways))
    assert asked == f'"T4" may be itt{ways}'
    assert for_window(asked) == '"T4" may be ITT. File, Columns settles it.'
    assert for_window("the stated --rate is itt") == "the stated --rate is ITT"
    assert for_window(pickle.loads(pickle.dumps(asked))) == for_window(asked)


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


def test_what_was_not_recorded_is_named_once() -> None:
    point = NotJudged("oil_temp_high", "oil_temp not recorded", "oil-temp-max", "oil_temp")
    assert not_judged_words(point) == ("Oil temperature high", "not recorded")
    other = NotJudged("hot_start", "itt not recorded", "itt-start", "itt")
    assert not_judged_words(other) == ("Hot start", "ITT not recorded")


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
    assert off.detail.endswith("; off with the cut")
