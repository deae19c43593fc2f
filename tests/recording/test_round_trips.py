"""What Python's csv module and pandas write in any dialect comes back to the bit."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from debrief.recording.csv import source
from debrief.recording.reader import read

_QUIET = settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
_ENCODINGS = st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"])
_DELIMITERS = st.sampled_from([",", ";", "\t", "|"])
_VALUES = st.floats(-1e5, 1e5, allow_nan=False)
_DEGC = st.floats(-100, 990, allow_nan=False)
"""ITT that nobody doubts to be in °C."""


@st.composite
def _flights(draw: st.DrawFn) -> tuple[list[float], list[float], list[float | None]]:
    count = draw(st.integers(2, 25))
    steps = draw(st.lists(st.integers(1, 40), min_size=count, max_size=count))
    times = (np.cumsum(steps) * 0.25).tolist()
    itt = draw(st.lists(_DEGC, min_size=count, max_size=count))
    oil = draw(st.lists(st.one_of(st.none(), _VALUES), min_size=count, max_size=count))
    return times, itt, oil


def _check(
    path: Path, times: list[float], itt: list[float], oil: list[float | None], delimiter: str, decimal: str
) -> None:
    recording = read(path)
    assert recording.provenance.delimiter == delimiter
    got = recording.channels["itt"]
    assert got.values.tolist() == itt
    np.testing.assert_allclose(got.time_s, np.array(times) - times[0], atol=1e-9)
    kept = [(t - times[0], v) for t, v in zip(times, oil, strict=True) if v is not None]
    if kept:
        channel = recording.channels["oil_temp"]
        assert channel.values.tolist() == [v for _, v in kept]
        np.testing.assert_allclose(channel.time_s, [t for t, _ in kept], atol=1e-9)
    else:
        assert "oil_temp" not in recording.channels
    if any("." in repr(v) for v in itt):
        assert recording.provenance.decimal == decimal


@_QUIET
@given(
    flight=_flights(),
    delimiter=_DELIMITERS,
    comma=st.booleans(),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    encoding=_ENCODINGS,
    preamble=st.sampled_from(["", "# aircraft: ZZ-TRN\n", "Made by hand\n\n"]),
    units_row=st.booleans(),
)
def test_python_csv_writer(
    flight: tuple[list[float], list[float], list[float | None]],
    delimiter: str,
    comma: bool,
    quoting: int,
    end: str,
    encoding: str,
    preamble: str,
    units_row: bool,
    tmp_path: Path,
) -> None:
    times, itt, oil = flight
    decimal = "," if comma and delimiter != "," else "."

    def cell(value: float | None) -> str:
        return "" if value is None else repr(value).replace(".", decimal)

    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end)  # type: ignore[arg-type]
    if units_row:
        writer.writerows([["time", "ITT", "Oil Temp"], ["s", "°C", "degC"]])
    else:
        writer.writerow(["time (s)", "ITT (°C)", "Oil Temp [degC]"])
    writer.writerows([[cell(t), cell(v), cell(o)] for t, v, o in zip(times, itt, oil, strict=True)])
    path = tmp_path / "flight.csv"
    path.write_bytes((preamble.replace("\n", end) + out.getvalue()).encode(encoding))
    _check(path, times, itt, oil, delimiter, decimal)


@_QUIET
@given(
    flight=_flights(),
    delimiter=_DELIMITERS,
    comma=st.booleans(),
    index=st.booleans(),
    missing=st.sampled_from(["", "NaN", "N/A", "---"]),
    encoding=_ENCODINGS,
)
def test_pandas_writer(
    flight: tuple[list[float], list[float], list[float | None]],
    delimiter: str,
    comma: bool,
    index: bool,
    missing: str,
    encoding: str,
    tmp_path: Path,
) -> None:
    times, itt, oil = flight
    decimal = "," if comma and delimiter != "," else "."
    frame = pd.DataFrame(
        {"time (s)": times, "ITT (degC)": itt, "Oil Temp (degC)": pd.Series(oil, dtype="float64")}
    )
    path = tmp_path / "flight.csv"
    frame.to_csv(path, sep=delimiter, decimal=decimal, index=index, na_rep=missing, encoding=encoding)
    _check(path, times, itt, oil, delimiter, decimal)


@_QUIET
@given(flight=_flights(), zone=st.sampled_from([None, "UTC", "Europe/Berlin", "America/St_Johns"]))
def test_pandas_timestamps(
    flight: tuple[list[float], list[float], list[float | None]], zone: str | None, tmp_path: Path
) -> None:
    times, itt, oil = flight
    stamps = pd.Timestamp("2031-03-30T00:30:00", tz=zone) + pd.to_timedelta(
        np.array(times) - times[0], unit="s"
    )
    frame = pd.DataFrame(
        {"time": stamps, "ITT (degC)": itt, "Oil Temp (degC)": pd.Series(oil, dtype="float64")}
    )
    path = tmp_path / "flight.csv"
    frame.to_csv(path, index=False)
    _check(path, times, itt, oil, ",", ".")
    start = read(path).identity.start
    assert start is not None
    assert pd.Timestamp(start) == stamps[0]


@_QUIET
@given(
    flight=_flights(),
    notes=st.lists(
        st.text(st.sampled_from(list("ab 1,;|\t\"'\n.#é")), max_size=12), min_size=25, max_size=25
    ),
    delimiter=_DELIMITERS,
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
    end=st.sampled_from(["\n", "\r\n"]),
    at_once=st.sampled_from([None, 0, 1_000_000]),
)
def test_text_of_any_kind_beside_the_numbers_changes_none_of_them(
    flight: tuple[list[float], list[float], list[float | None]],
    notes: list[str],
    delimiter: str,
    quoting: int,
    end: str,
    at_once: int | None,
    tmp_path: Path,
) -> None:
    times, itt, oil = flight
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end)  # type: ignore[arg-type]
    writer.writerow(["time (s)", "Pilot's note", "ITT (degC)", "Oil Temp (degC)"])
    rows = zip(times, notes, itt, oil, strict=False)
    writer.writerows([[t, f"n {note}", v, "" if o is None else o] for t, note, v, o in rows])
    path = tmp_path / "flight.csv"
    path.write_bytes(out.getvalue().encode())
    with pytest.MonkeyPatch.context() as patch:
        if at_once is not None:  # read by the quick parser, in blocks or at once where it can be
            patch.setattr(source, "HEAD_BYTES", 300)
            patch.setattr(source, "BLOCK_BYTES", 100)
            patch.setattr(source, "AT_ONCE_BYTES", at_once)
        _check(path, times, itt, oil, delimiter, ".")
