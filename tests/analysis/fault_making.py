"""A deliberately faulty copy of the analysis beside the true one, in the same process. No test module.

A fault is a small replacement in one function. The changed module and every module that builds on it are
run again under another package name; all others are shared with the true analysis. Nothing of the true
analysis is touched.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import numpy as np
import pytest

import debrief.analysis
from debrief.analysis.model import StarterRun
from debrief.profile.model import EngineProfile
from debrief.recording.model import Recording, frozen
from tests.analysis.recording_making import PROFILE, recording

TRUE = "debrief.analysis"
FAULTY = "faulty_analysis"
FOLDER = Path(debrief.analysis.__file__).parent
PATHS = {path.stem: path for path in sorted(FOLDER.rglob("*.py")) if path.stem != "__init__"}
NAMES = sorted(PATHS)
DOTTED = {name: ".".join(path.relative_to(FOLDER).with_suffix("").parts) for name, path in PATHS.items()}
"""Each module by its last name, and its name below the package."""
LAST = {dotted: name for name, dotted in DOTTED.items()}
assert len(LAST) == len(NAMES), "two modules of the analysis have one name"
RESTED = (StarterRun(-90000.0, -89970.0, 30.0, 30.0, 30.0, "battery"),)
"""One earlier run, a day before: so the rest before the first run is known and long enough."""


@cache
def source_of(name: str) -> str:
    return PATHS[name].read_text(encoding="utf-8")


@cache
def tree_of(name: str) -> ast.Module:
    return ast.parse(source_of(name))


@cache
def imports_of(name: str) -> frozenset[str]:
    """Return the modules of the analysis that a module imports, also inside functions."""
    found = set()
    for node in ast.walk(tree_of(name)):
        if isinstance(node, ast.ImportFrom) and f"{node.module}.".startswith(f"{TRUE}."):
            below = f"{node.module}".removeprefix(TRUE).removeprefix(".")
            found.add(below)
            found |= {f"{below}.{alias.name}".removeprefix(".") for alias in node.names}
    return frozenset(LAST[dotted] for dotted in found & set(LAST))


@cache
def order() -> tuple[str, ...]:
    """Return the modules so that each comes after those that it imports."""
    done: list[str] = []

    def visit(name: str) -> None:
        for other in sorted(imports_of(name)):
            if other not in done:
                visit(other)
        if name not in done:
            done.append(name)

    for name in NAMES:
        visit(name)
    return tuple(done)


@cache
def built_on(name: str) -> frozenset[str]:
    """Return the module and all that import it, directly or not."""
    out = {name}
    for other in order():
        if imports_of(other) & out:
            out.add(other)
    return frozenset(out)


@cache
def compiled(name: str, text: str) -> CodeType:
    return compile(text.replace(f"{TRUE}.", f"{FAULTY}.").replace(TRUE, FAULTY), f"<{FAULTY}.{name}>", "exec")


@cache
def body_of(name: str, function: str) -> str:
    """Return the source of ``function`` or ``Class.function``; of the whole module for an empty name."""
    text = source_of(name)
    node: ast.AST = tree_of(name)
    for part in function.split(".") if function else ():
        found = [n for n in ast.iter_child_nodes(node) if getattr(n, "name", None) == part]
        assert found, f"{name} has no {function}"
        node = found[0]
    return text if not function else ast.get_source_segment(text, node) or ""


@dataclass(frozen=True)
class Fault:
    """`old` becomes `new` in one function, where it stands exactly once; `test` of `tests` must notice it."""

    subject: str
    module: str
    function: str
    old: str
    new: str
    tests: str
    test: str

    def __str__(self) -> str:
        where = f"{self.module}.{self.function}" if self.function else self.module
        return f"{where}: {' '.join(self.old.split())} -> {' '.join(self.new.split())}"

    def text(self) -> str:
        body = body_of(self.module, self.function)
        count = body.count(self.old)
        assert count == 1, f"{self}: stands there {count} times; point the fault at the code as it is now"
        changed = body.replace(self.old, self.new)
        whole = source_of(self.module)
        assert whole.count(body) == 1
        return whole.replace(body, changed)


class Analysis:
    """The modules of one analysis, true or faulty, by name."""

    def __init__(self, modules: Mapping[str, ModuleType]) -> None:
        self._modules = modules

    def __getattr__(self, name: str) -> Any:
        return self._modules[name]

    def judge(
        self,
        traces: Mapping[str, Sequence[tuple[float, float]]],
        end_s: float = 80.0,
        profile: EngineProfile = PROFILE,
        earlier: Sequence[StarterRun] = RESTED,
        rate_hz: float = 8.0,
        resolution: float | None = None,
        curve: bool = False,
    ) -> Any:
        """Return the assessment of a drawn recording. At 8 Hz every sample time is exact.

        The time-at-temperature curve takes most of the time and is left out unless it is asked for.
        """
        made = recording(traces, end_s, rate_hz, resolution)
        if curve:
            return self.assess.assess(made, profile, earlier)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(self.reported_starts, "time_above_curve", lambda *_: None)
            return self.assess.assess(made, profile, earlier)

    def of(self, made: Recording, profile: EngineProfile = PROFILE) -> Any:
        return self.assess.assess(made, profile, RESTED)

    def trace(
        self, times: Sequence[float], values: Sequence[float], half: float = 0.0, gaps: Sequence[int] = ()
    ) -> Any:
        """Return a trace; `gaps` names the intervals that are gaps."""
        mask = np.zeros(max(len(times) - 1, 0), dtype=bool)
        mask[list(gaps)] = True
        return self.traces.Trace(frozen(times), frozen(values), mask, half)


@cache
def true_analysis() -> Analysis:
    return Analysis({name: import_module(f"{TRUE}.{DOTTED[name]}") for name in NAMES})


@contextmanager
def faulty_analysis(fault: Fault) -> Iterator[Analysis]:
    """Give the analysis with one fault. Its modules are gone again afterwards."""
    text = fault.text()
    again = built_on(fault.module)
    modules: dict[str, ModuleType] = {}
    for package in sorted({f"{FAULTY}.{dotted}".rpartition(".")[0] for dotted in LAST}):
        sys.modules[package] = ModuleType(package)
        sys.modules[package].__path__ = []
    try:
        for name in order():
            full = f"{FAULTY}.{DOTTED[name]}"
            if name not in again:
                module = import_module(f"{TRUE}.{DOTTED[name]}")
                sys.modules[full] = module
            else:
                module = ModuleType(full)
                sys.modules[full] = module
                own = text if name == fault.module else source_of(name)
                exec(compiled(name, own), module.__dict__)
            package, _, last = full.rpartition(".")
            setattr(sys.modules[package], last, module)
            modules[name] = module
        yield Analysis(modules)
    finally:
        for full in [key for key in sys.modules if key == FAULTY or key.startswith(f"{FAULTY}.")]:
            del sys.modules[full]


def close(value: float | None, expected: float, within: float = 1e-6) -> bool:
    """Return whether a value is there and equals the hand-worked one."""
    return value is not None and abs(value - expected) <= within


def same(rows: Any, expected: Any) -> bool:
    """Return whether shape and values are the hand-worked ones; an empty answer equals only an empty one."""
    return np.shape(rows) == np.shape(expected) and bool(np.allclose(rows, expected))


def kinds(a: Any, kind: str) -> list[tuple[str, str | None]]:
    """Return (severity, reason) of the events of one kind."""
    return [(e.severity, e.reason) for e in a.events if e.kind == kind]
