"""A fuel signal that is called by its cut-off is turned round only where name and values agree."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.recording.reader import read

Write = Callable[..., Path]
NG = [0, 5, 20, 40, 60, 61, 61, 61, 30, 5]
FUEL = [0, 0, 1, 1, 1, 1, 1, 0, 0, 0]


def made(write: Write, name: str, cells: list[object], ng: list[int] = NG) -> Path:
    """Return a file with a start, a run and a shutdown, and one column of a switch."""
    rows = [f"{t},{n},{cell}" for t, (n, cell) in enumerate(zip(ng, cells, strict=True))]
    return write("\n".join([f"Time (s),Ng (%),{name}", *rows]) + "\n")


@pytest.mark.parametrize(
    "name", ["Condition Lever On", "Start Lever", "Fuel On", "Fuel Cutoff Lever", "Fuel Cutoff"]
)
def test_one_is_with_fuel(name: str, write: Write) -> None:
    recording = read(made(write, name, list(FUEL)))
    assert recording.channels["fuel_on"].values.tolist() == FUEL
    assert not recording.provenance.questions


@pytest.mark.parametrize("name", ["Fuel Cutoff Lever", "Fuel Cut-off", "Fuel Cutoff", "Fuel Shutoff"])
def test_a_cutoff_that_is_one_where_the_fuel_is_cut_is_turned_round(name: str, write: Write) -> None:
    recording = read(made(write, name, [1 - f for f in FUEL]))
    assert recording.channels["fuel_on"].values.tolist() == FUEL
    assert any("turned round" in said for said in recording.provenance.decisions)


def test_a_lever_that_does_not_say_cutoff_is_never_turned_round(write: Write) -> None:
    recording = read(made(write, "Condition Lever", [1 - f for f in FUEL]))
    assert recording.channels["fuel_on"].values.tolist() == [1 - f for f in FUEL]


def test_words_of_a_cutoff_lever_keep_their_sense(write: Write) -> None:
    recording = read(made(write, "Fuel Cutoff Lever", ["RUN" if f else "CUTOFF" for f in FUEL]))
    assert recording.channels["fuel_on"].values.tolist() == FUEL


def test_where_the_engine_never_runs_a_cutoff_is_asked_about(write: Write) -> None:
    recording = read(made(write, "Fuel Cutoff", list(FUEL), [0, 5, 18, 18, 18, 18, 18, 15, 5, 0]))
    assert "fuel_on" not in recording.channels
    (asked,) = recording.provenance.questions
    assert "it was not used" in asked
