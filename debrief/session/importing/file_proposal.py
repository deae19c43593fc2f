"""A file as it is proposed to be read, as values: what the import dialog shows, and what it asks."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from debrief.errors import UserError
from debrief.recording.clock.time_column import NoTimeColumn
from debrief.recording.matching.remembered import Kept, Remembered
from debrief.recording.model import FloatArray, Identity, Recording, frozen
from debrief.session.assessing.file_assessment import Choices
from debrief.session.importing.column_proposal import ColumnProposal
from debrief.session.importing.import_questions import Question, merged, question_of
from debrief.session.importing.judgement_gaps import has_a_lane
from debrief.session.opening.opening_steps import Progress, reading_progress
from debrief.steps import done, relayed
from debrief.words.asked import Asked
from debrief.words.channels import base_name, joined_way
from debrief.words.visible import visible

if TYPE_CHECKING:
    from debrief.recording.csv.dialect import Dialect
    from debrief.recording.csv.table import ReadTable, Table
    from debrief.recording.matching.proposals import Proposal

SURE = 0.95
LIKELY = 0.7
PREVIEW_ROWS = 6
TRACE_POINTS = 96
TRACES_AT_ONCE = 8
_NO_VALUE = 1e30
NO_NAMES = (
    "The file has no names of columns: say in the table what each of them is, one at least, with its unit."
)
NO_TIMES = "No column of times was found. Choose one as Time, or give the samples per second."


@dataclass(frozen=True, eq=False)
class FileProposal:
    """A whole file as it is proposed to be read.

    Attributes
    ----------
    path : Path
    columns : tuple of ColumnProposal
        All columns in the order of the file.
    preview : tuple of tuple of str
        Cells of the first data rows.
    questions : tuple of Question
        Those that matter first.
    problem : str
        Why it cannot be read yet; empty where it can.
    needs_rate : bool
        No column holds a time: one must be chosen, or a rate given.
    rows : int
    has_header : bool
    signature : str
        Of the header, to remember the columns by.
    kept : Kept
        What is remembered for this header.
    offer : Kept
        What of it says whose recording this is, where neither the file nor a person does.
    profile_name : str
        The profile that the file names; empty where it names none.
    profiles : tuple of (str, str)
        File name and name of the profiles that there are.
    identity : Identity
        What the file tells.
    choices : Choices
        What had been chosen before.
    sha256 : str
        Of the file that was looked at.
    """

    path: Path
    columns: tuple[ColumnProposal, ...]
    preview: tuple[tuple[str, ...], ...] = ()
    questions: tuple[Question, ...] = ()
    problem: str = ""
    needs_rate: bool = False
    rows: int = 0
    has_header: bool = True
    signature: str = ""
    kept: Kept = field(default_factory=Kept)
    offer: Kept = field(default_factory=Kept)
    profile_name: str = ""
    profiles: tuple[tuple[str, str], ...] = ()
    identity: Identity = field(default_factory=Identity)
    choices: Choices = field(default_factory=Choices)
    sha256: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all columns."""
        return tuple(column.name for column in self.columns)

    @property
    def has_a_lane(self) -> bool:
        """Whether one of the standard lanes would show something."""
        return has_a_lane([column.channel for column in self.columns])

    @property
    def is_unsure(self) -> bool:
        """Whether something must be asked before the file is shown, or nothing would be seen of it."""
        return (
            bool(self.problem) or not self.has_a_lane or any(question.matters for question in self.questions)
        )


def table_of(path: Path) -> Generator[Progress, None, ReadTable]:
    """Parse a file; yields its progress.

    Raises
    ------
    UserError
        It cannot be read as a table at all.
    """
    from debrief.recording.body import table_steps

    yield Progress(f"Reading {path.name}", 0.0)
    return (yield from relayed(table_steps(path), reading_progress(path)))


def remembered_for(dialect: Dialect) -> Kept:
    """Return what was kept for this header; nothing where its columns do not fit it any more."""
    from debrief.recording.matching.maps import parse_maps

    try:
        kept = Remembered().kept(dialect.signature)
        parse_maps(kept.maps, dialect.names)
    except UserError:
        return Kept()  # asked anew, as if nothing had been kept
    return kept


def as_remembered(kept: Kept) -> Choices:
    """Return the choices of a file of which only what is remembered is known: columns and rate, whoever's it is."""
    return Choices(remembered=bool(kept.maps), rate_hz=kept.rate_hz, remembered_on=kept.on)


def _offer(kept: Kept, identity: Identity, profile_name: str, choices: Choices) -> Kept:
    """Return what is kept of profile, aircraft and engines where neither the file nor a person names it."""
    typed = dict(choices.engine_serials)
    return Kept(
        profile=None if profile_name or choices.profile else kept.profile,
        aircraft=None if identity.aircraft or choices.aircraft else kept.aircraft,
        engine_serial=None if identity.engine_serial or choices.engine_serial else kept.engine_serial,
        engine_serials=tuple(
            (n, serial) for n, serial in kept.engine_serials if not identity.serial_of(n) and n not in typed
        ),
        on=kept.on,
    )


def recorded_or_proposed(
    read: ReadTable, choices: Choices, remembered: Kept, current: Recording | None = None
) -> Generator[Progress, None, tuple[Recording | None, FileProposal]]:
    """Return the recording, or None where something must be settled first, and the proposal without traces.

    Yields its progress.

    Parameters
    ----------
    read : ReadTable
        Its rows without a time are dropped on the way.
    choices : Choices
        What is chosen so far.
    remembered : Kept
        What was kept for this kind of file; its columns are used where the choices say so.
    current : Recording, optional
        The recording as it is open: a column that it does not use is not proposed either.

    Raises
    ------
    UserError
        Nothing that can be chosen would help.
    """
    from debrief.recording.assembly import assemble, match_table
    from debrief.recording.identity import from_preamble
    from debrief.recording.matching.maps import parse_maps

    dialect, table = read.dialect, read.table
    if table.rows < 2:
        raise UserError(f"{read.source.name} holds a single sample: there is nothing to debrief.")
    kept = {dialect.signature: remembered.maps} if remembered.maps and choices.remembered else None

    words = f"Reading {read.source.name}"

    def attempt(rate_hz: float | None) -> Generator[Progress, None, tuple[Recording, Sequence[Proposal]]]:
        steps = assemble(read, choices.maps, rate_hz, kept)
        recording, matching = yield from relayed(steps, lambda share: Progress(words, 0.63 + 0.1 * share))
        return recording, matching.proposals

    recording: Recording | None = None
    problem, needs_rate = "", False
    questions: tuple[str, ...] = ()
    try:
        recording, proposals = yield from attempt(choices.rate_hz)
        questions = recording.provenance.questions
        needs_rate = recording.provenance.time_column is None
    except UserError as error:
        problem = str(error)
        questions = (error.asked,) if isinstance(error, NoTimeColumn) and error.asked else ()
        try:
            # With a rate the file reads on exactly where no time was found: then that is what it wants.
            trial, proposals = yield from attempt(1.0)
            questions += trial.provenance.questions
            needs_rate = choices.rate_hz is None
        except UserError as second:
            needs_rate = choices.rate_hz is None and str(second) != problem
            told = parse_maps(choices.maps, dialect.names)
            matching = done(match_table(dialect, table, told, {}))
            proposals, questions = matching.proposals, questions + matching.questions
    identity, profile_name, _ = from_preamble(dialect)
    columns = _columns(read, proposals, recording, choices, current)
    proposed = _even_time(questions) if problem else None
    if proposed is not None:
        columns = tuple(
            replace(one, channel="time", unit="s") if one.number == proposed else one for one in columns
        )
    if problem and needs_rate:
        parts = [] if dialect.header else [NO_NAMES]
        problem = " ".join(parts if proposed is not None else [*parts, NO_TIMES])
    elif problem and not any(c.channel for c in columns):
        problem = "No column was recognised as a channel of an engine or a flight: choose at least one below."
    asked = [question_of(text, columns) for text in questions]
    who = recording.identity if recording is not None else identity
    return recording, FileProposal(
        path=Path(read.source.path),
        columns=columns,
        preview=tuple(tuple(map(visible, row.fields)) for row in dialect.head_rows[:PREVIEW_ROWS]),
        questions=merged(asked),
        problem=problem,
        needs_rate=needs_rate,
        rows=table.rows,
        has_header=bool(dialect.header),
        signature=dialect.signature,
        kept=remembered,
        offer=_offer(remembered, who, profile_name or "", choices),
        profile_name=profile_name or "",
        identity=who,
        choices=choices,
        sha256=read.sha256,
    )


def _even_time(questions: Sequence[str]) -> int | None:
    """Return the column, from 0, that is proposed as the time of a file that names none: it rises evenly, as seconds do."""
    for text in questions:
        if isinstance(text, Asked) and text.doubt.kind == "rises_evenly":
            return text.doubt.answers[0][0]
    return None


def _columns(
    read: ReadTable,
    proposals: Sequence[Proposal],
    recording: Recording | None,
    choices: Choices,
    current: Recording | None,
) -> tuple[ColumnProposal, ...]:
    from debrief.recording.matching.maps import parse_maps

    time_column = None if recording is None else recording.provenance.time_column
    told_time = next((m for m in parse_maps(choices.maps, read.dialect.names) if m.channel == "time"), None)
    by_number = {proposal.column: proposal for proposal in proposals}
    out = []
    for number, name in enumerate(read.dialect.names):
        proposal = by_number.get(number)
        if proposal is None:
            out.append(ColumnProposal(number, name))
            continue
        channel, unit, source = proposal.channel or "", "", proposal.source
        if proposal.unit is not None:
            unit = proposal.unit.name
        confidence = proposal.confidence
        if number == time_column:
            channel, confidence = "time", SURE
            if told_time is not None:
                source, unit = "option", told_time.unit.name if told_time.unit else ""
        if proposal.joined:
            channel = f"{channel}.{proposal.joined}"
        recorded = recording is not None and joined_way(channel)[0] in recording.channels
        if recorded and current is not None and joined_way(channel)[0] not in current.channels:
            channel, source = "", "entered"
        out.append(
            ColumnProposal(
                number,
                name,
                channel,
                unit,
                proposal.unit_source,
                source,
                proposal.role,
                proposal.why,
                confidence,
                tuple(c for c, _ in proposal.candidates),
            )
        )
    return tuple(out)


def _values(table: Table, number: int, channel: str | None) -> FloatArray:
    from debrief.recording.lexicon import load

    return table.columns[number].numbers(load().words_for(base_name(channel or ""))).values


def reduced(values: FloatArray, points: int = TRACE_POINTS) -> tuple[FloatArray, FloatArray]:
    """Return the lowest and the highest value of each of at most `points` equal stretches of rows.

    Parameters
    ----------
    values : (rows,) float array
        NaN where there is no number.
    points : int

    Returns
    -------
    low, high : (n,) float array
        NaN for a stretch without a number; both empty where the column has no number at all.
    """
    held = np.where(np.abs(values) < _NO_VALUE, values, np.nan)
    if not np.any(np.isfinite(held)):
        return frozen(()), frozen(())
    edges = np.unique(np.linspace(0, held.size, min(points, held.size), endpoint=False).astype(np.int64))
    return frozen(np.fmin.reduceat(held, edges)), frozen(np.fmax.reduceat(held, edges))


def propose_steps(
    path: Path | str, choices: Choices | None = None, current: Recording | None = None
) -> Generator[Progress, None, FileProposal]:
    """Return the proposal of a file for a person who wants to look at its columns; yields its progress.

    Raises
    ------
    UserError
        The file cannot be read as a table at all.
    """
    read = yield from table_of(Path(path))
    kept = remembered_for(read.dialect)
    _, proposal = yield from recorded_or_proposed(
        read, choices if choices is not None else as_remembered(kept), kept, current
    )
    return (yield from completed(read, proposal))


def completed(read: ReadTable, proposal: FileProposal) -> Generator[Progress, None, FileProposal]:
    """Return the proposal with what only a person needs: traces, and profiles to choose; yields its progress."""
    from debrief.profile.loader import available

    columns = []
    for column in proposal.columns:
        if column.number % TRACES_AT_ONCE == 0:
            share = column.number / len(proposal.columns)
            yield Progress("Drawing the columns", 0.75 + 0.25 * share)
        low, high = reduced(_values(read.table, column.number, column.channel))
        columns.append(replace(column, low=low, high=high))
    yield Progress("Ready", 1.0)
    return replace(proposal, columns=tuple(columns), profiles=available())
