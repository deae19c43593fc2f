"""One change of the analysis, and what became of many: what needs no mutmut."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from scipy.stats import binomtest

ANALYSIS = Path("debrief/analysis")
NOTICED = ("killed", "timeout")
_TOKEN = re.compile(r""""[^"]*"|'[^']*'|[\w.]+|\S""")


@dataclass(frozen=True)
class Mutant:
    """One change: its name in mutmut, where it stands, and the lines before and after."""

    name: str
    path: Path
    line: int
    old: str
    new: str

    @property
    def folder(self) -> str:
        """The subject: the folder below `analysis`; what lies on top is "(top)"."""
        parent = self.path.relative_to(ANALYSIS).parent
        return "(top)" if parent == Path(".") else parent.as_posix()

    @property
    def crude(self) -> bool:
        """Whether something is only missing: None or nothing in the place of a value, or another text.

        Nearly all of these break off at once, and any test that comes by notices. They would hide how few of the
        others are noticed, and they are more than half.
        """
        gone, come = _differing(_TOKEN.findall(self.old), _TOKEN.findall(self.new))
        if come == ["None"]:
            return True
        if not [token for token in come if token != ","]:
            return gone not in (["not"], ["~"]) and "=" not in gone
        return all(token[0] in "\"'" for token in gone + come)


def table(mutants: Sequence[Mutant], results: dict[str, str]) -> list[str]:
    """Return the score of each folder and of all, with its 95 % interval (Wilson)."""
    out = [f"{'folder':10} {'tried':>5} {'killed':>6} {'survived':>8} {'timed out':>9}  noticed"]
    for folder in [*sorted({m.folder for m in mutants}), "all"]:
        counts = Counter(results[m.name] for m in mutants if folder in (m.folder, "all"))
        noticed = sum(counts[status] for status in NOTICED)
        whole = counts.total()
        low, high = binomtest(noticed, whole).proportion_ci(method="wilson")
        out.append(
            f"{folder:10} {whole:5} {counts['killed']:6} {whole - noticed:8} {counts['timeout']:9}  "
            f"{100 * noticed / whole:.0f} % ({100 * low:.0f} to {100 * high:.0f})"
        )
    return out


def survivors(mutants: Sequence[Mutant], results: dict[str, str]) -> list[str]:
    """Return each mutant that no test noticed: place, name, and the lines before and after."""
    left = [mutant for mutant in mutants if results[mutant.name] not in NOTICED]
    return [
        f"{m.path}:{m.line} {results[m.name]} {m.name}\n    - {m.old}\n    + {m.new}"
        for m in sorted(left, key=lambda m: (m.path, m.line))
    ]


def difference(before: list[str], after: list[str]) -> tuple[int, str, str]:
    """Return the place of the first line that differs, and what was and is there."""
    matcher = difflib.SequenceMatcher(a=before, b=after, autojunk=False)
    changes = [code for code in matcher.get_opcodes() if code[0] != "equal"]
    if not changes:  # the first line alone: an argument's default
        return -1, "(the first line)", "(the first line)"
    _, a0, a1, b0, b1 = changes[0][0], changes[0][1], changes[-1][2], changes[0][3], changes[-1][4]
    return a0, _joined(before[a0:a1]), _joined(after[b0:b1])


def _differing(before: list[str], after: list[str]) -> tuple[list[str], list[str]]:
    """Return both without what they begin and end with alike."""
    first = 0
    while first < min(len(before), len(after)) and before[first] == after[first]:
        first += 1
    last = 0
    while last < min(len(before), len(after)) - first and before[-1 - last] == after[-1 - last]:
        last += 1
    return before[first : len(before) - last], after[first : len(after) - last]


def _joined(lines: list[str]) -> str:
    return " ".join(line.strip() for line in lines)
