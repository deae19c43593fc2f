"""Reading a CSV recording: the one way in, from a path to a `Recording`."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import chain
from os import PathLike

import numpy as np

from debrief.errors import UserError
from debrief.recording.columns import Evidence, Matching, Proposal, match_columns
from debrief.recording.dialect import Dialect, detect
from debrief.recording.identity import from_preamble
from debrief.recording.lexicon import Words, load, squeeze
from debrief.recording.maps import ColumnMap, columns_told, parse_maps
from debrief.recording.model import Channel, FloatArray, Identity, Provenance, Recording
from debrief.recording.quality import flags, resolution
from debrief.recording.source import Blocks, Source, open_source
from debrief.recording.table import Block, Column, Layout, Numbers, RecordCutter, Table, parse_tolerantly
from debrief.recording.timecolumn import TimeBase, make_time_base
from debrief.recording.units import kept_unit, scale

MAX_QUESTIONS = 40
MAX_TEXT_KINDS = 3


@dataclass(frozen=True)
class Examination:
    """A file read, with everything that a person may want to check or correct before using it.

    Attributes
    ----------
    recording : Recording or None
        None where something must be settled first; then `problem` says what.
    dialect : Dialect
        With the head's rows for a preview.
    proposals : tuple of Proposal
        One per column.
    problem : str
    """

    recording: Recording | None
    dialect: Dialect
    proposals: tuple[Proposal, ...]
    problem: str = ""


def read(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Recording:
    """Return the recording that a CSV file holds.

    Parameters
    ----------
    path : str or path-like
        A CSV file, ``.csv.gz``, or a zip with a single CSV; opened read-only.
    maps : sequence of str
        ``CHANNEL=COLUMN[:UNIT]``, see `debrief.recording.maps.parse_maps`.
    rate_hz : float, optional
        Samples per second, for a file without a time column, [Hz].
    remembered : mapping of str to sequence of str, optional
        Maps by header signature (`Provenance.header_signature`); used for channels that `maps` leaves open.

    Returns
    -------
    Recording
        Channels in canonical units with their own sample times, strictly increasing from 0, and the whole
        provenance. What was unsure is unmapped and asked in ``provenance.questions``.

    Raises
    ------
    UserError
        One sentence that says what is wrong, where, and what to do.
    """
    steps = read_steps(path, maps=maps, rate_hz=rate_hz, remembered=remembered)
    while True:
        try:
            next(steps)
        except StopIteration as stop:
            result = stop.value
            assert isinstance(result, Recording)
            return result


def read_steps(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Generator[float, None, Recording]:
    """Read as `read` does, yielding the progress from 0 to 1; it can be given up at every yield."""
    source = open_source(path)
    yield 0.0
    dialect = detect(source.head, source.name, head_is_all=source.head_is_all)
    table, sha256 = yield from _table_steps(source, dialect)
    recording, _ = _recording(source, sha256, dialect, table, maps, rate_hz, remembered)
    yield 1.0
    return recording


def examine(
    path: str | PathLike[str],
    *,
    maps: Sequence[str] = (),
    rate_hz: float | None = None,
    remembered: object = None,
) -> Examination:
    """Return the file with a proposal for each column, also where it cannot be used yet.

    Raises
    ------
    UserError
        The file cannot be read as a table at all, or a map is wrong.
    """
    source = open_source(path)
    dialect = detect(source.head, source.name, head_is_all=source.head_is_all)
    steps = _table_steps(source, dialect)
    while True:
        try:
            next(steps)
        except StopIteration as stop:
            table, sha256 = stop.value
            break
    parse_maps(maps, dialect.names)
    try:
        recording, matching = _recording(source, sha256, dialect, table, maps, rate_hz, remembered)
    except UserError as error:
        matching = _matching(dialect, table, parse_maps(maps, dialect.names), {})
        return Examination(None, dialect, matching.proposals, str(error))
    return Examination(recording, dialect, matching.proposals)


def _table_steps(source: Source, dialect: Dialect) -> Generator[float, None, tuple[Table, str]]:
    """Parse the body block by block; return the table and the file's SHA-256."""
    layout = Layout(
        dialect.delimiter,
        dialect.decimal,
        dialect.width,
        dialect.numeric,
        frozenset(record.fields for record in (*dialect.header, dialect.units_row) if record),
    )
    table = Table([Column(dialect.decimal) for _ in range(dialect.width)])
    blocks = Blocks(source)
    small = source.head_is_all
    for block, done in _blocks(blocks, RecordCutter(source.name), dialect, layout, source.name, small):
        table.add(block)
        if done:
            yield min(0.9, 0.9 * done / max(source.byte_count, 1))
    yield 0.9
    if table.rows == 0:
        if table.bad_count:
            raise UserError(f"{source.name} holds no row with the {dialect.width} fields of its header.")
        raise UserError(f"{source.name} has a header but no data rows.")
    return table, blocks.sha256


def _blocks(
    raws: Blocks, cutter: RecordCutter, dialect: Dialect, layout: Layout, name: str, small: bool
) -> Iterator[tuple[Block, int]]:
    """Yield parsed blocks in order with the bytes read so far.

    A small file is parsed here and now. A larger one is read, hashed and cut here while two threads parse;
    at most three blocks wait, so that memory stays bounded.
    """
    if small:
        for data, line, last, done in _cut(raws, cutter, dialect):
            yield parse_tolerantly(data, line, layout, name, last=last), done
        return
    from debrief.recording import fast

    with ThreadPoolExecutor(max_workers=2) as pool:
        waiting: deque[tuple[Future[list[Block]], int]] = deque()
        for data, line, last, done in _cut(raws, cutter, dialect):
            waiting.append((pool.submit(fast.parse, data, line, layout, name, last=last), done))
            if len(waiting) > 3:
                first, at = waiting.popleft()
                for block in first.result():
                    yield block, at
        while waiting:
            first, at = waiting.popleft()
            for block in first.result():
                yield block, at


def _cut(raws: Blocks, cutter: RecordCutter, dialect: Dialect) -> Iterator[tuple[bytes, int, bool, int]]:
    """Yield ``(records, first line, whether the last, bytes read)`` from the first data line on."""
    done = 0
    waiting: bytes | None = None
    for raw in chain(raws, (None,)):
        if waiting is not None:
            done += len(waiting)
            for data, line in cutter.cut(waiting, last=raw is None):
                if line < dialect.data_line:
                    data = _after_lines(data, dialect.data_line - line)
                    line = dialect.data_line
                yield data, line, raw is None, done
        waiting = raw


def _after_lines(data: bytes, count: int) -> bytes:
    at = 0
    for _ in range(count):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return b""
    return data[at:]


def _all_maps(dialect: Dialect, maps: Sequence[str], remembered: object) -> list[ColumnMap]:
    told = parse_maps(maps, dialect.names)
    if not isinstance(remembered, Mapping):
        return told
    known = remembered.get(dialect.signature, ())
    channels, columns = {m.channel for m in told}, {m.column for m in told}
    for item in parse_maps([str(text) for text in known], dialect.names, "remembered"):
        if item.channel not in channels and item.column not in columns:
            told.append(item)
    return told


def _recording(
    source: Source,
    sha256: str,
    dialect: Dialect,
    table: Table,
    maps: Sequence[str],
    rate_hz: float | None,
    remembered: object,
) -> tuple[Recording, Matching]:
    told = _all_maps(dialect, maps, remembered)
    repairs = _row_repairs(table)
    base = make_time_base(
        table, dialect.names, dialect.alternatives, dialect.units, told, rate_hz, source.name
    )
    if not np.all(base.keep):
        table.keep(base.keep)
    if table.rows < 2:
        raise UserError(f"{source.name} holds a single sample: there is nothing to debrief.")
    identity, profile, questions = from_preamble(dialect)
    matching = _matching(dialect, table, told, base.columns)
    decisions = [*dialect.decisions, *base.decisions]
    identity = _with_start(identity, base, decisions, questions)
    identity = _from_columns(identity, dialect, table, matching)
    decisions.extend(matching.decisions)
    channels, unmapped, more = _channels(dialect, table, base, matching)
    repairs.extend(base.repairs)
    repairs.extend(more)
    if not channels:
        hint = f" {matching.questions[0]}." if matching.questions else ""
        raise UserError(
            f"{source.name}: no column was recognised as a channel of an engine or a flight; name them with "
            f"--map CHANNEL=COLUMN.{hint} {columns_told(dialect.names)}"
        )
    asked = [*dialect.questions, *base.questions, *questions, *matching.questions]
    if len(asked) > MAX_QUESTIONS:
        asked = [*asked[:MAX_QUESTIONS], f"and {len(asked) - MAX_QUESTIONS} more columns that are unsure"]
    provenance = Provenance(
        path=str(source.path),
        file_name=source.name,
        sha256=sha256,
        byte_count=source.byte_count,
        rows=table.rows,
        encoding=source.encoding,
        delimiter=dialect.delimiter,
        decimal=dialect.decimal,
        time_source=base.source,
        header_rows=tuple(dialect.delimiter.join(record.fields) for record in dialect.header),
        preamble=dialect.preamble,
        decisions=(f"the text is {source.encoding}", *decisions),
        repairs=tuple(repairs),
        questions=tuple(dict.fromkeys(asked)),
        header_signature=dialect.signature,
    )
    duration = float(base.time_s[-1])
    recording = Recording(
        channels=channels,
        unmapped=unmapped,
        duration_s=duration,
        identity=identity,
        provenance=provenance,
        quality=flags(channels, duration),
        profile_name=profile,
    )
    return recording, matching


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
    if table.comments:
        out.append(f"{table.comments} comment lines in the data were left out")
    return out


def _matching(
    dialect: Dialect, table: Table, maps: Sequence[ColumnMap], time_columns: Mapping[int, str]
) -> Matching:
    lexicon = load()
    taken = dict(time_columns)
    mapped = {m.column for m in maps if m.channel != "time"}
    evidence = []
    plain: dict[int, Numbers] = {}
    for column, name in enumerate(dialect.names):
        if column in taken:
            continue
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
    matching = match_columns(evidence, dialect.names, maps, taken)
    roles = []
    for proposal in matching.proposals:
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
    if key in lexicon.utc_offset or key in lexicon.date:
        return "date"
    if key in ("", "index", "row", "line", "no", "nr", "sample", "record") or key.startswith("unnamed"):
        if table.columns[column].is_text:
            return None
        values = table.columns[column].numbers(Words()).values
        if values.size and not np.any(np.isfinite(values)):
            return "empty"
        steps = np.diff(values)
        if values.size > 1 and np.all(steps >= 0) and float(np.nanmedian(steps)) == 1.0:
            return "index"
    return None


def _with_start(identity: Identity, base: TimeBase, decisions: list[str], questions: list[str]) -> Identity:
    if base.start is None:
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


def _from_columns(identity: Identity, dialect: Dialect, table: Table, matching: Matching) -> Identity:
    """Return the identity with what constant columns of the file tell, where the preamble does not."""
    lexicon = load()
    for proposal in matching.proposals:
        if proposal.role != "identity":
            continue
        texts = {t.strip() for t in table.columns[proposal.column].texts() if t.strip()}
        if len(texts) != 1:
            continue
        text = texts.pop()
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
) -> tuple[dict[str, Channel], dict[str, Channel], list[str]]:
    """Return the matched channels, the unmapped ones, and what was left out of them."""
    channels: dict[str, Channel] = {}
    unmapped: dict[str, Channel] = {}
    repairs: list[str] = []
    shared: dict[bytes, FloatArray] = {}
    time_s = _read_only(base.time_s)
    for proposal in matching.proposals:
        if proposal.role not in ("channel", "unmapped"):
            continue
        numbers = _numbers_of(table, proposal.column)(proposal.channel)
        repairs.extend(_cell_repairs(proposal, numbers))
        mask = numbers.present
        if not numbers.finite.size:
            if proposal.channel is not None:
                repairs.append(f'"{proposal.name}" ({proposal.channel}) holds no value and is not recorded')
            continue
        if np.all(mask):
            times, values = time_s, numbers.values
        else:
            key = np.packbits(mask).tobytes()
            times = shared.get(key) if key in shared else shared.setdefault(key, _read_only(time_s[mask]))  # type: ignore[assignment]
            values = numbers.finite
        if proposal.channel is not None and proposal.unit is not None:
            to = kept_unit(proposal.unit, proposal.channel)
            assert to is not None
            values = _read_only(scale(values, proposal.unit, to))
            unit = to.name
        else:
            unit = proposal.unit.name if proposal.unit else ""
        name = proposal.channel or _free_name(proposal, unmapped)
        channel = Channel(
            name=name,
            unit=unit,
            time_s=times,
            values=values,
            column=proposal.name,
            column_unit=proposal.unit.name if proposal.unit else "",
            map_source=proposal.source,
            confidence=proposal.confidence,
            resolution=resolution(values),
        )
        (channels if proposal.channel is not None else unmapped)[name] = channel
    return channels, unmapped, repairs


def _read_only(values: FloatArray) -> FloatArray:
    """Return an array of our own as read-only, so that a channel takes it without a copy."""
    values.setflags(write=False)
    return values


def _free_name(proposal: Proposal, unmapped: Mapping[str, Channel]) -> str:
    name = proposal.name or f"Column {proposal.column + 1}"
    return name if name not in unmapped else f"{name} (column {proposal.column + 1})"


def _cell_repairs(proposal: Proposal, numbers: Numbers) -> list[str]:
    what = f'"{proposal.name}"' + (f" ({proposal.channel})" if proposal.channel else "")
    out = []
    if numbers.infinite:
        out.append(f"{what}: {numbers.infinite} cells held an infinity, which is no value, and were left out")
    if numbers.rejected:
        count = sum(numbers.rejected.values())
        kinds = ", ".join(f'"{text[:24]}"' for text, _ in numbers.rejected.most_common(MAX_TEXT_KINDS))
        out.append(f"{what}: {count} cells held text that is no number ({kinds}) and were left out")
    return out
