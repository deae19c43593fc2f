"""The changes that can be made to the analysis, and a sample of them."""

from __future__ import annotations

import ast
import contextlib
import random
from collections.abc import Iterator
from pathlib import Path

from mutmut.__main__ import create_mutants
from mutmut.mutation.data import MutantLineSpans
from mutmut.utils.file_utils import copy_also_copy_files, copy_src_dir
from mutmut.utils.format_utils import get_mutant_name

from tests.mutants.change import ANALYSIS, Mutant, difference


def mutants_of(path: Path) -> Iterator[Mutant]:
    """Return all mutants of one module, in mutmut's order, from what mutmut has written of it."""
    spans = MutantLineSpans.load(path)
    if spans is None:  # nothing in it can be changed
        return
    lines = spans.mutants_path.read_text(encoding="utf-8").splitlines()
    begins = _beginnings(path.read_text(encoding="utf-8"))

    def body(name: str) -> list[str]:
        span = spans.span_by_function_name[name]
        text = lines[span.start - 1 : span.end]
        first = next(i for i, line in enumerate(text) if line.lstrip().startswith("def "))
        return text[first:]

    for name in spans.span_by_function_name:
        function, _, number = name.rpartition("__mutmut_")
        if number == "orig":
            continue
        before, after = body(f"{function}__mutmut_orig"), body(name)
        at, old, new = difference(before[1:], after[1:])
        yield Mutant(get_mutant_name(path, name), path, begins[function] + 1 + at, old, new)


def make() -> None:
    """Have mutmut write all mutants below ``mutants/``; what has not changed since is kept, what is gone goes there too."""
    copy = Path("mutants")
    copy.mkdir(exist_ok=True)
    for path in [*copy.glob("debrief/**/*.py"), *copy.glob("tests/**/*.py")]:
        if not path.relative_to(copy).exists():
            path.unlink()
    with contextlib.redirect_stdout(None):
        copy_src_dir()
        copy_also_copy_files()
        create_mutants(1)


def drawn(folders: list[str], sample: int, seed: int, *, crude: bool = False) -> list[Mutant]:
    """Return a random sample of the mutants of these folders (none named: all), the same for the same seed."""
    every = [
        mutant
        for path in sorted(ANALYSIS.rglob("*.py"))
        for mutant in mutants_of(path)
        if (not folders or mutant.folder in folders) and (crude or not mutant.crude)
    ]
    random.Random(seed).shuffle(every)
    return every[: sample or None]


def _beginnings(source: str) -> dict[str, int]:
    """Return the line of each function's `def`, by mutmut's name for it."""
    out: dict[str, int] = {}
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef):
            out[f"x_{node.name}"] = node.lineno
        elif isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef):
                    out[f"xǁ{node.name}ǁ{inner.name}"] = inner.lineno
    return out
