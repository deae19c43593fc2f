"""Every test that the page of promises names is there, and runs every day."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from tests.hostile.recordings import ROOT

TESTS = ROOT / "tests"


def _named() -> list[tuple[str, str]]:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Promises\n")[1].split("\n## ")[0]
    return re.findall(r"`([\w/]+\.py)::(\w+)`", page)


def _daily(path: Path) -> set[str]:
    """Return the tests of a file that are not marked slow."""
    functions = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    ]
    return {
        one.name for one in functions if not any("slow" in ast.unparse(mark) for mark in one.decorator_list)
    }


def test_every_promise_names_a_test_that_is_there_and_runs_every_day() -> None:
    named = _named()
    assert len(named) > 25
    gone = [
        f"{file}::{test}"
        for file, test in named
        if not (TESTS / file).exists() or test not in _daily(TESTS / file)
    ]
    assert gone == []


def test_every_row_has_its_proof() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Promises\n")[1].split("\n## ")[0]
    rows = [line for line in page.splitlines() if line.startswith("| ")][1:]
    assert [row for row in rows if "::" not in row] == []
