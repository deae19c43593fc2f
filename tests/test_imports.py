"""The layers: who may import whom, what stays out of the pure numbers, what a light import leaves out."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "debrief"
MODULES = sorted(path.relative_to(ROOT) for path in PACKAGE.rglob("*.py") if "_resources" not in path.parts)

# the words are below everything
COMMON = {"", "words", "errors", "resources", "home", "output", "steps", "toml_lines"}
MAY_IMPORT = {
    "recording": {"recording", *COMMON},
    "profile": {"profile", "recording", *COMMON},
    # pure numbers: no files, so neither resources nor home
    "analysis": {"analysis", "profile", "recording", "words", "", "errors"},
    "session": {"session", "analysis", "profile", "recording", *COMMON},
    # its command speaks by the same door as the others
    "history": {"history", "session", "analysis", "profile", "recording", "arguments", "terminal", *COMMON},
    # history reaches the paper as values
    "report": {"report", "session", "analysis", "profile", "recording", *COMMON},
    # the invented flights check the analysis, so they share no code with it
    "synth": {"synth", *COMMON},
    "gui": {"gui", "report", "history", "session", "analysis", "profile", "recording", "synth", *COMMON},
    "cli": {
        "cli",
        "arguments",
        "terminal",
        "gui",
        "report",
        "history",
        "session",
        "analysis",
        "profile",
        "recording",
        "synth",
    }
    | COMMON,
    "arguments": {"arguments", "terminal", *COMMON},
    "__main__": {"cli", "gui"},
    # the public door: loads what is asked for when it is asked for
    "": {"analysis", "profile", "recording"},
    "frames": {"history", "session", "analysis", "profile", "recording", *COMMON},
    "errors": {"words"},
    "resources": set(),
    "home": {"errors", "terminal", "words"},
    "words": {"words", "errors", ""},
    "output": {"output", "terminal", "errors", "home", "words"},
    "terminal": {"errors", "words"},
    "steps": set(),
    "toml_lines": set(),
    "bootstrap": set(),
}
QT = {"PySide6", "pyqtgraph", "shiboken6"}
HEAVY = {"pandas", "pyarrow", "PySide6", "sqlite3"}


def layer(module: str) -> str:
    """Return ``analysis`` for ``debrief.analysis.reported_starts`` and an empty text for ``debrief`` itself."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def name_of(path: Path) -> str:
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(path: Path) -> Iterator[str]:
    """Yield the full name of every module that a file imports, also inside functions."""
    package = name_of(path).split(".")
    if path.name != "__init__.py":
        package = package[:-1]
    for node in ast.walk(ast.parse((ROOT / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            source = ".".join([*base, *([node.module] if node.module else [])])
            for alias in node.names:
                inner = f"{source}.{alias.name}"
                is_module = (ROOT / Path(*inner.split("."))).with_suffix(".py").exists() or (
                    ROOT / Path(*inner.split(".")) / "__init__.py"
                ).exists()
                yield inner if is_module else source


def test_the_walk_sees_the_modules_and_their_imports() -> None:
    assert Path("debrief/analysis/model.py") in MODULES
    assert "debrief.profile.model" in set(imports_of(Path("debrief/analysis/model.py")))
    assert "debrief.cli" in set(imports_of(Path("debrief/__main__.py")))


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_imports_run_one_way(path: Path) -> None:
    mine = layer(name_of(path))
    against = {
        name
        for name in imports_of(path)
        if name.split(".")[0] == "debrief" and layer(name) not in MAY_IMPORT[mine]
    }
    assert not against, f"{path} is of layer {mine!r} and must not import {sorted(against)}"


def test_only_the_door_to_the_terminal_prints() -> None:
    printing = {
        str(path)
        for path in MODULES
        for node in ast.walk(ast.parse((ROOT / path).read_text(encoding="utf-8")))
        if (isinstance(node, ast.Name) and node.id == "print")
        or (isinstance(node, ast.Attribute) and node.attr in ("stdout", "stderr"))
    }
    assert printing <= {"debrief/terminal.py", "debrief/bootstrap.py"}


def arrows(node: Callable[[str], str]) -> dict[str, set[str]]:
    """Return who imports whom, among modules or what `node` makes of them."""
    names = {name_of(path) for path in MODULES}
    found: dict[str, set[str]] = {}
    for path in MODULES:
        if path.name == "__init__.py":  # a face hands on what lies inside
            continue
        mine = node(name_of(path))
        found.setdefault(mine, set()).update(node(other) for other in imports_of(path) if other in names)
        found[mine].discard(mine)
    return found


def folder_of(name: str) -> str:
    """Return the folder of a subject, ``debrief.analysis.starts``; a module on top of its layer stands for itself."""
    return name.rpartition(".")[0] if name.count(".") == 3 else name


@pytest.mark.parametrize("node", [str, folder_of], ids=["modules", "folders"])
def test_nothing_imports_in_a_circle(node: Callable[[str], str]) -> None:
    tuple(TopologicalSorter(arrows(node)).static_order())  # a circle is a CycleError that names it


def test_a_circle_is_noticed() -> None:
    with pytest.raises(CycleError):
        tuple(TopologicalSorter({"a": {"b"}, "b": {"a"}}).static_order())
    assert folder_of("debrief.analysis.starts.attempts") == "debrief.analysis.starts"
    assert "debrief.recording.model" in arrows(str)["debrief.analysis.model"]


def test_qt_is_only_in_the_window_and_in_the_one_module_that_paints_paper() -> None:
    users = {str(path) for path in MODULES if any(name.split(".")[0] in QT for name in imports_of(path))}
    outside = {path for path in users if layer(name_of(Path(path))) != "gui"}
    assert len(outside) <= 1, sorted(outside)
    assert all(layer(name_of(Path(path))) == "report" for path in outside)


@pytest.mark.parametrize(
    "path", [path for path in MODULES if layer(name_of(path)) == "analysis"], ids=lambda path: path.name
)
def test_the_analysis_has_no_files_no_clock_and_no_chance(path: Path) -> None:
    forbidden = {
        "os",
        "io",
        "pathlib",
        "time",
        "random",
        "tempfile",
        "shutil",
        "sqlite3",
        "logging",
        "socket",
    }
    imported = {name.split(".")[0] for name in imports_of(path)}
    assert not imported & (forbidden | HEAVY | QT)
    for node in ast.walk(ast.parse((ROOT / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in ("open", "print", "input"), f"line {node.lineno}"
        if isinstance(node, ast.Attribute):
            assert node.attr not in ("now", "utcnow", "today", "random"), f"line {node.lineno}"


@pytest.mark.parametrize(
    "path", [path for path in MODULES if path.name == "__init__.py"], ids=lambda path: name_of(path)
)
def test_a_package_imports_nothing_heavy_when_it_is_imported(path: Path) -> None:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    at_import = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    for node in at_import:
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""]
        assert not {name.split(".")[0] for name in names} & (HEAVY | QT | {"sqlalchemy", "pikepdf"})


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules that a fresh interpreter has loaded after some code."""
    script = f"{code}\nimport sys\nprint('loaded:', ' '.join({{name.split('.')[0] for name in sys.modules}}))"
    result = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert result.returncode == 0, result.stderr
    line = next(line for line in result.stdout.splitlines() if line.startswith("loaded:"))
    return set(line.split()[1:])


def test_the_probe_for_loaded_modules_sees_what_is_loaded() -> None:
    assert {"sqlite3", "json"} <= loaded_after("import sqlite3, json")


def test_importing_the_analysis_leaves_the_heavy_libraries_out() -> None:
    loaded = loaded_after("import debrief.analysis")
    assert "numpy" in loaded
    assert not loaded & HEAVY


def test_the_command_line_answers_help_without_the_heavy_libraries() -> None:
    loaded = loaded_after("import debrief.cli")
    assert not loaded & (HEAVY | {"numpy", "sqlalchemy", "pikepdf"})


def test_a_shown_window_has_not_yet_imported_what_only_reading_or_keeping_needs() -> None:
    loaded = loaded_after(
        "from debrief.gui.app import Settings, Theme, Window, make_app\n"
        "app = make_app()\n"
        "settings = Settings()\n"
        "theme = Theme(settings.theme, settings.scale)\n"
        "theme.apply()\n"
        "window = Window(theme, settings)\n"
        "window.show()\n"
        "for _ in range(10):\n"
        "    app.processEvents()\n"
        "assert window.isVisible()\n"
    )
    assert {"PySide6", "pyqtgraph"} <= loaded
    assert not loaded & {"pandas", "pyarrow", "sqlalchemy", "distributed", "pikepdf"}
