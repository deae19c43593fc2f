"""The lead of a sentence is a part of it: no reader has to look for it."""

from __future__ import annotations

import copy
import pickle

from hypothesis import given
from hypothesis import strategies as st

from debrief.words.display_units import ShownUnits
from debrief.words.sentence import Quantity, Sentence, joined, led, sentence

ROSE = sentence("ITT rose to {value}: too high. More.", value=Quantity(1030.0, "degC"))
IMPERIAL = ShownUnits((("degC", "degF"),))
TEXT = st.text(st.characters(categories=["L", "N", "P", "Zs"]), min_size=1)


def test_the_lead_outlives_other_units_copies_and_what_is_put_behind_it():
    said = joined(" ", [led("Exceeded:", ROSE), "1 caution: low voltage."]) + " Not judged: nothing."
    for one in (said, said.shown(IMPERIAL), copy.deepcopy(said), pickle.loads(pickle.dumps(said))):
        assert one.lead == "Exceeded:"
        assert one == f"{one.lead} {one.rest}"
    assert "1886 °F: too high. More." in said.shown(IMPERIAL).rest


def test_only_what_was_made_as_a_lead_is_one():
    assert ROSE.lead == ""
    assert ROSE.rest == ROSE
    assert joined(" ", ["One: two.", led("Three:", "four.")]).lead == ""
    assert led("Nothing exceeded.").rest == ""


@given(TEXT, TEXT)
def test_lead_and_rest_are_the_sentence(lead, rest):
    said = led(lead, rest)
    assert isinstance(said, Sentence)
    assert said.startswith(lead)
    assert said.lead == lead
    assert said.rest == rest.lstrip()
