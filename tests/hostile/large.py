"""Inputs that are small to send and large to take, or simply large: each in a process of its own, which is measured."""

from __future__ import annotations

import gzip
import os
import resource
import signal
import struct
import subprocess
import sys
import threading
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.hostile.recordings import ROOT

MEMORY_MB, TIMES_FILE = 200, 10
"""The most that a process may take: its whole resident memory, beyond that of one that reads a small file."""
CPU_SECONDS, A_MEGABYTE = 6.0, 0.15
ENDED_AFTER_S = 120
FINDING_S = 0.0003

_HEAD = b"Time (s),Ng (%),ITT (degC),Starter,Fuel on\n"


@dataclass(frozen=True)
class Large:
    """A large input: its name, how it is written, the command, and how many findings it makes.

    What makes a finding costs `FINDING_S` beside the budget of time.
    """

    name: str
    file: str
    make: Callable[[], Iterator[bytes]]
    command: tuple[str, ...] = ("assess", "{}")
    findings: int = 0


@dataclass
class Measured:
    """What each large input took."""

    rows: list[tuple[str, str]] = field(default_factory=list)
    findings: list[str] = field(default_factory=list)


def _again(piece: bytes, times: int) -> Iterator[bytes]:
    for _ in range(times):
        yield piece


def _columns(count: int) -> Iterator[bytes]:
    yield b"Time (s)," + b",".join(b"c%d" % i for i in range(count)) + b"\n"
    for row in range(3):
        yield b"%d," % row + b",".join([b"1"] * count) + b"\n"


def _one_line(size_mb: int, piece: bytes) -> Iterator[bytes]:
    yield _HEAD
    yield from _again(piece * (1_000_000 // len(piece)), size_mb)


def _open_quote() -> Iterator[bytes]:
    yield _HEAD + b'0,"1'
    yield from _again(b"0.25,0.0,14,0,0\n" * 60_000, 40)


def _starts(rows: int) -> Iterator[bytes]:
    yield b"# engine-profile: tarn-tg7\n" + _HEAD
    for row in range(rows):
        noise = (row * 7919) % 101
        yield b"%d,%d,%d,%d,%d\n" % (row, noise, 10 * noise, row % 2, row // 2 % 2)


def _long_flight(rows: int) -> Iterator[bytes]:
    yield b"# engine-profile: tarn-tg7\nTime (s),Ng (%),ITT (degC),Torque (%),Np (rpm),Oil temp (degC),Starter,Fuel on\n"
    for first in range(0, rows, 10_000):
        yield b"".join(
            b"%.2f,%.1f,%d,%.1f,%d,%.1f,0,1\n"
            % (row / 16, 70 + row % 9, 600 + row % 13, 60 + row % 7, 1800 + row % 5, 80 + row % 3)
            for row in range(first, first + 10_000)
        )


def _gzip_bomb(members: int) -> Iterator[bytes]:
    yield gzip.compress(_HEAD)
    yield from _again(gzip.compress(bytes(100_000_000), 9), members)


def _gzip_rows(members: int) -> Iterator[bytes]:
    yield gzip.compress(_HEAD)
    yield from _again(gzip.compress(b"0.25,0.0,14,0,0\n" * 6_000_000, 9), members)


def _zip_bomb(blocks: int) -> Iterator[bytes]:
    """One member of `blocks` times 10 MB, whose sizes in the directory are true."""
    pack = zlib.compressobj(9, zlib.DEFLATED, -15)
    first = pack.compress(_HEAD) + pack.flush(zlib.Z_FULL_FLUSH)
    block = pack.compress(b"0" * 10_000_000) + pack.flush(zlib.Z_FULL_FLUSH)
    last = pack.flush()
    packed, whole = len(first) + blocks * len(block) + len(last), len(_HEAD) + blocks * 10_000_000
    common = struct.pack("<HHHHHIIIHH", 20, 0, 8, 0, 0, 0, packed, whole, 5, 0)
    local = b"PK\3\4" + common + b"f.csv"
    yield local + first
    yield from _again(block, blocks)
    yield last
    central = b"PK\1\2" + struct.pack("<H", 20) + common + struct.pack("<HHHII", 0, 0, 0, 0, 0) + b"f.csv"
    yield central + b"PK\5\6" + struct.pack("<HHHHIIH", 0, 0, 1, 1, len(central), len(local) + packed, 0)


def _profile(line: bytes) -> Iterator[bytes]:
    yield b'format = "engine-profile/1"\nname = "x"\n' + line + b"\n"


def _many_limits(count: int) -> Iterator[bytes]:
    yield from _profile(b"")
    for i in range(count):
        yield b'[[limits]]\nid = "l%d"\nevent = "e"\nchannel = "itt"\nwhen = "any"\nunit = "degC"\ncount = "total"\nallowed = [{above = %d, seconds = 0, severity = "limit"}]\n' % (i, 500 + i)  # fmt: skip


def _export(line: bytes) -> Iterator[bytes]:
    yield b'{"schema": "turbine-debrief.history/1", "maintenance": []}\n' + line + b"\n"


_WITH = ("assess", str(ROOT / "demo_flights/07_no_light_off.csv"), "--profile", "{}")
_MERGE = ("history", "merge", "{}")

LARGE = (
    Large("140,000 columns", "f.csv", lambda: _columns(140_000)),
    Large("3,000 columns", "f.csv", lambda: _columns(3_000)),
    Large("one line of 160 MB of text", "f.csv", lambda: _one_line(160, b"x")),
    Large("one line of 60 MB of cells", "f.csv", lambda: _one_line(60, b"1,")),
    Large("60 MB of empty lines", "f.csv", lambda: _again(b"\n" * 1_000_000, 60)),
    Large("60 MB of zero bytes", "f.csv", lambda: _again(bytes(1_000_000), 60)),
    Large("60 MB of preamble", "f.csv", lambda: _again(b"# aircraft: X\n" * 70_000, 60)),
    Large("a preamble line of 20 MB", "f.csv", lambda: iter([b"# aircraft: ", b"A" * 20_000_000, b"\n", _HEAD, b"0,1,2,0,0\n1,1,2,0,0\n"])),
    Large("a quote that is never closed, 40 MB", "f.csv", _open_quote),
    Large("4.5 GB of zeros in a .gz", "f.csv.gz", lambda: _gzip_bomb(45)),
    Large("5 GB of rows in a .gz", "f.csv.gz", lambda: _gzip_rows(50)),
    Large("4 GB in one line in a .zip", "f.zip", lambda: _zip_bomb(400)),
    Large("20,000 rows of noise", "f.csv", lambda: _starts(20_000), findings=13_664),
    Large("80,000 rows of noise", "f.csv", lambda: _starts(80_000), findings=54_656),
    Large("20,000 rows of noise, as JSON", "f.csv", lambda: _starts(20_000), ("assess", "{}", "--format", "json"), 13_664),
    Large("ten hours at 16 Hz", "f.csv", lambda: _long_flight(580_000)),
    Large("a TOML key of 40 kB", "p.toml", lambda: _profile(b"a." * 20_000 + b"a = 1"), _WITH),
    Large("a TOML table of 40 kB", "p.toml", lambda: _profile(b"[" + b"a." * 20_000 + b"a]"), _WITH),
    Large("400 TOML keys of 400 parts", "p.toml", lambda: _profile(b"\n".join(b"k%d." % i + b"a." * 400 + b"a = 1" for i in range(400))), _WITH),
    Large("50,000 nested lists in TOML", "p.toml", lambda: _profile(b"x = " + b"[" * 50_000), _WITH),
    Large("20 MB of TOML text", "p.toml", lambda: _profile(b'x = "' + b"x" * 20_000_000 + b'"'), _WITH),
    Large("5,000 limits", "p.toml", lambda: _many_limits(5_000), _WITH),
    Large("a million nested lists in an export", "e.jsonl", lambda: _export(b"[" * 1_000_000), _MERGE),
    Large("a line of 60 MB in an export", "e.jsonl", lambda: _export(b'{"recording": "' + b"x" * 60_000_000 + b'"}'), _MERGE),
    Large("a number of a million digits in an export", "e.jsonl", lambda: _export(b'{"recording": ' + b"9" * 1_000_000 + b"}"), _MERGE),
    Large("60 MB of maintenance actions", "e.jsonl", lambda: iter([b'{"schema": "turbine-debrief.history/1", "maintenance": [', b"{}," * 20_000_000, b"{}]}\n"]), _MERGE),
)  # fmt: skip


def measure(folder: Path, only: str = "") -> Measured:
    """Run every large input whose name holds a word."""
    done = Measured()
    small = folder / "small.csv"
    small.write_bytes(_HEAD + b"0,1,20,0,0\n1,1,20,0,0\n")
    _, _, base_mb, _ = _run(["assess", str(small)], folder)
    for one in LARGE:
        if only not in one.name:
            continue
        path = folder / one.file
        with path.open("wb") as file:
            for piece in one.make():
                file.write(piece)
        size_mb = path.stat().st_size / 1e6
        code, seconds, memory_mb, said = _run([word.replace("{}", str(path)) for word in one.command], folder)
        path.unlink()
        figures = f"{size_mb:.1f} MB: exit {code}, {seconds:.1f} s, {memory_mb - base_mb:.0f} MB more"
        done.rows.append((one.name, f"{figures}: {said.strip()[-90:]}"))
        wrong = []
        if code not in (0, 2):
            wrong.append(f"exit {code}")
        if memory_mb - base_mb > MEMORY_MB + TIMES_FILE * size_mb:
            wrong.append("memory")
        if seconds > CPU_SECONDS + A_MEGABYTE * size_mb + FINDING_S * one.findings:
            wrong.append("time")
        if code == 2 and not said.startswith("debrief: "):
            wrong.append("no word")
        if len(said) > 4000:
            wrong.append(f"{len(said)} characters")
        if wrong:
            done.findings.append(f"{one.name}: {', '.join(wrong)} ({figures}): {said[-300:]}")
    return done


def _run(arguments: list[str], folder: Path) -> tuple[int, float, float, str]:
    """Return exit code, processor time, resident memory in MB, and what was said on standard error."""
    home = folder / f"home-{os.urandom(4).hex()}"
    with (folder / "said").open("w+b") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", "debrief", *arguments], cwd=folder, stdout=subprocess.DEVNULL, stderr=said,
            env=os.environ | {"DEBRIEF_HOME": str(home), "PYTHONPATH": str(ROOT)},
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (ENDED_AFTER_S, ENDED_AFTER_S)),
        )  # fmt: skip
        watch = threading.Timer(4 * ENDED_AFTER_S, lambda: process.send_signal(signal.SIGKILL))
        watch.start()
        _, status, used = os.wait4(process.pid, 0)
        watch.cancel()
        watch.join()
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read().decode("utf-8", "replace")
    scale = 1 if sys.platform == "darwin" else 1024
    return process.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss * scale / 1e6, text


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory(prefix="hostile-") as name:
        got = measure(Path(name), sys.argv[1] if len(sys.argv) > 1 else "")
    for what, figure in got.rows:
        print(f"{what:<44} {figure}")
    for what in got.findings:
        print("FOUND", what)
