"""The window does not grow with what it opens. ``python -m tests.gui.soak`` is the long run."""

import gc
import json
import subprocess
import sys
import weakref
from pathlib import Path

import pytest

from debrief.gui.background.interpreter import put_aside
from debrief.gui.background.jobs import Jobs

ROOT = Path(__file__).resolve().parents[2]


def grown(*arguments: str, timeout: float) -> dict[str, float]:
    run = subprocess.run(
        [sys.executable, "-m", "tests.gui.soak", *arguments],
        capture_output=True, text=True, timeout=timeout, cwd=ROOT,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr[-2000:]
    print(run.stdout)
    return json.loads(run.stdout.splitlines()[-1])["growth for each hundred openings"]


def test_twenty_openings_leave_nothing_behind():
    more = grown("20", "4", timeout=100)
    assert more["objects"] <= 200
    assert more["frozen"] <= 200
    assert more["dead"] <= 100, "rings of objects were put aside and stay for good"
    assert more["widgets"] <= 10


@pytest.mark.slow
def test_three_hundred_openings_leave_nothing_behind():
    more = grown("300", timeout=1200)
    assert more["objects"] <= 100
    assert more["widgets"] == 0
    assert more["rss_mb"] <= 5


def test_a_job_that_has_ended_is_gone(qtbot):
    jobs = Jobs()
    refs = []

    class Work:
        def __call__(self):
            yield 1
            return self

    for number in range(20):
        work = Work()
        refs.append(weakref.ref(work))
        jobs.start(f"job {number}", work)
    del work
    made_here = {type(one) for one in gc.get_objects() if type(one).__module__ == Jobs.__module__} - {Jobs}
    refs += [weakref.ref(one) for one in gc.get_objects() if type(one) in made_here]
    assert len(refs) >= 21
    qtbot.waitUntil(lambda: jobs.count == 0)
    qtbot.waitUntil(lambda: not any(ref() is not None for ref in refs))
    jobs.close()


def test_rings_of_dead_objects_are_not_put_aside():
    class Ring:
        pass

    ring = Ring()
    ring.itself = ring
    gone = weakref.ref(ring)
    gc.disable()
    try:
        del ring
        put_aside()
        assert gone() is None
    finally:
        gc.enable()
        gc.unfreeze()
