"""Gives trials to worker processes and gathers what they found."""

from __future__ import annotations

import contextlib
import json
import re
import select
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.hostile.recordings import ROOT
from tests.hostile.trials import prepare

HANGS_AFTER_S = 60.0
TRIALS_A_WORKER = 1500
"""A new process now and then, so that no memory of one trial is taken for that of another."""


@dataclass
class Found:
    """The figures of many trials, and each kind of finding with the first trial that showed it."""

    trials: int = 0
    commands: int = 0
    refusals: int = 0
    slowest_s: float = 0.0
    slowest: str = ""
    most_mb: float = 0.0
    most: str = ""
    kinds: Counter[str] = field(default_factory=Counter)
    findings: dict[str, list[str]] = field(default_factory=dict)

    def take(self, name: str, answer: dict[str, object]) -> None:
        """Add the answer of a worker about one trial."""
        self.trials += 1
        self.kinds[str(answer["kind"])] += 1
        self.commands += int(str(answer["commands"]))
        self.refusals += int(str(answer["refusals"]))
        seconds, memory = float(str(answer["seconds"])), float(str(answer["memory_mb"]))
        if seconds > self.slowest_s:
            self.slowest_s, self.slowest = seconds, name
        if memory > self.most_mb:
            self.most_mb, self.most = memory, name
        findings = answer["findings"]
        assert isinstance(findings, list)
        for text in findings:
            self.add(name, str(text))

    def add(self, name: str, text: str) -> None:
        """Add one finding, beside those of its kind."""
        what = re.sub(r"0x[0-9a-f]+|\d+(\.\d+)? (s|MB|characters)\b", "#", text.split(" | ")[0])
        self.findings.setdefault(what, []).append(f"{name}: {text}")


class Worker:
    """A process that runs trials."""

    def __init__(self, folder: Path) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.hostile.worker", str(folder)],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
        )
        self.done = 0

    def ask(self, seed: int, number: int) -> dict[str, object]:
        """Return what a trial gave; a worker that hangs or ends is itself a finding."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            self._process.stdin.write(f"{seed} {number}\n")
            self._process.stdin.flush()
            ready, _, _ = select.select([self._process.stdout], [], [], HANGS_AFTER_S)
            line = self._process.stdout.readline() if ready else None
        except BrokenPipeError:
            ready, line = [True], ""
        self.done += 1
        if line:
            answer: dict[str, object] = json.loads(line)
            return answer
        self.end()
        what = f"the process ended with {self._process.returncode}" if ready else "hangs"
        return {
            "kind": "?",
            "commands": 1,
            "refusals": 0,
            "seconds": 0,
            "memory_mb": 0,
            "findings": [what],
            "said": [],
        }

    @property
    def ended(self) -> bool:
        """Whether it cannot be asked any more."""
        return self._process.poll() is not None

    def end(self) -> None:
        """End it, busy or not."""
        with contextlib.suppress(BrokenPipeError):
            if self._process.stdin is not None:
                self._process.stdin.close()
        try:
            self._process.wait(2)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()


def hunt(count: int, seed: int, first: int = 0, say: Callable[[str], None] = lambda text: None) -> Found:
    """Run trials `first` to `first + count` of a seed; return their figures and findings."""
    found = Found()
    told = time.monotonic()
    for number, answer in _answers(count, seed, first):
        name = f"{seed}/{number}"
        known = len(found.findings)
        found.take(name, answer)
        if len(found.findings) > known:
            say(f"  new: {list(found.findings.items())[-1][1][0][:600]}")
        if time.monotonic() - told > 30:
            told = time.monotonic()
            say(f"  {found.trials} trials, {len(found.findings)} kinds of findings")
    return found


def again(seed: int, number: int) -> dict[str, object]:
    """Run one trial alone and return all that it gave."""
    return next(iter(_answers(1, seed, number)))[1]


def _answers(count: int, seed: int, first: int) -> Iterator[tuple[int, dict[str, object]]]:
    with tempfile.TemporaryDirectory(prefix="hostile-") as name:
        folder = Path(name)
        prepare(folder)
        worker = Worker(folder)
        try:
            for number in range(first, first + count):
                if worker.ended or worker.done >= TRIALS_A_WORKER:
                    worker.end()
                    worker = Worker(folder)
                yield number, worker.ask(seed, number)
        finally:
            worker.end()
