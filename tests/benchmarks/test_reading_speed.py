"""How fast and in how much memory a recording is read, beside the bare general parser in the same run.

The whole load is measured: hash, dialect, parsing, units, matching, time base and quality, in fresh processes
that take turns, imports and the table of names (read once in a process) excluded, the median of seven. What else
runs on the machine stretches the wall's time, so the bounds asserted here are of processor time; all figures
are printed (``-s``).

Aims on a quiet machine: 10 h at 16 Hz with 40 columns at most 1.5 times the bare parser, with at most 2.5
times the numbers' own bytes in memory; one bad row in 10,000 at most 3 times the clean file; 3 h at 1 Hz with
60 columns under 60 ms.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median

import numpy as np
import pytest

pytestmark = pytest.mark.slow

ROUNDS = 7
NAMES = ["Time (s)", "Ng (%)", "ITT (degC)", "Torque (%)", "Np (rpm)", "Fuel flow (kg/h)", "Bus (V)", "Battery (A)",
         "Oil temp (degC)", "Oil press (psi)", "IAS (kt)", "Pressure altitude (ft)", "OAT (degC)"]  # fmt: skip
LEVELS = [0, 60, 600, 50, 1900, 150, 28, 50, 80, 60, 120, 8000, 10]
MEASURE = """
import json, sys, time
import numpy, pyarrow, pyarrow.csv
import debrief.recording.csv.csv_arrow
from debrief.recording.lexicon import load
from debrief.recording.reader import read
load()  # the table of names is read once in a process, as a module is
# ru_maxrss is handed down from the starting process, so it hides what a child adds; VmHWM begins anew.
def highest():
    with open('/proc/self/status') as status:
        return next(int(line.split()[1]) for line in status if line.startswith('VmHWM'))
before = highest()
wall, cpu = time.perf_counter(), time.process_time()
result = pyarrow.csv.read_csv(sys.argv[2]) if sys.argv[1] == "bare" else read(sys.argv[2])
wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
after = highest()
print(json.dumps({"wall": wall, "cpu": cpu, "memory": (after - before) * 1024}))
"""


def _write(path: Path, rows: int, columns: int, rate_hz: float, bad_every: int = 0) -> Path:
    import pyarrow as pa
    from pyarrow import csv

    rng = np.random.default_rng(1)
    names = NAMES + [f"Aux {i}" for i in range(columns - len(NAMES))]
    levels = LEVELS + [100] * (columns - len(LEVELS))
    table = {names[0]: np.round(np.arange(rows) / rate_hz, 4)}
    for name, level in zip(names[1:], levels[1:], strict=True):
        drift = np.cumsum(rng.normal(0, level * 1e-4, rows))
        table[name] = np.round(level + drift + rng.normal(0, level * 0.002, rows), 2)
    csv.write_csv(pa.table(table), path)
    if bad_every:
        lines = path.read_bytes().split(b"\n")
        for at in range(bad_every // 2, len(lines) - 2, bad_every):
            cells = lines[at].split(b",")
            lines[at] = b",".join(cells[:-3] if at // bad_every % 2 else [*cells[:5], b"ERR", *cells[6:]])
        path.write_bytes(b"\n".join(lines))
    return path


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    path = _write(tmp_path_factory.mktemp("large") / "large.csv", 576_000, 41, 16.0)
    yield path
    path.unlink()


def _measured(*runs: tuple[str, Path]) -> list[dict[str, float]]:
    """Return the medians of each run, taking turns."""
    seen: list[list[dict[str, float]]] = [[] for _ in runs]
    for _ in range(ROUNDS):
        for index, (what, path) in enumerate(runs):
            done = subprocess.run(
                [sys.executable, "-c", MEASURE, what, str(path)], capture_output=True, text=True, check=True
            )
            seen[index].append(json.loads(done.stdout))
    return [{key: median(one[key] for one in some) for key in some[0]} for some in seen]


def test_a_long_recording_reads_about_as_fast_as_the_bare_parser_and_in_little_memory(large: Path) -> None:
    bare, ours = _measured(("bare", large), ("ours", large))
    numbers = 576_000 * 41 * 8
    print(
        f"\n{large.stat().st_size / 1e6:.0f} MB: bare {bare['wall']:.2f} s ({bare['cpu']:.2f} s of processor), "
        f"ours {ours['wall']:.2f} s ({ours['cpu']:.2f}): {ours['wall'] / bare['wall']:.2f} x; memory "
        f"{ours['memory'] / numbers:.2f} x the numbers, bare {bare['memory'] / numbers:.2f} x"
    )
    assert ours["cpu"] < 1.5 * bare["cpu"]
    assert 0.5 * numbers < ours["memory"] < 2.5 * numbers


def test_bad_rows_cost_little(large: Path, tmp_path: Path) -> None:
    spoiled = _write(tmp_path / "spoiled.csv", 576_000, 41, 16.0, bad_every=10_000)
    clean, bad = _measured(("ours", large), ("ours", spoiled))
    print(
        f"\nclean {clean['wall']:.2f} s, one bad row in 10,000 {bad['wall']:.2f} s: {bad['wall'] / clean['wall']:.2f} x"
    )
    assert bad["cpu"] < 2.0 * clean["cpu"]


def test_an_ordinary_flight_reads_in_a_blink(tmp_path: Path) -> None:
    (ours,) = _measured(("ours", _write(tmp_path / "flight.csv", 10_800, 60, 1.0)))
    print(
        f"\n3 h at 1 Hz, 60 columns: {1000 * ours['wall']:.0f} ms ({1000 * ours['cpu']:.0f} ms of processor)"
    )
    assert ours["cpu"] < 0.2
