"""What the history keeps, and that it gives it back as it was."""

from __future__ import annotations

import math
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.model import Measure
from debrief.errors import UserError
from debrief.history.storage.store import Store
from debrief.recording.model import Identity
from debrief.session.document import assessment_document
from tests.history.history_making import FIRST, PROFILE, made_assessment, made_event, made_start


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


def test_a_kept_flight_is_listed_with_whose_it_is_and_its_verdict(store):
    assert store.keep(made_assessment(events=[made_event()], verdict="exceeded")) == "new"
    (flight,) = store.flights()
    assert (flight.file_name, flight.aircraft, flight.engine_serial) == ("one.csv", "ZZ-TRN", "TG7-0042")
    assert (flight.start, flight.verdict) == ("2031-04-01T08:00:00+00:00", "exceeded")
    assert (flight.starts, flight.events, flight.untrended) == (1, 1, "")
    assert flight.profile == "Tarn TG-7 (training example), revision A"


def test_the_same_file_a_second_time_is_the_same_flight(store):
    assessment = made_assessment()
    assert [store.keep(assessment), store.keep(assessment)] == ["new", "unchanged"]
    assert len(store.flights()) == 1
    assert len(store.starts()) == 1


def test_a_second_assessment_replaces_the_first_and_keeps_notes_and_exclusions(store):
    first = made_assessment()
    store.keep(first)
    sha = first.recording.provenance.sha256
    store.write_note(sha, "Fuel came early.", author="An instructor")
    store.exclude(sha, 1, "Battery cart failed.")
    assert store.keep(made_assessment(starts=[made_start(peak_itt_c=800.0)])) == "renewed"
    (start,) = store.starts()
    assert start.values["peak_itt"].value == 800.0
    assert start.excluded == "Battery cart failed."
    assert [note.text for note in store.notes(sha)] == ["Fuel came early."]


def test_an_identity_that_was_entered_stays_when_the_file_does_not_tell_it(store):
    unnamed = made_assessment(at=None, aircraft=None, serial=None)
    store.keep(unnamed, Identity(aircraft="ZZ-TRN", engine_serial="TG7-0042", start=FIRST))
    store.keep(made_assessment(at=None, aircraft=None, serial=None, starts=[made_start(peak_itt_c=1.0)]))
    (flight,) = store.flights()
    assert (flight.aircraft, flight.engine_serial, flight.untrended) == ("ZZ-TRN", "TG7-0042", "")
    assert flight.start == FIRST.isoformat()
    assert store.starts("TG7-0042")[0].at_epoch_s == FIRST.timestamp() + 10.0


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"at": None}, "undated"),
        ({"aircraft": None, "serial": None}, "no aircraft or engine named"),
        ({"at": None, "aircraft": None, "serial": None}, "undated, no aircraft or engine named"),
    ],
)
def test_an_undated_or_unnamed_flight_is_kept_and_listed_but_said_not_to_be_trended(store, changes, why):
    store.keep(made_assessment(**changes))
    (flight,) = store.flights()
    assert flight.untrended == why
    assert len(store.starts()) == 1


def test_a_clock_without_a_zone_is_kept_as_it_was_told(store):
    store.keep(made_assessment(at=datetime(2031, 4, 1, 8, 0)))
    assert store.flights()[0].start == "2031-04-01T08:00:00"
    assert store.starts()[0].at_epoch_s == FIRST.timestamp() + 10.0


def test_flights_are_listed_in_order_of_time_with_undated_ones_last(store):
    store.keep(made_assessment("undated.csv", at=None))
    store.keep(made_assessment("later.csv", at=FIRST + timedelta(days=2)))
    store.keep(made_assessment("earlier.csv"))
    assert [flight.file_name for flight in store.flights()] == ["earlier.csv", "later.csv", "undated.csv"]


def test_unknown_numbers_are_absent_not_zero(store):
    start = made_start(peak_itt_c=None, light_off_s=None, idle_s=None, outcome="no_light_off")
    odd = {"gone": Measure(None, "V", why="no channel"), "nan": Measure(math.nan, "V")}
    store.keep(made_assessment(starts=[replace(start, measures=odd)]))
    values = store.starts()[0].values
    assert not {"peak_itt", "fuel_to_light_off", "light_off_to_idle", "gone", "nan"} & set(values)


def test_measures_of_the_start_and_of_the_flight_are_kept_with_unit_and_inference(store):
    start = made_start(measures={"source_resistance": Measure(9.2, "mohm", inferred=True)})
    store.keep(made_assessment(starts=[start], flight={"run_down": Measure(31.0, "s")}))
    kept = store.starts("TG7-0042")[0].values["source_resistance"]
    assert (kept.value, kept.unit, kept.inferred) == (9.2, "mohm", True)
    ((at, _, numbers),) = store.flight_measures("TG7-0042")
    assert at == FIRST.timestamp()
    assert numbers["run_down"].value == 31.0


def test_two_engines_are_told_apart_by_position_since_one_serial_number_cannot_name_both(store):
    starts = [made_start(1), made_start(1, engine=2, peak_itt_c=700.0)]
    store.keep(made_assessment(starts=starts, engines=2, flight={"run_down.2": Measure(30.0, "s")}))
    assert store.engines() == ("ZZ-TRN engine 1", "ZZ-TRN engine 2")
    (second,) = store.starts("ZZ-TRN engine 2")
    assert second.values["peak_itt"].value == 700.0
    assert len(store.flight_measures("ZZ-TRN engine 2")) == 1


def test_an_engine_keeps_its_trend_when_it_changes_aircraft(store):
    store.keep(made_assessment("a.csv"))
    store.keep(made_assessment("b.csv", aircraft="ZZ-OTH", at=FIRST + timedelta(days=1)))
    assert store.engines() == ("TG7-0042",)
    assert len(store.starts("TG7-0042")) == 2


def test_profiles_are_kept_once_for_each_revision_with_their_text(store, tmp_path):
    import sqlalchemy as sa

    file = tmp_path / "engine.toml"
    file.write_text("name = 'x'\n", encoding="utf-8")
    on_disk = replace(PROFILE, path=str(file), sha256=sha256(file.read_bytes()).hexdigest())
    store.keep(made_assessment("a.csv", profile=on_disk))
    store.keep(made_assessment("b.csv", profile=on_disk))
    store.keep(made_assessment("c.csv", profile=replace(PROFILE, revision="B", sha256="cd" * 32)))
    store.keep(made_assessment("d.csv", profile=None))
    with store.engine.connect() as connection:
        rows = connection.execute(sa.text("SELECT revision, toml FROM profiles ORDER BY revision")).all()
    assert [tuple(row) for row in rows] == [("A", "name = 'x'\n"), ("B", None)]
    assert [flight.profile is None for flight in store.flights()].count(True) == 1


def test_a_profile_file_that_has_changed_meanwhile_is_not_kept_as_the_one_used(store, tmp_path):
    import sqlalchemy as sa

    file = tmp_path / "engine.toml"
    file.write_text("name = 'edited since'\n", encoding="utf-8")
    store.keep(made_assessment(profile=replace(PROFILE, path=str(file))))
    with store.engine.connect() as connection:
        assert connection.scalar(sa.text("SELECT toml FROM profiles")) is None


def test_a_recording_without_a_hash_is_refused_as_a_fault_of_the_caller(store):
    assessment = made_assessment()
    bare = replace(assessment.recording, provenance=replace(assessment.recording.provenance, sha256=""))
    with pytest.raises(ValueError, match="SHA-256"):
        store.keep(replace(assessment, recording=bare))


def test_text_that_no_database_holds_does_not_lose_the_flight(store):
    assessment = made_assessment(aircraft="ZZ\x00TRN")
    provenance = replace(assessment.recording.provenance, path="flights/\udcff.csv")
    odd = replace(assessment, recording=replace(assessment.recording, provenance=provenance))
    store.keep(odd)
    assert store.document("one.csv") == assessment_document(odd)
    assert store.flights()[0].aircraft == "ZZ\\x00TRN"
    assert store.keep(odd) == "unchanged"


# Finding and deleting


def test_a_flight_is_found_by_file_name_or_by_the_first_digits_of_its_hash(store):
    assessment = made_assessment()
    store.keep(assessment)
    sha = assessment.recording.provenance.sha256
    assert store.find("ONE.csv") == store.find(sha[:6]) == store.find(sha.upper()) == sha


def test_a_name_that_fits_no_flight_or_several_is_refused_in_words(store):
    store.keep(made_assessment())
    with pytest.raises(UserError, match=r"no flight named other\.csv"):
        store.find("other.csv")
    with pytest.raises(UserError, match="no flight named"):
        store.find("99")  # two digits would name a flight by accident
    twin = made_assessment("two.csv")
    same_name = replace(twin.recording.provenance, file_name="one.csv")
    store.keep(replace(twin, recording=replace(twin.recording, provenance=same_name)))
    with pytest.raises(UserError, match=r"2 flights are named one\.csv"):
        store.find("one.csv")


def test_deleting_one_flight_takes_its_own_rows_and_keeps_all_others(store):
    import sqlalchemy as sa

    for name in ("a.csv", "b.csv"):
        store.keep(made_assessment(name, events=[made_event()], flight={"run_down": Measure(31.0, "s")}))
        sha = store.find(name)
        store.write_note(sha, f"note on {name}")
        store.exclude(sha, 1, "because")
    before = store.document("b.csv")
    store.delete("a.csv")
    assert [flight.file_name for flight in store.flights()] == ["b.csv"]
    assert store.document("b.csv") == before
    assert [note.text for note in store.notes(store.find("b.csv"))] == ["note on b.csv"]
    with store.engine.connect() as connection:
        for table in ("starts", "measures", "events", "notes", "exclusions"):
            hashes = set(connection.scalars(sa.text(f"SELECT sha256 FROM {table}")))
            assert hashes == {store.find("b.csv")}, table
        assert connection.scalar(sa.text("SELECT count(*) FROM profiles")) == 1
    store.delete("b.csv")
    with store.engine.connect() as connection:
        assert connection.scalar(sa.text("SELECT count(*) FROM profiles")) == 0


# Notes, exclusions, maintenance


def test_notes_can_be_changed_removed_and_brought_back(store):
    store.keep(made_assessment())
    sha = store.find("one.csv")
    key = store.write_note(sha, "Watch the volts.", time_s=12.5, author="An instructor").note_id
    store.write_note(sha, "Of the whole flight.")
    assert [note.text for note in store.notes(sha)] == ["Of the whole flight.", "Watch the volts."]
    store.write_note(sha, "Watch the volts and Ng.", time_s=12.5, note_id=key)
    assert len(store.notes(sha)) == 2
    store.remove_note(key)
    assert [note.text for note in store.notes(sha)] == ["Of the whole flight."]
    store.write_note(sha, "Watch the volts.", time_s=12.5, note_id=key)
    assert len(store.notes(sha)) == 2


def test_an_empty_note_and_a_note_on_an_unknown_flight_are_refused(store):
    store.keep(made_assessment())
    with pytest.raises(UserError, match="empty note"):
        store.write_note(store.find("one.csv"), "  ")
    with pytest.raises(UserError, match="not in the history"):
        store.write_note("f" * 64, "words")


def test_an_exclusion_needs_a_reason_and_a_start_and_can_be_taken_back(store):
    store.keep(made_assessment())
    sha = store.find("one.csv")
    with pytest.raises(UserError, match="reason"):
        store.exclude(sha, 1, " ")
    with pytest.raises(UserError, match="no start 7"):
        store.exclude(sha, 7, "because")
    store.exclude(sha, 1, "Wrong probe fitted.")
    assert store.starts()[0].excluded == "Wrong probe fitted."
    store.include(sha, 1)
    assert store.starts()[0].excluded is None


def test_maintenance_actions_are_kept_in_order_of_time(store):
    store.note_maintenance("TG7-0042", FIRST + timedelta(days=9), "Nozzles changed.")
    store.note_maintenance("TG7-0042", FIRST, "Hot section inspected.", author="A technician")
    store.note_maintenance("TG7-0001", FIRST, "Another engine.")
    assert [action.what for action in store.maintenance("TG7-0042")] == [
        "Hot section inspected.",
        "Nozzles changed.",
    ]
    with pytest.raises(UserError, match="words"):
        store.note_maintenance("TG7-0042", FIRST, "")


# Laws

numbers = st.none() | st.floats(-1e9, 1e9)  # no quantity of an engine is beyond; see values.py
texts = st.text(max_size=30)
made_starts = st.builds(
    made_start,
    peak_itt_c=numbers,
    min_bus_volts=numbers,
    outcome=st.sampled_from(["completed", "hung", "aborted", "unknown"]),
    measures=st.dictionaries(
        st.text(min_size=1, max_size=12),
        st.builds(Measure, value=numbers, unit=st.sampled_from(["V", "degC", ""]), inferred=st.booleans()),
        max_size=4,
    ),
)
instants = st.none() | st.datetimes(
    min_value=datetime(1990, 1, 1),
    max_value=datetime(2090, 1, 1),
    timezones=st.sampled_from([None, FIRST.tzinfo]),
)


@given(
    starts=st.lists(made_starts, max_size=3),
    messages=st.lists(texts, max_size=3),
    at=instants,
    aircraft=st.none() | texts,
    serial=st.none() | texts,
    name=st.text(min_size=1, max_size=12),
)
def test_whatever_is_kept_comes_back_as_it_was(starts, messages, at, aircraft, serial, name):
    assessment = (
        made_assessment(
            name,
            at=at,
            aircraft=aircraft,
            serial=serial,
            starts=[replace(start, number=number) for number, start in enumerate(starts, 1)],
            events=[made_event(message=message) for message in messages],
        )
        if name.isprintable()
        else made_assessment(at=at, starts=[])
    )
    with tempfile.TemporaryDirectory() as folder, Store.open(f"{folder}/history.sqlite") as store:
        assert store.keep(assessment) == "new"
        assert store.keep(assessment) == "unchanged"
        sha = assessment.recording.provenance.sha256
        assert store.document(sha) == assessment_document(assessment)
        (flight,) = store.flights()
        assert (flight.starts, flight.events) == (len(assessment.starts), len(assessment.events))
        assert (flight.start is None) == (at is None)
        for kept, start in zip(store.starts(), assessment.starts, strict=True):
            known = kept.values.get("peak_itt")
            assert (None if known is None else known.value) == start.peak_itt_c
        store.delete(sha)
        assert store.flights() == ()
        assert store.starts() == ()


def test_rows_whose_recording_is_gone_do_not_keep_it_from_being_added_again(store):
    flight = made_assessment("one.csv", starts=[made_start(1)])
    store.keep(flight)
    sha = flight.recording.provenance.sha256
    with closing(
        sqlite3.connect(str(store.engine.url.database))
    ) as connection:  # which checks no foreign key
        connection.execute("DELETE FROM recordings")
        connection.commit()
    assert store.keep(flight) == "new"
    assert [start.sha256 for start in store.starts()] == [sha]


def test_engines_with_serial_numbers_of_their_own_are_named_by_them(store):
    one = made_assessment(engines=2, starts=[made_start(), made_start(engine=2)])
    identity = replace(one.recording.identity, engine_serials={"2": "TG7-0043"})
    store.keep(replace(one, recording=replace(one.recording, identity=identity)))
    assert store.engines() == ("TG7-0042", "TG7-0043")
