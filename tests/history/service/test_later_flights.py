"""Flights may be added in any order: what follows one that is added later is assessed anew."""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.history.storage.store import Store

DEMO = Path(__file__).parents[3] / "demo_flights" / "01_cool_normal_start.csv"


@pytest.fixture
def flights(tmp_path) -> list[str]:
    """Three starts of one engine, each beginning two minutes after the one before; the rest between is 84 s of 90."""
    text = DEMO.read_text(encoding="utf-8")
    out = []
    for minute in (0, 2, 4):
        file = tmp_path / f"at{minute}.csv"
        file.write_text(text.replace("T09:12:00Z", f"T09:{minute:02d}:00Z"), encoding="utf-8")
        assert file.read_text(encoding="utf-8") != text
        out.append(str(file))
    return out


def kept(db: str) -> list[tuple[str, str, str]]:
    with Store.open(db) as store:
        return [(flight.file_name, flight.verdict, str(flight.sentence)) for flight in store.flights()]


def test_the_order_of_adding_changes_nothing_in_the_end(flights, tmp_path, capsys):
    found = []
    for number, order in enumerate(permutations(flights)):
        db = str(tmp_path / f"{number}.sqlite")
        for file in order:
            assert main(["history", "add", file, "--db", db]) == 0
        found.append(kept(db))
    assert [verdict for _, verdict, _ in found[0]] == ["within", "exceeded", "exceeded"]
    assert "rested 84.0 s before it engaged, by the flights kept" in found[0][1][2]
    assert all(one == found[0] for one in found)
    assert "Assessed anew, since they follow what was added: at2.csv" in capsys.readouterr().out


def test_one_whose_file_is_gone_is_named_and_stays(flights, tmp_path, capsys):
    db = str(tmp_path / "history.sqlite")
    main(["history", "add", flights[1], "--db", db])
    Path(flights[1]).unlink()
    capsys.readouterr()
    assert main(["history", "add", flights[0], "--db", db]) == 0
    assert (
        "Not assessed anew, though what was added bears on their starter rest: at2.csv."
        in capsys.readouterr().out
    )
    assert [verdict for _, verdict, _ in kept(db)] == ["within", "within"]


@pytest.mark.parametrize("command", ["assess", "report"])
def test_assess_and_report_ask_the_flights_kept_too(flights, tmp_path, capsys, command):
    assert main(["history", "add", flights[0]]) == 0
    capsys.readouterr()
    if command == "assess":
        assert main(["assess", flights[1]]) == 0
        text = " ".join(capsys.readouterr().out.split())  # lines end where the terminal does
        assert (
            "Starter rest: 1 min 9 s before the recording, by the flights kept (the last run in at0.csv)."
            in text
        )
    else:
        assert main(["report", flights[1], "-o", str(tmp_path / "events.csv")]) == 0
        text = (tmp_path / "events.csv").read_text(encoding="utf-8")
    assert "rested 84.0 s" in text
    other = str(tmp_path / "other.sqlite")
    with Store.open(other):
        pass
    if command == "assess":
        assert main(["assess", flights[1], "--db", other]) == 0
        assert "Not checked: starter rest before the first start." in capsys.readouterr().out


def test_what_was_judged_by_a_profile_that_was_named_is_judged_by_it_again(flights, tmp_path, capsys):
    profile = str(Path(__file__).parents[3] / "resources" / "profiles" / "tarn-tg7.toml")
    for file in flights[:2]:
        path = Path(file)
        path.write_text(
            path.read_text(encoding="utf-8").replace("engine-profile: tarn-tg7", "engine-profile: gone.toml")
        )
    db = str(tmp_path / "history.sqlite")
    for file in (flights[1], flights[0]):
        assert main(["history", "add", file, "--db", db, "--profile", profile]) == 0
    assert [verdict for _, verdict, _ in kept(db)] == ["within", "exceeded"]
