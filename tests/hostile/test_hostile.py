"""Short versions of the hostile trials; ``python -m tests.hostile`` runs the long ones."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from tests.hostile.recordings import ROOT


@pytest.fixture(scope="module")
def said() -> str:
    """The table of a short campaign of all parts, in a process of its own since the trials fork."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.hostile", "--inputs=200", "--whole-program", "--kills=10", "--power-cuts=28",
         "--sockets=2", "--no-large", "--openings=0"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr[-2000:]
    return done.stdout


def _part(said: str, begins: str, ends: str) -> str:
    """Return the rows of a part; what was found stands below them."""
    assert begins in said
    return said[said.index(begins) :].split(ends)[0]


def _watched(rows: str) -> str:
    if "not possible here" in rows:
        pytest.skip("calls of a process cannot be watched here (ptrace on Linux, x86-64)")
    return rows


def test_no_input_is_answered_but_in_words_and_within_the_budget(said: str) -> None:
    rows = _part(said, "inputs for the whole program", "kills at a writing call")
    assert "FOUND" not in rows, rows
    # Were all refused, or none, nothing would be shown.
    commands, refused = map(int, re.findall(r"refused in words +(\d+), (\d+)", rows)[0])
    assert 40 < refused < commands - 40


def test_kills_lose_nothing_that_was_confirmed_and_tear_no_file(said: str) -> None:
    rows = _part(said, "kills at a writing call", "modelled power cuts")
    assert "FOUND" not in rows, rows


def test_a_power_cut_loses_nothing_that_was_confirmed_and_tears_no_file(said: str) -> None:
    rows = _watched(_part(said, "modelled power cuts", "runs watched for sockets"))
    assert "FOUND" not in rows, rows


def test_the_program_opens_no_socket(said: str) -> None:
    rows = _watched(_part(said, "runs watched for sockets", "findings  "))
    assert "FOUND" not in rows, rows
