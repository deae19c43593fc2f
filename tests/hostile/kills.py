"""Ends the program at its writing calls, or at any moment, and looks at what is left."""

from __future__ import annotations

import os
import random
import shutil
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.hostile.operations import OPERATIONS, Operation, Rooms, broken, within
from tests.hostile.tracing import available, begun, watched


@dataclass
class Killed:
    """The figures of a campaign of kills."""

    at_calls: int = 0
    at_moments: int = 0
    confirmed: int = 0
    findings: list[str] = field(default_factory=list)


def kill(count: int, seed: int, rooms: Rooms, say: Callable[[str], None] = lambda text: None) -> Killed:
    """Break off operations `count` times, at calls that are spread over all of them."""
    rng = random.Random(f"kills/{seed}")
    done = Killed()
    places: dict[str, int] = {}
    for number in range(count):
        if available() and number % 5 < 4:
            operation = OPERATIONS[number % len(OPERATIONS)]
            if operation.name not in places:
                places[operation.name] = _changes(rooms, operation)
            at = rng.randint(1, places[operation.name])
            name = f"{operation.name}, at change {at}"
            room, printed = _at_call(rooms, operation, at)
            done.at_calls += 1
        else:
            operation = rng.choice(OPERATIONS)
            after_s = rng.random() ** 2 * 0.6
            name = f"{operation.name}, after {after_s:.4f} s"
            room, printed = _at_moment(rooms, operation, after_s)
            done.at_moments += 1
        done.confirmed += printed.count("Added:") + printed.count("kept:")
        for what in broken(rooms, operation, room, printed, run_again=True):
            done.findings.append(f"{name}: {what}")
            say(f"  {done.findings[-1]}")
        shutil.rmtree(room)
    return done


def _changes(rooms: Rooms, operation: Operation) -> int:
    """Return how many changes an operation makes."""
    room, out = rooms.fresh(operation), rooms.folder / "printed"
    traced = watched(lambda: within(room, operation.run), out=out, below=room)
    assert traced.code == 0, (operation.name, traced.code, out.read_text())
    shutil.rmtree(room)
    return traced.changes


def _at_call(rooms: Rooms, operation: Operation, at: int) -> tuple[Path, str]:
    room, out = rooms.fresh(operation), rooms.folder / "printed"
    watched(lambda: within(room, operation.run), out=out, below=room, end_at=at)
    return room, out.read_text()


def _at_moment(rooms: Rooms, operation: Operation, after_s: float) -> tuple[Path, str]:
    room, out = rooms.fresh(operation), rooms.folder / "printed"
    out.write_text("")
    pid = begun(lambda: within(room, operation.run), out)
    time.sleep(after_s)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return room, out.read_text()
