"""For pytest below mutmut: the quickest tests come first, so that most changes are noticed within a second."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

DURATIONS = Path("mutmut-stats.json")
"""Written by mutmut where it runs the tests, once it has run them all unchanged."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if DURATIONS.exists():
        took = json.loads(DURATIONS.read_text(encoding="utf-8"))["duration_by_test"]
        items.sort(key=lambda item: took.get(item.nodeid, 0.0))
