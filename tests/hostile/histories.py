"""Profiles, exports of a history and history files, damaged on purpose."""

from __future__ import annotations

import contextlib
import copy
import json
import random
import sqlite3
from pathlib import Path
from typing import Any

from tests.hostile.recordings import NUMBERS, ROOT, WORDS
from tests.recording.fuzz_reader import damaged

_PROFILES = tuple(
    path.read_text(encoding="utf-8")
    for path in (
        ROOT / "resources/profiles/tarn-tg7.toml",
        ROOT / "resources/profiles/quill-b2.toml",
        ROOT / "tests/data/profiles/every_key.toml",
    )
)

_TOML = (
    "nan", "inf", "-inf", "1e308", "-1", "0", "9" * 400, "true", '""', '"x"', "[]", "{}", "[[1, 2], [2, 1]]", "{a = {b = 1}}",
    "2031-05-14", '"\\u001b[8m"', '"\\u202e"', "'''\n'''", "[[[[[[[[[[]]]]]]]]]]", "0.0000001", '"degF"', '"<img src=x>"',
)  # fmt: skip

_LINES = (
    "[start]", "[[limits]]", "[gauges.itt]", "[x]", "x = 1", "a." * 300 + "b = 1", "format = 'engine-profile/2'", "\x00", "=",
    "[", "name = '" + "n" * 5000 + "'", "[max_rate]\nitt = 1e-9", "[start]\nidle_ng_pct = 58.0", "# \x1b[2J", "\ufeff",
)  # fmt: skip


def a_profile(rng: random.Random) -> bytes:
    """Return a profile in which some lines are hostile."""
    lines = rng.choice(_PROFILES).splitlines()
    for _ in range(rng.choice([1, 1, 2, 4])):
        at = rng.randrange(len(lines))
        name, equals, _value = lines[at].partition("=")
        kind = rng.randrange(7)
        if kind <= 2 and equals:
            lines[at] = f"{name}= {rng.choice(_TOML)}"
        elif kind == 3:
            del lines[at]
        elif kind == 4:
            lines.insert(at, rng.choice([rng.choice(_LINES), rng.choice(lines)]))
        elif kind == 5 and equals:
            digits = [i for i, sign in enumerate(lines[at]) if sign.isdigit()]
            if digits:
                i = rng.choice(digits)
                lines[at] = (
                    lines[at][:i] + rng.choice(["9e9", "-", ".", "0", "99999", "_"]) + lines[at][i + 1 :]
                )
        else:
            lines[at] = lines[at].replace(
                rng.choice(['"', "{", "}", "[", "]", ","]), rng.choice(["", '"', "[", "{"])
            )
        lines = lines or [""]
    data = "\n".join(lines).encode("utf-8", "surrogatepass")
    return damaged(data, rng) if rng.random() < 0.1 else data


# --- exports ---------------------------------------------------------------------------------------------


def _strange(rng: random.Random) -> Any:
    return rng.choice(
        [
            None, True, False, 0, -1, 10**30, 10**400, -(10**19), 1e308, float("inf"), float("nan"), 2**63, 1e18, -1e18, 253402300801.0,
            "", "\ud800", "\udfff x", "\x1b[8m", "\u202e", "\x00", "9999-12-31T23:59:59.999999+00:00", "0", "x" * 20_000, [], {},
            [[]], {"a": None}, [1, 2, 3], "null", "[]", "{", "NaN", "[[1e999, 2]]", '{"recording": null}', rng.choice(WORDS), rng.choice(NUMBERS),
        ]
    )  # fmt: skip


def _places(tree: Any, found: list[tuple[Any, Any]]) -> list[tuple[Any, Any]]:
    """Return every place of a JSON tree as its container and key."""
    if isinstance(tree, dict | list):
        for key in tree if isinstance(tree, dict) else range(len(tree)):
            found.append((tree, key))
            _places(tree[key], found)
    return found


def an_export(lines: list[Any], rng: random.Random) -> bytes:
    """Return an export in which some values are not what they must be."""
    lines = copy.deepcopy(lines)
    for _ in range(rng.choice([1, 1, 1, 2, 5])):
        at = rng.randrange(len(lines))
        tree = lines[at]
        document = isinstance(tree, dict) and "recording" in tree and rng.random() < 0.3
        with contextlib.suppress(ValueError, TypeError, LookupError, RecursionError):
            if document:  # the document of an assessment is JSON inside of the JSON
                tree = json.loads(lines[at]["recording"]["document"])
            places = _places(tree, [])
            # Few places are high up in the tree, and each of those decides much.
            container, key = rng.choice([p for p in places if p[0] is tree] if rng.random() < 0.2 else places)
            kind = rng.random()
            if kind < 0.75:
                container[key] = _strange(rng)
            elif kind < 0.9:
                del container[key]
            elif isinstance(container, list):
                container.extend([container[key]] * rng.choice([1, 3]))
            else:
                container[key] = copy.deepcopy(rng.choice(places)[0])
            if document:
                lines[at]["recording"]["document"] = json.dumps(tree)
    if rng.random() < 0.1:
        lines = rng.sample(lines, rng.randint(0, len(lines))) + lines[: rng.randint(0, 2)]
    try:
        data = "\n".join(json.dumps(line, ensure_ascii=rng.random() < 0.9) for line in lines) + "\n"
    except ValueError:  # a tree that holds itself
        data = "{}\n"
    out = data.encode("utf-8", "surrogatepass")
    return damaged(out, rng) if rng.random() < 0.1 else out


# --- history files ---------------------------------------------------------------------------------------

_SQL = (
    "DROP TABLE {table}", "DELETE FROM {table}", "ALTER TABLE {table} RENAME TO gone", "CREATE TABLE other (a)",
    "CREATE TRIGGER t AFTER INSERT ON {table} BEGIN DELETE FROM recordings; END",
    "CREATE TRIGGER t BEFORE INSERT ON {table} BEGIN SELECT RAISE(ABORT, 'no'); END",
    "CREATE VIEW v AS SELECT * FROM nowhere", "DROP INDEX ix_starts_engine_key", "PRAGMA user_version = 99",
    "DELETE FROM debrief_migrations WHERE version > 1", "UPDATE debrief_migrations SET version = version + 1000",
    "ALTER TABLE {table} ADD COLUMN extra TEXT", "ALTER TABLE {table} DROP COLUMN {column}", "PRAGMA journal_mode = DELETE",
    "INSERT INTO {table} SELECT * FROM {table}",
)  # fmt: skip

_CELLS: tuple[Any, ...] = (
    None, "x", "", float("inf"), float("-inf"), 1e18, -1e18, 9e15, -1, 2**62, b"\xff\x00", "\x1b[8m", "\u202e", "nan",
    "9999-12-31T23:59:59.999999+00:00", "[]", "{}", "null", "[[1e999, 2]]", '{"recording": 3}', "x" * 20_000, "2031-02-30", "<b>x</b>",
)  # fmt: skip


def a_history_file(whole: bytes, folder: Path, rng: random.Random) -> bytes:
    """Return a history file with rows that cannot be, or bytes that were overwritten."""
    if rng.random() < 0.6:
        path = folder / "being-damaged.sqlite"
        path.write_bytes(whole)
        connection = sqlite3.connect(path)
        connection.isolation_level = None
        tables = [
            name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        for _ in range(rng.choice([1, 1, 2, 5])):
            table = rng.choice(tables or ["recordings"])
            with contextlib.suppress(sqlite3.Error):
                columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
                column = rng.choice(columns or ["x"])
                if rng.random() < 0.75:
                    where = (
                        ""
                        if rng.random() < 0.3
                        else f" WHERE rowid = (SELECT rowid FROM {table} ORDER BY random() LIMIT 1)"
                    )
                    # Random of SQLite would not be repeated by the seed.
                    where = where.replace("random()", f"(rowid * {rng.randint(1, 997)}) % 1009")
                    connection.execute(f"UPDATE {table} SET {column} = ?{where}", (rng.choice(_CELLS),))
                else:
                    connection.execute(rng.choice(_SQL).format(table=table, column=column))
        with contextlib.suppress(sqlite3.Error):
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        data = path.read_bytes()
        for leftover in folder.glob("being-damaged.sqlite*"):
            leftover.unlink()
        if rng.random() < 0.85:
            return data
        whole = data
    out = bytearray(whole)
    for _ in range(rng.choice([1, 1, 2, 8])):
        at = (
            rng.randrange(len(out))
            if rng.random() < 0.6
            else rng.choice([0, 16, 18, 24, 28, 40, 44, 56, 96, 100, 103])
        )
        kind = rng.randrange(5)
        if kind <= 1:
            out[at : at + 4] = rng.randbytes(rng.choice([1, 2, 4]))
        elif kind == 2:
            page = at // 4096 * 4096
            other = rng.randrange(len(out)) // 4096 * 4096
            out[page : page + 4096] = out[other : other + 4096]
        elif kind == 3:
            out[at : at + 4096] = bytes(4096)
        else:
            del out[at:]
            out = out or bytearray(b"\x00")
    return bytes(out)
