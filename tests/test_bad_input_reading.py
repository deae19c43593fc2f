"""Every broken or foreign file gets one clear sentence, quickly, and never a traceback."""

from __future__ import annotations

import contextlib
import gzip
import io
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.reader import read


def _zip(*names: str) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name in names:
            archive.writestr(name, "time,itt\n0,20\n1,21\n")
    return buffer.getvalue()


GOOD = b"time,ng,itt\n0,10,20\n1,11,21\n2,12,22\n"

CASES: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "is empty"),
    "only a byte order mark": (b"\xef\xbb\xbf", "blank"),
    "blank lines": (b"\n\n  \n", "blank"),
    "header only": (b"time,ng,itt\n", "header but no data"),
    "header and units only": (b"time,ng,itt\ns,%,degC\n", "header but no data"),
    "comments only": (b"# a: b\n# c: d\n", "only comment lines"),
    "binary": (bytes(range(256)) * 40, "binary"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(100), "a picture"),
    "PDF": (b"%PDF-1.7\n%\xe2\xe3\n", "a PDF document"),
    "one column": (b"itt\n20\n21\n22\n", "time"),
    "no time": (b"ng,itt\n10,20\n11,21\n", "has no time column"),
    "no engine channel": (b"time,apples,pears\n0,1,2\n1,2,3\n", "no column was recognised"),
    "all blank": (b"time,ng,itt\n,,\n,,\n", "blank"),
    "only missing marks": (b"time,ng,itt\n0,---,N/A\n1,---,NaN\n", "no column was recognised"),
    "300,000 commas": (b"," * 300_000, "no"),
    "300,000 commas and a line end": (b"," * 300_000 + b"\n", "no"),
    "no finite value": (b"time,ng,itt\n0,NaN,inf\n1,inf,-inf\n2,NaN,NaN\n", "no column was recognised"),
    "no finite time": (b"time,ng,itt\nNaN,1,2\ninf,2,3\nNaN,3,4\n", "time"),
    "time running backwards throughout": (
        b"time,ng,itt\n" + b"".join(b"%d,50,600\n" % t for t in range(50, 0, -1)),
        "backwards",
    ),
    "clock running backwards throughout": (
        b"time,ng,itt\n" + b"".join(b"10:00:%02d,50,600\n" % t for t in range(50, 0, -1)),
        "backwards",
    ),
    "web page": (b"<!DOCTYPE html>\n<html><body><table>,</table></body></html>\n", "web page"),
    "broken gzip": (gzip.compress(GOOD * 100)[:60], "broken gzip"),
    "gzip of nothing": (gzip.compress(b""), "empty"),
    "not really gzip": (b"\x1f\x8b" + b"nonsense" * 20, "broken gzip"),
    "zip without CSV": (_zip("a.doc"), "0 CSV files"),
    "zip with two CSVs": (_zip("a.csv", "b.csv"), "2 CSV files"),
    "zip cut short": (_zip("a.csv")[:40], "broken zip"),
    "workbook": (_zip("xl/workbook.xml", "a.csv"), "workbook"),
    "open quote": (b'time,ng,itt\n0,"10,20\n1,11,21\n2,12,22\n', "never closed"),
    "open quote in the header": (b'time,"ng,itt\n0,10,20\n1,11,21\n', "never closed"),
    "3 MB field": (b"time,ng,itt\n0,10," + b"9" * 3_000_000 + b"\n1,11,21\n", "longer than"),
    "3 MB field far down": (
        b"time,ng,itt\n"
        + b"".join(b"%d,10,20\n" % t for t in range(40_000))
        + b"40000,"
        + b"9" * 3_000_000
        + b",20\n",
        "longer than",
    ),
    "3 MB quoted field": (b'time,ng,itt\n0,10,"' + b"x" * 3_000_000 + b'"\n1,11,21\n', "longer than"),
    "3 MB header": (b"x" * 3_000_000 + b",itt\n0,1\n", "first line"),
    "single sample": (b"time,ng,itt\n0,10,20\n", "single sample"),
    "time never moves": (b"time,ng,itt\n5,10,20\n5,11,21\n5,12,22\n", "time"),
}


@pytest.mark.parametrize("name", CASES)
def test_a_bad_file_gets_one_clear_sentence_within_two_seconds(name: str, tmp_path: Path) -> None:
    data, words = CASES[name]
    file = tmp_path / "flight.csv"
    file.write_bytes(data)
    began = time.perf_counter()
    with pytest.raises(UserError) as caught:
        read(file)
    assert time.perf_counter() - began < 2.0
    message = str(caught.value)
    assert words in message
    assert "flight.csv" in message
    assert "\n" not in message
    assert len(message) < 700
    assert message.endswith(".")


def test_an_absent_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"nowhere\.csv does not exist"):
        read(tmp_path / "nowhere.csv")


def test_a_folder_is_refused_as_a_folder(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="is a folder"):
        read(tmp_path)


def test_a_name_with_a_null_byte_is_refused() -> None:
    with pytest.raises(UserError, match="cannot be opened"):
        read("a\x00b.csv")


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan"), float("inf")])
def test_an_impossible_rate_is_refused(rate: float, tmp_path: Path) -> None:
    file = tmp_path / "flight.csv"
    file.write_bytes(GOOD)
    with pytest.raises(UserError, match="rate"):
        read(file, rate_hz=rate)


def test_html_in_a_header_is_plain_text(tmp_path: Path) -> None:
    file = tmp_path / "flight.csv"
    file.write_bytes(b"time,itt,<b>x</b><script>alert(1)</script>\n0,20,1\n1,21,2\n")
    recording = read(file)
    assert "<b>x</b><script>alert(1)</script>" in recording.unmapped


def test_a_gzip_bomb_is_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from debrief.recording.csv import packing

    monkeypatch.setattr(packing, "RATIO_FREE_BYTES", 1024 * 1024)
    file = tmp_path / "flight.csv.gz"
    file.write_bytes(gzip.compress(b"time,itt\n" + b"0,20\n" * 5_000_000))
    with pytest.raises(UserError, match="unpacks to more than"):
        read(file)


BAD_MAPS: dict[str, tuple[str, str]] = {
    "no equals sign": ("itt", "has no column"),
    "no column": ("itt=", "has no column"),
    "unknown channel": ("egg=itt", "Channels: time, ng"),
    "near miss": ("it=itt", "Did you mean itt"),
    "unknown column": ("itt=Temp 9", "Columns: time, ng, itt"),
    "column number beyond the last": ("itt=#9", "3 columns"),
    "column number zero": ("itt=#0", "3 columns"),
    "unit of something else": ("itt=itt:psi", "measures pressure"),
    "unknown unit makes part of the name": ("itt=itt:furlong", 'no column "itt:furlong"'),
    "engine number of an aircraft channel": ("ias.2=itt", "no engine number"),
    "engine number beyond four": ("itt.9=itt", "1 to 4"),
    "unit of time": ("time=time:degC", "measures temperature"),
}


@pytest.mark.parametrize("name", BAD_MAPS)
def test_a_wrong_map_names_what_exists(name: str, tmp_path: Path) -> None:
    text, words = BAD_MAPS[name]
    file = tmp_path / "flight.csv"
    file.write_bytes(GOOD)
    with pytest.raises(UserError) as caught:
        read(file, maps=[text])
    assert words in str(caught.value)
    assert text in str(caught.value)


@pytest.mark.parametrize(
    ("maps", "words"), [(["itt=ng", "itt=itt"], "twice"), (["itt=ng", "ng=ng"], "two channels")]
)
def test_maps_that_contradict_each_other_are_refused(maps: list[str], words: str, tmp_path: Path) -> None:
    file = tmp_path / "flight.csv"
    file.write_bytes(GOOD)
    with pytest.raises(UserError, match=words):
        read(file, maps=maps)


def _mutants() -> dict[str, Callable[[bytes], bytes]]:
    return {
        "every line cut in half": lambda d: b"\n".join(line[: len(line) // 2] for line in d.split(b"\n")),
        "null bytes within": lambda d: d.replace(b"1", b"\x00"),
        "only quotes": lambda d: b'"' * len(d),
        "only carriage returns": lambda d: b"\r" * len(d),
        "reversed bytes": lambda d: d[::-1],
        "control characters": lambda d: bytes((b & 31) for b in d),
    }


@pytest.mark.parametrize("name", _mutants())
def test_a_mangled_file_never_raises_anything_else(name: str, tmp_path: Path) -> None:
    file = tmp_path / "flight.csv"
    file.write_bytes(_mutants()[name](GOOD * 20))
    with contextlib.suppress(UserError):
        read(file)
