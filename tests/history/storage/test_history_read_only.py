"""A history that cannot be written, as on a disk that only reads, can still be read; nothing is made beside it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.errors import UserError
from debrief.history.storage import form
from debrief.history.storage.migrations import MIGRATIONS
from debrief.history.storage.store import Store
from tests.history.exchange.test_history_damage import made, overwrite
from tests.history.history_making import made_assessment


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A history in a folder that takes nothing: the rights hold for root in name only, so the question is answered."""
    folder = tmp_path / "disk"
    folder.mkdir()
    out = made(folder / "h.sqlite")
    _shut(monkeypatch, folder)
    return out


def _shut(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    access = os.access

    def asked(path: str | Path, mode: int) -> bool:
        return not (mode & os.W_OK and Path(path).is_relative_to(folder)) and access(path, mode)

    monkeypatch.setattr(form.os, "access", asked)


def _state(folder: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in folder.iterdir()}


def test_what_reads_works_and_what_writes_says_why_not(file, tmp_path, capsys):
    before = _state(file.parent)
    db = ["--db", str(file)]
    for command in (["list"], ["trend"], ["check"], ["export", str(tmp_path / "out.jsonl")]):
        assert main(["history", *command, *db]) == 0, command
    assert "18 flights" in capsys.readouterr().out
    for command in (
        ["delete", "one.csv", "--yes"],
        ["exclude", "one.csv", "1", "--reason", "because"],
        ["maintenance", "TG7-0042", "Nozzles.", "--on", "2031-05-04"],
    ):
        assert main(["history", *command, *db]) == 2, command
        assert "can only be read. Nothing was changed" in " ".join(capsys.readouterr().err.split())
    assert _state(file.parent) == before


def test_an_older_form_is_read_as_a_copy_in_memory(tmp_path, monkeypatch):
    folder = tmp_path / "disk"
    folder.mkdir()
    with Store.open(str(folder / "h.sqlite"), migrations=MIGRATIONS[:1]) as _:
        pass
    _shut(monkeypatch, folder)
    before = _state(folder)
    with Store.open(str(folder / "h.sqlite")) as store:
        assert store.flights() == ()
        assert store.start_traces("TG7-0042") == {}
        with pytest.raises(UserError, match="can only be read"):
            store.keep(made_assessment())
    assert _state(folder) == before


def test_what_stands_in_the_log_alone_is_read_too(tmp_path, monkeypatch):
    live = Store.open(str(tmp_path / "live.sqlite"))
    live.keep(made_assessment())
    folder = tmp_path / "disk"
    folder.mkdir()
    for tail in ("", "-wal"):
        shutil.copy(tmp_path / f"live.sqlite{tail}", folder / f"h.sqlite{tail}")
    live.close()
    _shut(monkeypatch, folder)
    before = _state(folder)
    with Store.open(str(folder / "h.sqlite")) as store:
        assert len(store.flights()) == 1
    assert _state(folder) == before


def test_a_damaged_one_is_told_as_such_there_too(file):
    overwrite(file, 3 * 4096, bytes(4 * 4096))
    with pytest.raises(UserError, match="is damaged"):
        Store.open(str(file))


def test_one_that_can_only_be_read_is_merged(file):
    with Store.open(str(file.parent.parent / "mine.sqlite")) as mine:
        from debrief.history.exchange.transfer import merge_from

        assert merge_from(mine, str(file)).new == 18
