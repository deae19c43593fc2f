"""Work in steps that yield how far it is: run to its end, or handed on as part of a longer one."""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import TypeVar

_Share = TypeVar("_Share")
_Shown = TypeVar("_Shown")
_Result = TypeVar("_Result")


def done(steps: Generator[object, None, _Result]) -> _Result:
    """Do all steps at once; return the result."""
    while True:
        try:
            next(steps)
        except StopIteration as end:
            result: _Result = end.value
            return result


def relayed(
    steps: Generator[_Share, None, _Result], shown: Callable[[_Share], _Shown]
) -> Generator[_Shown, None, _Result]:
    """Do the steps as part of another work, which shows how far they are in its own way; return their result."""
    while True:
        try:
            share = next(steps)
        except StopIteration as end:
            result: _Result = end.value
            return result
        yield shown(share)
