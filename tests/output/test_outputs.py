"""Each output of the program is known again as what it is, as no other kind, and no longer once another program changed it."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pandas as pd
import pytest

from debrief.cli import main
from debrief.errors import UserError
from debrief.output import write_output
from debrief.output.kinds import Kind, is_of, sealed
from debrief.resources import resource

HOT = resource("demo_flights") / "05_hot_start_aborted_motored.csv"
SCENARIO = resource("demo_flights") / "scenarios" / "01_cool_normal_start.toml"


@pytest.fixture(scope="module")
def made(qapp: object, tmp_path_factory: pytest.TempPathFactory) -> dict[Kind, Path]:
    """Every output, written by its command."""
    folder = tmp_path_factory.mktemp("made")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DEBRIEF_HOME", str(folder / "home"))
        patch.setenv("QT_QPA_PLATFORM", "offscreen")
        for ending in ("pdf", "csv", "parquet", "json", "png", "svg"):
            assert main(["report", str(HOT), "-o", str(folder / f"hot.{ending}")]) == 0
        assert main(["history", "add", str(HOT)]) == 0
        for name in ("all.jsonl", "starts.csv", "starts.parquet"):
            assert main(["history", "export", str(folder / name)]) == 0
        assert main(["synth", str(SCENARIO), "-o", str(folder / "made.csv")]) == 0
    names = {
        Kind.PDF: "hot.pdf",
        Kind.TABLE: "hot.csv",
        Kind.PARQUET: "hot.parquet",
        Kind.HISTORY_PARQUET: "starts.parquet",
        Kind.ASSESSMENT: "hot.json",
        Kind.PNG: "hot.png",
        Kind.SVG: "hot.svg",
        Kind.HISTORY_JSONL: "all.jsonl",
        Kind.HISTORY_CSV: "starts.csv",
        Kind.INVENTED: "made.csv",
        Kind.TRUTH: "made.truth.json",
    }
    return {kind: folder / name for kind, name in names.items()} | {
        Kind.PROFILE: resource("profiles") / "tarn-tg7.toml"
    }


def test_each_output_is_known_as_its_kind_and_as_no_other(made: dict[Kind, Path]) -> None:
    assert set(made) == set(Kind) - {Kind.NEW}
    for kind, path in made.items():
        assert [one.name for one in Kind if is_of(one, path)] == [kind.name]


def test_the_demo_flights_are_known_as_invented(made: dict[Kind, Path]) -> None:
    assert is_of(Kind.INVENTED, HOT)


def test_an_invented_recording_that_was_changed_since_is_not_written_over(
    made: dict[Kind, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for kind in (Kind.INVENTED, Kind.TRUTH):
        (tmp_path / made[kind].name).write_bytes(made[kind].read_bytes())
    copy = tmp_path / "made.csv"
    assert main(["synth", str(SCENARIO), "-o", str(copy)]) == 0
    copy.write_bytes(copy.read_bytes() + b"# looked at by the chief instructor\n")
    changed = copy.read_bytes()
    assert main(["synth", str(SCENARIO), "-o", str(copy)]) == 2
    assert "an invented recording never replaces it" in capsys.readouterr().err
    assert copy.read_bytes() == changed


def test_a_parquet_file_of_another_program_or_a_broken_one_is_not_ours(
    made: dict[Kind, Path], tmp_path: Path
) -> None:
    ours, other, broken = made[Kind.PARQUET], tmp_path / "other.parquet", tmp_path / "broken.parquet"
    pd.read_parquet(ours).to_parquet(other)  # the same table, without the mark
    broken.write_bytes(ours.read_bytes()[:-40] + b"\xff" * 32 + b"\xff\xff\xff\x7fPAR1")
    for file in (other, broken):
        kept = file.read_bytes()
        with pytest.raises(UserError, match=r"is a file of another kind.*It stays as it is"):
            write_output(file, ours.read_bytes(), Kind.PARQUET)
        assert file.read_bytes() == kept


@pytest.mark.parametrize(
    "kind", [Kind.PDF, Kind.PNG, Kind.SVG, Kind.TABLE, Kind.ASSESSMENT], ids=lambda kind: kind.name
)
def test_an_output_that_somebody_changed_or_that_has_more_in_it_is_not_replaced(
    made: dict[Kind, Path], tmp_path: Path, kind: Kind
) -> None:
    ours, target = made[kind].read_bytes(), tmp_path / "x"
    changed = [ours + b"tail", ours + b"\n", ours + ours, ours[:-1]]
    if kind in (Kind.PDF, Kind.PNG, Kind.SVG):
        changed += [
            ours[:at] + bytes([ours[at] ^ 1]) + ours[at + 1 :] for at in range(70, len(ours), len(ours) // 40)
        ]
    if kind is Kind.TABLE:
        row = ours.decode().splitlines()[1].split(",")
        own = ["Checked by the chief", *[""] * (ours.decode().splitlines()[0].count(","))]
        changed += [
            ours + ",".join(own).encode() + b"\r\n",
            ours + ",".join(["event", *row[1:]]).replace(row[1], "other.csv").encode() + b"\r\n",
            ours.replace(b"\r\n", b"\n"),
            ours.replace(b".0,", b","),
        ]
    for old in changed:
        target.write_bytes(old)
        with pytest.raises(UserError, match=r"It stays as it is: give another name"):
            write_output(target, ours, kind)
        assert target.read_bytes() == old
    target.write_bytes(ours)
    write_output(target, ours, kind)


def test_a_seal_is_no_change_to_those_who_read_the_format(made: dict[Kind, Path]) -> None:
    from xml.etree import ElementTree

    import pikepdf
    from PySide6.QtGui import QImage

    for kind in (Kind.PDF, Kind.PNG, Kind.SVG):
        data = made[kind].read_bytes()
        assert sealed(kind, data) == data
    picture = QImage(str(made[Kind.PNG]))
    assert re.fullmatch("[0-9a-f]{64}", picture.text("Turbine Debrief SHA-256"))  # a wrong CRC would drop it
    assert ElementTree.fromstring(made[Kind.SVG].read_bytes()).tag == "{http://www.w3.org/2000/svg}svg"
    with pikepdf.open(made[Kind.PDF]) as document:
        assert not document.check_pdf_syntax()


def test_the_table_of_each_demo_flight_is_known_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DEBRIEF_HOME", str(tmp_path / "home"))
    for flight in sorted(resource("demo_flights").glob("*.csv")):
        for ending, kind in (("csv", Kind.TABLE), ("json", Kind.ASSESSMENT)):
            out = tmp_path / f"{flight.stem}.{ending}"
            assert main(["report", str(flight), "-o", str(out)]) == 0
            assert is_of(kind, out), out.name


def test_a_typed_table_of_starts_is_not_replaced_by_one_that_has_less(tmp_path: Path) -> None:
    from debrief.output.parquet import parquet_bytes

    both = pd.DataFrame({"sha256": ["5" * 64, "5" * 64], "start_number": [1, 2]})
    data = [parquet_bytes(one, Kind.HISTORY_PARQUET.name) for one in (both, both[:1])]
    out = tmp_path / "x.parquet"
    write_output(out, data[0], Kind.HISTORY_PARQUET)
    with pytest.raises(UserError, match=r"1 start is only in .*x\.parquet, which stays as it is"):
        write_output(out, data[1], Kind.HISTORY_PARQUET)
    assert out.read_bytes() == data[0]
    write_output(out, data[0], Kind.HISTORY_PARQUET)


def test_a_paper_that_another_program_signed_or_saved_is_not_ours_any_more(
    made: dict[Kind, Path], tmp_path: Path
) -> None:
    import pikepdf

    signed, saved = tmp_path / "signed.pdf", tmp_path / "saved.pdf"
    signed.write_bytes(made[Kind.PDF].read_bytes() + b"\n9 0 obj <</Type/Sig>> endobj\nstartxref\n9\n%%EOF\n")
    out = io.BytesIO()
    with pikepdf.open(made[Kind.PDF]) as document:
        with document.open_metadata() as metadata:
            metadata["xmp:CreatorTool"] = "An editor"
        document.save(out)
    saved.write_bytes(out.getvalue())
    assert not is_of(Kind.PDF, signed)
    assert not is_of(Kind.PDF, saved)
