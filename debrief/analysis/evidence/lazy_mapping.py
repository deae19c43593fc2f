"""A mapping that is worked out when somebody looks into it first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from typing import Any, Generic, TypeVar

import numpy as np

V = TypeVar("V")


class Later(Mapping[str, V], Generic[V]):
    """A mapping by name whose content is made at the first look, once, and never changes.

    What a result was read from is asked for by "why?", the paper and the JSON, of a start or two; finding it costs as
    much as a good part of the result. It is equal to a dict of the same content, and pickles as one.

    Parameters
    ----------
    make : callable
        Returns the content; a pure function, so that a second look from another thread makes the same.
    """

    def __init__(self, make: Callable[[], Mapping[str, V]]) -> None:
        self._make = make

    @cached_property
    def _made(self) -> Mapping[str, V]:
        return self.once()

    def once(self) -> Mapping[str, V]:
        """Return the content without keeping it: for whoever looks at thousands of these, each a single time."""
        # As in `assess`: values no engine has overflow quietly.
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            return self._make()

    def __getitem__(self, name: str) -> V:
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._made)

    def __len__(self) -> int:
        return len(self._made)

    def __repr__(self) -> str:
        return repr(dict(self._made))

    def __reduce__(self) -> tuple[Any, ...]:
        return dict, (dict(self._made),)
