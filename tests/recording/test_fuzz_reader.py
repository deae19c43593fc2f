"""A short run of the fuzz campaign; the long one is the script beside this file."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.recording import fuzz_reader


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_no_broken_file_breaks_a_promise(seed: int, tmp_path: Path) -> None:
    outcomes = fuzz_reader.campaign(250, seed, tmp_path)
    # A campaign in which nothing can be read, or everything, would show nothing.
    assert outcomes["read"] > 30
    assert outcomes["refused"] > 30


def test_a_file_that_a_thread_changes_is_read_as_one_state_or_refused(tmp_path: Path) -> None:
    outcomes = fuzz_reader.changes(150, 11, tmp_path)
    assert outcomes["noticed"] > 3
    assert outcomes["read before"] > 3
