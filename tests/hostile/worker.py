"""Runs trials one after the other in its own process and tells what broke a promise.

The commands run in process, with the two streams in files, so that nothing that anybody prints is missed; the
process that gave the trials ends this one when a trial takes too long, and asks for a new one now and then.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import resource
import shutil
import socket
import sys
import time
import unicodedata
import warnings
from dataclasses import dataclass
from pathlib import Path

from tests.hostile.trials import Materials, Trial, a_trial

CPU_SECONDS = {"report": 8.0, "": 3.0}
"""Budget of a command on a file of some 100 kB."""
MEMORY_MB = 200
MEMORY_TIMES_FILE = 10
LONGEST_LINE = 4000
"""Of a complaint, in characters."""


@dataclass(frozen=True)
class Ran:
    """One command: its exit code, what it cost, and what it printed."""

    code: int
    seconds: float
    memory_mb: float
    out: bytes
    err: bytes


def serve() -> int:
    """Take lines of ``SEED NUMBER`` and give a JSON line for each."""
    base = Path(sys.argv[1])
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    questions = os.fdopen(os.dup(0), encoding="utf-8")
    materials = Materials(
        [json.loads(line) for line in (base / "made/all.jsonl").read_text(encoding="utf-8").splitlines()],
        (base / "made/history.sqlite").read_bytes(),
    )
    bench = Bench(base / f"worker-{os.getpid()}")
    for line in questions:
        seed, number = map(int, line.split())
        answers.write(json.dumps(bench.judged(seed, number, materials)) + "\n")
        answers.flush()
    shutil.rmtree(bench.folder, ignore_errors=True)
    return 0


class Bench:
    """A folder with the two streams, in which trials are run and judged."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True)
        self._streams = [(folder / name).open("w+b") for name in ("out", "err")]
        for target, stream in zip((1, 2), self._streams, strict=True):
            os.dup2(stream.fileno(), target)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        warnings.simplefilter("always")  # a warning that was shown once is shown again in the next trial
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
        self.sockets: list[str] = []
        sys.addaudithook(self._heard)
        # Not in the time of the first trial that needs it.
        import pyarrow.csv
        import sqlalchemy

        import debrief.cli
        import debrief.history.command.commands
        import debrief.report.formats.write

        assert pyarrow.csv
        assert sqlalchemy
        assert debrief.report.formats.write
        assert debrief.history.command.commands
        self._main = debrief.cli.main

    def _heard(self, event: str, arguments: tuple[object, ...]) -> None:
        if event in ("socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto"):
            address = arguments[1] if len(arguments) > 1 else arguments
            if not (isinstance(arguments[0], socket.socket) and arguments[0].family == socket.AF_UNIX):
                self.sockets.append(f"{event} {address}")

    def judged(self, seed: int, number: int, materials: Materials) -> dict[str, object]:
        """Run a trial; return its figures and findings."""
        trial = a_trial(seed, number, materials, self.folder)
        room = self.folder / "room"
        shutil.rmtree(room, ignore_errors=True)
        (room / "home").mkdir(parents=True)
        for name, data in trial.files.items():
            path = room / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        os.environ["DEBRIEF_HOME"] = str(room / "home")
        before = os.getcwd()
        os.chdir(room)
        self.sockets.clear()
        findings: list[str] = []
        ran: list[Ran] = []
        try:
            for command in trial.commands:
                one = self._run(command)
                ran.append(one)
                findings += [f"{what} | {command!r}" for what in broken_by(one, command, trial, room)]
        finally:
            os.chdir(before)
        findings += [f"{what} | {trial.commands!r}" for what in left_by(trial, room)]
        if trial.kind != "arguments":
            findings += [f"a socket: {what} | {trial.commands!r}" for what in self.sockets]
        return {
            "kind": trial.kind,
            "commands": len(ran),
            "refusals": sum(one.code == 2 for one in ran),
            "seconds": max(one.seconds for one in ran),
            "memory_mb": max(one.memory_mb for one in ran),
            "findings": findings,
            "said": [
                (
                    one.code,
                    one.out[:2000].decode("utf-8", "replace"),
                    one.err[:2000].decode("utf-8", "replace"),
                )
                for one in ran
            ],
        }

    def _run(self, command: tuple[str, ...]) -> Ran:
        for stream in self._streams:
            os.ftruncate(stream.fileno(), 0)
            os.lseek(stream.fileno(), 0, os.SEEK_SET)
        base = _fresh_peak()
        began = time.process_time()  # not the wall's, which a busy machine stretches
        code = self._main(list(command))
        seconds = time.process_time() - began
        for printed in (sys.stdout, sys.stderr):
            with contextlib.suppress(ValueError):
                printed.flush()
        peak = _status_kb("VmHWM")
        out, err = (os.pread(s.fileno(), 50_000_000, 0) for s in self._streams)
        return Ran(code, seconds, max(0, peak - base) / 1024, out, err)


def _fresh_peak() -> int:
    """Begin to measure the peak anew where the system can; return what is in use, in kB."""
    with contextlib.suppress(OSError), open("/proc/self/clear_refs", "w") as file:
        file.write("5")
        return _status_kb("VmRSS")
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def _status_kb(name: str) -> int:
    try:
        text = Path("/proc/self/status").read_text()
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    found = re.search(rf"{name}:\s+(\d+)", text)
    return int(found[1]) if found else 0


def broken_by(ran: Ran, command: tuple[str, ...], trial: Trial, room: Path) -> list[str]:
    """Return the promises that one command broke."""
    wrong = []
    if ran.code not in (0, 2):
        wrong.append(f"exit {ran.code}: {_fault(room)}")
    lines = ran.err.decode("utf-8", "replace").splitlines()
    if ran.code == 2 and not lines:
        wrong.append("a refusal without a word")
    if ran.code != 1:
        wrong += [f"not in words: {line[:200]}" for line in lines if not line.startswith("debrief: ")][:1]
    wrong += [f"a line of {len(line)} characters" for line in lines if len(line) > LONGEST_LINE][:1]
    as_data = "json" in command or "jsonl" in command
    for stream, data in (("output", ran.out), ("complaint", ran.err)):
        # A paper is no text: its XMP packet begins with U+FEFF (ISO 16684-1, 7.3.2; from memory).
        control = (
            ""
            if stream == "output" and data.startswith(b"%PDF-")
            else _control(data.decode("utf-8", "replace"), as_data and stream == "output")
        )
        if control:
            wrong.append(f"control character U+{ord(control):04X} in the {stream}")
        wrong += [
            f"a secret in the {stream}"
            for secret in trial.secrets
            if secret.encode("utf-8", "replace") in data
        ]
    budget = CPU_SECONDS.get(command[0] if command else "", CPU_SECONDS[""])
    if ran.seconds > budget:
        wrong.append(f"took {ran.seconds:.1f} s")
    size_mb = sum(map(len, trial.files.values())) / 1e6
    if ran.memory_mb > MEMORY_MB + MEMORY_TIMES_FILE * size_mb:
        wrong.append(f"took {ran.memory_mb:.0f} MB for {size_mb:.2f} MB")
    return wrong


def _control(text: str, as_data: bool) -> str:
    """Return the first character that steers a terminal; data may hold the invisible ones."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return ""
    kinds = ("Cc",) if as_data else ("Cc", "Cf", "Cs", "Zl", "Zp")
    return next((c for c in text if c != "\n" and unicodedata.category(c) in kinds), "")


def _fault(room: Path) -> str:
    """Return the last fault of the log in one line: what, and where in the program."""
    try:
        text = (room / "home/logs/faults.log").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return "no log"
    raised = re.findall(r"^(?:\w+\.)*\w*(?:Error|Exception|Warning)\b.*$", text, re.MULTILINE)
    places = re.findall(r'File "[^"]*/debrief/([^"]+)", line (\d+)', text)
    return f"{raised[-1][:160] if raised else '?'} at {':'.join(places[-1]) if places else 'somewhere'}"


def left_by(trial: Trial, room: Path) -> list[str]:
    """Return what is wrong with the files after a trial."""
    wrong = []
    for name, data in trial.files.items():
        path = room / name
        if name not in trial.mutable and (
            not path.is_file() or hashlib.sha256(path.read_bytes()).digest() != hashlib.sha256(data).digest()
        ):
            wrong.append(f"an input is changed: {name!r}")
    for path in room.rglob("*"):
        if path.is_file() and path.relative_to(room).as_posix() not in trial.files:
            data = path.read_bytes()
            wrong += [
                f"a secret in {path.name}"
                for secret in trial.secrets
                if secret.encode("utf-8", "replace") in data
            ]
            if path.name.endswith(".part"):
                wrong.append(f"a leftover: {path.name}")
            if room / "home" in path.parents and path.stat().st_mode & 0o077:
                wrong.append(f"not private: {path.relative_to(room)} {path.stat().st_mode & 0o777:o}")
    return wrong


if __name__ == "__main__":
    sys.exit(serve())
