"""The SHA-256 is that of the bytes that were parsed, and a file that changes while it is read is not judged."""

from __future__ import annotations

import gzip
import hashlib
import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief import cli
from debrief.errors import UserError
from debrief.recording.csv import source, watched
from debrief.recording.reader import read, read_steps
from debrief.session.assessing.file_assessment import Choices
from debrief.session.importing.file_proposal import propose_steps
from debrief.session.importing.import_opening import Accepted, open_as


def flight(itt: int, rows: int = 4000) -> bytes:
    lines = (f"{i / 4:.2f},{60 + i % 7 / 10:.1f},{itt + i % 11}" for i in range(rows))
    return ("time (s),ng (%),itt (degC)\n" + "\n".join(lines) + "\n").encode()


def zipped(data: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("flight.csv", (2031, 5, 1, 0, 0, 0)), data)
    return buffer.getvalue()


PACKED: dict[str, Callable[[bytes], bytes]] = {
    "flight.csv": lambda data: data,
    "flight.csv.gz": lambda data: gzip.compress(data, mtime=0),
    "flight.zip": zipped,
}
SIZES = {"all in the head": (10**6, 10**6), "at once": (4096, 10**7), "in blocks": (4096, 0)}


def renamed_over(path: Path, other: bytes) -> None:
    new = path.with_name("new")
    new.write_bytes(other)
    os.replace(new, path)


def cut_short(path: Path, other: bytes) -> None:
    os.truncate(path, path.stat().st_size - 40)


def appended(path: Path, other: bytes) -> None:
    with path.open("ab") as stream:
        stream.write(other[-60:])


def written_over(path: Path, other: bytes) -> None:
    with path.open("r+b") as stream:
        stream.write(other[: path.stat().st_size])
    os.utime(path, ns=(0, 10**18))


def deleted(path: Path, other: bytes) -> None:
    path.unlink()


@pytest.fixture
def then(monkeypatch: pytest.MonkeyPatch) -> Callable[[int, Callable[[], None]], None]:
    """Let something happen to the file right before it is read for the so-many-th time."""

    def _then(which: int, happen: Callable[[], None]) -> None:
        calls = []
        plain = os.read

        def reading(descriptor: int, size: int) -> bytes:
            calls.append(size)
            if len(calls) == which:
                happen()
            return plain(descriptor, size)

        monkeypatch.setattr(watched.os, "read", reading)

    return _then


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PACKED)
@pytest.mark.parametrize("change", [renamed_over, cut_short, appended, written_over, deleted])
def test_a_file_that_changes_while_it_is_read_is_refused(
    change: Callable[[Path, bytes], None],
    name: str,
    size: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    then: Callable[[int, Callable[[], None]], None],
) -> None:
    head, at_once = SIZES[size]
    monkeypatch.setattr(source, "HEAD_BYTES", head)
    monkeypatch.setattr(source, "AT_ONCE_BYTES", at_once)
    monkeypatch.setattr(source, "BLOCK_BYTES", 8192)
    path = tmp_path / name
    path.write_bytes(PACKED[name](flight(600)))
    other = PACKED[name](flight(900))
    then(2, lambda: change(path, other))
    with pytest.raises(UserError) as caught:
        read(path)
    # A packed file that is cut or written over may show that by itself.
    assert "changed while it was read" in str(caught.value) or "is a broken" in str(caught.value)
    assert name in str(caught.value)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PACKED)
def test_the_hash_is_that_of_the_file_and_of_what_was_parsed(
    name: str, size: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "HEAD_BYTES", SIZES[size][0])
    monkeypatch.setattr(source, "AT_ONCE_BYTES", SIZES[size][1])
    monkeypatch.setattr(source, "BLOCK_BYTES", 8192)
    path = tmp_path / name
    data = PACKED[name](flight(600))
    path.write_bytes(data)
    recording = read(path)
    assert recording.provenance.sha256 == hashlib.sha256(data).hexdigest()
    assert recording.provenance.byte_count == len(data)
    assert recording.channels["itt"].values.tolist() == [600.0 + i % 11 for i in range(4000)]


@pytest.mark.parametrize("which", range(2, 30, 3))
def test_a_large_file_is_watched_from_the_first_read_to_the_last(
    which: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    then: Callable[[int, Callable[[], None]], None],
) -> None:
    monkeypatch.setattr(source, "HEAD_BYTES", 4096)
    monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
    monkeypatch.setattr(source, "BLOCK_BYTES", 4096)
    path = tmp_path / "flight.csv"
    path.write_bytes(flight(600, 10_000))
    then(which, lambda: renamed_over(path, flight(900, 10_000)))
    with pytest.raises(
        UserError, match="changed while it was read: wait until it is complete and read it again"
    ):
        read(path)


def test_a_file_that_was_written_over_between_its_head_and_the_rest_is_not_read_by_the_other_s_header(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "HEAD_BYTES", 4096)
    monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
    path = tmp_path / "flight.csv"
    path.write_bytes(flight(600))
    steps = read_steps(path)
    next(steps)
    path.write_bytes(flight(600).replace(b"degC", b"degF"))
    with pytest.raises(UserError, match="changed while it was read"):
        list(steps)


def test_the_command_says_so_and_ends_with_2(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    then: Callable[[int, Callable[[], None]], None],
) -> None:
    path = tmp_path / "flight.csv"
    path.write_bytes(flight(600))
    then(2, lambda: cut_short(path, b""))
    assert cli.main(["report", str(path), "-o", str(tmp_path / "out.json"), "--format", "json"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "flight.csv changed while it was read: wait until it is complete and read it again." in told.err


def test_what_was_chosen_for_one_file_is_not_applied_to_another_of_its_name(tmp_path: Path) -> None:
    path = tmp_path / "flight.csv"
    path.write_bytes(flight(600))
    steps = propose_steps(path)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            proposal = done.value
            break
    renamed_over(path, flight(900))
    accepted = Accepted(path, Choices(maps=("itt=itt (degC)",)), ("itt", "ng"), sha256=proposal.sha256)
    with pytest.raises(
        UserError, match=r"flight\.csv changed since its columns were looked at: open it again"
    ):
        list(open_as(accepted))
