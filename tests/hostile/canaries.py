"""Ways to write a file that lose it, on purpose: trials that do not notice these would show nothing.

``python -m tests.hostile.canaries`` prints a JSON object: for each way, how many of its broken-off runs lost or tore
the file. It has a process of its own since the trials fork.
"""

from __future__ import annotations

import json
import os
import random
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.hostile.operations import within
from tests.hostile.powercuts import Disk
from tests.hostile.tracing import available, watched

OLD, NEW = b"old" * 500, b"new" * 700


def in_place() -> int:
    """Write over the old file."""
    with open("file", "wb", buffering=0) as file:
        file.write(NEW[:1000])
        file.write(NEW[1000:])
        os.fsync(file.fileno())
    return 0


def unflushed() -> int:
    """Rename a new file that was not flushed."""
    Path("new").write_bytes(NEW)
    os.replace("new", "file")
    return 0


def folder_unflushed() -> int:
    """Flush the new file, but not its name; then say that it is done."""
    with open("new", "wb") as file:
        file.write(NEW)
        file.flush()
        os.fsync(file.fileno())
    os.replace("new", "file")
    print("done", flush=True)
    return 0


def right() -> int:
    """Flush the new file and then its name."""
    with open("new", "wb") as file:
        file.write(NEW)
        file.flush()
        os.fsync(file.fileno())
    os.replace("new", "file")
    folder = os.open(".", os.O_RDONLY)
    os.fsync(folder)
    os.close(folder)
    print("done", flush=True)
    return 0


WAYS = (in_place, unflushed, folder_unflushed, right)


def lost(way: Callable[[], int], folder: Path, cuts: int = 300) -> dict[str, int]:
    """Return how often a way of writing tore the file when killed, and tore or lost it when the power was cut."""
    room, out = folder / way.__name__, folder / f"{way.__name__}.out"
    room.mkdir()
    (room / "file").write_bytes(OLD)
    calls = watched(lambda: within(room, way), out=out, below=room).calls
    torn_by_kill = 0
    for at in range(1, len(calls) + 1):
        (room / "file").write_bytes(OLD)
        watched(lambda: within(room, way), out=out, below=room, end_at=at)
        torn_by_kill += (room / "file").read_bytes() not in (OLD, NEW)
        (room / "new").unlink(missing_ok=True)
    torn_by_cut = forgotten = 0
    for number in range(cuts):
        rng = random.Random(number)
        disk, said = Disk.holding({"file": OLD}), False
        for call in calls[: rng.randint(0, len(calls))]:
            if call.path == str(out):
                said = True
            else:
                disk.take(call, room)
        there = disk.after_a_cut(rng).get("file")
        torn_by_cut += there not in (OLD, NEW)
        forgotten += said and there != NEW
    return {
        "torn by a kill": torn_by_kill,
        "torn by a cut": torn_by_cut,
        "said to be done and lost": forgotten,
    }


def main() -> int:
    """Try every way."""
    if not available():
        print("{}")
        return 0
    with tempfile.TemporaryDirectory(prefix="hostile-") as name:
        print(json.dumps({way.__name__: lost(way, Path(name)) for way in WAYS}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
