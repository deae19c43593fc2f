"""A few of the damaged histories of `tests.history.fuzz_damage`, every day."""

from __future__ import annotations

from tests.history.fuzz_damage import fuzz


def test_whatever_is_done_to_a_historys_file_ends_in_words(debrief_home):
    result = fuzz(20, seed=1)
    assert result.wrong == []
    assert sum(result.codes.values()) >= 20 * 5  # what cannot be salvaged is not checked
    assert {code for _, code in result.codes} == {0, 2}
