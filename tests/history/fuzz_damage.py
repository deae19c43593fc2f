"""Damaged histories by the thousand, in one process: ``python -m tests.history.fuzz_damage --count 5000 --seed 1``.

Each is a small made history with something done to its file: bytes, pages, its length, its tables, its values, its log.
Then the commands are run on it. What must hold: each ends with 0 or 2, nothing is called a fault of the program, check
says something whenever what it can compare differs from the original, and what salvage brings out is sound.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import random
import shutil
import sqlite3
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from debrief.cli import main as program
from debrief.history.storage import schema
from debrief.history.storage.store import Store
from tests.history.history_making import made_assessment, made_event, series

RECORDING = "time (s),Ng (%),ITT (degC)\n" + "".join(f"{n},{n % 60},{40 + n}\n" for n in range(40))
_ODD = (
    "'x'",
    "9e999",
    "-9e999",
    "NULL",
    "x'00ff'",
    "1e18",
    "-1",
    "CAST(x'C328' AS TEXT)",
    "''",
    "9223372036854775807",
)
_TABLES = sorted(schema.metadata.tables)
_COMPARED = {
    "recordings": "sha256, byte_count, row_count, duration_s, start_text, start_epoch_s, verdict, sentence",
    "starts": "sha256, engine, number, engine_key, at_epoch_s, kind, outcome",
    "measures": "sha256, engine, start_number, name, engine_key, value, unit, inferred",
    "events": "sha256, position, kind, event_class, engine, severity, start_s, end_s, limit_id, message",
    "debrief_migrations": "version, title",
}
"""What check can hold against something else; what people wrote stands for itself, also that it was taken away."""


@dataclass
class Made:
    """The sound history: its bytes, a log with one flight more, a log of another history, and what is in it."""

    file: bytes
    log: bytes
    logged: bytes
    other_log: bytes
    contents: object


@dataclass
class Result:
    """What was seen: how many commands ended how, and each thing that must not be."""

    codes: Counter[tuple[str, int]] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


def made(folder: Path) -> Made:
    """Make the sound history."""
    file = folder / "made.sqlite"
    with Store.open(str(file)) as store:
        for assessment in [
            *series([740.0 + 4 * (index % 5) for index in range(6)]),
            made_assessment("event.csv", events=[made_event()]),
        ]:
            store.keep(assessment)
        store.write_note(store.find("event.csv"), "The starter sounded weak.", author="AB")
        store.exclude(store.find("event.csv"), 1, "hot start")
    whole = file.read_bytes()
    logs = []
    for name, place in (("late.csv", file), ("other.csv", folder / "other.sqlite")):
        store = Store.open(str(place))
        store.keep(made_assessment(name))
        logs.append((place.read_bytes(), Path(f"{place}-wal").read_bytes()))
        store.close()
    file.write_bytes(whole)
    return Made(whole, logs[0][1], logs[0][0], logs[1][1], contents(file))


def contents(file: Path) -> object:
    """Return what check can compare, as the database reads it; the words of its failure where it cannot."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(shutil.copy(file, folder))
        log = Path(f"{file}-wal")
        if log.exists():
            shutil.copy(log, folder)
        connection = sqlite3.connect(copy)
        try:
            return {
                name: sorted(map(repr, connection.execute(f"SELECT {columns} FROM {name} NOT INDEXED")))
                for name, columns in _COMPARED.items()
            }
        except sqlite3.Error as error:
            return str(error)
        except UnicodeDecodeError:  # the words of its failure are broken, too
            return "no text"
        finally:
            connection.close()


# --- what is done to it ---------------------------------------------------------------------------------


def _overwrite(rng: random.Random, data: bytearray) -> None:
    for _ in range(rng.choice((1, 1, 2, 4, 8))):
        at, count = rng.randrange(len(data)), rng.choice((1, 1, 2, 4, 16, 64))
        part = rng.choice((rng.randbytes(count), bytes(count), b"\xff" * count))
        data[at : at + count] = part[: len(data) - at]


def _page(rng: random.Random, data: bytearray) -> None:
    pages = len(data) // 4096
    for _ in range(rng.choice((1, 1, 3))):
        at = rng.randrange(pages) * 4096
        other = rng.randrange(pages) * 4096
        data[at : at + 4096] = rng.choice(
            (rng.randbytes(4096), bytes(4096), bytes(data[other : other + 4096]))
        )


def _cut(rng: random.Random, data: bytearray) -> None:
    del data[rng.randrange(len(data)) :]


def _head(rng: random.Random, data: bytearray) -> None:
    at = rng.randrange(100)
    data[at] = rng.randrange(256)


def _statement(rng: random.Random) -> str:
    table = rng.choice(_TABLES)
    column = rng.choice([column.name for column in schema.metadata.tables[table].columns])
    one = f"rowid = (SELECT rowid FROM {table} ORDER BY random() LIMIT 1)"
    return rng.choice(
        (
            f"UPDATE {table} SET {column} = {rng.choice(_ODD)} WHERE {one}",
            f"UPDATE {table} SET {column} = {rng.choice(_ODD)} WHERE {one}",
            f"UPDATE {table} SET {column} = {column} + 1 WHERE {one}",
            f"UPDATE recordings SET document = substr(document, 1, {rng.randrange(3000)}) WHERE {one}",
            f"DELETE FROM {table} WHERE {one}",
            f"DROP TABLE {table}",
            "DROP INDEX ix_starts_engine_key",
            f"ALTER TABLE {table} RENAME TO was",
            f"ALTER TABLE {table} RENAME COLUMN {column} TO was",
            f"ALTER TABLE {table} ADD COLUMN more TEXT DEFAULT 'x'",
            f"CREATE TRIGGER t AFTER INSERT ON {table} BEGIN DELETE FROM {rng.choice(_TABLES)}; END",
            f"CREATE TRIGGER t BEFORE INSERT ON {table} BEGIN SELECT RAISE(ABORT, 'no'); END",
            f"CREATE VIEW v AS SELECT * FROM {table}",
            f"PRAGMA user_version = {rng.randrange(9)}",
            f"UPDATE sqlite_master SET sql = replace(sql, 'NOT NULL', '') WHERE name = '{table}'",
            f"UPDATE sqlite_master SET rootpage = {rng.randrange(40)} WHERE name = '{table}'",
            "INSERT INTO debrief_migrations VALUES (7, 'x', 'x', 'x')",
        )
    )


def damage(rng: random.Random, made: Made, file: Path) -> str:
    """Write a damaged history; return what was done, for a person."""
    log = Path(f"{file}-wal")
    for one in (log, Path(f"{file}-shm")):
        one.unlink(missing_ok=True)
    how = rng.choice(("bytes", "bytes", "bytes", "page", "cut", "head", "sql", "sql", "sql", "log"))
    ways: dict[str, Callable[[random.Random, bytearray], None]] = {
        "bytes": _overwrite,
        "page": _page,
        "cut": _cut,
        "head": _head,
    }
    if how in ways:
        data = bytearray(made.file)
        ways[how](rng, data)
        file.write_bytes(data)
        return how
    if how == "sql":
        file.write_bytes(made.file)
        said = []
        connection = sqlite3.connect(file, isolation_level=None)
        connection.execute("PRAGMA writable_schema = ON")
        for _ in range(rng.choice((1, 1, 2, 3))):
            statement = _statement(rng)
            with contextlib.suppress(sqlite3.Error):
                connection.execute(statement)
                said.append(statement)
        connection.close()
        return "; ".join(said)
    file.write_bytes(made.logged)
    data = bytearray(made.log)
    rng.choice((_overwrite, _cut))(rng, data)
    log.write_bytes(data)
    return "log"


# --- what must hold -------------------------------------------------------------------------------------


def _run(name: str, arguments: list[str], result: Result, how: str) -> int:
    out, err = io.StringIO(), io.StringIO()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = program(["history", *arguments])
    except BaseException:
        result.wrong.append(f"{name} after {how}: {traceback.format_exc(limit=-3)}")
        return 1
    result.codes[(name, code)] += 1
    if code not in (0, 2) or "fault of the program" in err.getvalue() or "Traceback" in err.getvalue():
        result.wrong.append(f"{name} after {how}: {code}: {err.getvalue()[-400:]}")
    elif code == 2 and not err.getvalue().strip():
        result.wrong.append(f"{name} after {how}: 2 without a word")
    return code


def trial(rng: random.Random, made: Made, folder: Path, result: Result) -> None:
    """Damage the history once and run the commands on it."""
    file, new = folder / "h.sqlite", folder / "new.sqlite"
    how = damage(rng, made, file)
    db = ["--db", str(file)]
    changed = how != "log" and contents(file) != made.contents
    before = file.read_bytes()
    new.unlink(missing_ok=True)
    came_out = _run("salvage", ["salvage", str(file), "-o", str(new)], result, how) == 0
    if came_out and _run("check what came out", ["check", "--db", str(new)], result, how) != 0:
        result.wrong.append(f"salvage after {how}: what came out is not sound")
    if file.read_bytes() != before:
        result.wrong.append(f"salvage after {how}: it changed the damaged file")
    code = _run("check", ["check", *db], result, how)
    if changed and code == 0:
        result.wrong.append(f"check after {how}: said nothing")
    reading = [
        ["list"],
        ["trend"],
        ["export", str(folder / "out.jsonl")],
        ["export", str(folder / "out.csv")],
    ]
    for name, *more in rng.sample(reading, 2):
        _run(name, [name, *more, *db], result, how)
    if (
        code == 2
        and how in ("bytes", "page", "cut", "head")
        and file.exists()
        and file.read_bytes() != before
    ):
        result.wrong.append(f"reading after {how}: it changed the damaged file")
    if rng.random() < 0.3:
        _run("merge", ["merge", str(file), "--db", str(folder / "mine.sqlite")], result, how)
    _run("add", ["add", str(folder / "flight.csv"), *db], result, how)
    for one in folder.glob("mine.sqlite*"):
        one.unlink()


def fuzz(count: int, seed: int, told: Callable[[str], None] = lambda _: None) -> Result:
    """Run so many trials; each can be repeated by its own seed, which is told with what went wrong."""
    result = Result()
    with tempfile.TemporaryDirectory(prefix="debrief-fuzz-") as name:
        folder = Path(name)
        (folder / "flight.csv").write_text(RECORDING)
        sound = made(folder)
        begun = time.monotonic()
        for index in range(count):
            seen = len(result.wrong)
            trial(random.Random(f"{seed}/{index}"), sound, folder, result)
            result.wrong[seen:] = [f"[{seed}/{index}] {words}" for words in result.wrong[seen:]]
            for words in result.wrong[seen:]:
                told(words)
            if index % 250 == 249:
                told(f"{index + 1} histories, {time.monotonic() - begun:.0f} s, {len(result.wrong)} wrong")
    return result


def main() -> int:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        os.environ["DEBRIEF_HOME"] = home
        result = fuzz(options.count, options.seed, lambda words: print(words, flush=True))
    for (name, code), many in sorted(result.codes.items()):
        print(f"{name}: {many} ended with {code}")
    print(f"{options.count} damaged histories, {len(result.wrong)} things that must not be")
    return 1 if result.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
