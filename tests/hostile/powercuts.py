"""A model of a disk that loses power: which folders can be there afterwards, made from the calls of one whole run.

Of a file everything up to its last flush is there; of what was written since, any part may be: none, a beginning,
any of the writes, and of each any sectors of 512 bytes. Making, renaming and removing of names is kept in order, and
is certain once the folder was flushed; so a new file may have its name and nothing in it. New folders are taken
to be certain. What is laid over memory (SQLite's ``-shm``, which is made anew) is left out.
"""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.hostile.operations import OPERATIONS, Operation, Rooms, broken, files_of, within
from tests.hostile.tracing import Call, available, watched

SECTOR = 512
_IGNORED = frozenset({"mkdir", "rmdir", "chmod", "fchmod", "socket", "connect", "bind"})


@dataclass
class _File:
    """What is certain of a file, and what was asked for since."""

    certain: bytes = b""
    asked: list[Call] = field(default_factory=list)

    def whole(self) -> bytes:
        data = self.certain
        for call in self.asked:
            data = _after(data, call)
        return data


@dataclass
class Disk:
    """Files and names, as they certainly are and as they were asked to be."""

    names: dict[str, _File]
    certain_names: dict[str, _File]
    asked_names: list[tuple[str, str, str, _File | None]] = field(default_factory=list)
    unknown: set[str] = field(default_factory=set)

    @classmethod
    def holding(cls, files: dict[str, bytes]) -> Disk:
        """Return a disk on which these files are certain."""
        names = {name: _File(data) for name, data in files.items()}
        return cls(dict(names), dict(names))

    def take(self, call: Call, room: Path) -> None:
        """Apply one call that a program made."""
        name, to = (os.path.relpath(p, room) if p else "" for p in (call.path, call.to))
        if name.endswith("-shm") or call.name in _IGNORED:
            return
        if call.name == "open":
            if name not in self.names:
                self.names[name] = _File()
                self._ask("make", name, "", self.names[name])
            elif call.flags & os.O_TRUNC:
                self.names[name].asked.append(Call("ftruncate"))
        elif call.name in ("write", "ftruncate"):
            if name in self.names:  # else it has no name any more
                self.names[name].asked.append(call)
        elif call.name in ("fsync", "fdatasync"):
            if name in self.names:
                file = self.names[name]
                file.certain, file.asked = file.whole(), []
            else:
                self._flush_folder(name)
        elif call.name == "rename":
            self.names[to] = self.names.pop(name)
            self._ask("rename", name, to, self.names[to])
        elif call.name == "link":
            self.names[to] = self.names[name]
            self._ask("make", to, "", self.names[to])
        elif call.name == "unlink":
            if self.names.pop(name, None) is not None:
                self._ask("remove", name, "", None)
        else:
            self.unknown.add(call.name)

    def _ask(self, what: str, name: str, to: str, file: _File | None) -> None:
        self.asked_names.append((what, name, to, file))

    def _flush_folder(self, folder: str) -> None:
        # What went before in the journal is certain, too.
        last = max(
            (
                i
                for i, (_, name, to, _f) in enumerate(self.asked_names)
                if folder in (_folder(name), _folder(to))
            ),
            default=-1,
        )
        for asked in self.asked_names[: last + 1]:
            _rename(self.certain_names, asked)
        del self.asked_names[: last + 1]

    def after_a_cut(self, rng: random.Random) -> dict[str, bytes]:
        """Return the files that are there when the power comes back, one way of many."""
        names = dict(self.certain_names)
        for asked in self.asked_names[
            : rng.choice([0, len(self.asked_names), rng.randint(0, len(self.asked_names))])
        ]:
            _rename(names, asked)
        return {name: _cut(file, rng) for name, file in names.items()}


def _folder(name: str) -> str:
    return os.path.dirname(name) or "."


def _rename(names: dict[str, _File], asked: tuple[str, str, str, _File | None]) -> None:
    what, name, to, file = asked
    if what == "make" and file is not None:
        names[name] = file
    elif what == "rename" and file is not None:
        names.pop(name, None)
        names[to] = file
    else:
        names.pop(name, None)


def _after(data: bytes, call: Call) -> bytes:
    if call.name == "ftruncate":
        return data[: call.at].ljust(call.at, b"\0")
    return data[: call.at].ljust(call.at, b"\0") + call.data + data[call.at + len(call.data) :]


def _cut(file: _File, rng: random.Random) -> bytes:
    data, kind = file.certain, rng.randrange(5)
    if kind == 0:
        return data
    asked = file.asked if kind != 2 else file.asked[: rng.randint(0, len(file.asked))]
    for number, call in enumerate(asked):
        last = number == len(asked) - 1
        if kind >= 3 and rng.random() < 0.5:
            continue
        if call.name == "ftruncate" or not (kind == 4 or (last and kind == 2)):
            data = _after(data, call)
            continue
        for at in range(0, len(call.data), SECTOR):  # torn
            if rng.random() < 0.5:
                data = _after(data, Call("write", at=call.at + at, data=call.data[at : at + SECTOR]))
    return data


@dataclass
class Cut:
    """The figures of a campaign of power cuts."""

    states: int = 0
    confirmed: int = 0
    findings: list[str] = field(default_factory=list)


def cut(count: int, seed: int, rooms: Rooms, say: Callable[[str], None] = lambda text: None) -> Cut:
    """Cut the power `count` times, spread over all operations and their calls; look at each state."""
    done = Cut()
    if not available():
        return done
    operations = [one for one in OPERATIONS if not one.name.startswith("report") or one.name == "report pdf"]
    logs = {operation.name: _log(rooms, operation) for operation in operations}
    for number in range(count):
        operation = operations[number % len(operations)]
        rng = random.Random(f"cut/{seed}/{number}")
        calls, room, out = logs[operation.name]
        # As often after the whole run as in it: what is said to be done must be there.
        at = rng.choice([len(calls), rng.randint(0, len(calls)), rng.randint(0, len(calls))])
        disk = Disk.holding(files_of(rooms.beginning(operation)))
        printed = b""
        for call in calls[:at]:
            if call.path == str(out):
                printed += call.data
            else:
                disk.take(call, room)
        there = rooms.folder / f"cut-{number}"
        shutil.copytree(rooms.beginning(operation), there)
        for name in files_of(there):
            (there / name).unlink()
        for name, data in disk.after_a_cut(rng).items():
            (there / name).parent.mkdir(parents=True, exist_ok=True)
            (there / name).write_bytes(data)
        found = [f"a call that is not modelled: {name}" for name in sorted(disk.unknown)]
        found += broken(rooms, operation, there, printed.decode(), run_again=number % 3 == 0)
        done.states += 1
        done.confirmed += printed.count(b"Added:") + printed.count(b"kept:")
        for what in found:
            done.findings.append(
                f"cut {seed}/{number}, {operation.name}, after call {at} of {len(calls)}: {what}"
            )
            say(f"  {done.findings[-1]}")
        shutil.rmtree(there)
    return done


def _log(rooms: Rooms, operation: Operation) -> tuple[list[Call], Path, Path]:
    room, out = rooms.fresh(operation), rooms.folder / f"printed-{operation.name.replace(' ', '-')}"
    traced = watched(lambda: within(room, operation.run), out=out, below=room)
    assert traced.code == 0, (operation.name, traced.code, out.read_text())
    shutil.rmtree(room)
    return traced.calls, room, out
