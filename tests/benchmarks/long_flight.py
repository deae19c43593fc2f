"""A flight of ten hours at 16 Hz with 40 columns, made of a shipped one: for what has to stay quick."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from debrief.report.formats.demo import demo_flight

_SWITCHES = frozenset(
    {"Starter", "Ignition", "Fuel on", "External power", "Generator on", "Weight on wheels"}
)
_FLIGHT = "12_flight_overtemperature_in_climb.csv"


def write_long_flight(path: Path, hours: float = 10.0, rate_hz: float = 16.0, columns: int = 40) -> Path:
    """Write the flight: start and climb, the climb and a part of the cruise again and again, the end."""
    import pandas as pd
    import pyarrow as pa
    from pyarrow import csv

    source = Path(demo_flight()).with_name(_FLIGHT)
    with source.open(encoding="utf-8") as file:
        preamble = [line for line in (next(file) for _ in range(5)) if line.startswith("#")]
    short = pd.read_csv(source, comment="#")
    seconds = (
        (pd.to_datetime(short.iloc[:, 0]) - pd.to_datetime(short.iloc[0, 0])).dt.total_seconds().to_numpy()
    )
    rows = round(hours * 3600 * rate_hz)
    t = np.arange(rows) / rate_hz
    begin, turn, end = 400.0, 1000.0, float(seconds[-1])
    inside = turn - begin
    there = begin + inside - np.abs((t - begin) % (2 * inside) - inside)
    last = t[-1] - (end - begin)
    where = np.where(t < begin, t, np.where(t < last, there, begin + t - last))
    rng = np.random.default_rng(4)
    table: dict[str, np.ndarray] = {"Time (s)": t.round(4)}
    for name in short.columns[1:]:
        known = short[name].to_numpy(dtype=np.float64)
        good = np.isfinite(known)
        if name in _SWITCHES:
            index = np.searchsorted(seconds[good], where, side="right") - 1
            table[name] = known[good][np.maximum(index, 0)].astype(np.int64)
        else:
            values = np.interp(where, seconds[good], known[good])
            table[name] = (values * (1 + rng.normal(0, 0.0015, rows))).round(2)
    for number in range(columns - len(table)):
        table[f"Strain {number + 1}"] = (100 + np.cumsum(rng.normal(0, 0.02, rows))).round(2)
    with path.open("wb") as out:
        out.write("".join(preamble).encode())
        csv.write_csv(pa.table(table), out)
    return path
