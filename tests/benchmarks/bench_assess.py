"""How fast a recording is assessed, beside loading the same numbers from a file. Run it; pytest does not collect it.

``python tests/benchmarks/bench_assess.py [--plot OUT.csv] [--most SAMPLES]``

Processor time of one core is told, since other programs stretch the wall's. Aims on a quiet machine: 10 h at
16 Hz with 12 analysed channels in at most 0.5 s, and at most 0.75 times the load; cost per sample flat from
10^4 to 10^7 samples (all channels together), beyond what an assessment costs whatever its length, told first.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from debrief.analysis import assess
from debrief.profile.loader import load
from debrief.recording.model import Channel, Recording, frozen
from debrief.resources import resource
from debrief.words.channels import CANONICAL, DISCRETE

RATE_HZ = 16.0
# Corners as (seconds from the beginning, or from the end where negative, value); the recorder's step; noise.
CHANNELS: dict[str, tuple[list[tuple[float, float]], float, float]] = {
    "ng": ([(0, 0), (10, 0), (17, 20), (23, 20), (48, 58.5), (90, 60), (100, 95), (-90, 92), (-80, 60),
            (-60, 60), (-20, 3)], 0.1, 0.05),
    "itt": ([(0, 15), (23, 15), (26, 560), (30, 700), (48, 560), (90, 540), (105, 770), (-90, 740), (-80, 540),
             (-60, 540), (-20, 250)], 1.0, 1.0),
    "torque": ([(0, 0), (90, 10), (105, 92), (-90, 85), (-80, 10), (-50, 0)], 0.1, 0.2),
    "np": ([(0, 0), (30, 0), (60, 1200), (105, 1880), (-90, 1880), (-80, 1200), (-60, 1200), (-5, 0)], 1.0, 1.0),
    "bus_volts": ([(0, 25.2), (10, 25.2), (10.1, 19.5), (40, 23), (50, 24), (50.5, 28)], 0.1, 0.05),
    "oil_temp": ([(0, 20), (100, 85)], 1.0, 0.3),
    "oil_press": ([(0, 0), (20, 30), (60, 95), (-60, 95), (-20, 0)], 1.0, 0.5),
    "ias": ([(0, 0), (100, 0), (105, 80), (110, 150), (-90, 70), (-70, 10), (-60, 0)], 1.0, 0.5),
    "palt": ([(0, 1000), (105, 1000), (110, 1500), (-95, 1500), (-80, 1000)], 1.0, 1.0),
    "power_lever": ([(0, 30), (90, 30), (100, 80), (-90, 40), (-80, 30)], 0.1, 0.05),
    "starter": ([(0, 0), (10, 1), (46, 0)], 1.0, 0.0),
    "fuel_on": ([(0, 0), (22, 1), (-60, 0)], 1.0, 0.0),
}  # fmt: skip


def flight(rows: int, noisy: float = 1.0) -> Recording:
    """Return a flight of 12 channels with a start, a cruise and a shutdown; the short ones are only a start."""
    time_s = frozen(np.arange(rows) / RATE_HZ)
    end = float(time_s[-1])
    rng = np.random.default_rng(1)
    channels = {}
    for name, (corners, step, sigma) in CHANNELS.items():
        placed = [(t if t >= 0 else end + t, v) for t, v in corners if t >= 0 or end > 220]
        t, v = np.array(placed, dtype=float).T
        if name in DISCRETE:
            values = v[np.maximum(np.searchsorted(t, time_s, side="right") - 1, 0)]
        else:
            values = np.interp(time_s, t, v) + rng.normal(0, sigma * noisy, rows)
            values = np.round(values / step) * step
        channels[name] = Channel(name, CANONICAL[name], time_s, values, resolution=step)
    return Recording(channels, end)


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Return the least processor time, [s]: other programs take the caches and only ever lengthen it."""
    taken = []
    for _ in range(rounds):
        begin = time.process_time()
        work()
        taken.append(time.process_time() - begin)
    return min(taken)


def write(recording: Recording, path: Path) -> None:
    """Write the flight as a file, with names and units that the reader knows."""
    import pyarrow as pa
    from pyarrow import csv

    heads = {"degC": "degC", "0/1": "", "ft": "ft", "%": "%"}
    table = {"Time (s)": recording.channels["ng"].time_s}
    for name, channel in recording.channels.items():
        unit = heads.get(channel.unit, channel.unit)
        table[f"{name} ({unit})" if unit else name] = np.round(channel.values, 2)
    csv.write_csv(pa.table(table), path)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--plot", type=Path, help="write samples, seconds and nanoseconds per sample as CSV")
    parser.add_argument("--most", type=float, default=1e7)
    options = parser.parse_args()
    profile = load(resource("profiles/tarn-tg7.toml"))

    none, one = flight(40), flight(833)
    least, start = seconds(lambda: assess(none, profile), 40), seconds(lambda: assess(one, profile), 40)
    print(f"whatever the length: {1e3 * least:.1f} ms without a start, {1e3 * start:.1f} ms with one in 52 s")
    lines = ["samples,seconds,ns_per_sample"]
    print("samples (12 channels)   assess s   ns per sample")
    for total in (1e4, 3e4, 1e5, 3e5, 1e6, 3e6, 1e7):
        if total > options.most:
            break
        recording = flight(int(total / len(CHANNELS)))
        took = seconds(lambda r=recording: assess(r, profile), 5 if total > 1e6 else 40)  # type: ignore[misc]
        print(f"{total:21.0e} {took:10.4f} {1e9 * took / total:15.1f}")
        lines.append(f"{total:.0f},{took:.6f},{1e9 * took / total:.2f}")
    if options.plot:
        options.plot.write_text("\n".join(lines) + "\n", encoding="utf-8")

    from debrief.recording.reader import read

    recording = flight(int(10 * 3600 * RATE_HZ))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "flight.csv"
        write(recording, path)
        read(path)
        pairs = []
        for _ in range(5):  # in turns, so that a busy machine slows both
            pairs.append((seconds(lambda: read(path), 1), seconds(lambda: assess(recording, profile), 1)))
    load_s, assess_s = (median(x) for x in zip(*pairs, strict=True))
    ratio = median(b / a for a, b in pairs)
    print(
        f"10 h at 16 Hz, 12 channels: load {load_s:.3f} s, assess {assess_s:.3f} s, {ratio:.2f} of the load"
    )
    noisy = flight(int(10 * 3600 * RATE_HZ), 5.0)
    print(f"the same with five times the noise: assess {seconds(lambda: assess(noisy, profile), 5):.3f} s")


if __name__ == "__main__":
    main()
