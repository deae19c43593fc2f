"""The page of definitions searched, linked and printed."""

from __future__ import annotations

import re

import pytest

from debrief.session.texts.definitions import definition_of, page
from debrief.session.texts.definitions_page import (
    LINK,
    OF_CHANNELS,
    address,
    entries_shown,
    plain_text,
    search,
    shown_title,
    to_html,
    to_text,
)
from tests.demo_assessing import DEMOS, assessed


def test_no_word_gives_all_in_the_order_of_the_page():
    assert search("") == entries_shown()


def test_a_word_finds_title_name_and_text_and_the_title_comes_first():
    found = search("density altitude")
    assert found[0].name == "density_altitude"
    assert {e.name for e in search("hot_start")} >= {"hot_start"}
    assert search("xyzzy") == ()


def test_every_entry_has_one_anchor_and_every_link_leads_to_one():
    html = to_html(page().entries)
    for entry in page().entries:
        assert html.count(f'<a name="{address(entry)}">') == 1
    targets = {part.split('"')[0] for part in html.split(f'href="{LINK}')[1:]}
    assert len(targets) > 5
    assert targets <= {address(entry) for entry in page().entries}


def test_text_is_escaped_in_html_and_whole_as_text():
    entry = search("peak_itt")[0]
    text = to_text((entry,))
    assert text.startswith("Peak ITT (peak_itt)\n  The highest ITT of the start.")
    assert " ".join(text.split()).count(" ".join(entry.formula.split())) == 1
    assert all(len(line) <= 88 for line in text.splitlines())
    assert "<script" not in to_html((entry,))


@pytest.mark.parametrize("entry", page().entries, ids=lambda entry: f"{entry.group}-{entry.name}")
def test_one_plain_sentence_stands_before_the_formula_and_no_key_is_shown(entry):
    said = entry.in_words
    assert said.endswith(".")
    assert not re.search(r"[`_\[\]]", said)
    assert len(said.split()) <= 24
    for text in (to_html((entry,), searched=True), to_text((entry,)).split("\n", 1)[1]):
        shown = re.sub(r"<[^>]*>", " ", text)
        assert "`" not in shown
        assert not re.search(r"[a-z]_[a-z]", shown), shown
        assert shown.index(said.split()[0]) < shown.index("Formula")


def test_no_two_entries_read_alike():
    titles = [shown_title(entry) for entry in entries_shown()]
    assert len(titles) == len(set(titles))
    # Both are kept where they mean two things, and a moment that is a measure stands once.
    assert {"No light-off (finding)", "No light-off (outcome)"} <= set(titles)
    assert titles.count("Fuel on") == 1


@pytest.mark.parametrize("entry", page().entries, ids=lambda entry: f"{entry.group}-{entry.name}")
def test_who_asks_for_a_title_or_a_name_of_the_data_finds_it_first(entry):
    if entry in entries_shown():
        assert search(shown_title(entry))[0] == entry
        found = search(entry.name)[0]
        assert entry.name in (found.name, found.title.lower().replace(" ", "_"))


def test_a_key_of_the_profile_is_said_in_words():
    assert plain_text("below `min_fuel_ng_pct`") == "below the least Ng for fuel"


def test_each_channel_leads_to_an_entry_that_there_is():
    assert all(definition_of(name, group) is not None for group, name in OF_CHANNELS.values())


STIFF = re.compile(r" x |\*|[\w)] - [\w(]|\b(?:sqrt|sigma|delta|theta|log10)\b|[VIR]_\w|(?<![\w+])-\d")
"""Operators and signs as a programmer types them; the page and the paper have those of a textbook."""


def formulas():
    yield from ((entry.name, entry.formula) for entry in page().entries)
    for path in DEMOS:
        assessment = assessed(path)
        proofs = [assessment.flight_evidence, *(start.evidence for start in assessment.starts)]
        yield from ((name, one.formula) for proof in proofs for name, one in proof.items())
        yield from (
            (event.kind, str(event.evidence.formula)) for event in assessment.events if event.evidence
        )


def test_formulas_are_written_as_in_a_textbook():
    stiff = {(name, text) for name, text in formulas() if STIFF.search(re.sub(r"`[^`]*`", "", text))}
    assert stiff == set()


def test_each_sign_of_a_formula_says_what_it_is():
    """σ is explained by δ and θ, these by T and h; what stands for a sample is called one."""
    by_name = dict(formulas())
    density = search("density_altitude")[0].formula
    for sign, words in (
        ("σ", "density σ"),
        ("θ", "θ = T"),
        ("δ", "δ = (1"),
        ("T", "temperature T"),
        ("h", "altitude h"),
    ):
        assert words in " ".join(density.split()), sign
    assert "samples a at the time ta and b at tb" in by_name["ng_at_fuel"] + by_name["itt_rise_rate"]
