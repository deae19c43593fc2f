"""What a value of the history may be, and what is said of one that cannot be right."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from debrief.cli import main
from debrief.errors import UserError
from debrief.history.exchange.transfer import merge
from debrief.history.service.history_service import look
from debrief.history.storage import rules, schema
from debrief.history.storage.column_types import kind_of
from debrief.history.storage.rules import parsed_json
from debrief.history.storage.store import Store
from debrief.history.storage.values import document_problem, fitted, row_name, row_problem, shown
from debrief.history.trends.series import trend
from debrief.recording.model import Identity
from tests.history.history_making import FIRST, made_assessment, made_event, made_start, series

SHA = "ab" * 32
START = {
    "sha256": SHA, "engine": 1, "number": 1, "engine_key": "TG7-0042", "at_epoch_s": FIRST.timestamp(),
    "kind": "ground", "outcome": "completed", "power": "battery",
}  # fmt: skip
MEASURE = {
    "sha256": SHA, "engine": 1, "start_number": 1, "name": "peak_itt", "engine_key": None, "value": 742.0,
    "unit": "degC", "inferred": False,
}  # fmt: skip
NOTE = {
    "note_id": "5f0c2e5e-6a0b-4f2e-9a53-1f6f2f0c9d11", "sha256": SHA, "time_s": None, "event_kind": None,
    "author": "", "text": "words", "changed_at": "9999-01-01T00:00:00+00:00", "removed": False,
}  # fmt: skip


def test_every_column_of_every_table_has_its_rule():
    for name, table in schema.metadata.tables.items():
        for column in table.columns:
            assert (column.info["rule"] is rules.TRUTH) == (kind_of(column) == "yes or no"), (
                f"{name}.{column}"
            )


@pytest.mark.parametrize(("table", "row"), [("starts", START), ("measures", MEASURE), ("notes", NOTE)])
def test_rows_as_the_program_writes_them_have_no_problem(table, row):
    assert row_problem(table, row) is None


@pytest.mark.parametrize(
    "number", [float("nan"), float("inf"), -1e10, 10**400, True, "742", None, [742.0], b"7"]
)
def test_a_number_is_a_finite_number_within_its_range(number):
    assert row_problem("measures", {**MEASURE, "value": number}).startswith("value is ")


@pytest.mark.parametrize("number", [True, 1.0, "1", -1, 0, 2**63, 10**4000])
def test_an_engine_is_a_whole_number_from_one(number):
    assert row_problem("starts", {**START, "engine": number}).startswith("engine is ")


@pytest.mark.parametrize(
    ("year", "sound"), [(1, False), (1899, False), (1900, True), (2031, True), (2199, True), (2200, False)]
)
def test_an_instant_lies_between_the_years_1900_and_2200(year, sound):
    at = (datetime(year, 7, 1, tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
    assert (row_problem("starts", {**START, "at_epoch_s": at}) is None) == sound


@pytest.mark.parametrize("text", ["half \ud800", "nul \x00", "x" * 1_000_001, 5, b"words", {"a": 1}])
def test_a_text_is_one_that_every_database_holds(text):
    assert row_problem("notes", {**NOTE, "text": text}).startswith("text is ")


@pytest.mark.parametrize("key", ["../../settings", "a/b", "", "x" * 37, "a\n"])
def test_the_name_of_a_note_cannot_be_a_path(key):
    assert row_problem("notes", {**NOTE, "note_id": key}).startswith("note_id is ")


@pytest.mark.parametrize(
    "points",
    ["", "[", "{}", "[[1],[2,3]]", "[[1e9],[2]]", "[[2000000000],[700]]", "[[20],[NaN]]", "[[20],[1e999]]",
     "[" * 100_000, '[["20"],[700]]', "[[-1],[700]]"],
)  # fmt: skip
def test_a_trace_is_itt_by_percents_of_ng(points):
    row = {"sha256": SHA, "engine": 1, "number": 1, "points": points}
    assert row_problem("start_traces", row).startswith("points is ")
    assert row_problem("start_traces", {**row, "points": "[[20,21],[700.1,705]]"}) is None


def test_what_is_said_is_one_short_line_whatever_the_value():
    for value in ("\x1b[8m" * 99, 10**5000, ["x"] * 9999, float("inf"), b"\x00" * 5000):
        problem = row_problem("measures", {**MEASURE, "unit": value})
        assert problem is not None
        assert len(problem) < 200
        assert problem.isprintable()


def test_a_row_is_named_by_its_key():
    assert row_name("starts", {**START, "engine": "\x1b"}) == "starts abababababab ␛ 1"
    assert shown(10**200) == "a number of very many digits"


def test_texts_that_no_database_holds_are_written_out_and_endless_ones_are_cut():
    row = fitted("recordings", {"file_name": "a\x00\ud800", "aircraft": "Z" * 5000, "document": "{}"})
    assert row == {"file_name": "a\\x00\\ud800", "aircraft": "Z" * 399 + "…", "document": "{}"}


# The document


def _document(**changes):
    run = {"start_s": 1.0, "end_s": None, "duration_s": 2, "duration_low_s": 1.9, "duration_high_s": None}
    start = {"engine": 1, "number": 1, "starter_runs": [{**run, "power": "battery"}]}
    return json.dumps({"recording": {"sha256": SHA}, "starts": [start], "events": [], **changes})


def test_a_document_of_its_recording_has_no_problem():
    assert document_problem(_document(), SHA, 1, 0) is None


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "NaN", "[" * 100_000, 5, None, _document(recording=[]), _document(recording={"sha256": "ff"}),
     _document(starts=5), _document(starts=[5]), _document(starts=[{"engine": 1, "number": 1}]),
     _document(starts=[{"engine": 1, "number": 1, "starter_runs": [{"start_s": "x"}]}]), _document(events={}),
     _document(starts=[]), _document(events=[{}])],
)  # fmt: skip
def test_a_document_that_is_damaged_or_anothers_is_told(text):
    assert document_problem(text, SHA, 1, 0).startswith("its document ")


# What the program itself keeps obeys the same table


@pytest.fixture
def store(tmp_path: Path):
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


def problems(store: Store) -> list[str]:
    with store.engine.connect() as connection:
        return [
            problem
            for name, table in schema.metadata.tables.items()
            for row in connection.execute(sa.select(table)).mappings()
            if (problem := row_problem(name, row)) is not None
        ]


def test_all_that_is_kept_can_be_right(store):
    store.keep(made_assessment("odd \x07.csv", aircraft="Z\x00" * 5000, serial=None, events=[made_event()]))
    store.keep(made_assessment("hot.csv", starts=[made_start(peak_itt_c=1e30)]))
    sha = store.find("hot.csv")
    store.write_note(sha, "half \ud800", author="\x00")
    store.exclude(sha, 1, "because")
    store.note_maintenance("TG7-0042", FIRST, "Nozzles changed.")
    assert problems(store) == []
    # A value beyond all that can be is not kept; the others of its start are.
    (start,) = [start for start in store.starts() if start.sha256 == sha]
    assert "peak_itt" not in start.values
    assert start.values["min_bus_volts"].value == 19.0
    # What names an engine is made fit for its numbers as for its starts.
    store.keep(made_assessment("odd name.csv", serial="a\x00b"))
    assert store.starts("a\\x00b")[0].values["peak_itt"].value == 742.0


def test_a_flight_of_an_impossible_date_is_refused_in_words(store):
    with pytest.raises(UserError, match=r"cannot be kept.*start_epoch_s"):
        store.keep(made_assessment(), Identity(start=datetime(1, 1, 1, tzinfo=UTC)))
    assert store.flights() == ()


# Rows that are already in a history


ODD = [
    ("starts", {"at_epoch_s": 1e18}),
    ("starts", {"at_epoch_s": -1e18}),
    ("starts", {"engine": -1}),
    ("starts", {"outcome": "landed"}),
    ("measures", {"value": 1e300}),
    ("measures", {"value": float("inf")}),
    ("measures", {"value": float("-inf")}),
    ("measures", {"value": sa.literal_column("'inf'")}),
    ("starts", {"at_epoch_s": sa.literal_column("'soon'")}),
    ("notes", {"time_s": float("inf")}),
    ("maintenance", {"at_epoch_s": float("inf")}),
    ("recordings", {"start_epoch_s": float("inf")}),
    ("recordings", {"duration_s": sa.literal_column("'long'")}),
    ("measures", {"name": "x" * 2000}),
    ("start_traces", {"points": "[[2000000000, 1],[700, 701]]"}),
    ("exclusions", {"others": "[5]"}),
    ("notes", {"time_s": 1e300}),
    ("notes", {"replaces": "all of them"}),
    ("maintenance", {"at_epoch_s": 1e18}),
    ("recordings", {"start_epoch_s": 1e18}),
    ("recordings", {"start_text": "yesterday"}),
    ("profiles", {"first_used_at": "yesterday"}),
]


@pytest.mark.parametrize(("table", "odd"), ODD, ids=lambda value: str(value)[:50])
def test_a_row_that_cannot_be_right_is_left_out_counted_and_named(debrief_home, tmp_path, capsys, table, odd):
    with Store.open() as store:
        for assessment in series([742.0 + i % 5 for i in range(18)]):
            store.keep(assessment)
        sha = store.find("flight-003.csv")
        store.write_note(sha, "words")
        store.exclude(sha, 1, "because")
        store.note_maintenance("TG7-0042", FIRST - timedelta(days=9), "Nozzles changed.")
        of = schema.metadata.tables[table]
        with store.engine.begin() as connection:
            if table == "start_traces":
                connection.execute(of.insert().values(sha256=sha, engine=1, number=1, **odd))
            which = of.c.sha256 == sha if "sha256" in of.c else sa.true()
            if table == "measures":
                which &= of.c.name == "peak_itt"
            connection.execute(of.update().where(which).values(**odd))
    out = tmp_path / "all.jsonl"
    for command in (["list"], ["trend"], ["trend", "--measure", "peak_itt"]):
        assert main(["history", *command]) == 0
    assert look().total >= 17
    assert look(engine="TG7-0042").trends
    assert main(["history", "export", str(tmp_path / "starts.csv")]) in (0, 2)
    capsys.readouterr()
    assert main(["history", "export", str(out)]) == 2
    assert "cannot be right" in capsys.readouterr().err
    assert main(["history", "check"]) == 2
    assert next(iter(odd)) in capsys.readouterr().err
    # What was written is whole as far as it goes.
    with Store.open(str(tmp_path / "new.sqlite")) as store:
        assert merge(store, out).new >= 17
        assert problems(store) == []


def test_a_trend_is_not_bent_by_an_instant_that_cannot_be(debrief_home, capsys):
    with Store.open() as store:
        for assessment in series([742.0 + i % 5 for i in range(20)]):
            store.keep(assessment)
        whole = trend(store, "TG7-0042", "peak_itt").words
        store.keep(made_assessment("wild.csv", at=FIRST + timedelta(days=99)))
        with store.engine.begin() as connection:
            connection.execute(
                schema.starts.update()
                .where(schema.starts.c.sha256 == store.find("wild.csv"))
                .values(at_epoch_s=1e18)
            )
        assert trend(store, "TG7-0042", "peak_itt").words == whole
        assert len(store.left_out) == 1
        assert "1 row of the history that cannot be right is left out" in store.left_out_words


def test_a_line_that_would_take_far_more_memory_than_its_length_is_none():
    with pytest.raises(ValueError, match="more rows and lists than any flight has"):
        parsed_json(f"[{'{},' * 600_000}1]")
    assert parsed_json("[{}, {}, 1]") == [{}, {}, 1]  # few are no matter, however dense
    row = '{"' + "x" * 60 + '": 1}'
    assert len(parsed_json("[" + ",".join([row] * 600_000) + "]")) == 600_000
