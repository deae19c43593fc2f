"""Trends over whole flights: what is counted, what is left out, and what is said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from pathlib import Path

import pytest

from debrief.analysis.model import Measure
from debrief.cli import main
from debrief.history.service.history_service import paper_values
from debrief.history.storage.store import Store
from debrief.history.trends.flight_trends import flight_trends
from tests.history.history_making import FIRST, made_assessment

ENGINE = "TG7-0042"
WAVE = [760.0 + 4 * (index % 5) for index in range(20)]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


def measured(itt_c: float, airborne_s: float | None = 1800.0, **others: float) -> dict[str, Measure]:
    out = {
        "highest_itt_running": Measure(itt_c, "degC"),
        "running_time": Measure(2400.0, "s"),
        "airborne_time": Measure(airborne_s, "s", why=None if airborne_s is not None else "nothing tells"),
    }
    return out | {name: Measure(value, "s") for name, value in others.items()}


def keep(store: Store, flights: Sequence[dict[str, Measure]], prefix: str = "flight") -> None:
    for index, flight in enumerate(flights):
        at = FIRST + timedelta(days=index)
        store.keep(made_assessment(f"{prefix}-{index:03d}.csv", at=at, starts=(), flight=flight))


def test_a_drift_of_the_highest_itt_in_flight_is_said_in_flights(store: Store) -> None:
    keep(store, [measured(value) for value in (*WAVE, *WAVE[:15], *(value + 40 for value in WAVE[:10]))])
    (one,) = flight_trends(store, ENGINE)
    assert one.measure == "highest_itt_running"
    assert [point.start_number for point in one.points] == [0] * 45
    ((_, sentence),) = one.changes
    assert "40 °C higher than normal (768 °C)" in sentence
    assert "(median of 10 flights)" in sentence
    assert "from 30 flights. The normal range is not a limit." in one.words
    assert "start" not in one.words


def test_flights_that_did_not_leave_the_ground_are_left_out_of_highest_values(store: Store) -> None:
    keep(store, [*(measured(value) for value in WAVE), measured(560.0, 0.0), measured(560.0, None)])
    (one,) = flight_trends(store, ENGINE)
    assert len(one.points) == 20
    assert one.band.low is not None
    assert one.band.low > 700.0
    assert dict(one.band.left_out) == {"of another kind": 2}


def test_the_run_down_is_compared_over_ground_runs_too(store: Store) -> None:
    keep(store, [measured(560.0, 0.0, run_down=14.0 + 0.1 * (index % 3)) for index in range(16)])
    itt, run_down = flight_trends(store, ENGINE)
    assert (itt.measure, len(itt.points)) == ("highest_itt_running", 0)
    assert (run_down.measure, len(run_down.points)) == ("run_down", 16)
    assert run_down.band.enough
    assert itt.words == "Highest ITT, running: no dated flight has it."


def test_how_long_a_flight_was_is_not_trended(store: Store) -> None:
    keep(store, [measured(value) for value in WAVE])
    assert [one.measure for one in flight_trends(store, ENGINE)] == ["highest_itt_running"]


def test_too_few_flights_are_shown_and_nothing_is_called_usual(store: Store) -> None:
    keep(store, [measured(value) for value in WAVE[:4]])
    (one,) = flight_trends(store, ENGINE)
    assert len(one.points) == 4
    assert one.words == (
        "Highest ITT, running: Not enough history: 4 of the 15 flights that a normal range needs."
    )


def test_a_maintenance_action_begins_the_trend_anew(store: Store) -> None:
    keep(store, [measured(value) for value in WAVE])
    store.note_maintenance(ENGINE, FIRST + timedelta(days=14.5), "hot section overhauled")
    (one,) = flight_trends(store, ENGINE)
    assert len(one.points) == 5


def test_an_engine_known_by_flights_alone_is_listed_and_goes_on_the_paper(store: Store) -> None:
    keep(store, [measured(value) for value in WAVE])
    assert store.engines() == (ENGINE,)
    *_, trends, _ = paper_values(made_assessment("flight-019.csv", starts=()), store)
    drawn = [one for one in trends if one.points]
    assert [one.measure for one in drawn] == ["highest_itt_running"]


def test_the_command_prints_flights_and_takes_their_measure(
    store: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(store, [measured(value) for value in WAVE])
    where = str(tmp_path / "history.sqlite")
    assert main(["history", "trend", "--db", where]) == 0
    assert "Highest ITT, running: Normal 768 °C" in capsys.readouterr().out
    assert main(["history", "trend", "--db", where, "--measure", "highest_itt_running"]) == 0
    out = capsys.readouterr().out
    assert "2031-04-01" in out
    assert "flight-000.csv" in out
    assert "start 0" not in out
    assert main(["history", "trend", "--db", where, "--measure", "nothing"]) == 2
    assert "highest_itt_running" in capsys.readouterr().err
