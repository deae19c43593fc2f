"""The body of a file as columns: blocks of whole records, parsed quickly or tolerantly with equal results."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from debrief.errors import UserError
from debrief.recording.cells import is_plain_number, read_cell
from debrief.recording.dialect import END_MARK, MAX_LINES_IN_FIELD, csv_error, never_closed
from debrief.recording.model import FloatArray

SMALL_BYTES = 512 * 1024
"""Below this the tolerant parser is as quick as loading the fast one."""
MAX_LISTED_LINES = 10


@dataclass
class TextPiece:
    """Cells of one column in one block as text."""

    texts: Sequence[str]

    def __len__(self) -> int:
        return len(self.texts)


Piece = FloatArray | TextPiece


@dataclass
class Block:
    """One parsed block: a piece per column, the number of rows, and what was kept out."""

    pieces: list[Piece]
    rows: int
    bad_lines: list[int] = field(default_factory=list)
    cut_last: bool = False
    headers: int = 0
    comments: int = 0
    line_of_row: NDArray[np.int64] | None = None


@dataclass(frozen=True)
class Numbers:
    """A column as numbers, with what its cells were.

    Attributes
    ----------
    values : (rows,) float array
        NaN where there is no number.
    infinite : int
        Cells with an infinity; they are not values.
    rejected : Counter of str
        Cells that are neither number nor missing mark nor known word, with how often.
    suffixes : Counter of str
        Units found behind the numbers.
    from_words : int
        Cells whose state word became a number.
    """

    values: FloatArray
    infinite: int
    rejected: Counter[str]
    suffixes: Counter[str]
    from_words: int = 0


class Column:
    """One column of the file, gathered block by block."""

    def __init__(self, decimal: str) -> None:
        self._decimal = decimal
        self._pieces: list[Piece] = []

    def add(self, piece: Piece) -> None:
        """Append the next block's cells."""
        self._pieces.append(piece)

    @property
    def is_text(self) -> bool:
        """Whether any cell had to be kept as text."""
        return any(isinstance(piece, TextPiece) for piece in self._pieces)

    def texts(self) -> list[str]:
        """Return every cell as text; numbers that were parsed at once are printed back."""
        out: list[str] = []
        for piece in self._pieces:
            if isinstance(piece, TextPiece):
                out.extend(piece.texts)
            else:
                out.extend("" if value != value else repr(value) for value in piece.tolist())
        return out

    def keep(self, mask: NDArray[np.bool_]) -> None:
        """Keep only the rows where the mask holds."""
        at = 0
        for index, piece in enumerate(self._pieces):
            part = mask[at : at + len(piece)]
            at += len(piece)
            if isinstance(piece, TextPiece):
                self._pieces[index] = TextPiece(
                    [t for t, keep in zip(piece.texts, part, strict=True) if keep]
                )
            else:
                self._pieces[index] = piece[part]

    def same_as_before(self, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return for each of these row numbers whether the cell equals the one in the row before."""
        if not self.is_text:
            values = self._joined()
            one, other = values[rows], values[rows - 1]
            return np.asarray((one == other) | (np.isnan(one) & np.isnan(other)))
        texts = self.texts()
        return np.array([texts[row] == texts[row - 1] for row in rows.tolist()], dtype=bool)

    def _joined(self) -> FloatArray:
        if len(self._pieces) > 1:
            # One array at a time, so that a large file is never held twice as a whole.
            self._pieces = [np.concatenate(self._pieces)]  # type: ignore[arg-type]
        piece = self._pieces[0] if self._pieces else np.empty(0)
        assert isinstance(piece, np.ndarray)
        return piece

    def numbers(
        self, on_words: frozenset[str], off_words: frozenset[str], two_words: frozenset[str]
    ) -> Numbers:
        """Return the column as numbers; words of a state count only where they are most of the cells."""
        if not self.is_text:
            values = self._joined()
            infinite = np.isinf(values)
            count = int(np.count_nonzero(infinite))
            if count:
                values = np.where(infinite, np.nan, values)
            return Numbers(values, count, Counter(), Counter())
        parts: list[FloatArray] = []
        words: Counter[str] = Counter()
        suffixes: Counter[str] = Counter()
        infinite_count = numbers = 0
        for piece in self._pieces:
            if not isinstance(piece, TextPiece):
                infinite = np.isinf(piece)
                infinite_count += int(np.count_nonzero(infinite))
                part = np.where(infinite, np.nan, piece)
                numbers += int(np.count_nonzero(~np.isnan(part)))
                parts.append(part)
                continue
            counts = Counter(piece.texts)
            table: dict[str, float] = {}
            for text, count in counts.items():
                cell = read_cell(text, self._decimal)
                table[text] = cell.value
                if cell.kind == "number":
                    numbers += count
                    if cell.suffix:
                        suffixes[cell.suffix] += count
                elif cell.kind == "infinite":
                    infinite_count += count
                elif cell.kind == "word":
                    words[text] += count
            parts.append(np.array([table[text] for text in piece.texts], dtype=np.float64))
        values = np.concatenate(parts) if parts else np.empty(0)
        state: dict[str, float] = {}
        for word in words:
            folded = " ".join(word.split()).casefold()
            for known, value in ((two_words, 2.0), (on_words, 1.0), (off_words, 0.0)):
                if folded in known:
                    state[word] = value
                    break
        stated = sum(words[word] for word in state)
        if stated and stated >= numbers:
            at = 0
            for piece in self._pieces:
                if isinstance(piece, TextPiece):
                    for index, text in enumerate(piece.texts):
                        if text in state:
                            values[at + index] = state[text]
                at += len(piece)
            rejected = Counter({word: count for word, count in words.items() if word not in state})
            return Numbers(values, infinite_count, rejected, suffixes, stated)
        return Numbers(values, infinite_count, words, suffixes)


@dataclass
class Table:
    """All rows of the file by column, and what was kept out on the way."""

    columns: list[Column]
    rows: int = 0
    bad_lines: list[int] = field(default_factory=list)
    bad_count: int = 0
    cut_last: bool = False
    headers: int = 0
    comments: int = 0

    def add(self, block: Block) -> None:
        """Append a block."""
        for column, piece in zip(self.columns, block.pieces, strict=True):
            column.add(piece)
        self.rows += block.rows
        self.bad_count += len(block.bad_lines)
        self.bad_lines.extend(block.bad_lines[: max(0, MAX_LISTED_LINES - len(self.bad_lines))])
        self.cut_last = block.cut_last
        self.headers += block.headers
        self.comments += block.comments

    def keep(self, mask: NDArray[np.bool_]) -> None:
        """Keep only the rows where the mask holds."""
        for column in self.columns:
            column.keep(mask)
        self.rows = int(np.count_nonzero(mask))


@dataclass(frozen=True)
class Layout:
    """What a block parser must know of the dialect."""

    delimiter: str
    decimal: str
    width: int
    numeric: tuple[bool, ...]
    header_rows: frozenset[tuple[str, ...]]


class RecordCutter:
    """Cuts raw blocks at ends of records, so that each can be parsed by itself.

    A line break inside quotation marks does not end a record. Marks are counted: after an even number the
    text is outside. Where a mark stands that neither opens nor closes a field, the count would mislead, and
    such a line is cut as if its marks were plain characters.
    """

    def __init__(self, delimiter: str, name: str) -> None:
        self._delimiter = delimiter.encode()
        self._name = name
        self._left = b""
        self._line = 1

    MAX_OPEN_BYTES = 1024 * 1024

    def cut(self, raw: bytes, *, last: bool) -> Iterator[tuple[bytes, int]]:
        """Yield ``(records, first line)``; what is left waits for the next raw block."""
        if b"\r" in raw or self._left.endswith(b"\r"):
            data = self._left + raw
            held = b""
            if not last and data.endswith(b"\r"):
                data, held = data[:-1], b"\r"
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        else:
            data, held = self._left + raw, b""
        if last:
            if data:
                yield self._checked(data)
            return
        end = self._end(data)
        if end <= 0:
            if len(data) > 4 * self.MAX_OPEN_BYTES and b'"' in data:
                raise self._never_closed(data)
            self._left = data + held
            return
        yield self._checked(data[:end])
        self._left = data[end:] + held
        if len(self._left) > self.MAX_OPEN_BYTES and b'"' in self._left and b"\n" in self._left:
            raise self._never_closed(self._left)

    def _checked(self, data: bytes) -> tuple[bytes, int]:
        first = self._line
        self._line += data.count(b"\n")
        return data, first

    def _end(self, data: bytes) -> int:
        if b'"' not in data:
            return data.rfind(b"\n") + 1
        array = np.frombuffer(data, dtype=np.uint8)
        outside = (np.cumsum(array == 34) & 1) == 0
        ends = np.flatnonzero((array == 10) & outside)
        return int(ends[-1]) + 1 if ends.size else 0

    def _never_closed(self, data: bytes) -> UserError:
        return never_closed(self._name, self._line + data[: max(data.find(b'"'), 0)].count(b"\n"))


def parse_tolerantly(data: bytes, first_line: int, layout: Layout, name: str, *, last: bool) -> Block:
    """Parse whole records with the csv module; whatever the cells hold, nothing stops it.

    Raises
    ------
    UserError
        A quotation mark that is never closed, or a field beyond the csv module's limit.
    """
    text = data.decode("utf-8", "replace")
    width = layout.width
    rows: list[list[str]] = []
    bad: list[int] = []
    headers = comments = 0
    reader = csv.reader(_lines(text), delimiter=layout.delimiter)
    before = 0
    ended = False
    line = first_line
    try:
        for fields in reader:
            line, after = first_line + before, first_line + reader.line_num - 1
            before = reader.line_num
            if len(fields) == 1 and fields[0] == END_MARK:
                ended = True
                break
            if after - line > MAX_LINES_IN_FIELD:
                raise never_closed(name, line)
            if len(fields) == width + 1 and not fields[-1].strip():
                fields = fields[:width]
            if len(fields) == width and not fields[-1].endswith(END_MARK):
                if layout.header_rows and tuple(fields) in layout.header_rows:
                    headers += 1
                elif width > 1 or fields[0].strip():
                    rows.append(fields)
            elif not fields or (len(fields) == 1 and not fields[0].strip()):
                continue
            elif fields[0].lstrip().startswith("#"):
                comments += 1
            else:
                bad.extend(range(line, after + 1))
    except csv.Error as error:
        raise csv_error(name, first_line + before, error) from None
    cut_last = False
    if last and not text.endswith("\n"):
        final = first_line + text.count("\n")
        if not ended:
            if line < final:
                raise never_closed(name, line)
            bad = [*(number for number in bad if number < final), final]
        cut_last = bool(bad) and bad[-1] == final
    elif not ended:
        raise never_closed(name, line)
    pieces = [_piece([row[i] for row in rows], layout, i) for i in range(width)]
    return Block(pieces, len(rows), bad, cut_last, headers, comments)


def _lines(text: str) -> Iterator[str]:
    """Yield the lines, then a mark that stands alone unless an open quotation mark swallows it."""
    yield from io.StringIO(text, newline="\n")
    yield END_MARK


def _piece(cells: list[str], layout: Layout, column: int) -> Piece:
    if layout.numeric[column]:
        values = _floats(cells, layout.decimal)
        if values is not None:
            return values
    return TextPiece(cells)


def _floats(cells: list[str], decimal: str) -> FloatArray | None:
    """Return the cells as floats where each is a bare number or missing, else None."""
    out = np.empty(len(cells))
    for index, cell in enumerate(cells):
        if decimal == "." and "_" not in cell:
            try:
                out[index] = float(cell)
                continue
            except ValueError:
                pass
        if is_plain_number(cell, decimal):
            out[index] = float(cell.strip().replace(",", "."))
        else:
            found = read_cell(cell, decimal)
            if found.kind == "infinite":
                out[index] = np.inf
            elif found.kind == "missing":
                out[index] = np.nan
            else:
                return None
    return out
