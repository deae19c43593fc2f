"""A start with another one behind it: both on one axis of time that begins at an instant of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from debrief.analysis.model import Assessment, Start
from debrief.session.comparing.start_curves import (
    INSTANT_WORDS,
    Comparable,
    Instant,
    Piece,
    StartCurves,
    StartKey,
    key_of,
    start_curves,
    start_words,
)
from debrief.session.drawing.envelope import Envelope

ITSELF = "This is the compared start itself."


@dataclass(frozen=True, eq=False)
class ComparedStart:
    """Two starts aligned at an instant.

    Attributes
    ----------
    own, other : StartCurves
        The one on the table and the compared one, each with its own times.
    instant : Instant
        Where both are aligned.
    zero_s, other_zero_s : float
        When it was in each recording, [s]; 0 with a `problem`.
    begin_s, end_s : float
        What shows both whole, from the instant on, [s].
    problem : str
        Why they cannot be compared; empty where they can.
    """

    own: StartCurves
    other: StartCurves
    instant: Instant
    zero_s: float = 0.0
    other_zero_s: float = 0.0
    begin_s: float = 0.0
    end_s: float = 0.0
    problem: str = ""
    _pieces: dict[tuple[bool, str], Piece | None] = field(default_factory=dict, repr=False)

    @property
    def offset_s(self) -> float:
        """What is added to a time of the compared recording to lay it behind the one on the table, [s]."""
        return self.zero_s - self.other_zero_s

    @property
    def is_shown(self) -> bool:
        """Whether there is anything to lay behind."""
        return not self.problem

    def since_instant(self, time_s: float) -> float | None:
        """Return how long after the instant a time of the recording on the table is, [s]; None outside both starts."""
        since = time_s - self.zero_s
        return since if self.is_shown and self.begin_s - 1e-6 <= since <= self.end_s + 1e-6 else None

    def own_piece(self, name: str) -> Piece | None:
        """Return a channel of the start on the table; None where it was not recorded."""
        return self._piece(False, name)

    def other_piece(self, name: str) -> Piece | None:
        """Return a channel of the compared start, in its own times; None where it was not recorded."""
        return self._piece(True, name)

    def _piece(self, is_other: bool, name: str) -> Piece | None:
        if not self.is_shown:
            return None
        key = (is_other, name)
        if key not in self._pieces:
            side, zero = (self.other, self.other_zero_s) if is_other else (self.own, self.zero_s)
            self._pieces[key] = side.piece(name, zero + self.begin_s, zero + self.end_s)
        return self._pieces[key]

    def reading(self, name: str, since_s: float) -> tuple[float | None, float | None, float | None]:
        """Return the own value, the compared one and own minus compared, so long after the instant.

        The difference is None where either is not known, or the units differ.
        """
        own, other = self._at(False, name, since_s), self._at(True, name, since_s)
        same = self.own.unit(name) == self.other.unit(name)
        return own, other, own - other if same and own is not None and other is not None else None

    def _at(self, is_other: bool, name: str, since_s: float) -> float | None:
        piece = self._piece(is_other, name)
        zero = self.other_zero_s if is_other else self.zero_s
        return None if piece is None else piece.value_at(since_s + zero)

    def behind_at(self, name: str, unit: str, time_s: float) -> float | None:
        """Return the compared value that lies behind a time of the recording on the table.

        None outside the stretch that is compared, across a gap, and where it is in another unit than `unit`.
        """
        since = self.since_instant(time_s)
        return None if since is None or self.other.unit(name) != unit else self._at(True, name, since)

    def behind(self, name: str, unit: str) -> Envelope | None:
        """Return the trace that lies behind one on the table, at the times of the latter; None as `behind_at`."""
        piece = self.other_piece(name)
        if piece is None or piece.channel.unit != unit:
            return None
        zero = self.other_zero_s
        return piece.envelope(zero + self.begin_s, zero + self.end_s, self.offset_s)


def compared_start(own: StartCurves, other: StartCurves, instant: Instant) -> ComparedStart:
    """Return two starts aligned at an instant of both, or why they cannot be."""
    if other.said and not other.channels:
        return ComparedStart(own, other, instant, problem=other.said)
    zero, other_zero = own.moments.get(instant), other.moments.get(instant)
    if zero is None or other_zero is None:
        lacking = [side.name for side, at in ((own, zero), (other, other_zero)) if at is None]
        words = f"No {INSTANT_WORDS[instant]} is known in {' and '.join(lacking)}: align at another instant."
        return ComparedStart(own, other, instant, problem=words)
    begin = min(own.frame[0] - zero, other.frame[0] - other_zero)
    end = max(own.frame[1] - zero, other.frame[1] - other_zero)
    return ComparedStart(own, other, instant, zero, other_zero, begin, end)


def behind_start(assessment: Assessment, start: Start, other: Comparable, instant: Instant) -> ComparedStart:
    """Return a start on the table with another one behind it, in the units that are shown; or why there is none."""
    units = assessment.units
    own = start_curves(assessment, start).shown(units)
    behind = other.aligned(instant).shown(units)
    here = {key_of(assessment, one): start_words(assessment, one) for one in assessment.starts}
    if behind.key in here:
        behind = replace(behind, name=here[behind.key])  # of the same file: its name says nothing
    if own.key in here:
        own = replace(own, name=here[own.key] if len(here) > 1 else "this start")
    if own.key == behind.key:
        return ComparedStart(own, behind, instant, problem=ITSELF)
    return compared_start(own, behind, instant)


def start_beside(assessment: Assessment, itself: StartKey | None, wanted: StartKey | None) -> Start | None:
    """Return a start of a recording to be compared: the wanted one, else the first that was completed, else the first.

    It is never `itself`, the one that it is compared with; None where there is no other.
    """
    others = [one for one in assessment.starts if key_of(assessment, one) != itself]
    found = [one for one in others if key_of(assessment, one) == wanted]
    completed = [one for one in others if one.outcome == "completed"]
    return next(iter(found or completed or others), None)


def not_with_itself(file_name: str) -> str:
    """Return why the only start of a recording cannot lie beside itself."""
    return f"{file_name} is the open recording, and has no other start: a start is not compared with itself."


def start_in_play(starts: Sequence[Start], engine: int, time_s: float) -> Start | None:
    """Return the start of an engine that a time is in, else the last one before it, else the first."""
    mine = [one for one in starts if one.engine == engine]
    begun = [one for one in mine if one.begin_s <= time_s + 1e-6]
    return begun[-1] if begun else mine[0] if mine else None
