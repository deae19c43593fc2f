"""Undo and redo of what a person edits: whole states, kept with the words for the step between two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

State = TypeVar("State")

MOST_STEPS = 500
"""More are forgotten, the oldest first."""


@dataclass(frozen=True)
class _Step(Generic[State]):
    before: State
    after: State
    what: str
    place: object


class EditHistory(Generic[State]):
    """The steps between the states of something; a state is never changed, only replaced.

    Parameters
    ----------
    state : State
        As it is at first.
    """

    def __init__(self, state: State) -> None:
        self.state = state
        self._steps: list[_Step[State]] = []
        self._done = 0
        self._merges = False

    def record(self, state: State, what: str, place: object = "") -> None:
        """Take a new state as the next step; what had been undone is gone.

        Parameters
        ----------
        state : State
        what : str
            The step in words, such as ``idle Ng``.
        place : object
            Where it was; a step right after one at the same place becomes one with it, so that a number that is typed is
            one step. Empty: it stays a step of its own.
        """
        if state == self.state:
            return
        del self._steps[self._done :]
        last = self._steps[-1] if self._steps else None
        if last is not None and self._merges and place and last.place == place:
            self._steps[-1] = _Step(last.before, state, what, place)
        else:
            self._steps.append(_Step(self.state, state, what, place))
        if len(self._steps) > MOST_STEPS:
            del self._steps[0]
        self._done = len(self._steps)
        self._merges = True
        self.state = state

    def pause(self) -> None:
        """Let the next step be one of its own, wherever it is: another place was visited meanwhile."""
        self._merges = False

    @property
    def undo_words(self) -> str:
        """What `undo` would take back; empty where there is nothing."""
        return self._steps[self._done - 1].what if self._done else ""

    @property
    def redo_words(self) -> str:
        """What `redo` would do again; empty where there is nothing."""
        return self._steps[self._done].what if self._done < len(self._steps) else ""

    def undo(self) -> object:
        """Go one step back; return its place, None where there is none."""
        if not self._done:
            return None
        self._done -= 1
        step = self._steps[self._done]
        self.state, self._merges = step.before, False
        return step.place

    def redo(self) -> object:
        """Go one step on again; return its place, None where there is none."""
        if self._done == len(self._steps):
            return None
        step = self._steps[self._done]
        self._done += 1
        self.state, self._merges = step.after, False
        return step.place
