"""Reading the body of a file block by block into a table."""

from __future__ import annotations

from collections import deque
from collections.abc import Generator, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import chain

from debrief.errors import UserError
from debrief.recording import fast
from debrief.recording.assembly import declared_missing
from debrief.recording.dialect import Dialect
from debrief.recording.records import Layout, RecordCutter, parse_tolerantly
from debrief.recording.source import Blocks, Source
from debrief.recording.table import Block, Column, Table


def table_steps(source: Source, dialect: Dialect) -> Generator[float, None, tuple[Table, str]]:
    """Parse the body block by block; return the table and the file's SHA-256."""
    layout = Layout(
        dialect.delimiter,
        dialect.decimal,
        dialect.width,
        dialect.numeric,
        frozenset(record.fields for record in (*dialect.header, dialect.units_row) if record),
        source.head_is_all or fast.has_marks(source.head, dialect.delimiter),
    )
    missing = declared_missing(dialect)
    table = Table([Column(dialect.decimal, missing) for _ in range(dialect.width)])
    blocks = Blocks(source)
    small = source.head_is_all
    for block, done in _blocks(
        blocks, RecordCutter(source.name, dialect.delimiter), dialect, layout, source.name, small
    ):
        table.add(block)
        if table.rows == block.rows and done:
            # The first block tells how many rows to expect; a packed file tells nothing and grows as it goes.
            table.reserve(int(1.02 * source.byte_count / done * block.rows) + 16 if not source.packing else 0)
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
    pool = ThreadPoolExecutor(max_workers=2)
    try:
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
    finally:
        pool.shutdown(cancel_futures=True)  # where the reading is given up, what waits is not parsed any more


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
