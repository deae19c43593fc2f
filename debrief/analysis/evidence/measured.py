"""A measure with what it was read from: where a value is worked out, its evidence is made, too."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from debrief.analysis.evidence.evidence_samples import Readings
from debrief.analysis.evidence.lazy_mapping import Later
from debrief.analysis.model import Measure, MeasureEvidence

LINE = "on the straight line between the samples a at the time ta and b at tb: a + (b − a) × (t − ta) / (tb − ta)"
"""The formula of a value at an instant."""


class Measured(NamedTuple):
    """One measure with its evidence; `read` looks the samples up when somebody asks for them.

    Attributes
    ----------
    measure : Measure
        The value, or why there is none.
    formula : str
        How the value follows from the samples.
    keys : tuple of str
        Key path of each number of the profile that the measure uses or is held against.
    read : callable
        Returns the samples; not called where there is neither value nor bound.
    """

    measure: Measure
    formula: str
    keys: tuple[str, ...] = ()
    read: Callable[[], Readings] = tuple

    def evidence(self, lines: Mapping[str, int]) -> MeasureEvidence:
        """Return what it was read from, given the line of each key of the profile."""
        known = any(x is not None for x in (self.measure.value, self.measure.low, self.measure.high))
        profile = tuple((key, lines[key]) for key in self.keys if key in lines)
        return MeasureEvidence(self.formula, profile, self.read() if known else ())


def measures_of(measured: Mapping[str, Measured]) -> dict[str, Measure]:
    """Return the measures alone, by name."""
    return {name: one.measure for name, one in measured.items()}


def evidence_of(measured: Mapping[str, Measured], lines: Mapping[str, int]) -> Later[MeasureEvidence]:
    """Return the evidence of each measure by name, looked up at the first look."""
    return Later(lambda: {name: one.evidence(lines) for name, one in measured.items()})
