"""Some whole flights of the study, each run: what ``python -m tests.study flights`` asks of hundreds."""

from tests.study.whole_flights.judging import missed, study

SEED = 411


def test_what_is_told_of_whole_flights_is_true():
    flown = study(12, SEED, processes=1)
    assert missed(flown) == []


def test_a_share_below_its_target_is_missed():
    flown = study(2, SEED, processes=1)
    turned = [(name, type(a)(a.what, not a.right)) for name, a in flown.answers]
    flown.answers = turned
    assert "loads: listed" in missed(flown) or "flights: right" in missed(flown)
