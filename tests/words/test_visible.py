"""Characters that act are shown: ECMA-48 for terminals, Unicode Standard Annex 9 for direction."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.words.visible import MARKS_AT_MOST, inert_json, visible


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("X\x1b[8m", "X␛[8m"),  # ECMA-48 8.3.117, SGR 8: concealed characters
        ("\x00\t\n\r\x7f", "␀␉␊␍␡"),
        ("a\u202eb", "a<U+202E>b"),  # UAX 9: right-to-left override
        ("a\u2066b\u2069", "a<U+2066>b<U+2069>"),
        ("\x9b31m", "<U+009B>31m"),  # ECMA-48 5.4: the one-byte introducer
        ("a\u200bb\ufeff", "a<U+200B>b<U+FEFF>"),
        ("\ud800", "<U+D800>"),
        ("\u3164\u2800\ufe0f", "<U+3164><U+2800><U+FE0F>"),  # blank, though letters, signs and marks
        ("\U000e0041", "<U+E0041>"),  # a tag
        ("\ue000\U0001fbff", "<U+E000><U+1FBFF>"),  # private use; not assigned
        ("\u0301a", "<U+0301>a"),  # a mark would go onto what stands before the text
        ("a" + "\u0301" * 6, "a" + "\u0301" * 4 + "<U+0301>" * 2),
        ("612 °C, Ωé 漢", "612 °C, Ωé 漢"),
    ],
)
def test_a_character_that_acts_is_shown_by_a_symbol(text: str, shown: str) -> None:
    assert visible(text) == shown


@given(st.text(st.characters()))
def test_nothing_that_acts_is_left_and_doing_it_twice_changes_nothing(text: str) -> None:
    once = visible(text)
    assert not {unicodedata.category(one) for one in once} & {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}
    marks = "".join("m" if unicodedata.category(one) in ("Mn", "Me") else " " for one in once)
    assert "m" * (MARKS_AT_MOST + 1) not in marks
    assert not marks.startswith("m")
    assert visible(once) == once


def test_the_line_feeds_of_the_program_itself_stay() -> None:
    assert visible("one\ntwo\r", keep="\n") == "one\ntwo␍"


@given(st.text(st.characters()))
def test_json_on_a_terminal_is_safe_and_its_data_are_the_same(text: str) -> None:
    for ascii_only in (False, True):
        shown = inert_json(json.dumps({"aircraft": text}, ensure_ascii=ascii_only, indent=2))
        left = {unicodedata.category(one) for one in shown if one != "\n"}
        assert not left & {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}
        assert json.loads(shown) == {"aircraft": text}
