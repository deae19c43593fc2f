"""A short run of the campaign in `fuzz_profile.py`; the long one is that script."""

from __future__ import annotations

import pytest

from tests.profile import fuzz_profile


@pytest.mark.parametrize("seed", [31, 32])
def test_no_broken_profile_breaks_a_promise(seed: int) -> None:
    outcomes = fuzz_profile.campaign(80, seed)
    # A campaign in which nothing is taken, or everything, would show nothing.
    assert outcomes["taken"] > 8
    assert outcomes["refused"] > 30
