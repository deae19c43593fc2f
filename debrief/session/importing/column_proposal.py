"""One column of a file as it is proposed to be read."""

from __future__ import annotations

from dataclasses import dataclass, field

from debrief.recording.model import FloatArray, frozen


@dataclass(frozen=True, eq=False)
class ColumnProposal:
    """One column of the file and what it is taken for.

    Attributes
    ----------
    number : int
        From 0.
    name : str
        Header as found, or a name by its place.
    channel : str
        Proposed channel, ``time``, or empty for "not used".
    unit : str
        Name of the unit of the file's values; empty where none is known or needed.
    unit_source, source, role, why : str
        As in `debrief.recording.matching.proposals.Proposal`.
    confidence : float
        0 to 1.
    candidates : tuple of str
        Other channels that it might be.
    low, high : (n,) float array
        Lowest and highest value of each of n stretches of rows, [as in the file]; NaN where there is none.
    """

    number: int
    name: str
    channel: str = ""
    unit: str = ""
    unit_source: str = ""
    source: str = "none"
    role: str = "unmapped"
    why: str = ""
    confidence: float = 0.0
    candidates: tuple[str, ...] = ()
    low: FloatArray = field(default_factory=lambda: frozen(()))
    high: FloatArray = field(default_factory=lambda: frozen(()))
