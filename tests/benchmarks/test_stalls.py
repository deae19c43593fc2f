"""How long the window does not answer with a flight of ten hours at 16 Hz and 40 columns on the table.

Fresh processes, each opening the file, looking at everything and closing (`stalls.py`). What else runs on the
machine stretches a stall, also its processor time, so of each stage the shortest of several rounds counts:
by the process's own work, and by the clock for comparison. Aim: under 50 ms everywhere. Changing the theme or
the size of all text styles every widget anew, in Qt, in two halves; it is printed and not asserted.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.benchmarks.long_flight import write_long_flight

pytestmark = pytest.mark.slow

AIM_MS = 50.0
ROUNDS = 3
MOST_ROUNDS = 8
NOT_ASKED = "dark, and larger text"
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def long_flight(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    path = write_long_flight(tmp_path_factory.mktemp("long") / "long.csv")
    yield path
    path.unlink()


def _round(path: Path, home: Path) -> dict[str, list[float]]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.stalls", str(path)],
        cwd=ROOT,
        env={**os.environ, "DEBRIEF_HOME": str(home), "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        check=True,
        timeout=300,
    )
    found: dict[str, list[float]] = json.loads(done.stdout)
    return found


def test_no_stall_is_longer_than_50_ms_on_a_ten_hour_flight(long_flight, tmp_path):
    best: dict[str, list[float]] = {}
    rounds = 0
    while rounds < MOST_ROUNDS:
        rounds += 1
        for stage, found in _round(long_flight, tmp_path / str(rounds)).items():
            best[stage] = [min(pair) for pair in zip(best.get(stage, found), found, strict=True)]
        asked = {stage: work for stage, (_, work, _) in best.items() if stage != NOT_ASKED}
        if rounds >= ROUNDS and max(asked.values()) < AIM_MS:
            break
    print(f"shortest of {rounds} rounds, [ms]: work of the process, of the event loop's thread, by the clock")
    for stage, (clock, work, own) in best.items():
        print(f"{work:5.0f} {own:5.0f} {clock:5.0f}  {stage}")
    longest = max(asked, key=lambda stage: asked[stage])
    print(f"longest: {asked[longest]:.0f} ms, {longest}")
    assert asked[longest] < AIM_MS, longest
