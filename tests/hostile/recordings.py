"""Recordings of the demo flights with their structure damaged on purpose: names, units, times, values, packing."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import random
import warnings
import zipfile
from pathlib import Path

from tests.recording.fuzz_reader import an_input, damaged

ROOT = Path(__file__).resolve().parents[2]

_FLIGHTS = tuple(
    path.read_bytes().decode("utf-8")
    for path in sorted((ROOT / "demo_flights").glob("*.csv"))
    if path.stat().st_size < 60_000
)

WORDS = (
    "", " ", "\t", "X\x1b[8m", "\x1b]0;taken\x07", "\u202egnp.exe", "\u2066a\u2069", "a\u2028b", "\x9b31m", "\x00", "\x7f",
    "<img src='file:///etc/passwd'>", "<b>OK</b>", "=HYPERLINK(\"http://x\")", "'; DROP TABLE recordings;--", "%s%n{0}",
    "Ω≈ç√", "ZZ-" + "A" * 3000, "nan", "None", "../../etc/passwd", "/dev/zero", "/dev/stdin", "tarn-tg7", "quill-b2",
    "C:\\temp\\x", "a\r\nb", "1e18", "-", "--help", "\ufeff", "e\u0301" * 40, "2031-05-14T09:12:00+25:00",
    "9999-12-31T23:59:59Z", "0000-00-00", "-5000-01-01T00:00:00Z", "1970-01-01T00:00:00+14:00", "24:00:00", "29.92", "1013",
)  # fmt: skip

NUMBERS = (
    "inf", "-inf", "nan", "1e999", "-1e308", "1e308", "9" * 400, "1" + "0" * 5000, "0x10", "1_000", "1,5", "1.5.6", "٣٤", "−40",
    "12:99", "ON", "off", "---", "N/A", "1e-320", "-0", "+5", "5 %", "803degC", "1e5", "#REF!", '"', '""', "'5", "", " ", "1 000",
)  # fmt: skip

_HEADERS = (
    "ITT (degF)", "ITT (K)", "ITT (%)", "ITT", "ITT (degC)", "Eng2 ITT (degC)", "Ng (rpm)", "Ng (%)", "Ng", "N1", "Np (%)",
    "Torque (Nm)", "Torque (psi)", "Time (ms)", "Time", "Time (min)", "UTC", "Date", "Clock", "Fuel on", "Starter",
    "ITT limit (degC)", "Start lever", "Oil temp (degF)", "Bus (mV)", "Col", "Weight on wheels", "Air/ground", "#", "Unnamed: 0",
)  # fmt: skip

_PREAMBLE = (
    "engine-profile", "aircraft", "engine-serial", "engine-model", "start", "altimeter", "starter-rest", "earlier-starter-runs",
    "units", "pilot", "notes", "x" * 200,
)  # fmt: skip


class _Table:
    """A flight in parts, so that one part at a time can be made hostile."""

    def __init__(self, text: str) -> None:
        lines = text.splitlines()
        front = next(i for i, line in enumerate(lines) if not line.startswith("#"))
        self.preamble = lines[:front]
        self.header = lines[front].split(",")
        self.rows = [line.split(",") for line in lines[front + 1 :]]

    def text(self, delimiter: str, end: str) -> str:
        lines = [*self.preamble, *(delimiter.join(cells) for cells in (self.header, *self.rows))]
        return end.join(lines) + end


def _thinned(table: _Table, rng: random.Random) -> None:
    if rng.random() < 0.5:  # a part is read quicker, and is cut in the middle of a start
        first = rng.randrange(len(table.rows))
        table.rows = table.rows[first : first + rng.choice([0, 1, 2, 3, 10, 60, 200])]
    elif rng.random() < 0.3:
        del table.rows[:: rng.randint(2, 9)]


def _header(table: _Table, rng: random.Random) -> None:
    at = rng.randrange(len(table.header))
    table.header[at] = rng.choice([rng.choice(_HEADERS), rng.choice(WORDS), rng.choice(table.header)])


def _preamble(table: _Table, rng: random.Random) -> None:
    name = rng.choice(_PREAMBLE)
    table.preamble = [line for line in table.preamble if rng.random() < 0.9]
    table.preamble.insert(rng.randint(0, len(table.preamble)), f"# {name}: {rng.choice([*WORDS, *NUMBERS])}")


def _cells(table: _Table, rng: random.Random) -> None:
    for _ in range(rng.choice([1, 1, 3, 30])):
        if table.rows:
            row = rng.choice(table.rows)
            if row:
                row[rng.randrange(len(row))] = rng.choice(NUMBERS)


def _column(table: _Table, rng: random.Random) -> None:
    at = rng.randrange(len(table.header))
    kind = rng.randrange(8)
    fixed = rng.choice([*NUMBERS, *WORDS])
    for number, row in enumerate(table.rows):
        if at >= len(row):
            continue
        if kind == 0:
            row[at] = fixed
        elif kind == 1:
            row[at] = "" if number % 2 else row[at]
        elif kind == 2:
            row[at] = f"{rng.choice([-1, 1]) * 10.0 ** rng.randint(-320, 308):g}"
        elif kind == 3:
            row[at] = str(number % 2)
        elif kind == 4:
            row[at] = "" if number else row[at]
        elif kind == 5:
            row[at] = row[at] + "e300" if row[at] else ""
        elif kind == 6:
            row[at] = "" if number > len(table.rows) // 2 else row[at]
        else:
            row[at] = rng.choice(NUMBERS) if rng.random() < 0.2 else row[at]


def _time(table: _Table, rng: random.Random) -> None:
    kind = rng.randrange(12)
    if kind >= 8:
        table.header[0] = rng.choice(["Time", "UTC", "Date Time", "timestamp"])
    base = rng.choice([0.0, 1e18, -1e12, 1935653400.0, 1e308, 253402300800.0, 86390.0])
    for number, row in enumerate(table.rows):
        if not row or not row[0]:
            continue
        try:
            time_s = float(row[0])
        except ValueError:
            continue
        if not abs(time_s) < 1e15:
            continue
        minute, second = divmod(int(time_s), 60)
        if kind == 0:
            row[0] = f"{base + time_s}"
        elif kind == 1:
            row[0] = f"{base - time_s}"
        elif kind == 2:
            row[0] = f"{time_s * rng.choice([1e-300, 1e-9, 1e9, 1e300]):g}"
        elif kind == 3:
            row[0] = row[0] if rng.random() < 0.9 else rng.choice(NUMBERS)
        elif kind == 4:
            row[0] = f"{time_s + (1e9 if number > len(table.rows) // 2 else 0)}"
        elif kind == 5:
            row[0] = f"{time_s:.0f}"
        elif kind == 6:
            row[0] = "0"
        elif kind == 7:
            row[0] = f"{time_s + rng.gauss(0, 5):.3f}"
        elif kind == 8:
            row[0] = f"{(23 + minute // 60) % 24:02d}:{minute % 60:02d}:{second:02d}"
        elif kind == 9:
            zone = rng.choice(["Z", "+25:00", "-99:99", "+00:00", "", "+05:30"])
            row[0] = f"2031-05-14T09:{minute % 60:02d}:{second:02d}{zone}"
        elif kind == 10:
            row[0] = (
                f"{rng.choice([28, 29, 30, 31])}.02.{rng.choice(['31', '2031'])} {minute % 24:02d}:00:{second:02d}"
            )
        else:
            row[0] = rng.choice(WORDS)


def _shape(table: _Table, rng: random.Random) -> None:
    kind = rng.randrange(6)
    if kind == 0:
        at = rng.randrange(len(table.header))
        for row in (table.header, *table.rows):
            del row[at : at + 1]
        table.header = table.header or ["x"]
    elif kind == 1:
        at, times = rng.randrange(len(table.header)), rng.choice([1, 2, 40, 600])
        for row in (table.header, *table.rows[:50]):
            row.extend(row[at : at + 1] * times)
    elif kind == 2:
        rng.shuffle(table.rows)
    elif kind == 3:
        table.rows = table.rows * rng.choice([2, 3])
    elif kind == 4 and table.rows:
        table.rows.insert(rng.randrange(len(table.rows)), [rng.choice(WORDS)] * rng.randint(1, 40))
    else:
        order = list(range(len(table.header)))
        rng.shuffle(order)
        table.header = [table.header[i] for i in order]
        table.rows = [[row[i] if i < len(row) else "" for i in order] for row in table.rows]


_WAYS = (
    _header,
    _header,
    _preamble,
    _preamble,
    _cells,
    _cells,
    _column,
    _column,
    _column,
    _time,
    _time,
    _shape,
)


def a_recording(rng: random.Random) -> tuple[str, bytes]:
    """Return an ending for the name of a recording, and its bytes."""
    kind = rng.random()
    if kind < 0.1:
        name, data = an_input(rng)
        return name.removeprefix("flight"), data
    table = _Table(rng.choice(_FLIGHTS))
    _thinned(table, rng)
    for _ in range(rng.choice([0, 1, 1, 2, 2, 3, 5])):
        rng.choice(_WAYS)(table, rng)
    delimiter = rng.choice([",", ",", ",", ",", ";", "\t", "|"])
    text = table.text(delimiter, rng.choice(["\n", "\n", "\n", "\r\n", "\r"]))
    if delimiter == ";" and rng.random() < 0.5:
        text = text.replace(".", ",")
    encoding = rng.choice(["utf-8"] * 6 + ["utf-8-sig", "utf-16", "latin-1", "utf-16-be", "utf-32"])
    data = text.encode(encoding, "replace")
    if rng.random() < 0.15:
        data = damaged(data, rng)
    return packed(data, rng) if rng.random() < 0.12 else (rng.choice([".csv", ".csv", ".txt", ""]), data)


def packed(data: bytes, rng: random.Random) -> tuple[str, bytes]:
    """Return the bytes as a packed file that may be damaged, with its ending."""
    kind = rng.randrange(6)
    if kind == 0:
        out, ending = gzip.compress(data), ".csv.gz"
    elif kind == 1:
        out, ending = gzip.compress(data) + gzip.compress(data[: rng.randint(0, 99)]), ".csv.gz"
    elif kind == 2:
        pack = rng.choice([bz2.compress, lzma.compress])
        out, ending = pack(data), rng.choice([".csv.bz2", ".csv.xz", ".csv"])
    else:
        out, ending = _zip(data, rng), rng.choice([".zip", ".zip", ".csv"])
    for _ in range(rng.choice([0, 0, 1, 1, 3])):
        at = rng.randrange(len(out) + 1)
        out = (
            out[:at] + rng.randbytes(rng.randint(1, 4)) + out[at + rng.randint(0, 4) :]
            if rng.random() < 0.8
            else out[:at]
        )
    return ending, out


def _zip(data: bytes, rng: random.Random) -> bytes:
    box = io.BytesIO()
    ways = [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA]
    with warnings.catch_warnings(), zipfile.ZipFile(box, "w", rng.choice(ways)) as pack:
        warnings.simplefilter("ignore")  # two members of one name are wanted
        for _ in range(rng.choice([1, 1, 1, 0, 2])):
            name = rng.choice(
                ["f.csv", "../../f.csv", "/etc/f.csv", "x\x1b[8m.csv", "é\u202e.csv", "f", "d/"]
            )
            pack.writestr(name, data)
    out = box.getvalue()
    if rng.random() < 0.2:  # a name that is not of the encoding it claims
        out = out.replace(b"f.csv", rng.choice([b"\xff\xfe.cs", b"\x80.csv", b"f\x00csv"]))
    return out
