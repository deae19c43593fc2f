"""A short run of the campaign in `fuzz_assess.py`; the long one is that script."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.analysis import fuzz_assess


@pytest.mark.parametrize("seed", [21, 22])
def test_no_hostile_recording_breaks_what_judges_words_or_draws_it(
    seed: int, tmp_path: Path, qapp: object
) -> None:
    outcomes = fuzz_assess.campaign(120, seed, tmp_path)
    # A campaign in which nothing starts would show little.
    assert outcomes["start"] > 30
    assert outcomes["none"] > 15
