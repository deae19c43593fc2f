"""The recorder: dialects, rates, resolution, noise, blanks; the same scenario gives the same bytes."""

from __future__ import annotations

import csv
import errno
import hashlib
import itertools
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from debrief.errors import UserError
from debrief.synth import build, simulate
from debrief.synth.builder import truth_path
from tests.synth.scenarios import DEMO, START, run, scenario, text

COLUMNS = """columns = [
  {channel = "ng", header = "Ng (%)", unit = "%", resolution = 0.1, noise = 0.03},
  {channel = "itt", header = "ITT (degC)", unit = "degC", resolution = 1, noise = 0.3},
  {channel = "starter", header = "Starter", words = ["OFF", "ON"]},
  {channel = "oil_temp", header = "Oil temp (degC)", unit = "degC", rate_hz = 1, resolution = 1},
]
"""


def write(folder: Path, content: str) -> tuple[list[str], list[list[str]]]:
    """Build the scenario; return preamble lines and the rows below it, header first."""
    path = folder / "s.toml"
    path.write_text(content, encoding="utf-8")
    out = folder / "out.csv"
    build(path, out)
    lines = out.read_bytes().decode("utf-8-sig").split("\n")
    assert lines[-1] == ""
    preamble = [line for line in lines[:-1] if line.startswith("#")]
    return preamble, [line.split(_delimiter(content)) for line in lines[len(preamble) : -1]]


def _delimiter(content: str) -> str:
    return ";" if '"semicolon"' in content else "\t" if '"tab"' in content else ","


def truth_in(file: Path) -> dict[str, Any]:
    """Return a truth without the hash of the recording that it belongs to."""
    told: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    recording = file.with_name(file.name.replace(".truth.json", ".csv"))
    assert told.pop("recording_sha256") == hashlib.sha256(recording.read_bytes()).hexdigest()
    return told


def test_the_same_scenario_gives_the_same_bytes(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(text(duration_s=30.0), encoding="utf-8")
    build(path, tmp_path / "a.csv")
    build(path, tmp_path / "b.csv")
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    assert (tmp_path / "a.truth.json").read_bytes() == (tmp_path / "b.truth.json").read_bytes()
    path.write_text(text(duration_s=30.0, seed=2), encoding="utf-8")
    build(path, tmp_path / "c.csv")
    # Another seed is other noise, and the same truth.
    assert (tmp_path / "a.csv").read_bytes() != (tmp_path / "c.csv").read_bytes()
    assert truth_in(tmp_path / "a.truth.json") == truth_in(tmp_path / "c.truth.json")


def test_another_column_changes_no_other(tmp_path: Path) -> None:
    _, plain = write(tmp_path, text(duration_s=20.0))
    more = text(duration_s=20.0).replace(
        "columns = [", 'columns = [\n  {channel = "palt", header = "PA (ft)", unit = "ft", noise = 3.0},'
    )
    _, wide = write(tmp_path, more)
    assert [row[:1] + row[2:] for row in wide] == plain


def test_the_preamble_says_whose_recording_it_is(tmp_path: Path) -> None:
    recorder = '[recorder]\npreamble = ["school: Larkfield Flying School"]\n' + COLUMNS
    preamble, _ = write(tmp_path, text("", duration_s=2.0, recorder=recorder))
    assert preamble == [
        "# engine-profile: tarn-tg7",
        "# aircraft: ZZ-TRN",
        "# engine-serial: TG7-118",
        "# engine-model: TG-7",
        "# start: 2031-01-02T03:04:05Z",
        "# school: Larkfield Flying School",
    ]


@pytest.mark.parametrize(
    ("rate", "form", "times"),
    [
        (4, "elapsed", ["0.00", "0.25", "0.50"]),
        (1, "elapsed", ["0", "1", "2"]),
        (16, "elapsed", ["0.0000", "0.0625", "0.1250"]),
        (8, "hms", ["03:04:05.000", "03:04:05.125", "03:04:05.250"]),
        (1, "hms", ["03:04:05", "03:04:06", "03:04:07"]),
        (2, "iso", ["2031-01-02T03:04:05.0Z", "2031-01-02T03:04:05.5Z", "2031-01-02T03:04:06.0Z"]),
    ],
)
def test_times_are_written_as_the_recorder_does(
    tmp_path: Path, rate: int, form: str, times: list[str]
) -> None:
    recorder = f'[recorder]\nrate_hz = {rate}\ntime_format = "{form}"\n' + COLUMNS
    _, rows = write(tmp_path, text("", duration_s=3.0, recorder=recorder))
    assert [row[0] for row in rows[1:4]] == times
    assert len(rows) == 1 + 3 * rate + 1
    if form == "iso":
        assert datetime.fromisoformat(rows[1][0]).tzinfo is not None


@pytest.mark.parametrize(("delimiter", "decimal"), [("semicolon", ","), ("tab", "."), ("comma", ".")])
def test_delimiter_and_decimal_mark(tmp_path: Path, delimiter: str, decimal: str) -> None:
    recorder = f'[recorder]\ndelimiter = "{delimiter}"\ndecimal = "{decimal}"\n' + COLUMNS
    _, rows = write(tmp_path, text("", duration_s=2.0, recorder=recorder))
    assert {len(row) for row in rows} == {5}
    assert rows[2][0] == f"0{decimal}25"
    assert rows[1][1] == f"0{decimal}0"


def test_units_row_and_byte_order_mark(tmp_path: Path) -> None:
    recorder = "[recorder]\nunits_row = true\nbom = true\n" + COLUMNS
    _, rows = write(tmp_path, text("", duration_s=2.0, recorder=recorder))
    assert rows[1] == ["s", "%", "degC", "", "degC"]
    assert (tmp_path / "out.csv").read_bytes().startswith(b"\xef\xbb\xbf# engine-profile")


def test_a_slow_column_is_blank_between_its_samples_and_a_lost_signal_is_blank(tmp_path: Path) -> None:
    recorder = "[recorder]\nrate_hz = 4\n" + COLUMNS.replace(
        "resolution = 1, noise = 0.3}", "resolution = 1, noise = 0.3, blank = [[1.0, 2.0]]}"
    )
    _, rows = write(tmp_path, text("", duration_s=3.0, recorder=recorder))
    assert [row[4] != "" for row in rows[1:]] == [i % 4 == 0 for i in range(13)]
    assert [row[2] != "" for row in rows[1:]] == [not 4 <= i < 8 for i in range(13)]


def test_a_spike_is_one_wrong_sample_and_leaves_the_truth_alone(tmp_path: Path) -> None:
    content = text("", duration_s=5.0)
    _, plain = write(tmp_path, content)
    truth = truth_in(tmp_path / "out.truth.json")
    _, spiked = write(tmp_path, content.replace("noise = 0.03}", "noise = 0.03, spikes = [[2.1, 88.8]]}"))
    differing = [i for i, (a, b) in enumerate(zip(plain, spiked, strict=True)) if a != b]
    assert [spiked[i][:2] for i in differing] == [["2.25", "88.8"]]
    assert truth_in(tmp_path / "out.truth.json") == truth


def test_words_and_units_are_those_of_the_scenario(tmp_path: Path) -> None:
    recorder = "[recorder]\n" + COLUMNS.replace('"ITT (degC)", unit = "degC"', '"ITT (degF)", unit = "degF"')
    _, rows = write(tmp_path, text(duration_s=20.0, recorder=recorder))
    assert {row[3] for row in rows[1:]} == {"OFF", "ON"}
    assert float(rows[1][2]) == pytest.approx(59.0, abs=2.0)


def test_values_are_multiples_of_the_resolution_near_the_state(tmp_path: Path) -> None:
    simulation = run(duration_s=30.0)
    _, rows = write(tmp_path, text(duration_s=30.0))
    times = np.array([float(row[0]) for row in rows[1:]])
    for position, name, resolution, noise in ((1, "ng", 0.1, 0.03), (2, "itt", 1.0, 0.3)):
        values = np.array([float(row[position]) for row in rows[1:]])
        assert np.allclose(np.round(values / resolution) * resolution, values)
        exact = np.interp(times, simulation.time_s, simulation.states[name])
        assert np.abs(values - exact).max() <= resolution / 2 + 5.0 * noise
        assert np.abs(values - exact).mean() > 0.0


def test_the_truth_lies_beside_the_recording(tmp_path: Path) -> None:
    assert truth_path(tmp_path / "a.csv") == tmp_path / "a.truth.json"
    assert truth_path(tmp_path / "a.b.CSV") == tmp_path / "a.b.truth.json"
    assert truth_path("plain") == Path("plain.truth.json")


def test_a_full_disk_leaves_recording_and_truth_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, other = tmp_path / "s.toml", tmp_path / "t.toml"
    file.write_text(text(START, duration_s=20.0), encoding="utf-8")
    other.write_text(text(START, duration_s=20.0, seed=2), encoding="utf-8")
    build(file, tmp_path / "a.csv")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    flush = os.fsync
    for fails_at in (1, 2):
        calls = itertools.count(1)

        def full(handle: int, calls: Iterator[int] = calls, fails_at: int = fails_at) -> None:
            if next(calls) == fails_at:
                raise OSError(errno.ENOSPC, "made to fail")
            flush(handle)

        monkeypatch.setattr("debrief.output.door.os.fsync", full)
        with pytest.raises(UserError, match="the disk is full"):
            build(other, tmp_path / "a.csv")
        assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_simulate_takes_a_scenario_or_its_file(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(text(START, duration_s=20.0), encoding="utf-8")
    one = simulate(path)
    other = simulate(scenario(tmp_path, duration_s=20.0))
    assert np.array_equal(one.states["ng"], other.states["ng"])
    assert not one.states["ng"].flags.writeable
    assert one.time_s.size == 20001


def test_synth_loads_none_of_the_code_that_it_checks() -> None:
    code = (
        "import sys, debrief.synth, debrief.synth.builder\n"
        "print([m for m in sys.modules if m.startswith(('debrief.analysis', 'debrief.profile', "
        "'debrief.recording', 'debrief.session', 'pandas', 'scipy', 'PySide6'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


SCENARIOS = sorted((DEMO / "scenarios").glob("*.toml"))
# One after another these take minutes; the others show the same every day.
LONG = ("06_", "08_", "09_", "11_", "12_", "16_", "18_", "19_")


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(path, marks=[pytest.mark.slow] if path.stem.startswith(LONG) else [], id=path.stem)
        for path in SCENARIOS
    ],
)
def test_the_committed_recording_and_truth_come_from_the_committed_scenario(
    tmp_path: Path, path: Path
) -> None:
    build(path, tmp_path / "again.csv")
    committed = DEMO / f"{path.stem}.csv"
    assert (tmp_path / "again.csv").read_bytes() == committed.read_bytes()
    again = json.loads((tmp_path / "again.truth.json").read_text(encoding="utf-8"))
    assert again == json.loads(truth_path(committed).read_text(encoding="utf-8"))


def test_the_demo_recordings_are_small_and_differ_in_dialect() -> None:
    files = sorted(DEMO.glob("*.csv"))
    assert sum(path.stat().st_size for path in files) < 8_000_000
    headers = []
    for path in files:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            headers.append(next(row for row in csv.reader(lines) if not row[0].startswith("#"))[0])
    assert any(";" in header for header in headers)
    assert any("\t" in header for header in headers)
    assert {"Time (s)", "Time", "Time UTC"} <= set(headers)
