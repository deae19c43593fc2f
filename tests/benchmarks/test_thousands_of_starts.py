"""What thousands of starts cost, each stage in seconds: from 5,000 rows of noise to 20,000 in proportion.

Run with ``pytest -m slow -s tests/benchmarks/test_thousands_of_starts.py`` for the figures.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.loader import find
from debrief.report.content.options import ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.formats.tables import csv_text
from debrief.report.formats.text import assessment_text
from debrief.session.document import assessment_document
from debrief.session.session import prepare
from debrief.session.texts.story import story
from tests.analysis.starts.test_thousands_of_starts import noise

pytestmark = pytest.mark.slow
ROWS = (5_000, 20_000)
MOST = 1.6
"""How much more than in proportion: a busy machine's share; what grows with the square has 4."""


def seconds(do: Callable[[], object]) -> float:
    began = time.process_time()
    do()
    return time.process_time() - began


def test_the_cost_of_thousands_of_starts_is_in_proportion() -> None:
    profile = find("tarn-tg7")
    recordings = [noise(rows) for rows in ROWS]
    found: list[Assessment] = []
    cost = {"assess": [seconds(lambda made=made: found.append(assess(made, profile))) for made in recordings]}
    more = len(found[1].starts) / len(found[0].starts)
    stages: dict[str, Callable[..., object]] = {
        "text": assessment_text,
        "document": assessment_document,
        "table": csv_text,
        "story": story,
        "window": prepare,
        "paper": partial(build, options=ReportOptions()),
    }
    for name, stage in stages.items():
        cost[name] = [seconds(partial(stage, one)) for one in found]
    for name, (small, large) in cost.items():
        starts = f"{len(found[0].starts)} starts {small:.2f} s, {len(found[1].starts)} starts {large:.2f} s"
        print(f"{name}: {starts}, {large / small / more:.2f} of proportion")
    for name, (small, large) in cost.items():
        assert large < MOST * more * small + 0.2, name
