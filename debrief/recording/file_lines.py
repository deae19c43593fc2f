"""On which line of its file each sample of a recording stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class FileLines:
    """The times of the rows that were kept, and their lines where these do not simply go on.

    Attributes
    ----------
    time_s : (n,) float array
        Of each row, rising; channels share it, so that it costs next to nothing, [s].
    rows, lines : (k,) int array
        Rows, from 0, at which the lines do not go on from the row before, and their lines, from 1: title, header and
        what was left out count.
    """

    time_s: NDArray[np.float64]
    rows: NDArray[np.int64]
    lines: NDArray[np.int64]

    def __post_init__(self) -> None:
        for array in (self.time_s, self.rows, self.lines):
            array.setflags(write=False)

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        """Restore from a pickle, whose arrays come back writable."""
        for name, array in state.items():
            object.__setattr__(self, name, array)
        self.__post_init__()

    def line_at(self, time_s: float) -> int | None:
        """Return the line of the sample at a time; None where no row has exactly this time."""
        row = int(np.searchsorted(self.time_s, time_s))
        if row >= self.time_s.size or self.time_s[row] != time_s:
            return None
        at = int(np.searchsorted(self.rows, row, side="right")) - 1
        return int(self.lines[at]) + row - int(self.rows[at])
