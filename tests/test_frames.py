"""The tables for those who script: the numbers of the document, units in the names, unknown as NaN or NA."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import debrief
from debrief import frames
from debrief.analysis.flight_model import FlightLists
from debrief.analysis.model import Assessment
from debrief.history.storage.store import Store
from debrief.recording.model import Channel, Recording
from debrief.session.document import assessment_document
from debrief.session.frames import column_name
from debrief.words.channels import CANONICAL
from tests.demo_assessing import DEMOS, assessed
from tests.history.history_making import made_assessment, made_start

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture(params=DEMOS[:6], ids=lambda path: path.stem)
def found(request: pytest.FixtureRequest) -> Assessment:
    return assessed(request.param)


def test_every_known_number_of_the_document_is_in_the_tables_and_no_other(found: Assessment) -> None:
    document = assessment_document(found)
    starts, measures, events = frames.starts(found), frames.measures(found), frames.events(found)
    assert starts["start_number"].tolist() == [start["number"] for start in document["starts"]]
    for start, (_, row) in zip(document["starts"], starts.iterrows(), strict=True):
        for name in ("peak_itt_c", "light_off_s", "idle_s", "rest_bus_volts", "ng_at_fuel_pct"):
            assert (pd.isna(row[name]) and start[name] is None) or row[name] == start[name]
        for name, measure in start["measures"].items():
            value = row[column_name(name, measure["unit"])]
            assert (pd.isna(value) and measure["value"] is None) or value == measure["value"], name
    told = [*(m for s in document["starts"] for m in s["measures"].values())]
    told += document["flight"]["measures"].values()
    assert len(measures) == len(told)
    assert measures["value"].notna().sum() == sum(m["value"] is not None for m in told)
    assert events["message"].tolist() == [event["message"] for event in document["events"]]
    known = [event["duration_s"] for event in document["events"] if event["duration_s"] is not None]
    assert events["duration_s"].dropna().tolist() == known
    assert frames.limits(found)["result"].tolist() == [limit["result"] for limit in document["limits"]]
    assert frames.phases(found)["end_s"].tolist() == [phase["end_s"] for phase in document["phases"]]
    assert frames.cycles(found)["cycles"].tolist() == [one["cycles"] for one in document["flight"]["cycles"]]
    assert set(frames.cycles(found)["unit"]) == {"%", "degC"}


def test_the_lists_of_a_flight_are_tables() -> None:
    (path,) = (path for path in DEMOS if path.stem.startswith("20_"))
    found = assessed(path)
    flight = assessment_document(found)["flight"]
    steady = frames.steady(found)
    assert len(steady) == len(flight["steady"]) > 0
    assert steady["itt_margin_c"].tolist() == [one["itt_margin_c"] for one in flight["steady"]]
    assert steady["bleed"].tolist() == [one["bleed"] for one in flight["steady"]]
    assert steady["phase"].tolist() == [one["phase"] for one in flight["steady"]]
    empty = replace(found, flight=FlightLists())
    for make in (frames.steady, frames.load_steps, frames.margins, frames.twins):
        assert make(found).dtypes.to_dict() == make(empty).dtypes.to_dict()
        assert len(make(empty)) == 0


def test_tables_without_rows_have_the_same_types() -> None:
    full, empty = assessed(DEMOS[1]), replace(assessed(DEMOS[1]), starts=(), events=(), phases=(), limits=())
    for make in (frames.events, frames.limits, frames.phases):
        assert make(full).dtypes.to_dict() == make(empty).dtypes.to_dict()
        assert len(make(full)) > len(make(empty)) == 0


def test_each_unit_of_a_channel_has_a_short_form_in_a_column_name() -> None:
    for name, unit in CANONICAL.items():
        assert re.fullmatch(r"[a-z_0-9]+", column_name(name, unit)), (name, unit)
    assert column_name("itt.2", "degC") == "itt_c_2"
    assert column_name("torque", "lbf ft") == "torque_lbf_ft"


def recorded(name: str, unit: str, times: list[float], values: list[float]) -> Recording:
    return Recording({name: Channel(name, unit, times, values)}, duration_s=times[-1])


def test_a_channel_is_a_line_between_samples_and_nothing_beyond_them_or_in_a_gap() -> None:
    made = recorded("itt", "degC", [1.0, 2.0, 3.0, 4.0, 14.0, 15.0], [10.0, 20.0, 40.0, 40.0, 90.0, 100.0])
    itt = frames.channels(made, rate_hz=2.0)["itt_c"]
    assert np.isnan(itt[0.5])  # before its first sample
    assert itt[1.5] == 15.0
    assert itt[2.0] == 20.0
    assert itt[4.0] == 40.0
    assert np.isnan(itt[[4.5, 9.0, 13.5]]).all()  # 10 s without a sample, one a second around
    assert itt[14.0] == 90.0
    assert itt.index[-1] == 15.0


def test_a_switch_holds_and_a_heading_goes_the_short_way_round() -> None:
    switch = recorded("starter", "0/1", [0.0, 1.0, 2.0], [0.0, 1.0, 0.0])
    assert frames.channels(switch, 4.0)["starter"].tolist() == [0, 0, 0, 0, 1, 1, 1, 1, 0]
    heading = recorded("heading", "deg", [0.0, 2.0], [350.0, 20.0])
    assert frames.channels(heading, 1.0)["heading_deg"].tolist() == [350.0, 5.0, 20.0]
    east = recorded("lon", "deg", [0.0, 2.0], [179.0, -179.0])
    assert frames.channels(east, 1.0)["lon_deg"].tolist() == [179.0, -180.0, -179.0]


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=40), st.sampled_from([1.0, 2.0, 4.0]))
def test_a_grid_on_the_samples_gives_the_samples(values: list[float], rate: float) -> None:
    made = recorded("oil_temp", "degC", [n / rate for n in range(len(values))], values)
    assert frames.channels(made, rate)["oil_temp_c"].tolist() == values


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan"), float("inf")])
def test_a_rate_that_is_none_is_refused(rate: float) -> None:
    with pytest.raises(ValueError, match="rate_hz"):
        frames.channels(recorded("itt", "degC", [0.0, 1.0], [1.0, 2.0]), rate)


def test_a_grid_of_more_rows_than_memory_holds_is_refused() -> None:
    with pytest.raises(ValueError, match="more than"):
        frames.channels(recorded("itt", "degC", [0.0, 1e12], [1.0, 2.0]), 1.0)


def test_the_history_has_a_row_for_each_flight_and_start(tmp_path: Path) -> None:
    db = str(tmp_path / "h.sqlite")
    with Store.open(db) as store:
        store.keep(made_assessment("one.csv", starts=[made_start(1), made_start(2, peak_itt_c=None)]))
        store.keep(made_assessment("two.csv", at=None, starts=[]))
    flights, starts = frames.history_flights(db), frames.history_starts(db)
    assert flights["file"].tolist() == ["one.csv", "two.csv"]
    assert flights["start_utc"].iloc[0] == pd.Timestamp("2031-04-01 08:00", tz="UTC")
    assert pd.isna(flights["start_utc"].iloc[1])
    assert starts["start_number"].tolist() == [1, 2]
    assert starts["peak_itt_c"].iloc[0] == 742.0
    assert np.isnan(starts["peak_itt_c"].iloc[1])  # not known, so not 0
    assert len(frames.history_starts(db, "no such engine")) == 0


def test_the_public_functions_load_when_they_are_asked_for() -> None:
    script = (
        "import sys, debrief\n"
        "assert not {'numpy', 'pandas', 'pyarrow', 'sqlite3'} & set(sys.modules)\n"
        "debrief.assess, debrief.read, debrief.load_profile\n"
        "assert not {'pandas', 'pyarrow', 'sqlite3'} & set(sys.modules), 'light'\n"
        "import debrief.frames\n"
        "assert not {'pandas', 'sqlalchemy'} & set(sys.modules), 'frames'\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True, cwd=ROOT)
    with pytest.raises(AttributeError, match="no_such"):
        debrief.no_such  # noqa: B018


def test_the_example_of_the_readme_runs_and_prints_what_it_shows(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, shown = re.search(
        r"```python\n(import debrief.*?)```\n\n```text\n(.*?)```", README, re.DOTALL
    ).groups()
    monkeypatch.chdir(ROOT)
    exec(code, {})
    assert capsys.readouterr().out.split() == shown.split()


def test_the_power_checks_are_those_of_the_document_with_the_unit_beside() -> None:
    found = assessed(next(path for path in DEMOS if path.stem.startswith("20_")))
    told = assessment_document(found)["flight"]["power_checks"]
    made = frames.power_checks(found)
    assert (
        made["allowed"].dropna().tolist()
        == [one["allowed"] for one in told if one["allowed"] is not None]
        != []
    )
    assert made["why"].dropna().tolist() == [one["why"] for one in told if one["why"] is not None] != []
    assert set(made["unit"]) == {"degC"}
