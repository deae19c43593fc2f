"""Real bench recordings, which carry no licence and are not part of the project, with what each needed.

They are found through the environment variable DEBRIEF_RECORDINGS; without it these tests are skipped.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from debrief.errors import UserError
from debrief.recording.reader import read

FOLDER = os.environ.get("DEBRIEF_RECORDINGS", "")
pytestmark = pytest.mark.skipif(not FOLDER, reason="DEBRIEF_RECORDINGS names no folder of recordings")


def _file(name: str) -> Path:
    path = Path(FOLDER) / name
    if not path.exists():
        pytest.skip(f"{name} is not in the folder")
    return path


def test_the_electric_start_needs_a_rate_and_a_map_of_the_speed() -> None:
    path = _file("bench_electric_start_no_time.csv")
    with pytest.raises(UserError, match="no time column"):
        read(path)
    # Its control's timed stages last 9 or 10 rows at both attempts: 10 rows a second.
    unsure = read(path, rate_hz=10)
    # Its percentage stands at 0 up to idle, so it is no gas generator speed; it must not be taken for one.
    assert "ng" not in unsure.channels
    assert any('--map ng="RPM (actual):rpm"' in q for q in unsure.provenance.questions)
    recording = read(path, rate_hz=10, maps=["ng=RPM (actual):rpm"])
    assert recording.channels["ng"].unit == "rpm"
    assert recording.channels["ng"].values.max() == 103520
    assert recording.channels["itt"].column == "EGT"
    assert recording.channels["bus_volts"].column == "Battery Volts"
    assert recording.channels["battery_amps"].column == "Battery Current"
    assert recording.duration_s == pytest.approx(488.0)
    assert recording.provenance.rows == 4881
    assert "Unnamed: 0" not in recording.unmapped


def test_the_free_turbine_at_1_hz_needs_its_speeds_in_thousands() -> None:
    maps = ["ng=N1:krpm", "np=N2:krpm", "oil_temp=oil temperature:degC", "oil_press=P_Oil_psi"]
    recording = read(_file("bench_free_turbine_1hz.csv"), maps=maps)
    assert recording.provenance.time_source == 'column "elapsed_sec", elapsed'
    assert recording.duration_s == 822.0
    assert recording.channels["ng"].values.max() == pytest.approx(104544, abs=1)
    assert recording.channels["np"].values.max() == pytest.approx(30660, abs=1)
    assert recording.channels["itt"].values.max() == pytest.approx(691.4, abs=0.1)
    assert recording.channels["ng"].time_s is recording.channels["itt"].time_s
    assert not recording.provenance.repairs


def test_the_free_turbine_without_maps_asks_for_its_speeds() -> None:
    questions = read(_file("bench_free_turbine_1hz.csv")).provenance.questions
    assert any('--map ng="N1:krpm"' in q for q in questions)
    assert any('--map np="N2:%" or --map np="N2:krpm"' in q for q in questions)


def test_the_sparse_recording_keeps_each_channels_own_samples() -> None:
    maps = ["np=N_PLC_N2:krpm", "itt=T_PLC_Turbine_Exit_1:degC"]
    recording = read(_file("bench_free_turbine_sparse.csv"), maps=maps)
    assert recording.identity.start is not None
    assert recording.identity.start.isoformat() == "2023-04-05T21:59:44.180366+00:00"
    itt = recording.channels["itt"]
    assert itt.time_s.size == 2502
    assert recording.unmapped["T_PI_Engine_Frame_1"].time_s.size == 2506
    assert itt.time_s is recording.channels["np"].time_s
    assert recording.channels["np"].values.max() == pytest.approx(35100)
    # Fuel and igniter bits ramp from 0 to 1: somebody interpolated them before they were written.
    assert {f.channel for f in recording.quality if f.kind == "ramped_discrete"} == {"fuel_on", "ignition"}


def test_the_file_without_a_header_needs_every_column_named() -> None:
    path = _file("twin_turbofan_fuelflow_headerless.csv")
    with pytest.raises(UserError, match="only rises"):
        read(path)
    recording = read(path, maps=["time=#1:s", "fuel_flow=#2:kg/h", "fuel_flow.2=#3:kg/h"])
    assert recording.engines == (1, 2)
    assert recording.provenance.rows == 42121
    assert np.all(np.diff(recording.channels["fuel_flow.2"].time_s) > 0)
    assert recording.channels["fuel_flow"].interval_s == pytest.approx(0.1)
