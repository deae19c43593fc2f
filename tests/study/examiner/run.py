"""Runs the families of the examiner, in two processes."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Sequence
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from types import ModuleType

from tests.study.examiner.answers import Answer, Case, table, wrong_ones
from tests.study.examiner.asking import ask

FAMILIES = (
    "levels",
    "hung",
    "sensors",
    "ordinary",
    "twins",
    "gaps",
    "cuts",
    "power",
    "beta",
    "recorders",
    "bounds",
)


def family(name: str) -> ModuleType:
    """Return the module of a family."""
    return import_module(f"tests.study.examiner.families.{name}")


def one(arguments: tuple[Case, int]) -> list[Answer]:
    """Return the answers for one recording. An error of the program is an answer too, and a wrong one."""
    case, seed = arguments
    subject = family(case.family)
    made = subject.made(case, seed)
    try:
        answers = subject.judged(case, made, ask(made))
    except Exception as error:
        answers = [Answer(case.row, f"{type(error).__name__}: {error}"[:60], "missed")]
    return [replace(answer, case=answer.case or case.name) for answer in answers]


def answers_of(name: str, seed: int, scale: float, processes: int) -> list[Answer]:
    """Return all answers of a family, in the order of its recordings."""
    todo = [(case, seed) for case in family(name).cases(scale)]
    if processes == 1:
        return [answer for arguments in todo for answer in one(arguments)]
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        return [answer for found in pool.imap(one, todo, chunksize=4) for answer in found]


def examine(names: Sequence[str], seed: int, scale: float, processes: int, faults: bool) -> int:
    """Print the table of each family; return how many rows do not meet their target."""
    failed = 0
    for name in names:
        subject = family(name)
        begun = time.monotonic()
        answers = answers_of(name, seed, scale, processes)
        lines, bad = table(answers, subject.targets())
        failed += bad
        recordings = len({answer.case for answer in answers})
        print(f"\n{name}: {subject.ABOUT}")
        print(
            f"{recordings} recordings, {time.monotonic() - begun:.0f} s; {bad} rows do not meet their target\n"
        )
        print("\n".join(lines), flush=True)
        if faults:
            print("\n".join(["", *wrong_ones(answers, subject.targets())]), flush=True)
    return failed


def write(wanted: str, seed: int, folder: Path) -> list[Path]:
    """Write one recording, by its name, and the profile that it is judged by."""
    name = wanted.split("/", 1)[0]
    case = next((c for c in family(name).cases(1.0) if c.name == wanted), None)
    if case is None:
        raise SystemExit(f"no recording is called {wanted!r}; --faults prints names")
    made = family(name).made(case, seed)
    folder.mkdir(parents=True, exist_ok=True)
    stem = "".join(c if c.isalnum() else "_" for c in wanted)
    paths = [folder / f"{stem}.csv", folder / f"{stem}.toml"]
    for path, content in zip(paths, (made.text, made.profile), strict=True):
        path.write_text(content)
    return paths
