"""Texts of recordings, profiles and names of files: nothing in them acts on a terminal, in JSON, on paper or in a log."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import os
import pty
import subprocess
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from debrief import cli
from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.profile.loader import parse
from debrief.recording.reader import read
from debrief.report.content.options import ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text, to_ascii
from debrief.resources import resource
from debrief.session.document import assessment_document, dumps

HIDDEN = {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}
BLANK = "\u115f\u1160\u2800\u3164\ufe0f\uffa0\u034f"
DEMO = (resource("demo_flights") / "02_early_fuel_hot.csv").read_text(encoding="utf-8").splitlines()
PROFILE = (resource("profiles") / "tarn-tg7.toml").read_text(encoding="utf-8")

PIECES = [
    *"\x1b\x9b\x07\x08\x00\x7f\x85\u2028\u202e\u2066\u200f\ufeff\u200b\u00ad\U000e0041\ue000",
    *BLANK,
    "\x1b[8m",
    "\x1b]52;c;eA==\x07",
    "\x1b]8;;http://x\x1b\\",
    "\r\n",
    "\r",
    "\t",
    "a" + "\u0301" * 9,
]
nasty = st.lists(
    st.one_of(st.sampled_from(PIECES), st.characters(exclude_categories=["Cs"])), min_size=1, max_size=20
).map(lambda pieces: f"x{''.join(pieces)}x")


def acting(text: str, keep: str = "\n") -> set[str]:
    return {one for one in text if one not in keep and (unicodedata.category(one) in HIDDEN or one in BLANK)}


def strings(value: object) -> Iterator[str]:
    """Every text in a value of dataclasses, mappings and sequences."""
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from strings(getattr(value, field.name))
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from (*strings(key), *strings(one))
    elif isinstance(value, list | tuple):
        for one in value:
            yield from strings(one)


def recording_text(texts: list[str]) -> str:
    """The demo flight with texts as its names, as titles and units of two more columns, and in their cells."""
    out = io.StringIO()
    aircraft, serial, start, setting, other, title, unit, cell = texts
    for key, text in (
        ("engine-profile", "tarn-tg7"),
        ("aircraft", aircraft),
        ("engine-serial", serial),
        ("engine-model", "TG-7"),
        ("start", start),
        ("altimeter", setting),
        (other.replace(":", ""), other),
    ):
        out.write(f"# {key}: {' '.join(text.splitlines())}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*DEMO[5].split(","), title, f"Extra [{unit}]"])
    for number, line in enumerate(DEMO[6:400]):
        writer.writerow(
            [*line.split(","), cell if number in (4, 5) else number, cell if number == 9 else number]
        )
    return out.getvalue()


def profile_text(texts: list[str]) -> str:
    name, revision, source, limit = (json.dumps(text).replace("\\u007f", "\\u007F") for text in texts)
    return (
        PROFILE.replace('name = "Tarn TG-7 (training example)"', f"name = {name}")
        .replace('revision = "A"', f"revision = {revision}")
        .replace(
            'source = "Invented for training; no approved manual stands behind it."', f"source = {source}"
        )
        .replace('id = "itt-start"', f"id = {limit}")
    )


def toml_safe(text: str) -> str:
    """JSON's escapes of characters beyond the basic plane are no TOML."""
    return "".join(one for one in text if ord(one) < 0x10000)


def found(folder: Path, recorded: list[str], profiled: list[str], name: str = "flight.csv") -> Assessment:
    path = folder / name
    path.write_text(recording_text(recorded), encoding="utf-8", newline="")
    return assess(read(path), parse(profile_text(profiled).encode("utf-8"), file_name="own.toml"))


PLAIN = ["ZZ-TRN", "TG7-118", "soon", "high", "note", "Spare", "blobs", "word"]
PLAIN_PROFILE = ["Own", "A", "A manual", "itt-start"]


@settings(
    max_examples=10,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(nasty.map(lambda text: text.replace("\x00", "")), min_size=8, max_size=8),
    st.lists(nasty.map(toml_safe), min_size=4, max_size=4),
)
def test_nothing_that_a_recording_or_a_profile_holds_acts_anywhere(tmp_path, capsys, recorded, profiled):
    plain = found(tmp_path, PLAIN, PLAIN_PROFILE)
    one = found(tmp_path, recorded, profiled)

    assert one.sentence == plain.sentence
    text = assessment_text(one)
    assert not acting(text)
    assert one.sentence in " ".join(text.split())
    assert len([line for line in text.splitlines() if line.startswith("Exceeded:")]) == 1
    ascii_text = to_ascii(text)
    assert not acting(ascii_text)

    document = assessment_document(one)
    assert not [text for text in strings(document) if acting(text) and text != document["recording"]["path"]]
    printed = dumps(document)
    assert not acting(printed)
    assert json.loads(printed) == json.loads(json.dumps(document))
    for key in ("starts", "events"):
        assert len(document[key]) == len(assessment_document(plain)[key])

    assert not [text for text in strings(build(one, ReportOptions())) if acting(text)]


@settings(
    max_examples=10,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(nasty)
def test_what_is_refused_is_said_in_one_line_of_which_nothing_acts(tmp_path, capsys, text):
    bad = tmp_path / "bad.csv"
    bad.write_text(f'"{text}",b\n1,"{text}"\n', encoding="utf-8", newline="")
    word = text.replace("\x00", "")
    for arguments in (
        ["assess", str(bad)],
        ["assess", f"{tmp_path}/{word}.csv"],
        ["assess", str(bad), "--map", f"itt={word}", "--profile", word],
        ["assess", str(bad), "--format", word],
        ["assess", str(bad), "--rate", word],
        ["report", str(bad), "-o", f"{tmp_path}/none/{word}.pdf"],
        ["history", "list", "--engine", word],
        ["definitions", word],
        [word],
    ):
        cli.main(arguments)
        printed = capsys.readouterr()
        assert not acting(printed.err), arguments
        assert not acting(printed.out), arguments
        assert printed.err.count("\n") <= 1, arguments


def test_a_name_of_a_file_acts_neither(tmp_path, capsys):
    name = os.fsdecode(b"a\x1b[8m\xff\ne.csv")
    path = tmp_path / name
    path.write_text("\n".join(DEMO), encoding="utf-8")
    for arguments in (
        ["assess", str(path)],
        ["assess", str(path), str(path)],
        ["history", "check", str(path)],
    ):
        assert cli.main(arguments) == 0
        out = capsys.readouterr().out
        assert not acting(out)
        assert "a␛[8m<U+DCFF>␊e.csv" in out
    assert cli.main(["assess", str(path), "--format", "json"]) == 0
    out = capsys.readouterr().out
    assert not acting(out)
    assert json.loads(out)["recording"]["path"].encode("utf-8", "surrogatepass")


def test_the_verdict_shows_on_a_terminal_whatever_the_aircraft_is_called(tmp_path):
    path = tmp_path / "flight.csv"
    path.write_text("\n".join([DEMO[0], "# aircraft: X\x1b[8m", *DEMO[2:]]), encoding="utf-8")
    here, there = pty.openpty()
    done = subprocess.Popen(
        [sys.executable, "-m", "debrief", "assess", str(path)],
        stdout=there,
        stderr=there,
        stdin=there,
        env={**os.environ, "PYTHONUTF8": "1", "DEBRIEF_HOME": str(tmp_path / "home")},
    )
    os.close(there)
    shown = b""
    try:
        while part := os.read(here, 65536):
            shown += part
    except OSError:  # the other end is closed
        pass
    assert done.wait(timeout=60) == 0
    os.close(here)
    assert b"\x1b" not in shown
    text = shown.decode("utf-8")
    assert text.startswith("X␛[8m, engine TG-7")
    assert "\r\nExceeded: " in text


def test_a_name_of_any_length_leaves_the_verdict_on_the_first_screen(tmp_path):
    one = found(tmp_path, ["x" * 60_000, "y" * 60_000, *PLAIN[2:5], "z" * 290, *PLAIN[6:]], PLAIN_PROFILE)
    text = assessment_text(one)
    assert text.index("Exceeded:") < 400
    assert max(len(line) for line in text.splitlines()) < 400
    assert one.recording.identity.aircraft.startswith("xxx")


def test_a_text_of_a_profile_has_a_length_at_most():
    with pytest.raises(UserError, match="is a text of 1001 characters: 1000 is the most"):
        parse(profile_text(["n" * 1001, *PLAIN_PROFILE[1:]]).encode("utf-8"))


@pytest.mark.parametrize(
    "title",
    ["\ufeffITT (degC)", "ITT\xa0(degC)", "I\u00adTT (degC)", "ITT\u200b (degC\u200e)", "ITT\x1f(degC)"],
)
def test_a_column_is_matched_though_its_title_holds_what_cannot_be_seen(tmp_path, title):
    path = tmp_path / "flight.csv"
    path.write_text(
        "\n".join([DEMO[0], DEMO[5].replace("ITT (degC)", title), *DEMO[6:400]]), encoding="utf-8"
    )
    channel = read(path).channels["itt"]
    assert channel.unit == "degC"
    assert channel.confidence > 0.9
    assert not acting(channel.column)
    for name in (title, channel.column):
        mapped = read(path, maps=[f"itt={name}"]).channels["itt"]
        assert mapped.map_source == "option"
    remembered = {read(path).provenance.header_signature: [f"itt={title}"]}
    assert read(path, remembered=remembered).channels["itt"].map_source == "remembered"
