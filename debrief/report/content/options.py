"""What a report is made for: which part, for whom, on which paper."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from debrief.errors import UserError

Reader = Literal["pilot", "student", "technician"]
Paper = Literal["a4", "letter"]

PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of the papers, [mm]."""


@dataclass(frozen=True)
class Selection:
    """Which part of the assessment goes on the paper; `start` is the number of the only start, or None."""

    exceedances_only: bool = False
    start: int | None = None

    @property
    def words(self) -> str:
        """What the paper holds, in words; empty for everything."""
        if self.start is not None:
            return f"This paper holds start {self.start} only."
        return (
            "This paper holds only what was exceeded or possibly exceeded." if self.exceedances_only else ""
        )


def parse_select(text: str) -> Selection:
    """Return the selection of ``all``, ``exceedances`` or ``start:N``.

    Raises
    ------
    UserError
        It is none of them.
    """
    if text == "all":
        return Selection()
    if text == "exceedances":
        return Selection(exceedances_only=True)
    word, _, number = text.partition(":")
    if word == "start" and number.isascii() and number.isdigit() and int(number) > 0:
        return Selection(start=int(number))
    raise UserError(f"--select {text}: it is all, exceedances or start:N, such as start:2.")


@dataclass(frozen=True)
class ReportOptions:
    """Everything that shapes a report apart from the assessment itself.

    `printed_on` is the day on which it is made, as its maker says; None leaves a field to fill in.
    """

    selection: Selection = Selection()
    reader: Reader = "technician"
    paper: Paper = "a4"
    printed_on: date | None = None
