"""Everything of the program that writes, each with a folder to begin in and what must hold after it was broken off."""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.hostile.recordings import ROOT
from tests.hostile.tracing import forked
from tests.hostile.trials import Materials

FLIGHTS = {
    name[:2]: str(ROOT / f"demo_flights/{name}.csv")
    for name in ("01_cool_normal_start", "03_weak_battery_hung", "07_no_light_off", "10_starter_run_too_long")
}
_KEPT = ("01_cool_normal_start.csv", "02_early_fuel_hot.csv", "07_no_light_off.csv")
"""The flights of the history that the trials begin with."""


@dataclass(frozen=True)
class Operation:
    """One thing that a person does which writes.

    Attributes
    ----------
    name : str
        For the person who reads a finding.
    run : callable
        Does it in the working folder, in a process of its own; returns the exit code.
    begins_with : tuple of str
        What the folder holds before: ``history``, ``old form``, ``export``, ``other`` history.
    earlier : callable, optional
        Run in that folder before, so that there are outputs of an earlier time.
    outputs : tuple of str
        Files that are as before or as after, never between.
    """

    name: str
    run: Callable[[], int]
    begins_with: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    earlier: Callable[[], int] | None = None


def _command(*arguments: str) -> Callable[[], int]:
    def run() -> int:
        from debrief.cli import main

        return main(list(arguments))

    return run


def _notes() -> int:
    from debrief.history.model import Note
    from debrief.history.service.notes import write_own_note

    for number in range(3):
        note = Note(
            note_id="",
            sha256=_sha_of(FLIGHTS["07"]),
            time_s=1.0,
            event_kind=None,
            author="",
            text=f"word {number}",
            changed_at="",
        )
        write_own_note(note)
        print(f"kept: word {number}", flush=True)
    return 0


def _remember() -> int:
    from debrief.recording.matching.remembered import Kept, Remembered

    Remembered().remember("a header", Kept(("itt=#3:degF",)))
    return 0


def _profile() -> int:
    from debrief.session.profiles.profile_form import ProfileForm

    form = ProfileForm.open(Path("mine.toml"))
    section = form.sections()[0]
    form.set(section, next(field for field in section.fields if field.key == "revision"), "B")
    form.save(Path("mine.toml"))
    return 0


def _export_and_add(name: str) -> Callable[[], int]:
    # An older export is replaced only by one that has more.
    run = (_command("history", "export", name), _command("history", "add", FLIGHTS["10"]))
    return lambda: max(one() for one in run)


def _earlier_maps() -> int:
    from debrief.recording.matching.remembered import Kept, Remembered

    Remembered().remember("an earlier header", Kept(("ng=#2",)))
    return 0


def _earlier_profile() -> int:
    shutil.copyfile(ROOT / "resources/profiles/tarn-tg7.toml", "mine.toml")
    return 0


def _words() -> int:
    run = (
        _command("history", "exclude", "02_early_fuel_hot.csv", "1", "--reason", "a trial"),
        _command("history", "maintenance", "TG7-118", "washed", "--on", "2031-05-02"),
        _command("history", "delete", "07_no_light_off.csv", "--yes"),
    )
    return max(one() for one in run)


OPERATIONS = (
    Operation("add to no history", _command("history", "add", *(FLIGHTS[n] for n in ("01", "07", "10")))),
    Operation(
        "add to a history", _command("history", "add", *(FLIGHTS[n] for n in ("03", "10"))), ("history",)
    ),
    Operation("add to an old form", _command("history", "add", FLIGHTS["10"]), ("old form",)),
    Operation("merge an export", _command("history", "merge", "other.jsonl"), ("export",)),
    Operation("merge a history", _command("history", "merge", "other.sqlite"), ("other",)),
    Operation("exclude, maintain, delete", _words, ("history",)),
    *(
        Operation(
            f"export {name}",
            _command("history", "export", name),
            ("history",),
            (name,),
            _export_and_add(name),
        )
        for name in ("out.jsonl", "out.csv")
    ),
    *(
        Operation(
            f"report {ending}",
            _command("report", FLIGHTS["07"], "-o", f"report.{ending}"),
            (),
            (f"report.{ending}",),
            _command("report", FLIGHTS["10"], "-o", f"report.{ending}"),
        )
        for ending in ("pdf", "csv", "json", "svg", "png")
    ),
    Operation(
        "synth",
        _command("synth", str(ROOT / "demo_flights/scenarios/07_no_light_off.toml"), "-o", "made.csv"),
        (),
        ("made.csv", "made.truth.json"),
        _command(
            "synth", str(ROOT / "demo_flights/scenarios/10_starter_run_too_long.toml"), "-o", "made.csv"
        ),
    ),
    Operation("notes of a flight that is not kept", _notes),
    Operation("notes of a flight that is kept", _notes, ("history",)),
    Operation("remembered maps", _remember, (), ("home/column_maps.json",), _earlier_maps),
    Operation("save a profile", _profile, (), ("mine.toml",), _earlier_profile),
)


class Rooms:
    """Folders in which operations begin, made once and copied for each trial.

    Parameters
    ----------
    folder : path
        Where they are.
    materials : Materials
        The history and its export.
    """

    def __init__(self, folder: Path, materials: Materials) -> None:
        self.folder = folder
        self._materials = materials
        self._made: dict[str, Path] = {}
        self._complete: dict[str, dict[str, bytes]] = {}
        self._used = 0

    def fresh(self, operation: Operation) -> Path:
        """Return a folder in which an operation can begin."""
        self._used += 1
        room = self.folder / f"room-{self._used}"
        shutil.copytree(self.beginning(operation), room)
        return room

    def beginning(self, operation: Operation) -> Path:
        """Return the folder as it is before the operation; nothing may change it."""
        there = self._made.get(operation.name)
        if there is None:
            there = self._made[operation.name] = self.folder / f"begin-{len(self._made)}"
            (there / "home").mkdir(parents=True)
            self._fill(there, operation)
        return there

    def complete(self, operation: Operation) -> dict[str, bytes]:
        """Return the files, by name, after the operation has run undisturbed."""
        if operation.name not in self._complete:
            room = self.fresh(operation)
            self._done(room, operation.run)
            self._complete[operation.name] = files_of(room)
            shutil.rmtree(room)
        return self._complete[operation.name]

    def _fill(self, room: Path, operation: Operation) -> None:
        for what in operation.begins_with:
            if what == "history":
                (room / "home/history.sqlite").write_bytes(self._materials.history)
            elif what == "old form":
                forked(
                    lambda: _make_old_form(self._materials.history, room / "home/history.sqlite"),
                    self.folder / "said",
                )
            elif what == "export":
                (room / "other.jsonl").write_text("\n".join(map(json.dumps, self._materials.export)) + "\n")
            else:
                (room / "other.sqlite").write_bytes(self._materials.history)
        if operation.earlier is not None:
            self._done(room, operation.earlier)

    def _done(self, room: Path, run: Callable[[], int]) -> None:
        out = self.folder / "said"
        code = forked(lambda: within(room, run), out)
        assert code == 0, (room, code, out.read_text())


def _make_old_form(history: bytes, target: Path) -> int:
    """Make a history in the first form with the rows of a history of today."""
    from debrief.history.storage.database import connect
    from debrief.history.storage.migrations import MIGRATIONS

    engine = connect(str(target), migrations=MIGRATIONS[:1])
    engine.dispose()
    source = target.with_name("today.sqlite")
    source.write_bytes(history)
    with contextlib.closing(sqlite3.connect(target)) as old:
        old.execute("ATTACH ? AS today", (str(source),))
        for (table,) in old.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'").fetchall():
            if table != "debrief_migrations":
                columns = [row[1] for row in old.execute(f"PRAGMA main.table_info({table})")]
                there = {row[1] for row in old.execute(f"PRAGMA today.table_info({table})")}
                names = ", ".join(name for name in columns if name in there)
                old.execute(f"INSERT INTO main.{table} ({names}) SELECT {names} FROM today.{table}")
        old.commit()
    for path in target.parent.glob("today.sqlite*"):
        path.unlink()
    return 0


def within(room: Path, run: Callable[[], int]) -> int:
    """Run something as a person in this folder would; only for a process of its own."""
    (room / "tmp").mkdir(exist_ok=True)
    os.environ |= {"DEBRIEF_HOME": str(room / "home"), "TMPDIR": str(room / "tmp")}
    tempfile.tempdir = None
    os.chdir(room)
    return run()


def files_of(room: Path) -> dict[str, bytes]:
    """Return every file below a folder, by its path in it."""
    return {p.relative_to(room).as_posix(): p.read_bytes() for p in room.rglob("*") if p.is_file()}


def broken(rooms: Rooms, operation: Operation, room: Path, printed: str, *, run_again: bool) -> list[str]:
    """Return the promises that do not hold in a folder in which an operation was broken off."""
    out = rooms.folder / "findings.json"
    said = rooms.folder / "said"
    before, after = files_of(rooms.beginning(operation)), rooms.complete(operation)
    found: list[str] = []
    for name in operation.outputs:  # before anything else is run here
        path = room / name
        there = path.read_bytes() if path.exists() else None
        if there is None and name in before:
            found.append(f"{name} is gone")
        elif (
            there is not None
            and there not in (before.get(name), after[name])
            and _no_moment(there) != _no_moment(after[name])
        ):
            found.append(f"{name} is torn: {len(there)} bytes")

    def look() -> int:
        out.write_text(json.dumps(within(room, lambda: 0) or _lost(operation, printed)))
        return 0

    out.unlink(missing_ok=True)
    code = forked(look, said)
    if code or not out.exists():
        found.append(f"looking ended with {code}: {said.read_text()[-300:]}")
    else:
        found += json.loads(out.read_text())
    found += [f"a copy is not whole: {path.name}" for path in _copies(room) if not _is_whole(path)]
    if run_again:
        for path in room.rglob("*debrief-*"):  # what was left is cleared when it is old enough to be nobody's
            os.utime(path, (time.time() - 86_400,) * 2)
        code = forked(lambda: within(room, operation.run), said)
        # A flight is deleted once. A recording whose truth is not beside it any more is not written over.
        may_refuse = "delete" in operation.name or operation.name == "synth"
        if code not in ((0, 2) if may_refuse else (0,)):
            found.append(f"the next run ended with {code}: {said.read_text()[-300:]}")
        if code:  # refused before it wrote
            return found
        left = {_general(name) for name in files_of(room)} - {_general(name) for name in after}
        # Python tries whether a folder takes files with one of eight letters.
        left = {name for name in left if not re.fullmatch(r"tmp/[a-z0-9_]{8}", name)}
        # Broken off between two steps to the new form, the next run keeps a copy of its own.
        left = {name for name in left if not _COPY.match(name)}
        found += [f"a leftover: {name}" for name in sorted(left)]
    return found


_COPY = re.compile(r"home/history\.sqlite\.(?:form|week)-")


def _copies(room: Path) -> list[Path]:
    return [path for path in (room / "home").glob("*") if _COPY.match(f"home/{path.name}")]


def _is_whole(copy: Path) -> bool:
    """Whether a file that has the name of a copy is one, with the three flights of the history."""
    with contextlib.closing(sqlite3.connect(f"{copy.as_uri()}?mode=ro", uri=True)) as connection:
        try:
            sound = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            return sound and connection.execute("SELECT count(*) FROM recordings").fetchone() == (3,)
        except sqlite3.Error:
            return False


def _lost(operation: Operation, printed: str) -> list[str]:
    """Return what is wrong with history and notes; runs in the process and folder of a trial."""
    from debrief.cli import main
    from debrief.history.service.notes import own_notes
    from debrief.history.storage.store import Store

    found, there = [], set()
    if Path("home/history.sqlite").exists():  # looking makes none
        if main(["history", "check"]):
            found.append("not sound")
        with Store.open() as store:
            there = {flight.file_name for flight in store.flights()}
    wanted = set(re.findall(r"^(?:Added|Assessed anew): (\S+)", printed, re.MULTILINE))
    if {"history", "old form"} & set(operation.begins_with):
        wanted |= set(_KEPT)
    if re.search(r"flights new 3", printed):
        wanted |= set(_KEPT)
    if "delete" in operation.name:
        wanted.discard("07_no_light_off.csv")
        if "Deleted:" in printed and "07_no_light_off.csv" in there:
            found.append("a deleted flight is back")
    found += [f"lost: {name}" for name in sorted(wanted - there)]
    if "merge" in operation.name and len(there) not in (0, 3):
        found.append(f"merged in part: {sorted(there)}")
    words = (
        {note.text for note in own_notes(_sha_of(FLIGHTS["07"]))}
        if operation.name.startswith("notes")
        else set()
    )
    found += [
        f"lost: note {text}"
        for text in re.findall(r"^kept: (.*)$", printed, re.MULTILINE)
        if text not in words
    ]
    return found


def _sha_of(path: str) -> str:
    import hashlib

    return hashlib.sha256(Path(path).read_bytes()).hexdigest()


def _no_moment(data: bytes) -> bytes:
    """Return a file's bytes without the moments and the random identifiers in it."""
    data = re.sub(
        rb"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?(\.\d+)?(Z|[+-]\d\d:\d\d)?|D:\d{14}(Z|[+-]\d\d'?\d\d'?)?",
        b"",
        data,
    )
    return re.sub(rb"(uuid:)?[0-9a-f]{8}-[0-9a-f-]{27}|<[0-9a-fA-F]{32}>|/ID ?\[.*?\]", b"", data)


def _general(name: str) -> str:
    """Return a name without what differs from run to run."""
    name = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "ID", name)
    return re.sub(r"\d{8}-\d{6}(\d{6})?Z?|-shm$|-wal$", "", name)
