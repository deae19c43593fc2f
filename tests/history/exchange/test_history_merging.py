"""What people wrote at several desks, merged: nothing is lost, and the order of merging does not matter."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.cli import main
from debrief.errors import UserError
from debrief.history.exchange.merging import merge_lines
from debrief.history.exchange.soundness import soundness
from debrief.history.exchange.transfer import Merged, _bundles, _head, export_jsonl, merge
from debrief.history.storage import schema
from debrief.history.storage.changes import change_of, joined, next_version, revision, side_by_side
from debrief.history.storage.database import writing
from debrief.history.storage.migrations import MIGRATIONS
from debrief.history.storage.store import Store
from debrief.history.trends.series import trend
from debrief.recording.model import Identity
from tests.history.history_making import FIRST, made_assessment, series

FLIGHT = made_assessment()
SHA = FLIGHT.recording.provenance.sha256
ENGINE = "TG7-0042"


def desk(keeps: bool = True) -> Store:
    """A history in memory, in the present form."""
    engine = sa.create_engine("sqlite://", poolclass=sa.pool.StaticPool)
    schema.metadata.create_all(engine)
    store = Store(engine)
    if keeps:
        store.keep(FLIGHT)
    return store


def bring(store: Store, other: Store) -> Merged:
    with other.engine.connect() as source, writing(store.engine) as target:
        lines = itertools.chain([_head(source, set())], _bundles(source, set()))
        return merge_lines(target, lines, "the other desk")


def words(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """Every row that people wrote."""
    with store.engine.connect() as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(sa.select(table))), key=repr)
            for table in (schema.notes, schema.exclusions, schema.maintenance)
        }


# --- by hypothesis: three desks -------------------------------------------------------------------------

OPERATIONS = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.sampled_from(
            ["new", "change", "change", "remove", "merge", "merge", "exclude", "include", "act", "undo"]
        ),
        st.integers(0, 5),
        st.sampled_from([1970, 2031, 9999]),
    ),
    max_size=14,
)


class Desks:
    """Three desks, and beside them what must come of it: every change, and which of them another replaced."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.stores = [desk() for _ in range(3)]
        self.texts: dict[str, str | None] = {}
        self.replaced: set[str] = set()
        self._patch = monkeypatch

    def do(self, number: int, where: int, what: str, which: int, year: int) -> None:
        self._patch.setattr(
            "debrief.history.storage.people.now_text", lambda: f"{year:04}-06-01T12:00:00.000000+00:00"
        )
        store = self.stores[where]
        notes = store.notes(SHA)
        if what == "merge":
            bring(store, self.stores[which % 3])
        elif what == "new":
            note = store.write_note(SHA, f"text {number}")
            self.texts[note.version] = note.text
        elif what == "change" and notes:
            read = notes[which % len(notes)]
            note = store.write_note(SHA, f"text {number}", note_id=read.note_id, based_on=read.version)
            self.replaced.add(read.version)
            self.texts[note.version] = note.text
        elif what == "remove" and notes:
            read = notes[which % len(notes)]
            version = store.remove_note(read.note_id, read.version)
            assert version is not None
            self.replaced.add(read.version)
            self.texts[version] = None
        elif what == "exclude":
            store.exclude(SHA, 1, f"reason {number}")
        elif what == "include":
            store.include(SHA, 1)
        elif what == "act":
            store.note_maintenance(ENGINE, FIRST, f"action {number}")
        elif what == "undo" and (actions := store.maintenance(ENGINE)):
            store.withdraw_maintenance(ENGINE, actions[which % len(actions)].action_id)

    @property
    def standing(self) -> list[str]:
        """The texts that no later change was based on and nobody removed."""
        return sorted(t for v, t in self.texts.items() if v not in self.replaced and t is not None)

    def close(self) -> None:
        for store in self.stores:
            store.close()


@settings(max_examples=25)
@given(OPERATIONS)
def test_three_desks_end_the_same_in_any_order_and_lose_nothing(operations):
    with pytest.MonkeyPatch.context() as patch:
        desks = Desks(patch)
        for number, operation in enumerate(operations):
            desks.do(number, *operation)
        ends = []
        for order in itertools.permutations(desks.stores):
            store = desk(keeps=False)
            for other in order:
                bring(store, other)
            ends.append(words(store))
            for other in order:
                assert bring(store, other).words == 0
            assert words(store) == ends[-1]
            assert sorted(note.text for note in store.notes(SHA)) == desks.standing
            store.close()
        assert all(end == ends[0] for end in ends)
        desks.close()


@settings(max_examples=25)
@given(OPERATIONS)
def test_either_desk_may_merge_first(operations):
    with pytest.MonkeyPatch.context() as patch:
        desks = Desks(patch)
        for number, operation in enumerate(operations):
            desks.do(number, *operation)
        first, second, _ = desks.stores
        third = desk(keeps=False)
        bring(third, second)
        bring(third, first)
        bring(first, second)
        bring(second, first)
        assert words(first) == words(second) == words(third)
        third.close()
        desks.close()


# --- by hand --------------------------------------------------------------------------------------------


@pytest.fixture
def two() -> Iterator[tuple[Store, Store]]:
    pair = desk(), desk()
    yield pair
    for store in pair:
        store.close()


def test_what_both_desks_changed_stays_and_is_counted(two):
    here, there = two
    read = here.write_note(SHA, "as both read it")
    bring(there, here)
    here.write_note(SHA, "of this desk", note_id=read.note_id, based_on=read.version)
    there.write_note(SHA, "of that desk", note_id=read.note_id, based_on=read.version)
    assert bring(here, there) == Merged(known=1, words=1, beside=1)
    assert {note.text for note in here.notes(SHA)} == {"of this desk", "of that desk"}
    # Each goes on as a note of its own, at every desk the same one.
    bring(there, here)
    for note in there.notes(SHA):
        there.write_note(SHA, f"{note.text}, later", note_id=note.note_id, based_on=note.version)
    bring(here, there)
    assert {note.text for note in here.notes(SHA)} == {"of this desk, later", "of that desk, later"}


def test_a_note_that_was_removed_here_and_changed_there_stays(two):
    here, there = two
    read = here.write_note(SHA, "as both read it")
    bring(there, here)
    here.remove_note(read.note_id, read.version)
    there.write_note(SHA, "changed", note_id=read.note_id, based_on=read.version)
    bring(here, there)
    bring(there, here)
    assert [note.text for note in here.notes(SHA)] == ["changed"] == [note.text for note in there.notes(SHA)]


def test_two_reasons_to_leave_a_start_out_are_both_said_until_it_counts_again(two):
    here, there = two
    here.exclude(SHA, 1, "Wrong probe fitted.")
    there.exclude(SHA, 1, "Tailwind.")
    bring(here, there)
    bring(there, here)
    said = here.starts()[0].excluded
    assert said is not None
    assert set(said.split(" / ")) == {"Wrong probe fitted.", "Tailwind."}
    assert there.starts()[0].excluded == said
    here.include(SHA, 1)
    bring(there, here)
    assert there.starts()[0].excluded is None


def test_a_start_left_out_here_while_it_was_let_in_there_stays_left_out(two):
    here, there = two
    here.exclude(SHA, 1, "first")
    bring(there, here)
    here.exclude(SHA, 1, "second")
    there.include(SHA, 1)
    bring(there, here)
    assert there.starts()[0].excluded == "second"


def test_a_maintenance_action_that_was_taken_back_is_not_brought_back(two):
    here, there = two
    key = here.note_maintenance(ENGINE, FIRST, "Nozzles changed.")
    bring(there, here)
    assert here.withdraw_maintenance(ENGINE, key[:8]).what == "Nozzles changed."
    bring(here, there)
    assert here.maintenance(ENGINE) == ()
    assert bring(there, here).words == 1
    assert there.maintenance(ENGINE) == ()
    assert [one.withdrawn for one in there.maintenance(ENGINE, withdrawn=True)] == [True]


def test_trends_forget_an_action_that_was_taken_back():
    store = desk(keeps=False)
    for assessment in series([742.0 + i % 5 for i in range(20)]):
        store.keep(assessment)
    before = trend(store, ENGINE, "peak_itt").words
    key = store.note_maintenance(ENGINE, FIRST.replace(day=15), "Nozzles changed.")
    assert trend(store, ENGINE, "peak_itt").words != before
    store.withdraw_maintenance(ENGINE, key)
    assert trend(store, ENGINE, "peak_itt").words == before
    store.close()


@pytest.mark.parametrize(("name", "words_"), [("abc", "no action abc"), ("0000", "no action 0000")])
def test_an_action_that_is_not_there_is_told(two, name, words_):
    with pytest.raises(UserError, match=words_):
        two[0].withdraw_maintenance(ENGINE, name)


def test_maintenance_is_listed_noted_and_taken_back_by_the_command(debrief_home, capsys):
    with Store.open() as store:
        store.keep(FLIGHT)
    assert main(["history", "maintenance", ENGINE]) == 0
    assert "No maintenance action" in capsys.readouterr().out
    assert main(["history", "maintenance", ENGINE, "Nozzles changed.", "--on", "2031-04-02"]) == 0
    key = capsys.readouterr().out.split("Noted as ")[1][:8]
    assert main(["history", "maintenance", ENGINE, "--undo", key]) == 0
    assert "Taken back: Nozzles changed." in capsys.readouterr().out
    assert main(["history", "maintenance", ENGINE]) == 0
    assert f"{key}  2031-04-02  Nozzles changed.  (taken back)" in capsys.readouterr().out
    assert main(["history", "maintenance", ENGINE, "--undo", key]) == 2
    assert "taken back before" in capsys.readouterr().err
    assert main(["history", "maintenance", ENGINE, "Words."]) == 2
    assert "--on" in capsys.readouterr().err


@pytest.mark.parametrize("year", [1970, 2031, 9999])
def test_an_assessment_that_replaces_another_stands_whatever_the_clock_says(two, monkeypatch, year):
    here, there = two
    bring(there, here)
    bring(here, there)  # both have the same one now
    monkeypatch.setattr(
        "debrief.history.storage.store.now_text", lambda: f"{year}-06-01T12:00:00.000000+00:00"
    )
    here.keep(FLIGHT, Identity(aircraft="ZZ-NEW", start=FIRST))
    bring(here, there)
    bring(there, here)
    assert [store.flights()[0].aircraft for store in two] == ["ZZ-NEW", "ZZ-NEW"]
    monkeypatch.undo()
    there.keep(FLIGHT, Identity(aircraft="ZZ-TRN", start=FIRST))
    bring(there, here)
    bring(here, there)
    assert [store.flights()[0].aircraft for store in two] == ["ZZ-TRN", "ZZ-TRN"]


# --- histories and exports of earlier programs ----------------------------------------------------------


def earlier(folder: Path) -> Path:
    """A history in the form of a program that did not count changes: a note, a removed one, an exclusion."""
    file = folder / "earlier.sqlite"
    with Store.open(str(file), migrations=MIGRATIONS[:2]) as store, store.engine.begin() as connection:
        full = desk()
        with full.engine.connect() as source:
            for table in (schema.profiles, schema.recordings, schema.starts, schema.measures):
                names = [column for column in table.columns if column.name not in ("version", "replaces")]
                for row in source.execute(sa.select(*names)).mappings():
                    columns = ", ".join(row)
                    marks = ", ".join(f":{name}" for name in row)
                    connection.execute(sa.text(f"INSERT INTO {table.name} ({columns}) VALUES ({marks})"), row)
        full.close()
        for key, text, removed in (("a1", "kept", 0), ("a2", "gone", 1)):
            connection.exec_driver_sql(
                "INSERT INTO notes (note_id, sha256, author, text, changed_at, removed) VALUES (?, ?, '', ?, ?, ?)",
                (key, SHA, text, "2031-01-01T00:00:00.000000+00:00", removed),
            )
        connection.exec_driver_sql(
            "INSERT INTO exclusions (sha256, engine, start_number, reason, author, changed_at, withdrawn) "
            "VALUES (?, 1, 1, 'because', '', '2031-01-01T00:00:00.000000+00:00', 0)",
            (SHA,),
        )
        connection.exec_driver_sql(
            "INSERT INTO maintenance (action_id, engine_key, at_epoch_s, what, author, changed_at) "
            "VALUES ('a3', ?, 1.9e9, 'Nozzles changed.', '', '2031-01-01T00:00:00.000000+00:00')",
            (ENGINE,),
        )
    return file


def test_a_history_of_an_earlier_program_opens_with_all_that_people_wrote(tmp_path):
    with Store.open(str(earlier(tmp_path))) as store:
        (note,) = store.notes(SHA)
        assert note.text == "kept"
        assert store.starts()[0].excluded == "because"
        assert [one.what for one in store.maintenance(ENGINE)] == ["Nozzles changed."]
        assert soundness(store) == ()
        store.write_note(SHA, "changed", note_id=note.note_id, based_on=note.version)
        assert [one.text for one in store.notes(SHA)] == ["changed"]


def test_an_export_of_an_earlier_program_merges_and_its_older_words_do_not_come_back(tmp_path):
    file = earlier(tmp_path)
    out = tmp_path / "all.jsonl"
    with Store.open(str(file)) as store:
        export_jsonl(store, out)
        lines = [json.loads(line) for line in out.read_text().splitlines()]
        for row in (*lines[0]["maintenance"], *lines[1]["notes"], *lines[1]["exclusions"]):
            for name in ("version", "replaces", "beside", "others"):
                row.pop(name, None)
        for row in lines[0]["maintenance"]:
            del row["withdrawn"]
        del lines[1]["start_traces"]
        out.write_text("\n".join(map(json.dumps, lines)))
        assert merge(store, out) == Merged(known=1)
        (note,) = store.notes(SHA)
        store.write_note(SHA, "changed", note_id=note.note_id, based_on=note.version)
        store.include(SHA, 1)
        assert merge(store, out) == Merged(known=1)
        assert [one.text for one in store.notes(SHA)] == ["changed"]
        assert store.starts()[0].excluded is None
    with Store.open(str(tmp_path / "new.sqlite")) as store:
        assert merge(store, out) == Merged(new=1, words=4)
        assert [one.text for one in store.notes(SHA)] == ["kept"]


def test_the_same_note_of_two_earlier_programs_is_one_and_a_removal_of_it_stands(two):
    here, there = two
    row = {
        "note_id": "a1", "sha256": SHA, "time_s": None, "event_kind": None, "author": "", "text": "same",
        "version": "", "replaces": "", "beside": None,
    }  # fmt: skip
    for store, at, removed in (
        (here, "9999-01-01T00:00:00+00:00", False),
        (there, "2031-01-01T00:00:00+00:00", True),
    ):
        with store.engine.begin() as connection:
            connection.execute(schema.notes.insert().values(**row, changed_at=at, removed=removed))
    bring(here, there)
    bring(there, here)
    assert here.notes(SHA) == () == there.notes(SHA)
    assert words(here) == words(there)


# --- changes as such ------------------------------------------------------------------------------------


def test_the_number_of_a_change_grows_with_each_one():
    first = next_version([])
    second = next_version([first])
    assert (revision(first), revision(second)) == (1, 2)
    assert next_version([first, second]) != next_version([first, second])


def test_rows_that_replace_each_other_cannot_make_both_go():
    rows = [
        {"text": "one", "version": "1-aaaaaaaaaaaa", "replaces": "1-bbbbbbbbbbbb"},
        {"text": "two", "version": "1-bbbbbbbbbbbb", "replaces": "1-aaaaaaaaaaaa 2-cccccccccccc"},
    ]
    heads = joined(map(change_of, rows))
    assert {head.words["text"] for head in heads} == {"one", "two"}
    assert set(side_by_side("key", heads)) > {"key"}
