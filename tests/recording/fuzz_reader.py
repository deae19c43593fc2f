"""Throws broken files at the reader: random bytes, valid files with random damage, packed ones, hostile shapes.

Run as a script for a long campaign: ``python -m tests.recording.fuzz_reader --count 200000 --seed 1``. It
stops at the first input that makes the reader raise anything but `UserError`, warn, take longer than two seconds,
tell the hash of other bytes or break a promise about its result, keeps that input and says how to repeat it.
``--changes 2000`` also reads files that a thread renames over, cuts, writes over or appends to meanwhile.
"""

from __future__ import annotations

import argparse
import contextlib
import gzip
import hashlib
import io
import os
import random
import resource
import sys
import tempfile
import threading
import time
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

from debrief.errors import UserError
from debrief.recording.csv import csv_arrow, source
from debrief.recording.model import Recording
from debrief.recording.reader import read
from debrief.terminal import one_line
from debrief.words.shortened import MAX_MESSAGE_CHARS
from tests.recording.shapes import SHAPES

MAX_SECONDS = 2.0
MAX_MEMORY_MB = 1024
_SIZES = (source.HEAD_BYTES, source.BLOCK_BYTES, source.AT_ONCE_BYTES)

_HEADERS = [
    ["time", "ng", "itt", "starter"],
    ["Time (s)", "N1 (%)", "ITT (degF)", "Oil Temp [C]", "Bus (V)"],
    ["Date", "Time", "Eng1 ITT", "Eng2 ITT", "Eng1 Ng", "Eng2 Ng", "Note"],
    ["timestamp", "Torque", "Fuel Flow (pph)", "EGT", "Temp 3"],
]
_TOKENS = [b",", b";", b"\t", b"|", b'"', b'""', b"\n", b"\r\n", b"\r", b"#", b"NaN", b"inf", b"-", b"---", b"1e999",
           b"\x00", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b"12:30:00", b"2031-05-01", b"24:00:00", b"1,5", b"9" * 40,
           b"1e300", b"-1.7e308", b"1e999999999", b"9" * 400, b"5e-324", b"999999-05-01", b"\x1b[8m", b"\xe2\x80\xae",
           b"ON", b" ", b"=", b":", b"(degF)", b"[%]", b"\xc2\xb0C", b"time", b"itt", b"0", b"-1"]  # fmt: skip


def valid_file(rng: random.Random) -> bytes:
    """Return a small good recording in a random dialect."""
    header = rng.choice(_HEADERS)
    delimiter = rng.choice([",", ";", "\t", "|"])
    decimal = "," if delimiter != "," and rng.random() < 0.4 else "."
    end = rng.choice(["\n", "\r\n", "\r"])
    clock = rng.choice(["elapsed", "clock", "iso", "epoch"])
    lines = []
    if rng.random() < 0.4:
        lines += ["# engine-profile: tarn-tg7", "# start: 2031-05-01T09:30:00Z"]
    lines.append(delimiter.join(header))
    for i in range(rng.randint(1, 30)):
        cells = []
        for name in header:
            if name == "Date":
                cells.append("2031-05-01")
            elif name.lower().startswith("time"):
                cells.append(_time(clock, i))
            elif name == "starter":
                cells.append(rng.choice(["ON", "OFF"]))
            elif name == "Note":
                cells.append(rng.choice(["", "ok", '"a, b"', '"c ""d"""']))
            else:
                cells.append("" if rng.random() < 0.1 else f"{rng.uniform(0, 900):.2f}".replace(".", decimal))
        lines.append(delimiter.join(cells))
    text = end.join(lines) + (end if rng.random() < 0.8 else "")
    return text.encode(rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "latin-1"]))


def _time(clock: str, i: int) -> str:
    if clock == "elapsed":
        return f"{i * 0.5:.1f}"
    if clock == "clock":
        return f"{(23 + i // 40) % 24:02d}:{i % 60:02d}:{i % 60:02d}"
    if clock == "iso":
        return f"2031-05-01T09:{i % 60:02d}:00Z"
    return str(1935653400 + i)


def damaged(data: bytes, rng: random.Random) -> bytes:
    """Return the bytes with one to five random wounds."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 5)):
        at = rng.randint(0, len(out))
        kind = rng.randint(0, 7)
        if kind == 0:
            out[at:at] = rng.choice(_TOKENS)
        elif kind == 1:
            del out[at : at + rng.randint(1, 20)]
        elif kind == 2 and out:
            out[min(at, len(out) - 1)] = rng.randint(0, 255)
        elif kind == 3:
            other = rng.randint(0, len(out))
            out[at:at] = out[min(at, other) : max(at, other)]
        elif kind == 4:
            out[at:at] = rng.choice(_TOKENS) * rng.randint(1, 200)
        elif kind == 5:
            del out[at:]
        elif kind == 6:
            lines = bytes(out).split(b"\n")
            rng.shuffle(lines)
            out = bytearray(b"\n".join(lines))
        else:
            out[at:at] = rng.randbytes(rng.randint(1, 16))
    return bytes(out)


def an_input(rng: random.Random) -> tuple[str, bytes]:
    """Return a file name and its bytes."""
    kind = rng.random()
    if kind < 0.08:
        return "flight.csv", rng.randbytes(rng.randint(0, 400))
    if kind < 0.16:
        return "flight.csv", b"".join(rng.choice(_TOKENS) for _ in range(rng.randint(0, 120)))
    if kind < 0.2:
        name = rng.choice(list(SHAPES))
        ending = {"gzip": ".csv.gz", "zip": ".zip"}.get(name.split()[0], ".csv")
        return f"flight{ending}", SHAPES[name](rng.randint(1, 3000))
    data = valid_file(rng)
    if kind < 0.8:
        return "flight.csv", damaged(data, rng)
    if kind < 0.9:
        return "flight.csv.gz", gzipped(data, rng)
    return "flight.zip", zipped(data, rng)


def gzipped(data: bytes, rng: random.Random) -> bytes:
    """Return the data in one to three members, whole, cut, damaged or with something behind."""
    cuts = sorted(rng.randint(0, len(data)) for _ in range(rng.randint(0, 2)))
    parts = [data[a:b] for a, b in zip([0, *cuts], [*cuts, len(data)], strict=True)]
    packed = b"".join(gzip.compress(part, rng.randint(0, 9), mtime=0) for part in parts)
    how = rng.random()
    if how < 0.3:
        return packed
    if how < 0.5:
        return packed[: rng.randint(1, len(packed))]
    if how < 0.7:
        return packed + rng.choice(
            [b"\0" * 50, b"x", b"\x1f\x8b", b"\0" * 7 + gzip.compress(data), rng.randbytes(9)]
        )
    return damaged(packed, rng)


def zipped(data: bytes, rng: random.Random) -> bytes:
    """Return the data in a zip by any method, whole, cut, damaged or with a field of its directory changed."""
    buffer = io.BytesIO()
    method = rng.choice([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
    with zipfile.ZipFile(buffer, "w", method) as archive:
        archive.writestr(
            rng.choice(["flight.csv", "f\u00fc\u0142.csv", "a/../../b.txt", "/etc/x.csv", "x.log"]), data
        )
        for name in rng.sample(
            ["notes.doc", "__MACOSX/flight.csv", "empty/", "b.csv", "xl/book.xml"],
            rng.choice([0, 0, 0, 1, 2]),
        ):
            archive.writestr(name, b"x")
    packed = bytearray(buffer.getvalue())
    how = rng.random()
    if how < 0.25:
        return bytes(packed)
    if how < 0.35:
        return bytes(packed[: rng.randint(4, len(packed))])
    if (
        how < 0.7
    ):  # encrypted, deflate64 and the like, other sizes, a name that is not UTF-8, in the directory or before
        entry = packed.rfind(b"PK\x01\x02") if rng.random() < 0.7 else -2
        field, size = rng.choice(
            [(8, 2), (10, 2), (16, 4), (20, 4), (24, 4), (28, 2), (30, 2), (42, 4), (46, 3)]
        )
        for at in range(entry + field, min(entry + field + size, len(packed))):
            packed[at] = rng.choice([0, 1, 9, 0xFF, rng.randint(0, 255)])
        return bytes(packed)
    return damaged(bytes(packed), rng)


_MAPS = [
    ["itt=#3"], ["time=#1"], ["ng=ng:%"], ["itt=#2:degF"], ["itt.mean=#2", "itt.mean=#3"],
    ["itt.highest=#1:degF", "itt.highest=#2", "itt.highest=#3:K"], ["oat.mean=#1", "oat.mean=#2", "ng=#3"],
]  # fmt: skip


def check(recording: Recording) -> None:
    """Assert what every recording promises."""
    for name, channel in {**recording.channels, **recording.unmapped}.items():
        assert channel.time_s.size == channel.values.size > 0, name
        assert np.all(np.isfinite(channel.values)), name
        assert np.all(np.isfinite(channel.time_s)), name
        assert np.all(np.diff(channel.time_s) > 0), name
        assert channel.time_s[0] >= 0, name
        assert channel.time_s[-1] <= recording.duration_s, name
        assert not channel.values.flags.writeable, name
    for text in (*recording.provenance.repairs, *recording.provenance.questions):
        assert text.strip(), "an empty sentence"
    assert len(recording.provenance.sha256) == 64


def try_one(path: Path, options: dict[str, object], data: bytes) -> str:
    """Read one file of these bytes; return what became of it."""
    began = time.process_time()  # not the wall's, which a busy machine stretches
    try:
        recording = read(path, **options)  # type: ignore[arg-type]
    except UserError as error:
        text = str(error)
        assert text.strip(), "an empty message"
        assert "\n" not in text, f"a message of several lines: {text!r}"
        assert len(text) <= MAX_MESSAGE_CHARS, f"a message of {len(text)} characters"
        assert one_line(text).isprintable(), f"not to be printed: {text!r}"
        outcome = "refused"
    else:
        check(recording)
        assert recording.provenance.sha256 == hashlib.sha256(data).hexdigest()
        outcome = "read"
    took = time.process_time() - began
    assert took < MAX_SECONDS, f"took {took:.1f} s"
    return outcome


def campaign(
    count: int, seed: int, folder: Path, say: Callable[[str], None] = lambda text: None
) -> Counter[str]:
    """Run `count` inputs from this seed; raise on the first that breaks a promise, keeping it in `folder`."""
    import pyarrow.csv  # not in the time of the first input that needs it

    assert pyarrow.csv
    assert csv_arrow
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return _campaign(count, seed, folder, say)


def _campaign(count: int, seed: int, folder: Path, say: Callable[[str], None]) -> Counter[str]:
    outcomes: Counter[str] = Counter()
    for number in range(count):
        rng = random.Random(f"{seed}/{number}")
        name, data = an_input(rng)
        options: dict[str, object] = {}
        if rng.random() < 0.3:
            options["rate_hz"] = 4.0
        if rng.random() < 0.1:
            options["maps"] = rng.choice(_MAPS)
        path = folder / name
        path.write_bytes(data)
        # One in six is read as if it were large, by the quick parser: in tiny blocks, or at once where it can be.
        large = rng.random() < 1 / 6
        sizes = (200, rng.randint(1, 300), rng.choice([0, 10**7])) if large else _SIZES
        source.HEAD_BYTES, source.BLOCK_BYTES, source.AT_ONCE_BYTES = sizes
        try:
            outcomes[try_one(path, options, data)] += 1
        except Exception as error:
            kept = folder / f"broken-{seed}-{number}-{name}"
            kept.write_bytes(data)
            raise AssertionError(f"seed {seed}, input {number}, options {options}: kept as {kept}") from error
        if number % 5000 == 4999:
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
            say(f"{number + 1} inputs, {dict(outcomes)}, {memory} MB")
            assert memory < MAX_MEMORY_MB, f"{memory} MB"
    source.HEAD_BYTES, source.BLOCK_BYTES, source.AT_ONCE_BYTES = _SIZES
    return outcomes


def _changed(path: Path, after_s: float, how: str, new: bytes) -> None:
    """Change a file as another program may, a little later."""
    time.sleep(after_s)
    if how == "renamed over":
        other = path.with_name("new")
        other.write_bytes(new)
        os.replace(other, path)
    elif how == "cut":
        os.truncate(path, len(new))
    else:
        with path.open("ab" if how == "appended to" else "r+b") as stream:
            stream.write(new)


def changes(count: int, seed: int, folder: Path) -> Counter[str]:
    """Read files that a thread changes meanwhile; what is read is one of the two states, with its hash and its values."""
    outcomes: Counter[str] = Counter()
    path, again = folder / "flight.csv", folder / "again"
    again.mkdir(exist_ok=True)
    for number in range(count):
        rng = random.Random(f"{seed}/changes/{number}")
        name = rng.choice(["flight.csv", "flight.csv.gz", "flight.zip"])
        path, copy = folder / name, again / name
        old, new = (_tagged(tag, rng.randint(50, 3000), name) for tag in (600, 700))
        how = rng.choice(["renamed over", "cut", "appended to", "written over"])
        new = old[: rng.randint(1, len(old))] if how == "cut" else new
        path.write_bytes(old)
        source.HEAD_BYTES, source.BLOCK_BYTES, source.AT_ONCE_BYTES = rng.choice(
            [_SIZES, (512, 512, 0), (512, 4096, 0), (512, 512, 10**7)]
        )
        thread = threading.Thread(target=_changed, args=(path, rng.random() * 0.004, how, new))
        thread.start()
        try:
            recording = read(path)
        except UserError as error:
            outcomes["noticed" if "changed while" in str(error) else "refused"] += 1
        else:
            # The states in which it lay there: before, after, and for one that is written over what was written so far.
            states = {"cut": [new], "appended to": [old + new], "renamed over": [new]}.get(
                how, [new + old[len(new) :]]
            )
            whole = {hashlib.sha256(state).hexdigest(): state for state in (old, *states)}
            sha = recording.provenance.sha256
            assert sha in whole, f"seed {seed}, change {number}, {how}: the hash of neither state"
            copy.write_bytes(whole[sha])
            for channel, values in read(copy).channels.items():
                assert np.array_equal(values.values, recording.channels[channel].values), (
                    seed,
                    number,
                    channel,
                )
            outcomes["read before" if sha == hashlib.sha256(old).hexdigest() else "read after"] += 1
        finally:
            thread.join()
            source.HEAD_BYTES, source.BLOCK_BYTES, source.AT_ONCE_BYTES = _SIZES
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
    return outcomes


def _tagged(tag: int, rows: int, name: str) -> bytes:
    text = "time (s),ng (%),itt (degC)\n" + "".join(
        f"{i / 4},{60 + i % 7},{tag + i % 9}\n" for i in range(rows)
    )
    if name.endswith(".gz"):
        return gzip.compress(text.encode(), mtime=0)
    if name.endswith(".zip"):
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("flight.csv", text)
        return buffer.getvalue()
    return text.encode()


def main() -> int:
    """Run a campaign from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--changes", type=int, default=0, help="files that are changed while they are read")
    parser.add_argument("--folder", type=Path, default=None, help="where inputs that break are kept")
    options = parser.parse_args()
    folder = options.folder or Path(tempfile.mkdtemp(prefix="fuzz-"))
    folder.mkdir(parents=True, exist_ok=True)
    outcomes = campaign(options.count, options.seed, folder, lambda text: print(text, flush=True))
    print(f"{options.count} inputs: {dict(outcomes)}")
    if options.changes:
        print(f"{options.changes} changes: {dict(changes(options.changes, options.seed, folder))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
