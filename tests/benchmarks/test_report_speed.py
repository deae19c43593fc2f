"""How fast, how small and in how much memory a paper is made.

Each measure is taken in a fresh process, imports excluded, the median of five. What else runs on the machine
stretches the wall's time, so the bound asserted here is of processor time; all figures are printed (``-s``).

Aims on a quiet machine: the technician's paper of two starts in under 0.8 s and 600 kB, and no more memory for a
hundred events than for ten.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from statistics import median

import pytest

pytestmark = pytest.mark.slow

ROUNDS = 5
ROOT = Path(__file__).resolve().parents[2]
MEASURE = """
import json, sys, time
import pikepdf
import debrief.report.pdf.archive, debrief.report.pdf.paint
from debrief.report.content.options import ReportOptions
from tests.report.pdf_making import pdf
from debrief.session.assessing.file_assessment import assess_file
from tests.report.made_assessments import hot_start
def highest():
    with open('/proc/self/status') as status:
        return next(int(line.split()[1]) for line in status if line.startswith('VmHWM'))
if sys.argv[1] == "flight":
    assessment = assess_file(sys.argv[2])
else:
    assessment = hot_start(events=int(sys.argv[2]))
before = highest()
wall, cpu = time.perf_counter(), time.process_time()
data = pdf(assessment, ReportOptions())
wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
print(json.dumps({"wall": wall, "cpu": cpu, "bytes": len(data), "memory": (highest() - before) * 1024,
                  "starts": len(assessment.starts), "events": len(assessment.events)}))
"""


def _measured(*arguments: str) -> dict[str, float]:
    rounds = []
    for _ in range(ROUNDS):
        done = subprocess.run(
            [sys.executable, "-c", MEASURE, *arguments],
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        )
        rounds.append(json.loads(done.stdout))
    return {key: median(one[key] for one in rounds) for key in rounds[0]}


def _told(what: str, found: dict[str, float]) -> None:
    print(
        f"\n{what}: {found['wall']:.2f} s ({found['cpu']:.2f} s of the processor), {found['bytes'] / 1e3:.0f} kB, "
        f"{found['memory'] / 1e6:.1f} MB more memory"
    )


def test_the_paper_of_two_starts_is_quick_and_small() -> None:
    found = _measured("flight", "demo_flights/09_quick_turnaround.csv")
    _told("two starts", found)
    assert found["starts"] == 2
    assert found["cpu"] < 0.8
    assert found["bytes"] < 600_000


def test_a_hundred_events_take_no_more_memory_than_ten() -> None:
    few, many = _measured("events", "10"), _measured("events", "100")
    _told("10 events", few)
    _told("100 events", many)
    assert (few["events"], many["events"]) == (10, 100)
    assert many["memory"] < few["memory"] + 12e6
    assert many["cpu"] < few["cpu"] + 1.0
