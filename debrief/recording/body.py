"""Reading a file block by block into a table."""

from __future__ import annotations

from collections import deque
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain
from os import PathLike

from debrief.errors import UserError
from debrief.recording.assembly import declared_missing
from debrief.recording.csv import csv_arrow
from debrief.recording.csv.csv_tolerant import Layout, RecordCutter, parse_tolerantly
from debrief.recording.csv.dialect import Dialect, detect
from debrief.recording.csv.source import Blocks, Source, smaller
from debrief.recording.csv.table import Block, Column, ReadTable, Table

MEMORY_FACTOR = 10
MEMORY_FREE_BYTES = 70 * 1024**2
"""Reading takes at most ten times the file and 200 MB, of which Python and its libraries take 65 before the first byte and
the blocks that wait some more."""
HONEST_RATIO = 10
"""A packed file counts as what it unpacks to, up to so many times its size: recordings unpack to 3 to 10 times."""
CELLS_SHARE = 1.3
ROW_BYTES = 130
"""What the recording takes in the end, measured: 1.3 times its cells, and 130 bytes a row for time and quality."""
MAX_AT_ONCE_CELLS = 3_000_000
MAX_AT_ONCE_TEXTS = 300_000
"""Very short cells take forty times their bytes while all of them are parsed at once, and so do texts."""


def table_steps(path: str | PathLike[str]) -> Generator[float, None, ReadTable]:
    """Read a file into a table, yielding the progress from 0 to 0.9; it can be given up at every yield.

    Raises
    ------
    UserError
        It cannot be read as a table at all, or it changed while it was read.
    """
    with Blocks(path) as blocks:
        yield 0.0
        source = blocks.source
        dialect = detect(source.head, source.name, head_is_all=source.head_is_all)
        table = yield from _body_steps(blocks, dialect)
    return ReadTable(source, dialect, table, blocks.sha256)


def _body_steps(blocks: Blocks, dialect: Dialect) -> Generator[float, None, Table]:
    """Parse the body block by block."""
    source = blocks.source
    layout = Layout(
        dialect.delimiter,
        dialect.decimal,
        dialect.width,
        dialect.numeric,
        frozenset(record.fields for record in (*dialect.header, dialect.units_row) if record),
        source.head_is_all or csv_arrow.has_marks(source.head, dialect.delimiter),
    )
    missing = declared_missing(dialect)
    table = Table([Column(dialect.decimal, missing) for _ in range(dialect.width)])
    for block, done in _blocks(blocks, source, dialect, layout):
        table.add(block)
        _check_memory(table, source, done)
        if table.rows == block.rows and 0 < done < source.byte_count:
            # The first block tells how many rows to expect; a packed file tells nothing and grows as it goes.
            table.reserve(int(1.02 * source.byte_count / done * block.rows) + 16 if not source.packing else 0)
        if done:
            yield min(0.9, 0.9 * (blocks.position if source.packing else done) / source.byte_count)
    csv_arrow.give_back()
    yield 0.9
    if table.rows == 0:
        if table.bad_count:
            raise UserError(f"{source.name} holds no row with the {dialect.width} fields of its header.")
        raise UserError(f"{source.name} has a header but no data rows.")
    return table


def _check_memory(table: Table, source: Source, unpacked: int) -> None:
    """Refuse a file that would take more memory than is promised, which no ordinary recording does."""
    need = CELLS_SHARE * table.byte_count + ROW_BYTES * table.rows
    size = min(unpacked, HONEST_RATIO * source.byte_count) if source.packing else source.byte_count
    if need <= MEMORY_FACTOR * size + MEMORY_FREE_BYTES:
        return
    if source.packing:
        raise UserError(
            f"{source.name} unpacks to so much more than its size: unpack it and read the CSV in it."
        )
    raise UserError(
        f"{source.name} would take more than ten times its size of memory, since its cells are very short or its texts "
        "all differ: divide it, or leave out columns."
    )


def _blocks(raws: Blocks, source: Source, dialect: Dialect, layout: Layout) -> Iterator[tuple[Block, int]]:
    """Yield parsed blocks in order with the bytes read so far.

    A small file is parsed here and now, a middling one at once if nothing in it is odd. A larger one is read,
    hashed and cut here while two threads parse; at most three blocks wait, so that memory stays bounded.
    """
    name = source.name
    if source.head_is_all:
        for piece in _cut(raws, source, dialect):
            yield parse_tolerantly(piece.data, piece.line, layout, name, last=piece.last), piece.done
        return
    if raws.is_at_once:
        whole = b"".join(raws)  # one block, and what an encoding holds back to its end
        try:
            blocks = _at_once(whole, source, dialect, layout)
        except csv_arrow.Unfit:
            pass
        else:
            for block in blocks:
                yield block, len(whole)
            return
        pieces = _cut(smaller(whole), source, dialect)
    else:
        pieces = _cut(raws, source, dialect)
    pool = ThreadPoolExecutor(max_workers=2)
    try:
        waiting: deque[tuple[Future[list[Block]], int]] = deque()
        for piece in pieces:
            work = pool.submit(
                csv_arrow.parse,
                piece.data,
                piece.line,
                layout,
                name,
                last=piece.last,
                line_ends=piece.line_ends,
            )
            waiting.append((work, piece.done))
            if len(waiting) > 3:
                first, at = waiting.popleft()
                for block in first.result():
                    yield block, at
        while waiting:
            first, at = waiting.popleft()
            for block in first.result():
                yield block, at
    finally:
        pool.shutdown(cancel_futures=True)  # where the reading is given up, what waits is not parsed any more


@dataclass(frozen=True)
class _Piece:
    """Whole records: their bytes, the line of the first, the line feeds in them, and where they stand."""

    data: bytes
    line: int
    line_ends: int
    last: bool
    done: int
    """Bytes of the file read up to their end."""


def _cut(raws: Iterable[bytes], source: Source, dialect: Dialect) -> Iterator[_Piece]:
    """Yield the file's records from the first data line on."""
    cutter = RecordCutter(source.name, dialect.delimiter)
    done = 0
    waiting: bytes | None = None
    for raw in chain(raws, (None,)):
        if waiting is not None:
            done += len(waiting)
            for data, line, line_ends in cutter.cut(waiting, last=raw is None):
                if line < dialect.data_line:
                    skipped = dialect.data_line - line
                    data, line = data[_after_lines(data, skipped) :], dialect.data_line
                    line_ends = max(line_ends - skipped, 0)
                yield _Piece(data, line, line_ends, raw is None, done)
        waiting = raw


def _at_once(whole: bytes, source: Source, dialect: Dialect, layout: Layout) -> list[Block]:
    """Return the blocks of a file that is at hand; raise `csv_arrow.Unfit` where something in it is odd."""
    share = len(whole) / len(source.head)
    texts = share * source.head.count(b"\n") * layout.numeric.count(False)
    if share * source.head.count(layout.delimiter.encode()) > MAX_AT_ONCE_CELLS or texts > MAX_AT_ONCE_TEXTS:
        raise csv_arrow.Unfit
    for data, line, line_ends in RecordCutter(source.name, dialect.delimiter).cut(whole, last=True):
        skipped = dialect.data_line - line
        begin = _after_lines(data, skipped)
        return csv_arrow.parse_at_once(
            data, begin, dialect.data_line, line_ends - skipped, layout, source.name
        )
    raise csv_arrow.Unfit


def _after_lines(data: bytes, count: int) -> int:
    """Return where the line after so many begins; the end where there is none."""
    at = 0
    for _ in range(count):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return len(data)
    return at
