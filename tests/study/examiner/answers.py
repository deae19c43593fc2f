"""What was said of each recording against what is true of it, counted against a target, as a table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, lgamma, log, log1p
from statistics import median
from typing import Any, Literal
from zlib import crc32

Wrong = Literal["", "false", "missed"]


@dataclass(frozen=True)
class Case:
    """One recording of one family: which row it belongs to, its number there, and what the family needs to make it."""

    family: str
    row: str
    number: int
    about: tuple[Any, ...] = ()

    @property
    def name(self) -> str:
        """Return how a person names it, for writing it to a file."""
        return f"{self.family}/{self.row}/{self.number}"

    @property
    def seed(self) -> int:
        """Return a number that is its own."""
        return crc32(self.name.encode())


@dataclass(frozen=True)
class Answer:
    """What was said, in a word or two: right, false (said and not so) or missed (so and not said)."""

    row: str
    said: str
    wrong: Wrong = ""
    case: str = ""


@dataclass(frozen=True)
class Target:
    """The largest shares of false and missed that a row may have; None: printed only.

    A share above zero is met while the count is one that chance makes of it in 19 of 20 studies. `exact` takes the
    share as it stands. `covers` prints the share that is not missed: bounds that hold what is true.
    """

    truth: str
    false: float | None = 0.0
    missed: float | None = 0.0
    covers: bool = False
    exact: bool = False

    @property
    def words(self) -> str:
        """Return the target as it stands in the table."""
        if self.covers:
            return "" if self.missed is None else f"covers {100 * (1 - self.missed):.0f} %"
        told = []
        for name, share in (("false", self.false), ("missed", self.missed)):
            if share is not None and (share > 0 or name == "false" or self.false is None):
                told.append(f"{name} {_percent(share)}")
        if self.false == 0 and self.missed == 0:
            told = ["none wrong"]
        return ", ".join(told)


def _percent(share: float) -> str:
    return "0" if share == 0 else f"<= {100 * share:.3g} %"


def most(count: int, share: float, exact: bool = False) -> int:
    """Return how many of `count` may be wrong: the smallest number that chance passes in at most one study of 20."""
    if exact or share <= 0:
        return int(count * share + 1e-9)
    total = 0.0
    for k in range(count + 1):
        ways = lgamma(count + 1) - lgamma(k + 1) - lgamma(count - k + 1)
        total += exp(ways + k * log(share) + (count - k) * log1p(-share))
        if total >= 0.95:
            return k
    return count


def met(answers: Sequence[Answer], target: Target) -> bool:
    """Return whether a row meets its target."""
    for name, share in (("false", target.false), ("missed", target.missed)):
        if share is not None and sum(a.wrong == name for a in answers) > most(
            len(answers), share, target.exact
        ):
            return False
    return True


def by_row(answers: Iterable[Answer]) -> dict[str, list[Answer]]:
    """Return the answers by their row, in the order in which rows came."""
    out: dict[str, list[Answer]] = {}
    for answer in answers:
        out.setdefault(answer.row, []).append(answer)
    return out


def table(answers: Sequence[Answer], targets: Mapping[str, Target]) -> tuple[list[str], int]:
    """Return a family's table as lines, and how many rows do not meet their target."""
    rows, failed = by_row(answers), 0
    cells = [("case", "true", "n", "said", "false", "missed", "covers", "target", "")]
    for name in sorted(rows, key=lambda row: list(targets).index(row) if row in targets else len(targets)):
        mine = rows[name]
        target = targets[name]
        said = Counter(a.said for a in mine)
        words = ", ".join(f"{word} {n}" for word, n in said.most_common(4))
        if target.covers:
            words = f"width {median(float(a.said) for a in mine):.3g}"
        false, missed = (sum(a.wrong == w for a in mine) for w in ("false", "missed"))
        covers = f"{1 - missed / len(mine):.3f}" if target.covers else ""
        good = met(mine, target)
        failed += not good
        judged = "" if target.false is None and target.missed is None else "met" if good else "NOT MET"
        cells.append(
            (name, target.truth, str(len(mine)), words, str(false), str(missed), covers, target.words, judged)
        )
    widths = [max(len(row[k]) for row in cells) for k in range(9)]
    right = {2, 4, 5, 6}
    lines = [
        "  ".join(
            c.rjust(w) if k in right else c.ljust(w) for k, (c, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]
    return lines, failed


def wrong_ones(answers: Sequence[Answer], targets: Mapping[str, Target], each: int = 2) -> list[str]:
    """Return some recordings of each row that does not meet its target, by the name that writes them."""
    out = []
    for name, mine in by_row(answers).items():
        if not met(mine, targets[name]):
            shown = "width" if targets[name].covers else "said"
            out += [f"{a.case}: [{name}] {a.wrong}, {shown} {a.said}" for a in mine if a.wrong][:each]
    return out
