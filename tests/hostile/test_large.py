"""Some of the large inputs, each in a process that is measured; ``python -m tests.hostile.large`` tries all."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hostile.large import LARGE, measure

_DAILY = (
    "140,000 columns",
    "one line of 60 MB",
    "5 GB of rows",
    "noise, as JSON",
    "ten hours",
    "a TOML key",
    "maintenance actions",
)


@pytest.mark.parametrize("name", _DAILY)
def test_a_large_input_stays_within_its_budget(name: str, tmp_path: Path) -> None:
    assert [one for one in LARGE if name in one.name]
    measured = measure(tmp_path, name)
    assert measured.rows
    assert measured.findings == []
