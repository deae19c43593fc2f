"""The hostile trials notice what they are there for."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hostile.powercuts import Disk
from tests.hostile.recordings import ROOT
from tests.hostile.tracing import Call
from tests.hostile.trials import Trial
from tests.hostile.worker import Ran, broken_by, left_by


@pytest.fixture(scope="module")
def ways() -> dict[str, dict[str, int]]:
    said = subprocess.run(
        [sys.executable, "-m", "tests.hostile.canaries"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    counted: dict[str, dict[str, int]] = json.loads(said.stdout)
    if not counted:
        pytest.skip("calls of a process cannot be watched here (ptrace on Linux, x86-64)")
    return counted


def test_a_file_written_in_place_is_torn_by_a_kill_and_by_a_power_cut(
    ways: dict[str, dict[str, int]],
) -> None:
    assert ways["in_place"]["torn by a kill"] > 0
    assert ways["in_place"]["torn by a cut"] > 0


def test_a_renamed_file_that_was_not_flushed_is_torn_by_a_power_cut_alone(
    ways: dict[str, dict[str, int]],
) -> None:
    assert ways["unflushed"]["torn by a kill"] == 0
    assert ways["unflushed"]["torn by a cut"] > 0


def test_a_name_that_was_not_flushed_is_lost_after_it_was_said_to_be_done(
    ways: dict[str, dict[str, int]],
) -> None:
    assert ways["folder_unflushed"]["torn by a cut"] == 0
    assert ways["folder_unflushed"]["said to be done and lost"] > 0


def test_the_right_way_loses_nothing(ways: dict[str, dict[str, int]]) -> None:
    assert set(ways["right"].values()) == {0}


def test_what_was_flushed_is_there_after_any_cut_and_what_was_not_may_be_gone() -> None:
    import random

    room = Path("/room")
    disk = Disk.holding({"a": b"first"})
    disk.take(Call("write", "/room/a", at=0, data=b"FIRST"), room)
    disk.take(Call("fdatasync", "/room/a"), room)
    disk.take(Call("write", "/room/a", at=5, data=b"later"), room)
    seen = {disk.after_a_cut(random.Random(n))["a"] for n in range(50)}
    assert seen >= {b"FIRST", b"FIRSTlater"}
    assert all(one.startswith(b"FIRST") for one in seen)


_TRIAL = Trial("arguments", (("assess", "f.csv"),), {"f.csv": b"x"}, secrets=("Sesame7",))


@pytest.mark.parametrize(
    ("ran", "what"),
    [
        (Ran(1, 0.1, 1, b"", b""), "exit 1"),
        (Ran(2, 0.1, 1, b"", b""), "without a word"),
        (Ran(0, 0.1, 1, b"", b"file.py:3: RuntimeWarning: overflow\n"), "not in words"),
        (Ran(0, 0.1, 1, b"N1\x1b[8m", b""), "control character U+001B in the output"),
        (Ran(2, 0.1, 1, b"", "debrief: a\u202eb".encode()), "control character U+202E in the complaint"),
        (Ran(2, 0.1, 1, b"", b"debrief: u:Sesame7@h"), "a secret"),
        (Ran(0, 60.0, 1, b"", b""), "took"),
        (Ran(0, 0.1, 900, b"", b""), "MB"),
        (Ran(2, 0.1, 1, b"", b"debrief: " + b"x" * 9000), "a line of"),
    ],
)
def test_each_broken_promise_of_a_command_is_noticed(ran: Ran, what: str, tmp_path: Path) -> None:
    assert [one for one in broken_by(ran, _TRIAL.commands[0], _TRIAL, tmp_path) if what in one]


def test_a_command_that_keeps_them_is_not_called_broken(tmp_path: Path) -> None:
    assert (
        broken_by(
            Ran(2, 0.1, 30, "ITT 803 °C\n".encode(), b"debrief: no such file\n"),
            ("assess", "f"),
            _TRIAL,
            tmp_path,
        )
        == []
    )


def test_changed_inputs_leaked_secrets_leftovers_and_open_doors_are_noticed(tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    (tmp_path / "f.csv").write_bytes(b"changed")
    (tmp_path / "home/log").write_bytes(b"u:Sesame7@h")
    (tmp_path / "home/log").chmod(0o644)
    (tmp_path / ".o.pdf.x.part").write_bytes(b"")
    wrong = "; ".join(left_by(_TRIAL, tmp_path))
    for what in ("an input is changed: 'f.csv'", "a secret in log", "a leftover", "not private"):
        assert what in wrong
