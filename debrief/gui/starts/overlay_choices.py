"""The starts that can be laid over one, as entries of a list."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from debrief.analysis.model import Start
from debrief.history.measures import Kept
from debrief.session.charts.start_overlay import Measures
from debrief.session.comparing.start_curves import Comparable, StartKey, key_of, start_curves
from debrief.session.session import Session
from debrief.words.events import OUTCOME_WORDS
from debrief.words.numbers import value_text

if TYPE_CHECKING:
    from debrief.history.service.start_history import EarlierStart, StartsPage


@dataclass(frozen=True)
class OtherStart:
    """An entry of the list.

    Attributes
    ----------
    words : str
        As listed.
    curves : Comparable or None
        None: its file is still to be read, or is gone, as `note` says.
    measures : Measures
        In the units shown.
    label, title, against : str
        What it is called in the chart, its column in the table, and what it is called below.
    key : StartKey or None
        Which start it is; None for the usual one.
    path : str
        Of its recording; empty where that is not there.
    """

    words: str
    curves: Comparable | None = None
    measures: Measures = field(default_factory=dict)
    label: str = ""
    title: str = "Other file"
    against: str = ""
    key: StartKey | None = None
    path: str = ""
    is_completed: bool = False
    note: str = ""


def offered(
    session: Session, start: Start, loaded: Session | None, page: StartsPage | None
) -> list[OtherStart]:
    """Return the starts that can be laid over one: of this recording, of one that was read, of the history, and the usual."""
    found = [
        _of_session(session, one, f"Start {one.number}")
        for one in session.assessment.starts
        if (one.engine, one.number) != (start.engine, start.number)
    ]
    if loaded is not None:
        file = loaded.path.name
        for one in loaded.assessment.starts:
            other = _of_session(loaded, one, f"Start {one.number} of {file}")
            against = f"Start {one.number} of the other file"
            found.append(replace(other, words=f"{other.words}, {file}", title="Other file", against=against))
    if page is None:
        return found
    usual = page.usual_starts.get((start.engine, start.number))
    if usual is not None and not usual.problem:
        measures = {
            name: Kept(one.band.centre, one.unit)
            for name, one in page.usual(start).items()
            if one.band.centre is not None
        }
        found.append(
            OtherStart(
                "The usual start of this engine",
                usual,
                measures,
                title="Usual",
                against="the usual start",
            )
        )
    return [*found, *map(_of_history, page.earlier)]


def _of_session(session: Session, start: Start, name: str) -> OtherStart:
    return OtherStart(
        f"Start {start.number}: {OUTCOME_WORDS[start.outcome].lower()}",
        start_curves(session.assessment, start),
        start.measures,
        name,
        f"Start {start.number}",
        f"Start {start.number}",
        key_of(session.assessment, start),
        str(session.path),
        start.outcome == "completed",
    )


def _of_history(one: EarlierStart) -> OtherStart:
    peak = f", peak {value_text(one.peak_c, one.peak_unit)}" if one.peak_c is not None else ""
    outcome = OUTCOME_WORDS.get(one.outcome, one.outcome).lower()
    is_gone = one.curves is None and not one.is_there
    words = f"{one.date or 'undated'}, {one.file_name}, start {one.number}: {outcome}{peak}"
    note = (
        f"{one.file_name} is no longer where it was when it was kept, {one.path or 'an unknown folder'}. Other recording "
        "opens it from where it is now."
    )
    return OtherStart(
        f"{words} (file not there)" if is_gone else words,
        one.curves,
        one.values,
        against=f"Start {one.number} of the other file",
        key=(one.sha256, one.engine, one.number),
        path=one.path if one.is_there else "",
        is_completed=one.outcome == "completed",
        note=note if is_gone else "",
    )


def is_same(one: OtherStart, other: OtherStart) -> bool:
    """Return whether two entries are the same start."""
    return one.key == other.key if other.key is not None else one.words == other.words
