"""The page of definitions searched, linked and printed."""

from __future__ import annotations

from debrief.session.texts.definitions import page
from debrief.session.texts.definitions_page import LINK, address, search, to_html, to_text


def test_no_word_gives_all_in_the_order_of_the_page():
    assert search("") == page().entries


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
    assert text.startswith("Peak ITT (peak_itt, measures)")
    assert " ".join(text.split()).count(" ".join(entry.formula.split())) == 1
    assert all(len(line) <= 88 for line in text.splitlines())
    assert "<script" not in to_html((entry,))
