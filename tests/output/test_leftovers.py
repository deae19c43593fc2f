"""What killed runs leave is known and cleared: by name and age, and never anything else."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from debrief.output import Kind, write_output
from debrief.output.leftovers import OLD_AFTER_S, temporary_folder, temporary_name
from debrief.output.private import tidy_home

KILLED = (
    "import os, signal\n"
    "from debrief.output import Kind, door, write_output\n"
    "door.os.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL)\n"
    "write_output({!r}, b'new', Kind.PDF)\n"
)


def age(path: Path, seconds: float) -> None:
    then = time.time() - seconds
    os.utime(path, (then, then), follow_symlinks=False)


def test_a_kill_between_writing_and_naming_leaves_the_old_file_and_a_name_that_is_cleared_later(
    tmp_path: Path,
) -> None:
    target = tmp_path / "out.pdf"
    target.touch()
    done = subprocess.run([sys.executable, "-c", KILLED.format(str(target))], check=False, timeout=30)
    assert done.returncode == -9
    assert target.read_bytes() == b""
    (left,) = (path for path in tmp_path.iterdir() if path != target)
    write_output(tmp_path / "next.pdf", b"x", Kind.PDF)
    assert left.exists()  # it may be another run's that goes on
    age(left, OLD_AFTER_S + 60)
    write_output(tmp_path / "last.pdf", b"x", Kind.PDF)
    assert not left.exists()


def test_nothing_else_is_ever_cleared(tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.touch()
    kept = [
        tmp_path / name
        for name in (".debrief-notes.part", ".debrief-0123456.part", "debrief-0123abcd.part", ".x.part")
    ]
    for path in kept:
        path.touch()
    folder = tmp_path / ".debrief-01234567.part"
    folder.mkdir()
    link = tmp_path / ".debrief-89abcdef.part"
    link.symlink_to(real)
    for path in (*kept, folder, link):
        age(path, 1e6)
    write_output(tmp_path / "out.pdf", b"x", Kind.PDF)
    assert all(path.exists() for path in (*kept, folder, link, real))


def test_the_users_folder_is_cleared_when_the_program_opens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DEBRIEF_HOME", str(tmp_path))
    (tmp_path / "notes" / "ab").mkdir(parents=True)
    (tmp_path / "notes" / "ab" / "n.json").touch()
    left = [tmp_path / temporary_name(), tmp_path / "notes" / "ab" / temporary_name()]
    left.append(left[0].with_name(left[0].name + "-wal"))  # of a history that was being made
    for path in left:
        path.touch()
        age(path, OLD_AFTER_S + 60)
    tidy_home()
    assert not any(path.exists() for path in left)


def test_a_folder_of_copies_goes_with_its_run_or_is_cleared_by_a_later_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with temporary_folder() as folder:
        assert folder.stat().st_mode & 0o077 == 0
        (folder / "copy.sqlite").touch()
        name = folder.name
    assert list(tmp_path.iterdir()) == []
    left, other = tmp_path / name, tmp_path / "debrief-mine"
    for path in (left, other):
        path.mkdir()
        (path / "copy.sqlite").touch()
        age(path, OLD_AFTER_S + 60)
    with temporary_folder():
        assert not left.exists()
    assert (other / "copy.sqlite").exists()
