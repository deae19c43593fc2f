"""The body of a file as columns: blocks of whole records, parsed quickly or tolerantly with equal results."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from debrief.recording.csv.cells import read_cell
from debrief.recording.csv.dialect import Dialect
from debrief.recording.csv.line_index import MAX_LISTED_LINES, Breaks, LineBook
from debrief.recording.csv.source import Source
from debrief.recording.lexicon import Words
from debrief.recording.model import FloatArray

MAX_READINGS = 2
"""So many readings of a column of texts are kept: as a channel, and as none."""
WORD_BYTES = 64
"""What Python takes for a text beside its characters, and for its place in a list."""
NO_CHANNEL_HOLDS = 1e7
"""A matched channel cannot be this large in any unit; such a value is damage, not a measurement."""


@dataclass(frozen=True, eq=False)
class TextPiece:
    """Cells of one column in one block as text: the distinct words, and which one each cell is."""

    words: list[str]
    codes: NDArray[np.int32]

    @classmethod
    def of(cls, cells: Sequence[str]) -> TextPiece:
        """Return the piece that holds these cells."""
        numbers: dict[str, int] = {}
        codes = np.fromiter((numbers.setdefault(cell, len(numbers)) for cell in cells), np.int32, len(cells))
        return cls(list(numbers), codes)

    def __len__(self) -> int:
        return len(self.codes)

    @property
    def texts(self) -> list[str]:
        """Every cell's text."""
        words = self.words
        return [words[code] for code in self.codes.tolist()]

    @property
    def byte_count(self) -> int:
        """How much memory the cells take."""
        return 4 * len(self.codes) + sum(map(len, self.words)) + WORD_BYTES * len(self.words)


Piece = FloatArray | TextPiece


@dataclass
class Block:
    """One parsed block: a piece per column, the number of rows and their lines, and what was kept out."""

    pieces: list[Piece]
    rows: int
    breaks: Breaks
    bad_lines: list[int] = field(default_factory=list)
    cut_last: bool = False
    headers: int = 0
    comments: int = 0
    recoded: int = 0


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
    declared : int
        Cells with a number that the file declares to mean missing.
    """

    values: FloatArray
    infinite: int
    rejected: Counter[str]
    suffixes: Counter[str]
    declared: int = 0

    @cached_property
    def is_whole(self) -> bool:
        """Whether every row has a number."""
        return bool(self.values.size) and isfinite(self.values.min()) and isfinite(self.values.max())

    @cached_property
    def present(self) -> NDArray[np.bool_]:
        """Where there is a number."""
        return np.ones(self.values.size, dtype=bool) if self.is_whole else np.isfinite(self.values)

    @cached_property
    def finite(self) -> FloatArray:
        """The numbers alone."""
        return self.values if self.is_whole else self.values[self.present]

    @cached_property
    def largest(self) -> float:
        """The largest magnitude of all; 0 without any number."""
        values = self.finite
        return max(abs(float(values.min())), abs(float(values.max()))) if values.size else 0.0

    @cached_property
    def believable(self) -> FloatArray:
        """The numbers that some channel can hold; for evidence."""
        values = self.finite
        return values if self.largest < NO_CHANNEL_HOLDS else values[np.abs(values) < NO_CHANNEL_HOLDS]


class Column:
    """One column of the file, gathered block by block.

    Numbers go straight into one array that grows, so that a large file is never held twice.
    """

    def __init__(self, decimal: str, missing: frozenset[float] = frozenset()) -> None:
        self._decimal = decimal
        self._missing = sorted(missing)
        self._store = np.empty(0)
        self._filled = 0
        self._pieces: list[Piece] = []
        self._plain: Numbers | None = None
        self._read: dict[Words, Numbers] = {}

    def move_to(self, room: FloatArray) -> None:
        """Go on in this room, which is larger than what is filled."""
        room[: self._filled] = self._store[: self._filled]
        self._store = room

    def add(self, piece: Piece) -> None:
        """Append the next block's cells."""
        if isinstance(piece, TextPiece) or self._pieces:
            self._settle()
            self._pieces.append(piece)
            return
        if not self._filled:
            self._store, self._filled = piece, len(piece)  # moved to where there is room when more follows
            return
        stop = self._filled + len(piece)
        if stop > self._store.size:
            self.move_to(np.empty(max(stop, 2 * self._store.size)))
        self._store[self._filled : stop] = piece
        self._filled = stop

    def _settle(self) -> None:
        """Make what is in the store the first piece."""
        if self._filled:
            self._pieces.append(self._store[: self._filled])
            self._store, self._filled = np.empty(0), 0

    @property
    def is_text(self) -> bool:
        """Whether any cell had to be kept as text."""
        return any(isinstance(piece, TextPiece) for piece in self._pieces)

    def texts(self) -> list[str]:
        """Return every cell as text; numbers that were parsed at once are printed back."""
        self._settle()
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
        self._settle()
        self._plain = None
        self._read.clear()
        for index, piece in enumerate(self._pieces):
            part = mask[at : at + len(piece)]
            at += len(piece)
            if isinstance(piece, TextPiece):
                self._pieces[index] = TextPiece(piece.words, piece.codes[part])
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
        self._settle()
        if len(self._pieces) != 1:
            arrays = [piece for piece in self._pieces if isinstance(piece, np.ndarray)]
            self._pieces = [np.concatenate(arrays) if arrays else np.empty(0)]
        piece = self._pieces[0]
        assert isinstance(piece, np.ndarray)
        piece.setflags(write=False)
        return piece

    def numbers(self, words: Words) -> Numbers:
        """Return the column as numbers.

        Parameters
        ----------
        words : Words
            What stands for a state; such words count only where they are at least as many as the numbers.
        """
        if not self.is_text:
            if self._plain is None:
                values, count = _without_infinities(self._joined())
                values, declared = self._without_missing(values)
                self._plain = Numbers(values, count, Counter(), Counter(), declared=declared)
            return self._plain
        if words not in self._read:
            if len(self._read) >= MAX_READINGS:
                self._read.clear()
            self._read[words] = self._numbers_of_texts(words)
        return self._read[words]

    def _numbers_of_texts(self, words: Words) -> Numbers:
        self._settle()
        tally = _Tally(words)
        for piece in self._pieces:
            if isinstance(piece, TextPiece):
                counts = np.bincount(piece.codes, minlength=len(piece.words)).tolist()
                for text, count in zip(piece.words, counts, strict=True):
                    if count:
                        tally.add(text, count, self._decimal)
            else:
                infinite = np.isinf(piece)
                tally.infinite += int(np.count_nonzero(infinite))
                tally.numbers += int(np.count_nonzero(np.isfinite(piece)))
        table = tally.table()
        parts: list[FloatArray] = []
        for piece in self._pieces:
            if isinstance(piece, TextPiece):
                lookup = np.array([table.get(text, np.nan) for text in piece.words], dtype=np.float64)
                parts.append(lookup[piece.codes] if lookup.size else np.empty(0))
            else:
                parts.append(np.where(np.isinf(piece), np.nan, piece))
        values = np.concatenate(parts) if parts else np.empty(0)
        values, declared = self._without_missing(values)
        values.setflags(write=False)
        return Numbers(values, tally.infinite, tally.rejected(), tally.suffixes, declared)

    def _without_missing(self, values: FloatArray) -> tuple[FloatArray, int]:
        """Return the values without the numbers that the file declares to mean missing, and how many."""
        if not self._missing:
            return values, 0
        hit = np.isin(values, self._missing)
        out = np.where(hit, np.nan, values)
        out.setflags(write=False)
        return out, int(np.count_nonzero(hit))


def _without_infinities(values: FloatArray) -> tuple[FloatArray, int]:
    """Return the values with NaN for each infinity, and how many there were."""
    if values.size and isfinite(values.min()) and isfinite(values.max()):
        return values, 0  # an infinity or NaN would show in one of them
    infinite = np.isinf(values)
    count = int(np.count_nonzero(infinite))
    if count:
        values = np.where(infinite, np.nan, values)
        values.setflags(write=False)
    return values, count


class _Tally:
    """Counts what the cells of a text column are, word by word."""

    def __init__(self, words: Words) -> None:
        self._words = words
        self._values: dict[str, float] = {}
        self._others: Counter[str] = Counter()
        self.suffixes: Counter[str] = Counter()
        self.infinite = self.numbers = self.stated = 0
        self._states: dict[str, float] = {}

    def add(self, text: str, count: int, decimal: str) -> None:
        cell = read_cell(text, decimal)
        if cell.kind == "number":
            self._values[text] = cell.value
            self.numbers += count
            if cell.suffix:
                self.suffixes[cell.suffix] += count
        elif cell.kind == "infinite":
            self.infinite += count
        elif cell.kind == "word":
            self._others[text] += count
            state = self._words.state(text)
            if state is not None:
                self._states[text] = state
                self.stated += count

    def table(self) -> dict[str, float]:
        """Return the value of each text that has one."""
        if self.stated < max(self.numbers, 1):
            self._states, self.stated = {}, 0
        return self._values | self._states

    def rejected(self) -> Counter[str]:
        """Return the texts that have none, with how often they stand."""
        return Counter({text: count for text, count in self._others.items() if text not in self._states})


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
    recoded: int = 0
    byte_count: int = 0
    """How much memory its cells take."""
    book: LineBook = field(default_factory=LineBook)
    """Knows on which line each row stands."""

    def add(self, block: Block) -> None:
        """Append a block."""
        self.book.add(self.rows, block.breaks)
        for column, piece in zip(self.columns, block.pieces, strict=True):
            column.add(piece)
            self.byte_count += piece.byte_count if isinstance(piece, TextPiece) else piece.nbytes
        self.rows += block.rows
        self.bad_count += len(block.bad_lines)
        self.bad_lines.extend(block.bad_lines[: max(0, MAX_LISTED_LINES - len(self.bad_lines))])
        self.cut_last = block.cut_last
        self.headers += block.headers
        self.comments += block.comments
        self.recoded += block.recoded

    def reserve(self, rows: int) -> None:
        """Make room for about so many rows in every column of numbers.

        One large array for all of them: the system hands it out in large pages, where an array of each would
        be had in small ones, which takes a tenth of the time of reading.
        """
        columns = [column for column in self.columns if not column.is_text]
        if rows <= self.rows or not columns:
            return
        for column, room in zip(columns, np.empty((len(columns), rows)), strict=True):
            column.move_to(room)

    def keep(self, mask: NDArray[np.bool_]) -> None:
        """Keep only the rows where the mask holds."""
        for column in self.columns:
            column.keep(mask)
        self.book.keep(mask)
        self.rows = int(np.count_nonzero(mask))


@dataclass(frozen=True, eq=False)
class ReadTable:
    """A file parsed into columns, before anything is made of them; all of it from the bytes that `sha256` is of."""

    source: Source
    dialect: Dialect
    table: Table
    sha256: str
