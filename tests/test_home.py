"""The folder of the user's data: one, where the platform has it, with what lay elsewhere before."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

import platformdirs
import pytest
from platformdirs.macos import MacOS
from platformdirs.unix import Unix
from platformdirs.windows import Windows

from debrief import home as module
from debrief.home import history_file, home

NAME = "turbine-debrief"
Platform = Callable[[str], Path]


@pytest.fixture
def on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Platform:
    """Return what makes this a platform with an empty folder for its user, and tells that folder."""
    monkeypatch.delenv("DEBRIEF_HOME")
    for name in ("XDG_DATA_HOME", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    module._say_once.cache_clear()

    def become(platform: str) -> Path:
        monkeypatch.setattr(sys, "platform", platform)
        monkeypatch.setenv("HOME", str(tmp_path))
        monkeypatch.setattr(
            platformdirs, "PlatformDirs", {"linux": Unix, "darwin": MacOS, "win32": Windows}[platform]
        )
        # What Windows has registered, which no other system can be asked.
        monkeypatch.setattr(
            "platformdirs.windows.get_win_folder",
            lambda which: str(tmp_path / "AppData" / ("Local" if "LOCAL" in which else "Roaming")),
        )
        return tmp_path

    return become


def keep(folder: Path) -> None:
    (folder / "profiles").mkdir(parents=True)
    (folder / "history.sqlite").write_bytes(b"all flights")
    (folder / "profiles" / "own.toml").write_text("mine", encoding="utf-8")


def holds_all(folder: Path) -> bool:
    return (folder / "history.sqlite").is_file() and (folder / "profiles" / "own.toml").is_file()


@pytest.mark.parametrize(
    ("platform", "below"),
    [("linux", ".local/share"), ("darwin", "Library/Application Support"), ("win32", "AppData/Roaming")],
)
def test_each_platform_has_its_folder_and_what_lies_there_stays(
    on: Platform, platform: str, below: str, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = on(platform) / below / NAME
    assert home() == folder
    assert not folder.exists()  # asking makes nothing
    keep(folder)
    assert home() == folder
    assert history_file() == folder / "history.sqlite"
    assert holds_all(folder)
    assert capsys.readouterr().err == ""


def test_debrief_home_goes_first_and_nothing_is_moved_for_it(
    on: Platform, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    before = on("darwin") / "Library" / "Application Support" / NAME
    keep(before)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "xdg"))
    monkeypatch.setenv("DEBRIEF_HOME", str(tmp_path / "mine"))
    assert home() == tmp_path / "mine"
    assert holds_all(before)


@pytest.fixture(params=["darwin", "win32", "linux"])
def moved(request: pytest.FixtureRequest, on: Platform, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    """Return where data lay before and where the platform has them now, on each platform where that can differ."""
    folder = on(request.param)
    monkeypatch.chdir(folder)
    if request.param == "darwin":
        monkeypatch.setenv("XDG_DATA_HOME", str(folder / "xdg"))
        return folder / "Library" / "Application Support" / NAME, folder / "xdg" / NAME
    if request.param == "win32":
        monkeypatch.setenv("APPDATA", str(folder / "set by hand"))
        return folder / "set by hand" / NAME, folder / "AppData" / "Roaming" / NAME
    monkeypatch.setenv("XDG_DATA_HOME", "relative")  # to be ignored, by the XDG base directory specification
    return folder / "relative" / NAME, folder / ".local" / "share" / NAME


def test_data_that_lay_elsewhere_are_moved_once_with_a_word(
    moved: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    before, now = moved
    keep(before)
    assert home() == home() == now
    assert holds_all(now)
    assert not before.exists()
    said = capsys.readouterr().err
    assert said.count("Your data were moved from ") == 1
    assert str(now) in said


def test_what_cannot_be_moved_stays_and_is_used(
    moved: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before, now = moved
    keep(before)

    def refuse(source: object, target: object) -> None:
        raise OSError(18, "Invalid cross-device link")

    monkeypatch.setattr(os, "rename", refuse)
    assert home() in (before, before.relative_to(Path.cwd()))
    assert holds_all(before)
    assert not now.exists()
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_kill_leaves_all_at_one_place_and_the_next_run_finds_it(
    moved: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    before, now = moved
    keep(before)
    rename = os.rename

    def killed(source: Path, target: Path) -> None:
        if when == "after":
            rename(source, target)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "rename", killed)
        with pytest.raises(KeyboardInterrupt):
            home()
    assert holds_all(before) != holds_all(now)
    assert home() == now
    assert holds_all(now)
    assert not before.exists()


def test_another_process_that_moves_them_first_is_followed(
    moved: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    before, now = moved
    keep(before)
    rename = os.rename

    def late(source: Path, target: Path) -> None:
        rename(source, target)
        rename(source, target)

    monkeypatch.setattr(os, "rename", late)
    assert home() == now
    assert holds_all(now)


def test_of_two_folders_with_data_the_platforms_own_is_used_and_the_other_left_and_named(
    moved: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    before, now = moved
    keep(before)
    keep(now)
    assert home() == home() == now
    assert holds_all(before)
    assert capsys.readouterr().err.count("Only the first is used") == 1
