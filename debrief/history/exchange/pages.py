"""Rows out of the pages of an SQLite file, without the database: nothing here trusts what stands in them.

The layout is that of SQLite's published file format (sqlite.org/fileformat2.html). The database stops at the first
page that does not fit; here each page is read for itself, so that one broken page costs the rows on it and no more.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass

_MAGIC = b"SQLite format 3\x00"
_USUAL_PAGE_SIZE = 4096
_INTERIOR, _LEAF = 0x05, 0x0D
_LONGEST_ROW = 1 << 30
_WIDTHS = (0, 1, 2, 3, 4, 6, 8, 8, 0, 0)
"""Bytes of a value by its serial type, up to 9."""

Value = int | float | str | bytes | None


class _Broken(Exception):
    """What stands here cannot be what the format says."""


@dataclass(frozen=True)
class Row:
    """One row: its number, its values up to the first that cannot be read, and whether that is all of them."""

    number: int
    values: tuple[Value, ...]
    whole: bool


class Pages:
    """The pages of a database file, with the committed ones of its write-ahead log in their place.

    Parameters
    ----------
    data : bytes-like
        The file; a memory map will do.
    log : bytes
        The write-ahead log beside it; empty without one.
    """

    def __init__(self, data: bytes | memoryview, log: bytes = b"") -> None:
        self._data = data
        size = int.from_bytes(data[16:18], "big") if bytes(data[:16]) == _MAGIC else 0
        size = 65536 if size == 1 else size
        known = 512 <= size <= 65536 and size & (size - 1) == 0
        self.page_size = size if known else _USUAL_PAGE_SIZE
        self._usable = self.page_size - (data[20] if known and data[20] <= 32 else 0)
        self._newer = dict(_committed(log, self.page_size))
        self.count = max(len(data) // self.page_size, max(self._newer, default=0))

    def page(self, number: int) -> bytes:
        """Return one page, numbered from 1; empty where there is none."""
        if number in self._newer:
            return self._newer[number]
        if not 1 <= number <= self.count:
            return b""
        page = bytes(self._data[(number - 1) * self.page_size : number * self.page_size])
        return page if len(page) == self.page_size else b""

    def table(self, root: int) -> Walk:
        """Return the leaves of the table whose tree begins at a page."""
        return Walk(self, root)

    def free(self) -> set[int]:
        """Return the pages that the file says are free: what they hold was deleted."""
        out: set[int] = set()
        first = self.page(1)
        trunk = int.from_bytes(first[32:36], "big") if first[:16] == _MAGIC else 0
        while trunk not in out and (page := self.page(trunk)):
            out.add(trunk)
            count = min(int.from_bytes(page[4:8], "big"), self.page_size // 4 - 2)
            out.update(int.from_bytes(page[8 + 4 * i : 12 + 4 * i], "big") for i in range(count))
            trunk = int.from_bytes(page[:4], "big")
        return out

    def is_leaf(self, number: int) -> bool:
        """Whether a page says that it holds rows of a table."""
        page = self.page(number)
        return bool(page) and page[100 if number == 1 else 0] == _LEAF

    def rows(self, number: int) -> Iterator[Row]:
        """Give the rows of a leaf page, as far as each can be read."""
        page = self.page(number)
        if not page:
            return
        for at in _cells(page, 100 if number == 1 else 0, 8):
            try:
                length, at = _varint(page, at)
                rowid, at = _varint(page, at)
                payload = self._payload(page, at, length)
            except _Broken:
                continue
            values, whole = _values(payload, length)
            yield Row(rowid, values, whole)

    def _payload(self, page: bytes, at: int, length: int) -> bytes:
        """Return what a cell holds, with the pages that it goes on in; shorter where these are broken."""
        if not 0 < length <= _LONGEST_ROW:
            raise _Broken
        usable = self._usable
        if length <= usable - 35:
            return page[at : at + length]
        least = (usable - 12) * 32 // 255 - 23
        local = least + (length - least) % (usable - 4)
        if local > usable - 35:
            local = least
        parts = [page[at : at + local]]
        following = int.from_bytes(page[at + local : at + local + 4], "big")
        rest, seen = length - local, set[int]()
        while rest > 0:
            more = self.page(following)
            if not more or following in seen:
                break
            seen.add(following)
            parts.append(more[4 : 4 + min(rest, usable - 4)])
            rest -= len(parts[-1])
            following = int.from_bytes(more[:4], "big")
        return b"".join(parts)


class Walk:
    """The leaves of one table's tree.

    Attributes
    ----------
    seen : set of int
        Every page of the tree that was met.
    broken : bool
        Whether a part of the tree could not be read.
    """

    def __init__(self, pages: Pages, root: int) -> None:
        self.seen: set[int] = set()
        self.broken = False
        self.leaves: list[int] = []
        self._pages = pages
        todo = [root]
        while todo:
            number = todo.pop()
            page = pages.page(number)
            if not page or number in self.seen:
                self.broken = True
                continue
            start = 100 if number == 1 else 0
            if page[start] == _LEAF:
                self.leaves.append(number)
            elif page[start] == _INTERIOR:
                children = [page[at : at + 4] for at in _cells(page, start, 12)]
                children.append(page[start + 8 : start + 12])
                todo += [int.from_bytes(child, "big") for child in reversed(children)]
            else:
                self.broken = True
                continue
            self.seen.add(number)

    def rows(self) -> Iterator[Row]:
        """Give the rows in order."""
        for number in self.leaves:
            yield from self._pages.rows(number)


def _cells(page: bytes, start: int, header: int) -> Iterator[int]:
    """Give where the cells of a page begin."""
    count = int.from_bytes(page[start + 3 : start + 5], "big")
    first = start + header
    for index in range(min(count, (len(page) - first) // 2)):
        at = int.from_bytes(page[first + 2 * index : first + 2 * index + 2], "big")
        if first < at < len(page) - 3:
            yield at


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for index in range(9):
        if at + index >= len(data):
            raise _Broken
        byte = data[at + index]
        if index == 8:
            value = value << 8 | byte
            break
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            break
    return (value - (1 << 64) if value >= 1 << 63 else value), at + index + 1


def _values(payload: bytes, length: int) -> tuple[tuple[Value, ...], bool]:
    """Return the values of a record up to the first that cannot be read, and whether that is all."""
    out: list[Value] = []
    try:
        size, at = _varint(payload, 0)
        if not at <= size <= len(payload):
            return (), False
        kinds = []
        while at < size:
            kind, at = _varint(payload, at)
            kinds.append(kind)
        if at != size:
            return (), False
        for kind in kinds:
            width = _WIDTHS[kind] if 0 <= kind <= 9 else (kind - 12) // 2
            raw = payload[at : at + width]
            if kind < 0 or kind in (10, 11) or len(raw) != width:
                return tuple(out), False
            out.append(_value(kind, raw))
            at += width
    except _Broken:
        return tuple(out), False
    return tuple(out), at == length


def _value(kind: int, raw: bytes) -> Value:
    if kind == 0:
        return None
    if kind == 7:
        value: float = struct.unpack(">d", raw)[0]
        return None if math.isnan(value) else value
    if kind in (8, 9):
        return kind - 8
    if kind < 7:
        return int.from_bytes(raw, "big", signed=True)
    if kind % 2 == 0:
        return raw
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw  # no text; what follows it can be read all the same


# --- the write-ahead log ------------------------------------------------------------------------------


def _committed(log: bytes, page_size: int) -> Iterator[tuple[int, bytes]]:
    """Give the pages that were committed to a log, by number, in order; nothing after the first broken one."""
    if len(log) < 32 or log[:3] != b"\x37\x7f\x06" or log[3] not in (0x82, 0x83):
        return
    order = ">" if log[3] == 0x83 else "<"
    if int.from_bytes(log[8:12], "big") != page_size:
        return
    sums = _sums(log[:24], (0, 0), order)
    if sums != struct.unpack(">II", log[24:32]):
        return
    waiting: list[tuple[int, bytes]] = []
    for at in range(32, len(log) - page_size - 23, page_size + 24):
        head, page = log[at : at + 24], log[at + 24 : at + 24 + page_size]
        sums = _sums(page, _sums(head[:8], sums, order), order)
        if head[8:16] != log[16:24] or sums != struct.unpack(">II", head[16:24]):
            return
        waiting.append((int.from_bytes(head[:4], "big"), page))
        if int.from_bytes(head[4:8], "big"):  # the last page of a transaction
            yield from waiting
            waiting.clear()


def _sums(data: bytes, before: tuple[int, int], order: str) -> tuple[int, int]:
    first, second = before
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for index in range(0, len(words), 2):
        first = (first + words[index] + second) & 0xFFFFFFFF
        second = (second + words[index + 1] + first) & 0xFFFFFFFF
    return first, second
