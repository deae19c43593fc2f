"""The command line: exit codes, one clear line for each mistake, and output that programs can read."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import jsonschema
import pytest

from debrief import __version__, cli
from debrief.resources import resource
from tests.twin_making import twin

DEMO = resource("demo_flights")
COOL, HOT = DEMO / "01_cool_normal_start.csv", DEMO / "02_early_fuel_hot.csv"
SCHEMA = json.loads(resource("assessment.schema.json").read_text(encoding="utf-8"))

PLAIN = "time,ng,itt\n" + "\n".join(f"{t},{min(t, 60)},{20 + t}" for t in range(120)) + "\n"


def run(*arguments: str | Path) -> int:
    return cli.main([str(argument) for argument in arguments])


@pytest.fixture
def unnamed(tmp_path: Path) -> Path:
    """A recording that names no profile."""
    path = tmp_path / "plain.csv"
    path.write_text(PLAIN, encoding="utf-8")
    return path


def test_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--version") == 0
    assert capsys.readouterr().out == f"debrief {__version__}\n"


@pytest.mark.parametrize("command", ["open", "assess", "report", "demo", "synth", "history"])
def test_every_command_explains_itself(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(command, "--help") == 0
    out = capsys.readouterr().out
    assert out.startswith(f"usage: debrief {command}")
    assert run("--help") == 0
    assert f"\n    {command} " in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["frobnicate"], "invalid choice: 'frobnicate'"),
        (["assess"], "FILE"),
        (["assess", "a.csv", "--rate", "0"], "'0' is not a number of rows per second above 0"),
        (["assess", "a.csv", "--rate", "nan"], "'nan' is not a number"),
        (["assess", "a.csv", "--format", "xml"], "invalid choice: 'xml'"),
        (["assess", "a.csv", "b.csv", "--format", "json"], "use --format jsonl for several"),
        (["assess", "no/such/file.csv"], "no/such/file.csv"),
        (["report", "a.csv"], "-o/--output"),
        (["report", "a.csv", "-o", "b.pdf", "--select", "start:x"], "all, exceedances or start:N"),
        (["report", "a.csv", "-o", "b.pdf", "--for", "nobody"], "invalid choice: 'nobody'"),
        (["report", "a.csv", "-o", "b.json", "--select", "start:1"], "does not go with json"),
        (["report", "a.csv", "-o", "b.csv", "--history"], "goes with pdf, not with csv"),
        (["report", "a.csv", "-o", "b.csv", "--notes"], "goes with pdf, not with csv"),
        (["synth", "no-such-scenario.toml", "-o", "x.csv"], "no-such-scenario.toml"),
        (["history"], "wants one of"),
        (["assess", "a.csv", "--form", "json"], "--form"),
    ],
)
def test_bad_usage_is_one_line_on_standard_error_and_2(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert printed.err.startswith("debrief: ")
    assert words in printed.err
    assert "Traceback" not in printed.err


def test_a_file_in_place_of_a_command_is_told_what_to_say(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(COOL) == 2
    assert "debrief assess FILE" in capsys.readouterr().err


def test_assess_says_in_words_what_happened(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("assess", HOT) == 0
    out = capsys.readouterr().out
    assert out.startswith("ZZ-TRN")
    assert "Exceeded" in out
    assert "Do not attempt another start before consulting the manual." in out


def test_assess_json_is_one_document_that_the_schema_describes(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("assess", HOT, "--format", "json") == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(SCHEMA).validate(document)
    assert document["verdict"] == "exceeded"
    assert document["recording"]["path"] == str(HOT)


def test_jsonl_keeps_on_after_a_bad_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("nothing", encoding="utf-8")
    assert run("assess", COOL, bad, tmp_path / "absent.csv", HOT, "--format", "jsonl") == 2
    printed = capsys.readouterr()
    lines = [json.loads(line) for line in printed.out.splitlines()]
    assert [line.get("schema") for line in lines] == [
        SCHEMA["properties"]["schema"]["const"],
        None,
        None,
        lines[0]["schema"],
    ]
    assert set(lines[1]) == {"path", "error"}
    assert lines[1]["path"] == str(bad)
    assert "\n" not in lines[1]["error"]
    assert len(printed.err.splitlines()) == 2


def test_several_files_as_text_are_headed_by_their_names(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("assess", COOL, tmp_path / "absent.csv", HOT) == 2
    printed = capsys.readouterr()
    assert printed.out.index(str(COOL)) < printed.out.index(str(HOT))
    assert printed.err.count("\n") == 1


def test_without_a_profile_nothing_is_judged_and_it_says_how_to_name_one(
    unnamed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("assess", unnamed, "--format", "json") == 0
    document = json.loads(capsys.readouterr().out)
    assert document["profile"] is None
    assert document["events"] == []
    assert document["verdict"] == "undetermined"
    assert run("assess", unnamed) == 0
    assert "--profile" in capsys.readouterr().out


def test_the_profile_option_goes_before_the_preamble(
    unnamed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("assess", unnamed, "--profile", "tarn-tg7", "--format", "json") == 0
    assert json.loads(capsys.readouterr().out)["profile"]["name"].startswith("Tarn TG-7")


def test_an_unknown_profile_is_refused_whoever_names_it(
    tmp_path: Path, unnamed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("assess", unnamed, "--profile", "no-such-engine") == 2
    assert "no-such-engine" in capsys.readouterr().err
    named = tmp_path / "named.csv"
    named.write_text("# engine-profile: no-such-engine\n" + PLAIN, encoding="utf-8")
    assert run("assess", named) == 2
    assert "named.csv names the engine profile 'no-such-engine'" in capsys.readouterr().err


def test_identity_can_be_given(unnamed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ("--aircraft", "ZZ-ABC", "--engine-serial", "77", "--start", "2031-05-04T09:30:00+02:00")
    assert run("assess", unnamed, *given, "--format", "json") == 0
    identity = json.loads(capsys.readouterr().out)["recording"]["identity"]
    assert (identity["aircraft"], identity["aircraft_source"]) == ("ZZ-ABC", "option")
    assert identity["engine_serial"] == "77"
    assert identity["start"] == "2031-05-04T09:30:00+02:00"
    assert run("assess", unnamed, "--start", "yesterday") == 2
    assert "yesterday" in capsys.readouterr().err


def test_columns_and_rate_can_be_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bench.csv"
    path.write_text("a,b\n" + "\n".join(f"{20 + t},{t / 4}" for t in range(200)) + "\n", encoding="utf-8")
    options = ("--map", "itt=a:degC", "--map", "ng=#2:%", "--rate", "10", "--format", "json")
    assert run("assess", path, *options) == 0
    recording = json.loads(capsys.readouterr().out)["recording"]
    assert recording["channels"]["itt"]["map_source"] == "option"
    assert recording["channels"]["ng"]["interval_s"] == pytest.approx(0.1)


def test_remembered_maps_are_used_only_when_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from debrief.recording.matching.remembered import Kept, Remembered
    from debrief.recording.reader import read

    path = tmp_path / "bench.csv"
    path.write_text(
        "time,ng,a\n" + "\n".join(f"{t},{t / 4},{20 + t}" for t in range(200)) + "\n", encoding="utf-8"
    )
    signature = read(path).provenance.header_signature
    Remembered().remember(signature, Kept(("itt=a:degC",)))
    assert run("assess", path, "--format", "json") == 0
    assert "itt" not in json.loads(capsys.readouterr().out)["recording"]["channels"]
    assert run("assess", path, "--remembered", "--format", "json") == 0
    channels = json.loads(capsys.readouterr().out)["recording"]["channels"]
    assert channels["itt"]["map_source"] == "remembered"


def test_rate_and_profile_are_used_as_remembered_and_said_and_whose_it_is_is_only_offered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from debrief.recording.matching.remembered import Kept, Remembered
    from debrief.recording.reader import read

    path = tmp_path / "bench.csv"
    rows = [f"{min(t, 60)},{20 + min(t, 600)}" for t in range(300)]
    path.write_text("Ng (%),a\n" + "\n".join(rows) + "\n", encoding="utf-8")
    signature = read(path, rate_hz=1.0).provenance.header_signature
    kept = Kept(("itt=a:degC",), 5.0, "tarn-tg7", "ZZ-ONE", "S1", ((2, "S2"),), "2031-05-04")
    Remembered().remember(signature, kept)
    assert run("assess", path) == 2
    assert "has no time column" in capsys.readouterr().err
    assert run("assess", path, "--remembered", "--format", "json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["recording"]["duration_s"] == pytest.approx(299 / 5)
    assert said["profile"]["name"].startswith("Tarn")
    assert said["recording"]["identity"]["aircraft"] is None
    assert said["recording"]["identity"]["engine_serial"] is None
    since = "as is remembered since 2031-05-04"
    decisions = said["recording"]["decisions"]
    assert f"5 samples per second, {since}" in decisions
    assert f'the engine profile is "tarn-tg7", {since}' in decisions
    (question,) = (q for q in said["recording"]["questions"] if "whose" in q)
    assert question.endswith('--aircraft "ZZ-ONE" --engine-serial "S1" --engine-serial "2=S2"')
    told = (
        "--aircraft",
        "ZZ-TWO",
        "--engine-serial",
        "S9",
        "--engine-serial",
        "2=S8",
        "--profile",
        "quill-b2",
        "--rate",
        "1",
    )
    assert run("assess", path, "--remembered", "--format", "json", *told) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["recording"]["identity"]["aircraft"] == "ZZ-TWO"
    assert said["profile"]["name"].startswith("Quill")
    assert not any("whose" in q for q in said["recording"]["questions"])
    assert not any("as is remembered" in d for d in said["recording"]["decisions"])


def test_damaged_remembered_maps_are_said(
    unnamed: Path, debrief_home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (debrief_home / "column_maps.json").write_text("[1, 2", encoding="utf-8")
    assert run("assess", unnamed, "--remembered") == 2
    assert "damaged" in capsys.readouterr().err


@pytest.mark.parametrize("suffix", ["csv", "json"])
def test_report_follows_the_ending_of_its_output(tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"out.{suffix}"
    assert run("report", HOT, "-o", out) == 0
    text = out.read_text(encoding="utf-8-sig")
    assert text.startswith("row,") if suffix == "csv" else json.loads(text)["verdict"] == "exceeded"


def test_format_option_goes_before_the_ending(tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    assert run("report", HOT, "-o", out, "--format", "json") == 0
    assert json.loads(out.read_text(encoding="utf-8"))["verdict"] == "exceeded"


@pytest.mark.usefixtures("qapp")
def test_report_writes_a_pdf_for_each_reader_and_paper(tmp_path: Path) -> None:
    for reader, paper in (("pilot", "a4"), ("student", "letter")):
        out = tmp_path / f"{reader}.pdf"
        assert run("report", HOT, "-o", out, "--for", reader, "--paper", paper, "--select", "start:1") == 0
        assert out.read_bytes().startswith(b"%PDF")


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize(("suffix", "begin"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_report_writes_pictures_of_the_lanes(tmp_path: Path, suffix: str, begin: bytes) -> None:
    out = tmp_path / f"lanes.{suffix}"
    assert run("report", HOT, "-o", out, "--select", "start:1") == 0
    assert out.read_bytes().startswith(begin)


def test_report_never_writes_over_the_recording(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "flight.csv"
    path.write_bytes(HOT.read_bytes())
    assert run("report", path, "-o", path) == 2
    assert "is the recording itself" in capsys.readouterr().err
    assert path.read_bytes() == HOT.read_bytes()


def test_report_to_a_missing_folder_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("report", HOT, "-o", tmp_path / "absent" / "x.json") == 2
    assert "there is no folder" in capsys.readouterr().err


def test_report_says_what_it_wrote(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "x.json"
    assert run("report", HOT, "-o", out) == 0
    captured = capsys.readouterr()
    # Not on standard output, to which the file itself may go.
    assert (captured.out, captured.err) == ("", f"debrief: {out} written\n")


@pytest.mark.usefixtures("qapp")
def test_report_says_how_many_pages_it_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from pypdf import PdfReader

    out = tmp_path / "x.pdf"
    assert run("report", HOT, "-o", out) == 0
    count = len(PdfReader(out).pages)
    assert count > 1
    assert capsys.readouterr().err == f"debrief: {out} written, {count} pages\n"


def test_a_bug_is_1_with_a_short_message_and_the_traceback_in_a_log(
    monkeypatch: pytest.MonkeyPatch, debrief_home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*args: object) -> object:
        raise ZeroDivisionError("the bug")

    monkeypatch.setattr(cli, "_assessment", broken)
    assert run("assess", "x.csv") == 1
    printed = capsys.readouterr()
    assert printed.err.count("\n") == 1
    assert "a fault of the program, not of your file" in printed.err
    assert "Traceback" in (debrief_home / "logs" / "faults.log").read_text(encoding="utf-8")
    assert run("assess", "x.csv", "--debug") == 1
    assert "ZeroDivisionError: the bug" in capsys.readouterr().err


def test_interrupted_is_130(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def stopped(*args: object) -> object:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_assessment", stopped)
    assert run("assess", "x.csv") == 130
    assert capsys.readouterr().err == "debrief: interrupted\n"


def test_a_reader_that_goes_away_is_no_fault() -> None:
    """As in ``debrief assess ... | head -1``."""
    code = f"import sys; from debrief.cli import main; sys.exit(main(['assess'] + [{str(HOT)!r}] * 40))"
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    error = process.stderr.read()
    process.stderr.close()
    assert process.wait(60) == 0
    assert error == b""


def test_a_terminal_that_is_not_utf_8_gets_ascii() -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    for format_ in ("text", "json"):
        done = subprocess.run(
            [sys.executable, "-m", "debrief", "assess", str(HOT), "--format", format_],
            env=environment,
            capture_output=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        assert done.stdout.isascii()
        if format_ == "json":
            assert "°C" in json.loads(done.stdout)["sentence"]
        else:
            assert b"deg C" in done.stdout


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from debrief.cli import main; main(['--help']); "
        "bad = {'numpy', 'pandas', 'pyarrow', 'PySide6', 'sqlalchemy', 'pikepdf'} & set(sys.modules); "
        "sys.exit(str(bad) if bad else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr


def test_synth_writes_a_recording_and_its_truth(tmp_path: Path) -> None:
    scenario = next(iter(sorted((DEMO / "scenarios").glob("01*.toml"))))
    out = tmp_path / "made.csv"
    assert run("synth", scenario, "-o", out) == 0
    assert out.exists()
    assert (tmp_path / "made.truth.json").exists()


def test_beside_nothing_there_is_nothing_to_compare(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("open", "--beside", COOL) == 2
    assert "--beside needs the recording that it is compared with" in capsys.readouterr().err


def test_open_without_a_display_says_what_to_use(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    if not sys.platform.startswith("linux"):
        pytest.skip("only there is a display a matter of the environment")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    assert run("open") == 2
    assert "debrief assess FILE" in capsys.readouterr().err
    assert run() == 2


def test_output_is_flushed_to_what_stands_for_standard_output(monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    assert run("assess", COOL, "--format", "jsonl") == 0
    assert len(out.getvalue().splitlines()) == 1


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only there is X asked")
def test_open_with_a_display_that_does_not_answer_is_one_line_and_no_abort() -> None:
    environment = {
        key: value for key, value in os.environ.items() if key not in ("QT_QPA_PLATFORM", "WAYLAND_DISPLAY")
    }
    done = subprocess.run(
        [sys.executable, "-m", "debrief", "open", str(COOL)],
        env=environment | {"DISPLAY": ":4711"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "There is no display" in done.stderr


def test_the_window_opens_and_closes_by_command() -> None:
    """The real program on the offscreen platform; a timer set from a site hook closes it."""
    code = (
        "import sys\n"
        "from PySide6.QtCore import QTimer\n"
        "from debrief.gui import app\n"
        "make = app.make_app\n"
        "def timed():\n"
        "    made = make()\n"
        "    QTimer.singleShot(1500, made.closeAllWindows)\n"
        "    return made\n"
        "app.make_app = timed\n"
        "from debrief.cli import main\n"
        f"sys.exit(main(['open', {str(COOL)!r}]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def _bad_inputs() -> dict[str, bytes | None]:
    return {
        "absent": None,
        "empty": b"",
        "blank lines": b"\n\n\n",
        "header only": b"time,ng,itt\n",
        "binary": bytes(range(256)) * 40,
        "one column": b"itt\n" + b"20\n" * 50,
        "no time": b"ng,itt\n" + b"10,20\n" * 50,
        "no engine channel": b"time,colour\n" + b"".join(b"%d,red\n" % i for i in range(50)),
        "all blank": b"time,ng,itt\n" + b",,\n" * 50,
        "commas": b"," * 300_000,
        "not finite": b"time,ng,itt\n" + b"nan,inf,-inf\n" * 50,
        "open quote": b'time,ng,itt\n0,"1,2\n' + b"1,2,3\n" * 50,
        "huge field": b"time,ng,itt\n0,1," + b"9" * 3_000_000 + b"\n",
    }


@pytest.mark.parametrize("name", _bad_inputs())
def test_bad_input_is_one_clear_line_and_2(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.csv"
    data = _bad_inputs()[name]
    if data is not None:
        path.write_bytes(data)
    assert run("assess", path) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert "bad.csv" in printed.err
    assert "fault of the program" not in printed.err
    assert len(printed.err) < 600


@pytest.mark.parametrize("name", ["flight.csv.gz", "flight.zip"])
def test_a_broken_archive_is_one_clear_line_and_2(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_bytes(b"\x1f\x8b\x08\x00broken" if name.endswith("gz") else b"PK\x03\x04broken")
    assert run("assess", path) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_a_folder_is_one_clear_line_and_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("assess", tmp_path) == 2
    printed = capsys.readouterr()
    assert printed.err.count("\n") == 1
    assert "folder" in printed.err


def test_html_in_a_header_is_shown_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "page.csv"
    path.write_text(
        "time,ng,itt,<script>alert(1)</script>\n" + "\n".join(f"{t},{t / 4},{20 + t},1" for t in range(100)),
        encoding="utf-8",
    )
    assert run("assess", path, "--format", "json") == 0
    assert "<script>alert(1)</script>" in json.loads(capsys.readouterr().out)["recording"]["unmapped"]


@pytest.mark.usefixtures("qapp")
def test_report_with_the_history_prints_what_it_adds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import pypdf

    out = tmp_path / "paper.pdf"
    assert run("report", COOL, "-o", out, "--history") == 2
    assert "There is no history" in capsys.readouterr().err
    assert run("history", "add", COOL, HOT) == 0
    capsys.readouterr()
    assert run("report", HOT, "-o", out, "--history") == 0
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    assert "Compared with this engine's own history" in text
    assert "Not enough history" in text


@pytest.mark.usefixtures("qapp")
def test_report_with_notes_says_that_there_are_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("report", HOT, "-o", tmp_path / "paper.pdf", "--notes") == 0
    assert capsys.readouterr().err.startswith(
        "debrief: No notes are kept for this recording; the paper is without any.\n"
    )


@pytest.mark.usefixtures("qapp")
def test_report_with_notes_prints_those_that_wait_and_those_of_the_history(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import pypdf

    from debrief.history.model import Note
    from debrief.history.service.notes import write_own_note

    sha = sha256(Path(HOT).read_bytes()).hexdigest()
    write_own_note(Note("", sha, "Hand moved late to the cut-off", "Ms Reed", 24.0))
    out = tmp_path / "paper.pdf"

    def printed(*options: str) -> str:
        assert run("report", HOT, "-o", out, *options) == 0
        return " ".join(page.extract_text() for page in pypdf.PdfReader(out).pages)

    assert "Hand moved late" not in printed()
    assert "No notes" not in capsys.readouterr().err
    assert "Hand moved late to the cut-off" in printed("--notes")
    assert "No notes" not in capsys.readouterr().err
    assert run("history", "add", HOT) == 0
    assert "Hand moved late to the cut-off" in printed("--notes")
    assert "Hand moved late to the cut-off" in printed("--history")


def test_the_starter_s_rest_of_each_engine_is_told_by_its_number(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = twin(tmp_path)
    assert run(
        "assess", file, "--starter-rest", "2=1 h 10", "--starter-rest", "1=30 min", "--format", "json"
    ) in (0, 1)
    told = json.loads(capsys.readouterr().out)["context"]["earlier_runs"]
    assert {one["engine"]: one["end_s"] for one in told} == {1: -1800.0, 2: -4200.0}
    assert run("assess", file, "--starter-rest", "2=unknown", "--format", "json") in (0, 1)
    told = json.loads(capsys.readouterr().out)["context"]["earlier_runs"]
    assert {one["engine"]: one["end_s"] for one in told} == {1: -1800.0}
    assert run("assess", file, "--starter-rest", "2=soon") == 2
    assert '"soon" is no length of time' in capsys.readouterr().err
