"""Value types of what a result was read from: samples, rule, formula and lines of the profile.

`debrief.analysis.model` hands them on beside the results that they belong to.
"""

from __future__ import annotations

from dataclasses import dataclass

from debrief.words.sentence import Sentence


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a sceptic needs to check a finding.

    Attributes
    ----------
    rule : Sentence
        The rule in words.
    profile_key : str or None
        Key path in the profile, such as ``limits.itt-start``; `profile_line` its line in the file.
    formula : str
        How the value was computed.
    channel : str or None
        Channel of the samples.
    times_s, values : tuple of float
        The deciding samples (at most a few hundred), as recorded.
    """

    rule: Sentence
    profile_key: str | None = None
    profile_line: int | None = None
    formula: str = ""
    channel: str | None = None
    times_s: tuple[float, ...] = ()
    values: tuple[float, ...] = ()


@dataclass(frozen=True)
class Reading:
    """Samples of one channel that a value was read from, as recorded.

    Attributes
    ----------
    channel, unit : str
        As in the assessed recording.
    what : str
        What they are, in words: ``before and after the fuel cut-off``.
    index : tuple of int
        Their places in the channel, from 0; `times_s` [s] and `values` [unit] are theirs.
    span : (int, int) or None
        Index of the first and last sample that were looked at, where that is more than `index`.
    """

    channel: str
    unit: str
    what: str
    index: tuple[int, ...]
    times_s: tuple[float, ...]
    values: tuple[float, ...]
    span: tuple[int, int] | None = None

    @property
    def count(self) -> int:
        """How many samples were looked at."""
        return len(self.index) if self.span is None else self.span[1] - self.span[0] + 1

    def counts(self, index: int) -> bool:
        """Return whether the sample at a place was looked at; a neighbour told beside the deciding one may not have been."""
        return self.span is None or self.span[0] <= index <= self.span[1]


@dataclass(frozen=True)
class MeasureEvidence:
    """What a sceptic needs to check one measure of a start or of a flight.

    The rule in words is the measure's entry on the page of definitions, which has one for each.

    Attributes
    ----------
    formula : str
        How the value follows from the readings.
    profile : tuple of (str, int or None)
        Key path and line of each number of the profile that the measure uses or is held against.
    readings : tuple of Reading
        Empty where the measure has no value.
    """

    formula: str
    profile: tuple[tuple[str, int | None], ...] = ()
    readings: tuple[Reading, ...] = ()
