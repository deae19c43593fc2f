"""Hostile recordings as large as wanted, each read in a process of its own with its time and memory.

``python -m tests.recording.shapes [--megabytes 16] [NAME ...]`` prints for each what became of it, the processor
time, the longest time between two steps at which it can be given up, and the highest memory beside what is promised.
"""

from __future__ import annotations

import argparse
import gzip
import io
import json
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

MEMORY_FACTOR = 10
MEMORY_FREE_MB = 200
HONEST_RATIO = 10
MAX_STEP_S = 2.0
HEADER = b"time (s),ng (%),itt (degC)\n"

MEASURE = """
import json, sys, time, warnings
import debrief.recording.csv.csv_arrow, pyarrow.csv
from debrief.errors import UserError
from debrief.recording.lexicon import load
from debrief.recording.reader import read_steps
warnings.simplefilter("error")
load()
def highest():
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024
before = highest()
begun = last = time.process_time()
longest, steps, said = 0.0, 0, "read"
try:
    for _ in read_steps(sys.argv[1]):
        now = time.process_time()
        longest, last, steps = max(longest, now - last), now, steps + 1
except UserError as error:
    said = str(error)
now = time.process_time()
longest = max(longest, now - last)
print(json.dumps([said, now - begun, longest, steps, highest(), before]))
"""


@dataclass(frozen=True)
class Measured:
    """What became of a file: the sentence or ``read``, times in seconds, memory in MB."""

    said: str
    took_s: float
    longest_step_s: float
    steps: int
    memory_mb: float
    program_mb: float


def measured(path: Path, timeout_s: float = 100.0) -> Measured:
    """Read a file in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, str(path)],
        capture_output=True,
        text=True,
        timeout=timeout_s,
        check=False,
    )
    if done.returncode:
        raise AssertionError(f"{path.name}: {done.stderr[-2000:]}")
    assert done.stderr == "", done.stderr
    return Measured(*json.loads(done.stdout))


def _filled(head: bytes, part: bytes, size: int) -> bytes:
    return head + part * max((size - len(head)) // len(part), 1)


def _rows(line: Callable[[int], str], size: int, head: bytes = HEADER) -> bytes:
    out, length, i = [head], len(head), 0
    while length < size:
        some = "".join(line(i + k) for k in range(2000)).encode()
        out.append(some)
        length += len(some)
        i += 2000
    return b"".join(out)


def _gz(data: bytes) -> bytes:
    return gzip.compress(data, 9, mtime=0)


def _zip(data: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        archive.writestr("flight.csv", data)
    return buffer.getvalue()


GOOD = _rows(lambda i: f"{i},5{i % 10},6{i % 7}\n", 20_000)

SHAPES: dict[str, Callable[[int], bytes]] = {
    "plain numbers": lambda n: _rows(lambda i: f"{i / 16:.4f},{60 + i % 70 / 10:.1f},{600 + i % 110}\n", n),
    "one digit": lambda n: _rows(lambda i: f"{i},1,2\n", n, b"time,ng,itt,a,b,c,d,e,f,g\n".replace(b",a,b,c,d,e,f,g", b"")),
    "wide digits": lambda n: _rows(lambda i: f"{i}" + ",1" * 200 + "\n", n, b"time,itt" + b",x" * 199 + b"\n"),
    "clock texts": lambda n: _rows(lambda i: f"{i // 36000 % 24:02d}:{i // 600 % 60:02d}:{i // 10 % 60:02d}.{i % 10},5\n", n, b"time,itt (degC)\n"),
    "instants": lambda n: _rows(lambda i: f"2031-05-{1 + i // 864000 % 28:02d}T{i // 36000 % 24:02d}:{i // 600 % 60:02d}:{i // 10 % 60:02d}.{i % 10}Z,5\n", n, b"time,itt (degC)\n"),
    "texts everywhere": lambda n: _rows(lambda i: f"{i},x{i},y{i * 7}\n", n),
    "blank cells": lambda n: _rows(lambda i: f"{i},5{i % 10}" + "," * 40 + "\n", n, b"time,itt" + b"".join(b",c%d" % i for i in range(40)) + b"\n"),
    "all quotes": lambda n: b'"' * n,
    "quotes in lines": lambda n: _filled(HEADER, b'"""","","""\n', n),
    "stray quotes": lambda n: _rows(lambda i: f'{i},5"5,6"\n', n),
    "quoted numbers": lambda n: _rows(lambda i: f'"{i}","5","6"\n', n),
    "an open quote at the start": lambda n: _filled(b'"' + HEADER, b"1,2,3\n", n),
    "an open quote after the head": lambda n: GOOD + _filled(b'9999,"5,6\n', b"1,2,3\n", n),
    "all delimiters": lambda n: b"," * n,
    "delimiters in lines": lambda n: _filled(HEADER, b"," * 2000 + b"\n", n),
    "delimiter pairs": lambda n: _filled(HEADER, b",,\n", n),
    "all newlines": lambda n: b"\n" * n,
    "newlines after the head": lambda n: GOOD + b"\n" * n,
    "carriage returns": lambda n: GOOD + b"\r" * n,
    "NUL bytes": lambda n: b"\0" * n,
    "NUL after the head": lambda n: _filled(GOOD, b"1,\0,2\n", n),
    "spaces": lambda n: b" " * n,
    "comments": lambda n: _filled(b"", b"#\n", n),
    "comments after the head": lambda n: _filled(GOOD, b"# a: b\n", n),
    "a preamble line of spaces": lambda n: b"# a: b" + b" " * min(n, 250_000) + b"c\n" + GOOD,
    "a preamble of 1 field lines": lambda n: _filled(b"", b"title\n", min(n, 200_000)) + GOOD,
    "UTF-16 with an odd byte": lambda n: b"\xff\xfe" + GOOD.decode().encode("utf-16-le") + b"1" + _filled(b"", b"1\x00", n),
    "UTF-16": lambda n: _rows(lambda i: f"{i},5,6\n", n // 2).decode().encode("utf-16"),
    "huge exponents": lambda n: _rows(lambda i: f"{i},1e999999999,-1e308\n", n),
    "large values": lambda n: _rows(lambda i: f"{i},{'-' if i % 2 else ''}1.7e308,1e300\n", n),
    "large values in an index": lambda n: _rows(lambda i: f"{i},{'-' if i % 2 else ''}1.7e308,60\n", n, b"time,index,itt\n"),
    "large times": lambda n: _rows(lambda i: f"{'-' if i % 2 else ''}1.{i}e300,5,60\n", n),
    "numbers of 10,000 digits": lambda n: _rows(lambda i: f"{i},{'9' * 10_000},6\n" if i < n // 10_000 else "", n) if n > 10**7 else _filled(HEADER, b"1," + b"9" * 10_000 + b",6\n", n),
    "dates of the year 999999": lambda n: _rows(lambda i: f"999999-05-01T00:00:{i % 60:02d}Z,5,6\n", n),
    "a clock that goes back on each row": lambda n: _rows(lambda i: f"{23 - i // 3600 % 24:02d}:{59 - i // 60 % 60:02d}:{59 - i % 60:02d},5,6\n", n),
    "a clock that goes back on nearly each second row": lambda n: _rows(lambda i: f"{i // 3 * 10 + (0, 20, 9)[i % 3]},5,6\n", n),
    "a clock set forward on each second row": lambda n: _rows(lambda i: f"{i * 100000.0 if i % 2 else i * 100000.0 - 99999},5,6\n", n),
    "ties": lambda n: _rows(lambda i: f"{i // 1000},5{i % 10},6\n", n),
    "gaps everywhere": lambda n: _rows(lambda i: f"{i + 5 * (i // 3)},5,6\n", n),
    "spikes everywhere": lambda n: _rows(lambda i: f"{i},{'50' if i % 3 else '90'},{'600' if i % 4 else '1100'}\n", n),
    "dropouts everywhere": lambda n: _rows(lambda i: f"{i},{'90' if i % 3 else '0'},{'600' if i % 4 else '0'}\n", n),
    "states between": lambda n: _rows(lambda i: f"{i},{'0.5' if i % 2 else '1'},600\n", n, b"time (s),starter,itt (degC)\n"),
    "header-like rows": lambda n: _rows(lambda i: "abc,def,ghi\n", n),
    "wide header-like rows": lambda n: _filled(b"", b",".join(b"ab" for _ in range(500)) + b"\n", n),
    "wide rows of words and numbers": lambda n: _filled(b"", (b"ab,1," * 250)[:-1] + b"\n" + b",".join(b"ab" for _ in range(500)) + b"\n", n),
    "a repeated header at each second row": lambda n: _rows(lambda i: f"{i},5,6\n" + HEADER.decode(), n),
    "every row another width": lambda n: _rows(lambda i: ",".join("1" for _ in range(1 + i * 7 % 23)) + "\n", n),
    "every row too short": lambda n: _filled(GOOD, b"5\n", n),
    "every cell another length": lambda n: _rows(lambda i: f"{i},{'x' * (i % 3000)},6\n", n),
    "many columns": lambda n: _filled(b"time,itt", b",x", min(n, 200_000)) + b"\n" + (b"1" + b",2" * 99_000 + b"\n") * 2,
    "columns to the limit": lambda n: b"time,itt," + b",".join(b"egt %d (degC)" % i for i in range(1990)) + b"\n" + b"".join(b"%d" % i + b",5" * 1991 + b"\n" for i in range(max(3, n // 4000))),
    "columns of one name": lambda n: b"time," + b",".join([b"itt"] * 1990) + b"\n" + b"".join(b"%d" % i + b",%d" % (i % 7) * 1990 + b"\n" for i in range(max(3, n // 4000))),
    "columns of no name": lambda n: b"time,itt" + b"," * 1990 + b"\n" + b"".join(b"%d" % i + b",%d" % (i % 7) * 1991 + b"\n" for i in range(max(3, n // 4000))),
    "a name of underscores": lambda n: b"time,itt,temp " + b"_" * min(n, 100_000) + b"x1 (degC)\n" + b"".join(b"%d,%d,600\n" % (i, i % 7) for i in range(1000)),
    "a name of brackets": lambda n: b"time,itt," + b"(" * min(n, 100_000) + b"\n" + b"".join(b"%d,%d,600\n" % (i, i % 7) for i in range(1000)),
    "a name of words": lambda n: b"time,itt," + b"egt max " * min(n // 8, 12_000) + b"\n" + b"".join(b"%d,%d,600\n" % (i, i % 7) for i in range(1000)),
    "many odd names": lambda n: b"time,itt," + b",".join(b"_" * 90 + b" (x) [%d] ngitt" % i for i in range(1900)) + b"\n" + b"".join(b"%d" % i + b",5" * 1901 + b"\n" for i in range(3)),
    "a date cell with a line break": lambda n: HEADER + b'"2031-05-01 ' + b"1" * min(n, 100_000) + b'\nx",5,6\n' + GOOD,
    "one long line": lambda n: GOOD + b"1" * n,
    "one long line of cells": lambda n: GOOD + b"1," * (n // 2),
    "one long line from the start": lambda n: b"1" * n,
    "gzip of one long line": lambda n: _gz(GOOD + b"1" * (40 * n)),
    "zip of one long line": lambda n: _zip(GOOD + b"1" * (40 * n)),
    "gzip of newlines": lambda n: _gz(GOOD + b"\n" * (40 * n)),
    "gzip of one row": lambda n: _gz(_filled(GOOD, b"9,5,6\n", 20 * n)),
    "gzip of numbers": lambda n: _gz(_rows(lambda i: f"{i / 16:.4f},{60 + i % 70 / 10:.1f},{600 + i % 110}\n", 2 * n)),
    "zip of blank cells": lambda n: _zip(_filled(b"time,itt" + b",a" * 200 + b"\n0,5" + b"," * 200 + b"\n", b"1,5" + b"," * 200 + b"\n", 20 * n)),
    "gzip of empty members": lambda n: _gz(GOOD) + _gz(b"") * (n // 20),
    "gzip with a long name": lambda n: b"\x1f\x8b\x08\x08\0\0\0\0\0\xff" + b"a" * n,
    "zip of many files": lambda n: _many_files(n),
}  # fmt: skip


def _many_files(n: int) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("flight.csv", GOOD)
        for i in range(min(n // 110, 100_000)):
            archive.writestr(zipfile.ZipInfo(f"{i}.doc"), b"")
    return buffer.getvalue()


def made(name: str, size: int, folder: Path) -> Path:
    """Write a shape of about this size and return its path."""
    packed = name.split()[0]
    ending = {"gzip": ".csv.gz", "zip": ".zip"}.get(packed, ".csv")
    path = folder / (name.replace(" ", "_") + ending)
    path.write_bytes(SHAPES[name](size))
    return path


def counted_size(path: Path) -> int:
    """Return the size that the promise is made of: a packed file counts as what it unpacks to, up to ten times."""
    size = path.stat().st_size
    if path.suffix == ".csv":
        return size
    try:
        if path.suffix == ".gz":
            with gzip.open(path) as stream:
                full = len(stream.read(HONEST_RATIO * size))
        else:
            with zipfile.ZipFile(path) as archive:
                full = archive.getinfo("flight.csv").file_size
    except (OSError, EOFError):
        return size
    return min(max(full, size), HONEST_RATIO * size)


def broken_promises(path: Path, found: Measured) -> list[str]:
    """Return which promises reading a file broke."""
    out = []
    allowed = MEMORY_FACTOR * counted_size(path) / 1024**2 + MEMORY_FREE_MB
    if found.memory_mb > allowed:
        out.append(f"{found.memory_mb:.0f} MB of memory, {allowed:.0f} allowed")
    if found.longest_step_s > MAX_STEP_S:
        out.append(f"{found.longest_step_s:.1f} s without a step")
    if len(found.said) > 700 or "\n" in found.said:
        out.append("a message that is no short line")
    return out


def main() -> int:
    """Measure shapes from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*", metavar="NAME", help="parts of names; all shapes when not given")
    parser.add_argument("--megabytes", type=float, default=16.0)
    options = parser.parse_args()
    failed = 0
    for name in SHAPES:
        if options.names and not any(part in name for part in options.names):
            continue
        with tempfile.TemporaryDirectory() as folder:
            path = made(name, int(options.megabytes * 1024**2), Path(folder))
            size = path.stat().st_size / 1024**2
            try:
                found = measured(path)
            except (AssertionError, subprocess.TimeoutExpired) as error:
                print(f"{name}: BROKEN: {str(error)[-400:]}", flush=True)
                failed += 1
                continue
            broken = broken_promises(path, found)
            failed += bool(broken)
            print(
                f"{name}: {size:.1f} MB, {found.took_s:.2f} s, longest {found.longest_step_s:.2f} s, "
                f"{found.memory_mb:.0f} MB ({found.program_mb:.0f} before): {found.said[:90]}"
                + "".join(f" *** {what}" for what in broken),
                flush=True,
            )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
