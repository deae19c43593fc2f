"""A short run of the fuzz campaign; the long one is the script beside this file."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

_SPEC = importlib.util.spec_from_file_location("fuzz_reader", Path(__file__).with_name("fuzz_reader.py"))
assert _SPEC is not None
assert _SPEC.loader is not None
fuzz_reader = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(fuzz_reader)


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_no_broken_file_breaks_a_promise(seed: int, tmp_path: Path) -> None:
    outcomes = fuzz_reader.campaign(250, seed, tmp_path)
    # A campaign in which nothing can be read, or everything, would show nothing.
    assert outcomes["read"] > 30
    assert outcomes["refused"] > 30
