"""Closed, full and abandoned streams, and Ctrl-C: said in words, with the right exit code, and nothing is left undone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.home import history_file
from debrief.resources import resource
from debrief.terminal import complain
from debrief.words.shortened import MAX_MESSAGE_CHARS

pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")

DEMO = resource("demo_flights")
HOT = str(DEMO / "05_hot_start_aborted_motored.csv")
OTHERS = [str(DEMO / "01_cool_normal_start.csv"), str(DEMO / "07_no_light_off.csv")]
SCENARIO = str(DEMO / "scenarios" / "07_no_light_off.toml")
ENGINE = "TG7-118"

PRINTING = [
    ["--help"],
    ["--version"],
    ["history", "add", "--help"],
    ["assess", HOT],
    ["assess", HOT, "--format", "json"],
    ["assess", "absent.csv", HOT, "--format", "jsonl"],
    ["definitions", "hung"],
    ["report", HOT, "-o", "-"],
    ["report", HOT, "-o", "/dev/stdout", "--format", "json"],
    ["synth", SCENARIO, "-o", "-"],
    ["history", "export", "-"],
    ["history", "list"],
    ["history", "trend"],
    ["history", "check"],
    ["history", "check", HOT],
]
DOING = [
    ["history", "add", HOT],
    ["history", "export", "OUT.jsonl"],
    ["history", "merge", "OTHER.sqlite"],
    ["history", "exclude", "05_hot_start_aborted_motored.csv", "1", "--reason", "rig test"],
    ["history", "maintenance", ENGINE, "igniters", "--on", "2031-05-04"],
    ["history", "delete", "05_hot_start_aborted_motored.csv", "--yes"],
]
QUIET = [["report", HOT, "-o", "OUT.json"], ["synth", SCENARIO, "-o", "OUT.csv"]]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A history of one flight."""
    file = tmp_path_factory.mktemp("kept") / "history.sqlite"
    assert main(["history", "add", HOT, "--db", str(file)]) == 0
    return file


@pytest.fixture
def place(kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    history_file().write_bytes(kept.read_bytes())
    (tmp_path / "OTHER.sqlite").write_bytes(kept.read_bytes())
    return tmp_path


WORDS = {
    "full": "debrief: Standard output could not be written: the disk is full",
    "closed": "debrief: Standard output is closed",
}
either = pytest.mark.parametrize("how", WORDS)


def without_output(how: str, arguments: list[str]) -> int:
    """Run a command whose standard output takes nothing."""
    with pytest.MonkeyPatch.context() as patch, open("/dev/full", "w", encoding="utf-8") as full:
        patch.setattr(sys, "stdout", full if how == "full" else None)
        return main(arguments)


@pytest.mark.usefixtures("place", "qapp")
@either
@pytest.mark.parametrize("arguments", PRINTING, ids=" ".join)
def test_what_cannot_be_printed_is_said_and_2(
    arguments: list[str], how: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert without_output(how, arguments) == 2
    told = capsys.readouterr().err.splitlines()
    assert told[-1].startswith(WORDS[how])
    assert "fault of the program" not in "".join(told)
    assert len(told) == 1 + ("absent.csv" in arguments)


@pytest.mark.usefixtures("place")
@either
@pytest.mark.parametrize("arguments", DOING, ids=lambda arguments: arguments[1])
def test_what_is_done_is_done_and_told_on_standard_error_where_standard_output_is_lost(
    arguments: list[str], how: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert without_output(how, arguments) == 2
    first, *told = capsys.readouterr().err.splitlines()
    assert first.startswith(WORDS[how])
    assert "told here" in first
    assert told  # what it says otherwise on standard output


@pytest.mark.usefixtures("place")
@either
@pytest.mark.parametrize("arguments", QUIET, ids=lambda arguments: arguments[0])
def test_who_prints_nothing_needs_no_standard_output(
    arguments: list[str], how: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert without_output(how, arguments) == 0
    assert "Standard output" not in capsys.readouterr().err
    assert (tmp_path / arguments[-1]).stat().st_size > 0


@pytest.mark.usefixtures("place")
def test_a_standard_error_that_takes_nothing_leaves_the_exit_code(monkeypatch: pytest.MonkeyPatch) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        for stream in (full, None):
            monkeypatch.setattr(sys, "stderr", stream)
            assert main(["assess", "absent.csv"]) == 2
            assert main(["report", HOT, "-o", "OUT.json"]) == 0


def debrief(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "debrief", *arguments]


def test_all_files_are_added_where_nobody_reads_what_is_said(tmp_path: Path) -> None:
    """``debrief history add a b c | head -c 1``."""
    reading, writing = os.pipe()
    process = subprocess.Popen(
        debrief("history", "add", HOT, str(tmp_path / "absent.csv"), *OTHERS),
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
    )
    os.close(writing)
    os.read(reading, 1)
    os.close(reading)
    _, error = process.communicate(timeout=60)
    assert process.returncode == 2  # for the one that is not there
    assert all(f"Added: {Path(path).name}" in error for path in OTHERS)
    assert error.count("Nobody reads standard output any more") == 1
    assert "absent.csv" in error
    done = subprocess.run(debrief("history", "list"), capture_output=True, text=True, check=True, timeout=60)
    assert "3 flights" in done.stdout


def test_a_file_never_gets_the_number_of_a_closed_stream(tmp_path: Path) -> None:
    """Else what is printed would go into it."""
    code = (
        "import os, sys, debrief.__main__ as m; m._listen();"
        f"print(os.open({str(tmp_path / 'file')!r}, os.O_CREAT), file=open({str(tmp_path / 'told')!r}, 'w'))"
    )
    subprocess.run(
        ["sh", "-c", 'exec "$0" -c "$1" <&- >&- 2>&-', sys.executable, code], check=True, timeout=60
    )
    assert int((tmp_path / "told").read_text()) > 2


# --- Ctrl-C ---------------------------------------------------------------------------------------------------


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize(
    "swallowing",
    [
        "try:\n    {}\nexcept BaseException:\n    pass\n",
        "class X:\n    def __del__(self):\n        {}\nX()\n",
    ],
    ids=["in a module that catches everything", "where nothing can be raised"],
)
def test_ctrl_c_while_a_module_is_imported_is_130_and_one_line(tmp_path: Path, swallowing: str) -> None:
    body = swallowing.format("os.kill(os.getpid(), signal.SIGINT)")
    (tmp_path / "numpy.py").write_text(f"import os, signal, time\n{body}time.sleep(60)\n", encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": f"{tmp_path}{os.pathsep}{Path(__file__).parents[1]}"}
    done = subprocess.run(
        debrief("assess", HOT), env=environment, capture_output=True, text=True, check=False, timeout=30
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "debrief: interrupted\n")


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize("delay_s", [0.3, 0.6, 1.0, 1.5])
def test_ctrl_c_at_any_moment_prints_no_traceback(delay_s: float) -> None:
    process = subprocess.Popen(
        debrief("history", "add", HOT, *OTHERS), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    time.sleep(delay_s)
    process.send_signal(signal.SIGINT)
    _, error = process.communicate(timeout=30)
    assert process.returncode in (130, -signal.SIGINT, 0)
    assert error in ("", "debrief: interrupted\n")


def test_ctrl_c_that_is_ignored_stays_ignored() -> None:
    code = (
        "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
        "import debrief.__main__ as m; m._listen(); print(signal.getsignal(signal.SIGINT) is signal.SIG_IGN)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout == "True\n"


def test_whatever_is_complained_of_fits_on_a_screen(capsys):
    complain(f"{'x' * 20_000}.csv does not fit its rows; add the file again.")
    said = capsys.readouterr().err
    assert len(said) <= len("debrief: \n") + MAX_MESSAGE_CHARS
    assert said.endswith("add the file again.\n")
