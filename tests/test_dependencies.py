"""What the program installs is what it imports: no more, and no less."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
IMPORTED_AS = {"pyside6-essentials": {"PySide6", "shiboken6"}, "sqlalchemy": {"sqlalchemy"}}


def imported(folder: Path) -> set[str]:
    """Return the first part of every name that is imported below a folder, also inside functions."""
    names: set[str] = set()
    for file in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.partition(".")[0])
    return names - set(sys.stdlib_module_names) - {"debrief"}


def test_each_library_that_the_program_installs_is_imported_and_the_other_way_round() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [re.match(r"[\w.-]+", line).group().lower() for line in project["dependencies"]]
    used = imported(ROOT / "debrief")
    for name in wanted:
        assert IMPORTED_AS.get(name, {name}) & used, f"{name} is installed and never imported"
    known = set().union(*(IMPORTED_AS.get(name, {name}) for name in wanted))
    assert used - known == set(), "imported and not installed"
