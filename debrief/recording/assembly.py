"""From the parsed table to the recording: time base, channels, identity, provenance."""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from debrief.errors import UserError
from debrief.recording.clock.start_dates import impossible
from debrief.recording.clock.time_column import TimeBase, make_time_base
from debrief.recording.clock.told_date import told_date
from debrief.recording.csv.cells import read_cell
from debrief.recording.csv.dialect import Dialect
from debrief.recording.csv.table import NO_CHANNEL_HOLDS, Numbers, ReadTable, Table
from debrief.recording.file_lines import FileLines
from debrief.recording.fingerprint import fingerprint
from debrief.recording.identity import HOW_TO_WRITE, from_preamble, name_of
from debrief.recording.joined_channels import join_channels
from debrief.recording.lexicon import ACCEPTED, Words, load, match_name, own_sign, squeeze
from debrief.recording.matching.column_readings import Evidence
from debrief.recording.matching.columns import match_columns
from debrief.recording.matching.fuel_sense import with_fuel_sense
from debrief.recording.matching.maps import NOT_USED, ColumnMap, columns_told, parse_maps
from debrief.recording.matching.proposals import Matching, Proposal
from debrief.recording.matching.remembered import Remembered
from debrief.recording.median import median
from debrief.recording.model import Channel, FloatArray, Identity, Provenance, QualityFlag, Recording
from debrief.recording.quality.data_quality import (
    FEW_RESOLUTION_SAMPLES,
    RESOLUTION_SAMPLES,
    flags,
    resolution,
)
from debrief.recording.quality.probes import low_probes
from debrief.words.asked import Asked, hint_of
from debrief.words.channels import channel_in_text
from debrief.words.remedies import COLUMNS, advised
from debrief.words.sentence import words
from debrief.words.shortened import listed
from debrief.words.units import kept_unit, scale
from debrief.words.visible import visible

MAX_QUESTIONS = 40
MAX_REPAIRS = 200
"""Of what was repaired and of what was decided; a file of a hundred columns in which each has a fault still fits."""
MAX_TEXT_KINDS = 3
NO_COLUMN_HOLDS = 1e30
"""Beyond this even a column of unknown meaning holds damage."""


def all_maps(dialect: Dialect, maps: Sequence[str], remembered: object) -> list[ColumnMap]:
    """Return what is said and, for channels and columns left open, what is remembered for this header."""
    told = parse_maps(maps, dialect.names)
    if not isinstance(remembered, Mapping):
        return told
    known = remembered.get(dialect.signature, ())
    channels, columns = {m.channel for m in told}, {m.column for m in told}
    for item in parse_maps([str(text) for text in known], dialect.names, "remembered"):
        free = item.channel == NOT_USED or item.channel not in channels
        if free and item.column not in columns:
            told.append(item)
    return told


def assemble(
    read: ReadTable, maps: Sequence[str], rate_hz: float | None, remembered: object
) -> Generator[float, None, tuple[Recording, Matching]]:
    """Return the recording that the table holds, and how its columns were matched; yields the progress from 0 to 1.

    Raises
    ------
    UserError
        A wrong map, no time base, fewer than two samples, or no channel.
    """
    source, dialect, table = read.source, read.dialect, read.table
    told = all_maps(dialect, maps, remembered)
    if rate_hz is None and isinstance(remembered, Remembered):
        rate_hz = remembered.kept(dialect.signature).rate_hz
    repairs = _row_repairs(table)
    date_told = told_date(dialect)
    base = make_time_base(
        table, dialect.names, dialect.alternatives, dialect.units, told, rate_hz, source.name, date_told,
        has_header=bool(dialect.header),
    )  # fmt: skip
    if not np.all(base.keep):
        table.keep(base.keep)
    if table.rows < 2:
        raise UserError(f"{source.name} holds a single sample: there is nothing to debrief.")
    identity, profile, questions = from_preamble(dialect)
    yield 0.1
    matching = yield from match_table(dialect, table, told, base.columns)
    decisions = [*dialect.decisions, *base.decisions]
    identity = _with_start(identity, base, decisions, questions)
    if identity.start is None and date_told.unused():
        questions.append(f"{date_told.unused()}: {HOW_TO_WRITE}")
    identity = _from_columns(identity, dialect, table, matching)
    decisions.extend(matching.decisions)
    channels, unmapped, more = yield from _channels(dialect, table, base, matching)
    joined = join_channels(matching.proposals, lambda c, name: _numbers_of(table, c)(name), base.time_s)
    channels, unmapped = {**channels, **joined.channels}, {**unmapped, **joined.spreads}
    decisions.extend(joined.decisions)
    more.extend(joined.repairs)
    recorded = channels
    channels, turned, unsure = with_fuel_sense(recorded)
    for one in (recorded[name] for name in recorded if name not in channels):
        unmapped.setdefault(one.column, replace(one, name=one.column, map_source="none"))
    decisions.extend(turned)
    repairs.extend(base.repairs)
    repairs.extend(more)
    if not channels:
        raise UserError(
            advised(
                "{file}: no column was recognised as a channel of an engine or a flight; name them{how}.{hint} {columns}",
                file=source.name, how=COLUMNS, hint=hint_of(*matching.questions[:1]), columns=columns_told(dialect.names),
            )
        )  # fmt: skip
    asked = [*dialect.questions, *base.questions, *questions, *matching.questions, *unsure]
    provenance = Provenance(
        path=str(source.path),
        file_name=source.name,
        sha256=read.sha256,
        byte_count=source.byte_count,
        rows=table.rows,
        encoding=source.encoding,
        delimiter=dialect.delimiter,
        decimal=dialect.decimal,
        time_source=base.source,
        time_column=base.column,
        header_rows=tuple(dialect.delimiter.join(record.fields) for record in dialect.header),
        preamble=dialect.preamble,
        decisions=(f"the text is {source.encoding}", *_said(listed(decisions, MAX_REPAIRS, "decisions"))),
        repairs=_said(listed(repairs, MAX_REPAIRS, "repairs")),
        questions=_said(listed(list(dict.fromkeys(asked)), MAX_QUESTIONS, "columns that are unsure")),
        header_signature=dialect.signature,
        fingerprint=fingerprint([*channels.values(), *unmapped.values()]),
    )
    duration = float(base.time_s[-1])
    temperatures = _temperatures({**channels, **unmapped})
    quality = (
        *_clock_flags(base),
        *(yield from flags(channels, duration, [*low_probes(temperatures), *joined.flags])),
    )
    recording = Recording(
        channels=channels,
        unmapped=unmapped,
        duration_s=duration,
        identity=identity,
        provenance=provenance,
        quality=quality,
        profile_name=profile,
        engines_left=matching.engines_left,
        lines=FileLines(base.time_s, *table.book.breaks()),
    )
    return recording, matching


def _said(sentences: Sequence[str]) -> tuple[str, ...]:
    """Return sentences, which may quote cells, as they can be shown: a question of the reader is so already."""
    return tuple(text if isinstance(text, Asked) else visible(text) for text in sentences)


def _row_repairs(table: Table) -> list[str]:
    out = []
    if table.bad_count:
        listed = ", ".join(str(line) for line in table.bad_lines)
        more = (
            f" and {table.bad_count - len(table.bad_lines)} more"
            if table.bad_count > len(table.bad_lines)
            else ""
        )
        what = "1 line has" if table.bad_count == 1 else f"{table.bad_count} lines have"
        kept = "was left out" if table.bad_count == 1 else "were left out"
        out.append(f"{what} the wrong number of fields and {kept}: line {listed}{more}")
    if table.cut_last:
        out.append("the last line is cut short and was left out")
    if table.headers:
        out.append(f"the header is repeated {table.headers} times in the data; those lines were left out")
    if table.recoded:
        out.append(f"{table.recoded} lines are not UTF-8 and were read as Windows-1252")
    if table.comments:
        out.append(f"{table.comments} comment lines in the data were left out")
    return out


def match_table(
    dialect: Dialect, table: Table, maps: Sequence[ColumnMap], time_columns: Mapping[int, str]
) -> Generator[float, None, Matching]:
    """Return what each column of the table is taken for; yields the progress of `assemble`."""
    lexicon = load()
    taken = dict(time_columns)
    mapped = {m.column for m in maps if m.channel != "time"}
    evidence = []
    plain: dict[int, Numbers] = {}
    for column, name in enumerate(dialect.names):
        if column in taken:
            continue
        yield 0.1 + 0.1 * column / dialect.width
        if column not in mapped:
            role = _other_role(name, dialect, table, column, plain)
            if role:
                taken[column] = role
                continue
        evidence.append(
            Evidence(
                column, name, dialect.alternatives[column], dialect.units[column], _numbers_of(table, column)
            )
        )
    matching = yield from match_columns(evidence, dialect.names, maps, taken)
    roles = []
    for proposal in matching.proposals:
        yield 0.4 + 0.1 * proposal.column / dialect.width
        if proposal.role == "unmapped" and proposal.channel is None:
            words = lexicon.words_for(None)
            numbers = table.columns[proposal.column].numbers(words)
            if not numbers.finite.size:
                proposal = replace(proposal, role="text" if numbers.rejected else "empty")
        roles.append(proposal)
    return replace(matching, proposals=tuple(roles))


def _numbers_of(table: Table, column: int) -> Callable[[str | None], Numbers]:
    cache: dict[str, Numbers] = {}

    def numbers(channel: str | None) -> Numbers:
        base = (channel or "").partition(".")[0]
        if base not in cache:
            words = load().words_for(base)
            cache[base] = table.columns[column].numbers(words)
        return cache[base]

    return numbers


def _other_role(
    name: str, dialect: Dialect, table: Table, column: int, cache: dict[int, Numbers]
) -> str | None:
    """Return the role of a column that is no quantity: a row index, an identity, a time offset."""
    key = squeeze(name)
    lexicon = load()
    if any(key in names for names in lexicon.identity.values()):
        return "identity"
    if key in lexicon.utc_offset or lexicon.date.get(key, 0.0) >= ACCEPTED:
        return "date"
    if key in ("", "index", "row", "line", "no", "nr", "sample", "record") or key.startswith("unnamed"):
        if table.columns[column].is_text:
            return None
        numbers = table.columns[column].numbers(Words())
        values = numbers.values
        if values.size and not np.any(np.isfinite(values)):
            return "empty"
        if numbers.largest >= NO_COLUMN_HOLDS:
            return None  # the difference of two could be beyond all numbers
        steps = np.diff(values)
        if values.size > 1 and np.all(steps >= 0) and median(steps) == 1.0:
            return "index"
    return None


def declared_missing(dialect: Dialect) -> frozenset[float]:
    """Return the numbers that the preamble declares to mean "not sampled"."""
    told = dialect.value("missing", "missing-value", "missing-values", "no-data", "nodata", "sentinel")
    found = set()
    for part in re.split(r"[;\s]+", told or ""):
        cell = read_cell(part, dialect.decimal)
        if cell.kind == "number":
            found.add(cell.value)
    return frozenset(found)


def _with_start(identity: Identity, base: TimeBase, decisions: list[str], questions: list[str]) -> Identity:
    if base.start is None or impossible(base.start.date()):
        return identity
    if identity.start is None:
        return replace(identity, start=base.start, start_source="column")
    one, other = identity.start, base.start
    if (one.tzinfo is None) == (other.tzinfo is None):
        difference = abs((one - other).total_seconds())
        if difference > 1.0:
            questions.append(
                f"the preamble's start {one.isoformat()} and the first row's {other.isoformat()} are "
                f"{difference:.6g} s apart; the preamble's was taken"
            )
    return identity


def _clock_flags(base: TimeBase) -> tuple[QualityFlag, ...]:
    """Return a flag where the file's own dates cannot be those of the recording."""
    problem = impossible(base.start.date()) if base.start is not None else ""
    if base.start is None or not problem:
        return ()
    message = words(
        f"The file's first date {base.start.date()} {problem}, so when the recording began is not known."
    )
    return (QualityFlag("clock_not_set", "time", 0.0, float(base.time_s[-1]), message),)


def _from_columns(identity: Identity, dialect: Dialect, table: Table, matching: Matching) -> Identity:
    """Return the identity with what constant columns of the file tell, where the preamble does not."""
    lexicon = load()
    for proposal in matching.proposals:
        if proposal.role != "identity":
            continue
        texts = {t.strip() for t in table.columns[proposal.column].texts() if t.strip()}
        if len(texts) != 1:
            continue
        text = name_of(texts.pop())
        key = squeeze(proposal.name)
        if key in lexicon.identity["aircraft"] and identity.aircraft is None:
            identity = replace(identity, aircraft=text, aircraft_source="column")
        elif key in lexicon.identity["engine_serial"] and identity.engine_serial is None:
            identity = replace(identity, engine_serial=text, engine_serial_source="column")
        elif key in lexicon.identity["engine_model"] and identity.engine_model is None:
            identity = replace(identity, engine_model=text)
    return identity


def _channels(
    dialect: Dialect, table: Table, base: TimeBase, matching: Matching
) -> Generator[float, None, tuple[dict[str, Channel], dict[str, Channel], list[str]]]:
    """Return the matched channels, the unmapped ones, and what was left out of them; yields the progress."""
    channels: dict[str, Channel] = {}
    unmapped: dict[str, Channel] = {}
    repairs: list[str] = []
    shared: dict[bytes, FloatArray] = {}
    time_s = _read_only(base.time_s)
    for proposal in matching.proposals:
        if proposal.role not in ("channel", "unmapped"):
            continue
        yield 0.5 + 0.2 * proposal.column / dialect.width
        numbers = _numbers_of(table, proposal.column)(proposal.channel)
        repairs.extend(_cell_repairs(proposal, numbers))
        if not numbers.finite.size:
            if proposal.channel is not None:
                repairs.append(f"{_column_words(proposal)} holds no value and is not recorded")
            continue
        mask = _held(proposal, numbers, table, repairs)
        if not np.any(mask):
            continue
        if mask is numbers.present and numbers.is_whole:
            times, values = time_s, numbers.values
        else:
            key = np.packbits(mask).tobytes()
            times = shared.get(key) if key in shared else shared.setdefault(key, _read_only(time_s[mask]))  # type: ignore[assignment]
            values = numbers.values[mask]
        if proposal.channel is not None and proposal.unit is not None:
            to = kept_unit(proposal.unit, proposal.channel)
            assert to is not None
            values = _read_only(scale(values, proposal.unit, to))
            unit = to.name
        else:
            unit = proposal.unit.name if proposal.unit else ""
        own = proposal.channel is not None and not proposal.joined
        name = proposal.channel if own and proposal.channel else _free_name(proposal, unmapped)
        channel = Channel(
            name=name,
            unit=unit,
            time_s=times,
            values=values,
            column=proposal.name,
            column_unit=proposal.unit.name if proposal.unit else "",
            map_source=proposal.source if own else "none",
            confidence=proposal.confidence,
            resolution=resolution(values, RESOLUTION_SAMPLES if own else FEW_RESOLUTION_SAMPLES),
            sign=own_sign(name, [proposal.name]) if own else "",
        )
        (channels if own else unmapped)[name] = channel
    return channels, unmapped, repairs


def _temperatures(columns: Mapping[str, Channel]) -> dict[str, Channel]:
    """Return the columns that are temperatures by their unit or by a name like that of `itt`."""
    return {
        name: channel
        for name, channel in columns.items()
        if channel.unit in ("degC", "degF", "K")
        or (not channel.unit and any(match.channel == "itt" for match in match_name(channel.column)))
    }


def _read_only(values: FloatArray) -> FloatArray:
    """Return an array of our own as read-only, so that a channel takes it without a copy."""
    values.setflags(write=False)
    return values


def _held(proposal: Proposal, numbers: Numbers, table: Table, repairs: list[str]) -> NDArray[np.bool_]:
    """Return where a column has a value that it can hold at all."""
    limit = NO_COLUMN_HOLDS if proposal.channel is None else NO_CHANNEL_HOLDS
    highest = numbers.largest
    if highest < limit:
        return numbers.present
    mask = numbers.present & ~(np.abs(numbers.values) >= limit)
    rows = np.flatnonzero(numbers.present & ~mask)
    values, kept = ("1 value", "was") if rows.size == 1 else (f"{rows.size} values", "were")
    repairs.append(
        f"{_column_words(proposal)}: {values} that no channel can hold, such as {highest:.3g}, "
        f"{kept} left out: {table.book.told(rows)}"
    )
    return mask


def _column_words(proposal: Proposal) -> str:
    """Return a column's header, with what it was taken for unless it is the trade's own name of that."""
    if proposal.channel is None or own_sign(proposal.channel, [proposal.name]):
        return f'"{proposal.name}"'
    return f'"{proposal.name}" ({channel_in_text(proposal.channel)})'


def _free_name(proposal: Proposal, unmapped: Mapping[str, Channel]) -> str:
    name = proposal.name or f"Column {proposal.column + 1}"
    return name if name not in unmapped else f"{name} (column {proposal.column + 1})"


def _cells(count: int) -> str:
    return "1 cell" if count == 1 else f"{count} cells"


def _cell_repairs(proposal: Proposal, numbers: Numbers) -> list[str]:
    what = _column_words(proposal)
    out = []
    if numbers.infinite:
        out.append(
            f"{what}: {_cells(numbers.infinite)} held an infinity, which is no value, and were left out"
        )
    if numbers.declared:
        out.append(f"{what}: {_cells(numbers.declared)} held the declared missing value and were left out")
    if numbers.rejected:
        count = sum(numbers.rejected.values())
        kinds = ", ".join(f'"{text[:24]}"' for text, _ in numbers.rejected.most_common(MAX_TEXT_KINDS))
        out.append(f"{what}: {_cells(count)} held text that is no number ({kinds}) and were left out")
    return out
