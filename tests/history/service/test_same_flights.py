"""The same flight from another file is no second flight, unless a person says so."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.history.storage.store import Store
from debrief.recording.fingerprint import fingerprint
from debrief.recording.reader import read

DEMO = Path(__file__).parents[3] / "demo_flights" / "01_cool_normal_start.csv"


@pytest.fixture
def other(tmp_path: Path) -> Path:
    """The demo flight's file with one more newline."""
    path = tmp_path / "again.csv"
    path.write_bytes(DEMO.read_bytes() + b"\n")
    return path


def flights() -> list[str]:
    """Return the files of the flights that the history has."""
    with Store.open() as store:
        return sorted(flight.file_name for flight in store.flights())


def test_one_more_newline_makes_no_second_flight(
    other: Path, debrief_home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", "add", str(DEMO), str(other)]) == 2
    err = capsys.readouterr().err
    assert "again.csv is the flight of 01_cool_normal_start.csv" in err
    assert "--keep-both" in err
    assert flights() == [DEMO.name]
    # The file itself again is that flight, assessed anew: nothing is asked.
    assert main(["history", "add", str(DEMO)]) == 0
    assert main(["history", "add", str(other), "--keep-both"]) == 0
    assert flights() == [DEMO.name, "again.csv"]


@pytest.mark.parametrize("changed", ["start", "engine", "sample"])
def test_another_start_engine_or_sample_is_another_flight(
    changed: str, tmp_path: Path, debrief_home: Path
) -> None:
    text = DEMO.read_text()
    head, _, rows = text.partition("Time (s)")
    if changed == "start":
        head = head.replace("09:12:00", "09:12:30")
    elif changed == "engine":
        head = head.replace("TG7-118", "TG7-119")
    else:
        rows = rows.replace(",1,", ",1.5,", 1) if ",1.5," not in rows else rows.replace(",1.5,", ",2.5,", 1)
    path = tmp_path / "other.csv"
    path.write_text(f"{head}Time (s){rows}")
    assert main(["history", "add", str(DEMO), str(path)]) == 0
    assert flights() == [DEMO.name, "other.csv"]


def test_a_flight_kept_without_a_fingerprint_is_known_by_its_rows(
    other: Path, debrief_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from debrief.history.storage import store as keeping

    whole = keeping.assessment_document

    def older(assessment: object) -> dict[str, object]:
        document = json.loads(json.dumps(whole(assessment)))  # type: ignore[arg-type]
        del document["recording"]["fingerprint"]
        return document

    with monkeypatch.context() as patched:
        patched.setattr(keeping, "assessment_document", older)
        assert main(["history", "add", str(DEMO)]) == 0
    assert main(["history", "add", str(other)]) == 2
    assert flights() == [DEMO.name]


def test_a_fingerprint_is_of_the_samples_in_whatever_order_the_columns_stand(tmp_path: Path) -> None:
    one, two, three = (tmp_path / f"{n}.csv" for n in (1, 2, 3))
    one.write_text("Time (s),Ng (%),ITT (degC)\n0,1,15\n1,2,16\n2,3,17\n")
    two.write_text("Time (s);ITT (degC);Ng (%)\r\n0;15.0;1\r\n1;16.0;2\r\n2;17.0;3\r\n\r\n")
    three.write_text("Time (s),Ng (%),ITT (degC)\n0,1,15\n1,2,16\n2,3,18\n")
    marks = [read(path).provenance.fingerprint for path in (one, two, three)]
    assert marks[0] == marks[1] != marks[2]
    assert marks[0] == fingerprint(read(two).channels.values())
