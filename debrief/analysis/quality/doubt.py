"""A stretch in which a channel cannot be believed, and the words for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.interval_sets import mask
from debrief.analysis.signal.traces import GAP_FACTOR, GAP_FLOOR_S, Trace
from debrief.recording.model import FloatArray, QualityFlag
from debrief.words.channels import ChannelNames
from debrief.words.sentence import Sentence

LISTED = 20
"""Doubts of one kind and channel that are told one by one; a broken plug makes thousands."""

LIMITED = ("itt", "ng", "np", "torque", "oil_temp")
"""Channels whose doubts are said to hide limits."""


@dataclass(frozen=True)
class Doubt:
    """Why a channel cannot be believed in a stretch.

    Attributes
    ----------
    channel : str
        Canonical, without the engine's number.
    kind : str
        The kind of its flag.
    start_s, end_s : float
        From the last sample that may be true to the next one, or the end, [s].
    why : Sentence
        A clause without a full stop, as in "ITT stood still from 3:10 on while Ng and torque moved".
    hides : bool
        Whether a limit may be missed: not where it can only read high.
    spoils : bool
        Whether what is exceeded there may be the sensor's doing: not where it reads low.
    """

    channel: str
    kind: str
    start_s: float
    end_s: float
    why: Sentence
    hides: bool = True
    spoils: bool = True

    def flag(self, name: str) -> QualityFlag:
        """Return the flag, of the channel under its name in the recording."""
        more = ": limits may be missed." if self.hides and self.channel in LIMITED else "."
        first, *rest = self.why.parts
        begun = first[:1].upper() + first[1:] if isinstance(first, str) else first
        said = Sentence((begun, *rest)) + more
        return QualityFlag(self.kind, name, self.start_s, self.end_s, said)


def rows_of(doubts: Iterable[Doubt]) -> FloatArray:
    """Return the stretches of doubts, (m, 2), in order of time; they may overlap."""
    rows = sorted((one.start_s, one.end_s) for one in doubts)
    return np.array(rows, dtype=np.float64).reshape(-1, 2)


def samples_in(trace: Trace, doubts: Sequence[Doubt]) -> NDArray[np.intp]:
    """Return the samples that lie inside of the doubts: not those at their edges, which may be true."""
    rows = rows_of(one for one in doubts if one.spoils)
    if not len(rows):
        return np.empty(0, dtype=np.intp)
    inner = np.column_stack((np.nextafter(rows[:, 0], np.inf), np.nextafter(rows[:, 1], -np.inf)))
    last = trace.time_s[-1]
    inner[rows[:, 1] >= last, 1] = np.inf
    return np.flatnonzero(mask(inner, trace.time_s))


def blind_after_s(trace: Trace) -> float:
    """Return for how long a channel may show nothing before something may be missed: as long as a gap, [s]."""
    usual = float(np.median(np.diff(trace.time_s))) if trace.time_s.size > 1 else 0.0
    return max(GAP_FLOOR_S, GAP_FACTOR * usual)


def said_of(channels: Sequence[str], called: ChannelNames) -> str:
    """Return several channels in a sentence: "Ng, torque and fuel flow"."""
    names = [called.in_text(one) for one in channels]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
