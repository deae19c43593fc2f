"""Exports as Parquet: read back they are the tables of `debrief.frames`, with types, units and unknowns."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from debrief import frames
from debrief.analysis.model import Assessment
from debrief.cli import main
from debrief.history.storage.store import Store
from tests.demo_assessing import DEMOS, assessed
from tests.history.history_making import made_assessment, made_start
from tests.report.made_assessments import hot_start

PATTERN = "\x1b[8m=HYPERLINK(\u202e\r\n\x00"
SAME = {"file", "sha256", "aircraft", "engine_serial", "engine", "start_number"}


def written(file: Path, out: Path, *options: str) -> pd.DataFrame:
    assert main(["report", str(file), "-o", str(out), *options]) == 0
    return pd.read_parquet(out)


def rows_of(table: pd.DataFrame, kind: str, like: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return what both tables have of the rows of a kind."""
    both = [name for name in like.columns if name in table.columns]
    return table.loc[table["row"] == kind, both].reset_index(drop=True), like[both]


@pytest.mark.parametrize("file", [DEMOS[1], DEMOS[4]], ids=lambda path: path.stem)
def test_a_report_read_back_is_the_tables_of_the_frames(file: Path, tmp_path: Path) -> None:
    made, found = written(file, tmp_path / "x.parquet"), assessed(file)
    for kind, like in (("start", frames.starts(found)), ("event", frames.events(found))):
        there, wanted = rows_of(made, kind, like)
        assert len(there) == len(wanted) > 0
        assert set(there.columns) > SAME
        # The class of a column of texts depends on the version that reads it.
        pd.testing.assert_frame_equal(there, wanted, check_dtype=False)
    assert {"peak_itt_c", "ng_at_fuel_pct", "light_off_s", "inferred_fields"} <= set(made.columns)


def test_types_and_unknowns_are_those_of_the_file_whatever_is_known(tmp_path: Path) -> None:
    paths = [tmp_path / "full.parquet", tmp_path / "empty.parquet"]
    written(DEMOS[1], paths[0])
    written(DEMOS[1], paths[1], "--select", "start:1")
    full, empty = (pq.read_schema(path) for path in paths)
    assert {field.name: str(field.type) for field in full} == {field.name: str(field.type) for field in empty}
    types = {name: str(full.field(name).type) for name in ("reason", "engine", "certain", "peak_itt_c")}
    assert types["reason"] in ("string", "large_string")  # nobody has said why, and it is a text all the same
    assert (types["engine"], types["certain"], types["peak_itt_c"]) == ("int64", "bool", "double")
    table = pq.read_table(paths[0])
    assert table["peak_itt_c"][0].as_py() is None  # the row of the recording: null, not NaN and not 0


def of_aircraft(name: str) -> Assessment:
    return hot_start(aircraft=name)


@pytest.mark.parametrize("name", [PATTERN, "=1+1", "-40", "caf\u00e9 \U0001f6e9"])
def test_texts_are_as_they_were(name: str, tmp_path: Path) -> None:
    from debrief.report.formats.write import write_parquet

    write_parquet(of_aircraft(name), tmp_path / "x.parquet")
    assert set(pd.read_parquet(tmp_path / "x.parquet")["aircraft"]) == {name}


def test_a_name_that_is_no_unicode_is_written_with_its_bytes_to_be_seen(tmp_path: Path) -> None:
    from debrief.report.formats.write import write_csv, write_parquet

    named = of_aircraft("N\udcff1")
    write_parquet(named, tmp_path / "x.parquet")
    assert set(pd.read_parquet(tmp_path / "x.parquet")["aircraft"]) == {r"N\udcff1"}
    write_csv(named, tmp_path / "x.csv")
    assert frames.starts(named)["aircraft"].tolist() == ["N\udcff1"] * len(named.starts)


def test_it_goes_with_a_selection_and_with_canonical_units(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "x.parquet"
    assert main(["report", str(DEMOS[1]), "-o", str(out), "--units", "degF"]) == 2
    assert "--units does not go with parquet" in capsys.readouterr().err
    assert main(["report", str(DEMOS[1]), "-o", str(out), "--select", "start:9"]) == 2
    assert not out.exists()


def test_the_history_read_back_is_its_table_of_starts(tmp_path: Path) -> None:
    db, out = str(tmp_path / "h.sqlite"), tmp_path / "starts.out"
    with Store.open(db) as store:
        store.keep(made_assessment("one.csv", starts=[made_start(1), made_start(2, peak_itt_c=None)]))
        store.keep(made_assessment("two.csv", at=None, serial="=1+1"))
    assert main(["history", "export", "--db", db, "--format", "parquet", str(out)]) == 0
    made, wanted = pd.read_parquet(out), frames.history_starts(db)
    pd.testing.assert_frame_equal(made, wanted, check_dtype=False)
    assert made["start_utc"].iloc[0] == pd.Timestamp("2031-04-01 08:00:10", tz="UTC")
    assert made["peak_itt_c"].iloc[0] == 742.0
    assert np.isnan(made["peak_itt_c"].iloc[1])
    assert pq.read_table(out)["peak_itt_c"][1].as_py() is None


def test_numbers_of_a_history_that_are_called_like_its_columns_are_all_there(tmp_path: Path) -> None:
    from debrief.analysis.model import Measure

    odd = {name: Measure(float(k), "") for k, name in enumerate(("kind", "kind_", "file", "peak_itt"))}
    odd |= {"peak_itt": Measure(9.0, "degC"), "peak_itt_c": Measure(8.0, "degC")}
    start = replace(made_start(1), measures=odd)
    db = str(tmp_path / "h.sqlite")
    with Store.open(db) as store:
        store.keep(made_assessment("one.csv", starts=[start]))
        made = store.starts()
    table = frames.history_starts(db)
    assert table.columns.is_unique
    assert table["kind"].tolist() == [start.kind]
    for kept in made[0].values.values():
        assert kept.value in table.select_dtypes("float").iloc[0].tolist()
