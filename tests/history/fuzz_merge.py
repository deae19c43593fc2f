"""Merge of exports that somebody has tampered with: refused in words, or kept whole and harmless.

``python -m tests.history.fuzz_merge --count 10000 --seed 1`` makes an export, changes it in one to three places (values,
rows, columns, lines, bytes) and merges it into a history. Either that is refused with a `UserError` and nothing of
it is kept, or afterwards list, trend, check, export, table, the window's page and a second merge work, the second
merge changes nothing, and nothing that is printed steers a terminal. A small run is part of every day's tests.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import io
import json
import os
import random
import shutil
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from debrief.cli import main as debrief
from debrief.errors import UserError
from debrief.history.exchange.transfer import export_jsonl, merge
from debrief.history.service.history_service import look
from debrief.history.storage import schema
from debrief.history.storage.store import Store
from tests.history.history_making import FIRST, made_assessment, made_event, series

Line = dict[str, Any]

ATOMS: tuple[Callable[[random.Random], Any], ...] = (
    lambda r: r.choice([2**31, 2**63, -(2**63) - 1, 10**30, 10**400, -1, 0, 1, 5]),
    lambda r: r.choice([float("inf"), float("-inf"), float("nan"), 1e308, 1e18, -1e18, -0.0, 1e-320, 742.5]),
    lambda r: r.choice([True, False, None, "", " ", "0", "1e5", "true", "null"]),
    lambda r: r.choice(
        ["\ud800", "a\udfffb", "\x00", "\x1b[8m", "\u202e", "=1+1", "'; DROP TABLE notes; --"]
    ),
    lambda r: r.choice(["../../x", "/etc/passwd", "f" * 64, "F" * 64, "g" * 64, "a" * 63]),
    lambda r: r.choice(["9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00", "2031-13-45", "yesterday"]),
    lambda r: r.choice(["1-aaaaaaaaaaaa", "999999999-aaaaaaaaaaaa", "1-aaaaaaaaaaaa 2-bbbbbbbbbbbb", "0-"]),
    lambda r: r.choice([[], {}, [[]], [1, 2], {"a": 1}, [None]]),
    lambda r: r.choice(
        ["[", "{}", "[]", "[[],[]]", "[[1],[NaN]]", "[[99999999],[1]]", "[" * 3000, '[{"a":1}]']
    ),
    lambda r: "x" * r.choice([100, 1_001, 20_001, 100_001, 1_000_001]),
)

CURVES = (
    '{"frame":[5.0,60.0],"moments":{"starter_on":10.0,"fuel_on":22.0},"times":[[5.0,20.0,40.0,60.0]],'
    '"channels":{"ng":["%",0,[0.0,19.0,null,60.0]],"itt":["degC",0,[40,41.5,700.0,650.0]]}}'
)


def made_export(folder: Path) -> list[Line]:
    """The lines of an export with all that a history has."""
    with Store.open(str(folder / "source.sqlite")) as store:
        for assessment in series([742.0, 751.0]):
            store.keep(assessment)
        store.keep(made_assessment("event.csv", at=None, events=[made_event()], verdict="exceeded"))
        sha = store.find("event.csv")
        note = store.write_note(sha, "Told the chief engineer.", time_s=31.0)
        store.write_note(sha, "Told him twice.", note_id=note.note_id, based_on=note.version)
        store.remove_note(store.write_note(sha, "to be removed").note_id)
        store.exclude(store.find("flight-000.csv"), 1, "Wrong probe fitted.")
        store.note_maintenance("TG7-0042", FIRST, "Hot section inspected.")
        export_jsonl(store, folder / "source.jsonl")
    text = (folder / "source.jsonl").read_text(encoding="utf-8")
    lines = [json.loads(line) for line in text.splitlines()]
    for line in lines[1:]:
        for start in line["starts"]:
            key = {name: start[name] for name in ("sha256", "engine", "number")}
            line["start_traces"] = [{**key, "points": "[[20,21,22],[500.0,510.5,530.0]]", "curves": CURVES}]
    return lines


# --- changes --------------------------------------------------------------------------------------------


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place within a value, itself not counted."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    out = []
    for key, one in items:
        out.append((*path, key))
        out += _places(one, (*path, key))
    return out


def _at(value: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        value = value[key]
    return value


def _inside(text: object) -> Any:
    try:
        return json.loads(str(text))
    except (ValueError, RecursionError):
        return None


def _tamper(random_: random.Random, value: Any) -> None:
    """Change one place within lists and objects."""
    places = _places(value)
    if not places:
        return
    path = random_.choice(places)
    holder, key = _at(value, path[:-1]), path[-1]
    what = random_.randrange(8)
    inner = _inside(holder[key]) if key in ("document", "points", "curves", "others") and what < 6 else None
    if inner:
        _tamper(random_, inner)
        holder[key] = json.dumps(inner)
    elif what == 0:
        del holder[key]
    elif what == 1 and isinstance(holder, list):
        holder.append(copy.deepcopy(holder[key]))
    elif what == 2 and isinstance(holder, dict):
        holder[random_.choice(["", "x", "sha256", "\ud800", "document"])] = holder.pop(key)
    elif what == 3:
        other = _at(value, random_.choice(places))
        holder[key] = copy.deepcopy(other) if len(repr(other)) < 5000 else None
    else:
        holder[key] = random_.choice(ATOMS)(random_)


def _tamper_lines(random_: random.Random, lines: list[str]) -> None:
    """Change the order or the number of lines."""
    where = random_.randrange(len(lines))
    what = random_.randrange(5)
    if what == 0:
        del lines[where]
    elif what == 1:
        lines.insert(random_.randrange(len(lines) + 1), lines[where])
    elif what == 2:
        lines[where] = lines[where][: random_.randrange(len(lines[where]) + 1)]
    elif what == 3:
        lines.insert(where, random_.choice(["", "[]", "null", "{}", "[" * 50_000, '{"a":' * 5_000, "1e999"]))
    else:
        random_.shuffle(lines)


def _tamper_bytes(random_: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(random_.choice([1, 1, 4, 64])):
        where = random_.randrange(len(changed))
        changed[where : where + random_.choice([0, 1, 1, 7])] = bytes(
            random_.randrange(256) for _ in range(random_.choice([0, 1, 1, 9]))
        )
    return bytes(changed)


def tampered(lines: list[Line], random_: random.Random) -> bytes:
    """The bytes of an export that was changed in one to three places."""
    lines = copy.deepcopy(lines)
    how = random_.randrange(10)
    if how < 8:
        for _ in range(random_.choice([1, 1, 1, 2, 3])):
            # Rows more often than what is far inside a document.
            line = random_.choice(lines)
            tables = [value for name, value in line.items() if name != "profile" and value]
            inside = random_.choice(tables) if random_.random() < 0.8 else line
            _tamper(random_, inside if isinstance(inside, list | dict) else line)
    texts = [json.dumps(line) for line in lines]
    if how == 8:
        _tamper_lines(random_, texts)
    data = "\n".join(texts).encode("utf-8", "surrogatepass")
    return _tamper_bytes(random_, data) if how == 9 else data


# --- what must hold -------------------------------------------------------------------------------------


@dataclass
class Found:
    """What came of the inputs: how many were refused and kept, and what went wrong."""

    refused: int = 0
    kept: int = 0
    slowest_s: float = 0.0
    wrong: list[str] = field(default_factory=list)
    words: Counter[str] = field(default_factory=Counter)


def _command(*arguments: str) -> tuple[int, str]:
    """Run a command; return its exit code and all that it printed."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        code = debrief(["history", *arguments])
    return code, out.getvalue()


def after_merge(home: Path, export: Path) -> list[str]:
    """Return what does not hold of the user's own history, into which an export was merged."""
    wrong = []
    for left in home.glob("again.*"):
        left.unlink()  # of another history, which no export replaces
    commands: tuple[tuple[tuple[int, ...], list[str]], ...] = (
        ((0,), ["list"]),
        ((0,), ["list", "--format", "json"]),
        ((0,), ["trend"]),
        ((0, 2), ["trend", "--measure", "peak_itt", "--units", "degF"]),
        # A document that does not fit its rows is told.
        ((0, 2), ["check"]),
        ((0,), ["export", str(home / "again.jsonl")]),
        ((0,), ["export", str(home / "again.csv")]),
    )
    for codes, command in commands:
        code, printed = _command(*command)
        if code not in codes:
            wrong.append(f"{command[0]} ended with {code}: {printed[-600:]}")
        if "json" not in command and not all(one.isprintable() for one in printed.split("\n")):
            wrong.append(f"{command[0]} printed a control character: {printed[:600]!r}")
    with Store.open() as store:
        for engine in store.engines():
            look(engine=engine)
        for flight in store.flights():
            store.notes(flight.sha256)
        for again in (export, home / "again.jsonl"):
            done = merge(store, again)
            if done.new or done.words or done.beside:
                wrong.append(f"merging {again.name} again changed something: {done}")
    return wrong


def _dump(store: Store) -> str:
    """Everything that a history keeps."""
    with store.engine.connect() as connection:
        return repr([connection.execute(sa.select(one)).all() for one in schema.metadata.sorted_tables])


def run(count: int, seed: int, say: Callable[[str], None] = lambda _: None) -> Found:
    """Merge so many tampered exports; the same seed gives the same ones."""
    found = Found()
    home_before = os.environ.get("DEBRIEF_HOME")
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        os.environ["DEBRIEF_HOME"] = folder
        try:
            _run(count, seed, home, found, say)
        finally:
            if home_before is None:
                del os.environ["DEBRIEF_HOME"]
            else:
                os.environ["DEBRIEF_HOME"] = home_before
    return found


def _run(count: int, seed: int, home: Path, found: Found, say: Callable[[str], None]) -> None:
    lines = made_export(home)
    base, history, export = home / "base.sqlite", home / "history.sqlite", home / "tampered.jsonl"
    with Store.open(str(base)) as store:
        store.keep(series([742.0])[0])
        store.write_note(store.find("flight-000.csv"), "here before")
        before = _dump(store)
    shutil.copy(base, history)
    store = Store.open()
    for number in range(count):
        random_ = random.Random(f"{seed} {number}")
        export.write_bytes(tampered(lines, random_))
        began = time.perf_counter()
        try:
            merge(store, export)
        except UserError as error:
            found.refused += 1
            found.words[str(error).split(",")[0][:40]] += 1
            if not str(error).isprintable() and "\ufffd" not in str(error):
                found.wrong.append(f"{number}: said with a control character: {str(error)!r}")
            if len(str(error)) > 500:
                found.wrong.append(f"{number}: said at length: {str(error)[:300]}")
            if number % 20 == 0 and _dump(store) != before:
                found.wrong.append(f"{number}: refused, but something of it was kept")
        except Exception:
            found.wrong.append(f"{number}: {traceback.format_exc()[-1500:]}")
        else:
            found.kept += 1
            store.close()
            try:
                found.wrong += [f"{number}: {words}" for words in after_merge(home, export)]
            except Exception:
                found.wrong.append(f"{number}: after the merge: {traceback.format_exc()[-1500:]}")
            for part in home.glob("history.sqlite*"):
                part.unlink()
            shutil.copy(base, history)
            store = Store.open()
        found.slowest_s = max(found.slowest_s, time.perf_counter() - began)
        if number % 500 == 499:
            say(f"{number + 1}: {found.refused} refused, {found.kept} kept, {len(found.wrong)} wrong")
    store.close()


def main() -> int:
    """Run as many as a command line asks for, and print what went wrong."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    began = time.perf_counter()
    found = run(options.count, options.seed, lambda words: print(words, flush=True))
    for words in found.wrong[:20]:
        print(words, end="\n\n")
    print(
        f"{options.count} exports, seed {options.seed}: {found.refused} refused in words, {found.kept} kept, "
        f"{len(found.wrong)} wrong; slowest {found.slowest_s:.1f} s; {time.perf_counter() - began:.0f} s in all"
    )
    return 1 if found.wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
