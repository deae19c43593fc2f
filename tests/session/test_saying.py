from dataclasses import replace

import assessment_maker as made

from debrief.analysis.model import NotJudged
from debrief.session.saying import (
    NO_FACTOR,
    for_window,
    in_words,
    key_words,
    keys_in_words,
    no_factor,
    not_judged_words,
)


def test_raw_names_become_words_and_what_is_quoted_stays():
    assert in_words("oil_temp not recorded") == "Oil temperature not recorded"
    assert in_words("No sample of bus_volts for 3 s.") == "No sample of bus voltage for 3 s."
    assert in_words('column "oil_temp" may be itt') == 'column "oil_temp" may be ITT'
    assert in_words("limit itt-start of /data/oil_temp.csv") == "limit itt-start of /data/oil_temp.csv"


def test_a_limit_that_was_not_judged_is_named_in_words():
    item = NotJudged("overspeed_np", "np not recorded")
    assert not_judged_words(item) == ("Overspeed, propeller", "Np not recorded")


def test_the_window_offers_its_own_menu_in_place_of_an_option():
    words = for_window('"T4" tells no unit: --map itt="T4:degF" or --map itt="T4:degC"')
    assert words == '"T4" tells no unit. File, Columns settles it.'


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
