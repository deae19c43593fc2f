"""What lies in the user's folder is for nobody else to read."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.output.private import make_private, open_private, private_folder, tidy_home, write_private

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no such permissions")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("DEBRIEF_HOME", str(tmp_path / "a" / "home"))
    mask = os.umask(0o022)
    yield tmp_path / "a" / "home"
    os.umask(mask)


def test_files_and_folders_are_made_private_and_what_is_above_is_not_touched(own: Path) -> None:
    write_private(own / "notes" / "ab" / "n.json", b"{}", "The note")
    open_private(own / "logs" / "faults.log").close()
    make_private(own / "history.sqlite")
    for folder in (own, own / "notes", own / "notes" / "ab", own / "logs"):
        assert mode(folder) == 0o700, folder
    for file in (own / "notes" / "ab" / "n.json", own / "logs" / "faults.log", own / "history.sqlite"):
        assert mode(file) == 0o600, file
    assert mode(own.parent) == 0o755


def test_what_was_open_to_others_is_repaired(own: Path) -> None:
    (own / "logs").mkdir(parents=True)
    files = [
        own / "history.sqlite",
        own / "history.sqlite-wal",
        own / "logs" / "debrief.log.1",
        own / "window.ini",
    ]
    for file in files:
        file.touch(0o644)
    tidy_home()
    assert [mode(file) for file in files] == [0o600] * 4
    assert mode(own) == mode(own / "logs") == 0o700


def test_a_folder_that_holds_other_things_keeps_its_permissions(own: Path) -> None:
    own.mkdir(parents=True)
    (own / "letters.txt").touch(0o644)
    write_private(own / "column_maps.json", b"{}", "The column map")
    tidy_home()
    assert mode(own) == 0o755
    assert mode(own / "letters.txt") == 0o644
    assert mode(own / "column_maps.json") == 0o600


def test_links_in_the_folder_are_left_alone_and_stay(own: Path, tmp_path: Path) -> None:
    real = tmp_path / "maps.json"
    real.touch(0o644)
    own.mkdir(parents=True)
    (own / "window.ini").symlink_to(real)
    tidy_home()
    assert mode(real) == 0o644
    write_private(own / "window.ini", b"x", "The size")
    assert (own / "window.ini").is_symlink()
    assert real.read_bytes() == b"x"


def test_a_place_that_takes_nothing_is_said(own: Path) -> None:
    own.parent.mkdir()
    own.touch()
    with pytest.raises(UserError, match=r"The note cannot be kept in .*: "):
        write_private(own / "notes" / "n.json", b"{}", "The note")


def test_a_folder_elsewhere_is_made_as_usual(own: Path, tmp_path: Path) -> None:
    private_folder(tmp_path / "b" / "c")
    assert mode(tmp_path / "b" / "c") == 0o755


def test_a_history_with_its_parts_is_private_before_anything_is_in_it(own: Path, tmp_path: Path) -> None:
    from debrief.history.storage.store import Store

    elsewhere, shared = tmp_path / "elsewhere.sqlite", tmp_path / "shared.sqlite"
    for db, file in ((None, own / "history.sqlite"), (str(elsewhere), elsewhere), (str(shared), shared)):
        if file == shared:
            Store.open(db).close()
            file.chmod(0o664)
        with Store.open(db) as store, store.engine.connect() as connection:
            connection.exec_driver_sql("SELECT 1")
            parts = [file, file.with_name(file.name + "-wal"), file.with_name(file.name + "-shm")]
            assert [mode(part) for part in parts] == [0o664 if file == shared else 0o600] * 3
    (own / "history.sqlite").chmod(0o644)
    with Store.open():
        assert mode(own / "history.sqlite") == 0o600


@pytest.mark.usefixtures("qapp")
def test_what_the_window_keeps_is_private(own: Path) -> None:
    import logging

    from debrief.gui.app import _log_to_file
    from debrief.gui.style.settings import Settings

    logger = logging.getLogger("debrief")
    before = list(logger.handlers)
    settings = Settings()
    settings.tapes = True
    settings._store.sync()
    _log_to_file()
    logger.error("a fault")
    for handler in [one for one in logger.handlers if one not in before]:
        logger.removeHandler(handler)
        handler.close()
    assert "tapes" in (own / "window.ini").read_text()
    assert mode(own / "window.ini") == 0o600
    assert mode(own / "logs" / "debrief.log") == 0o600


def test_a_profile_saved_among_ones_own_is_private_and_one_elsewhere_is_not(
    own: Path, tmp_path: Path
) -> None:
    from debrief.resources import resource
    from debrief.session.profiles.profile_form import ProfileForm, own_folder

    form = ProfileForm.open(resource("profiles") / "tarn-tg7.toml")
    form.save(own_folder() / "mine.toml")
    form.save(tmp_path / "shared.toml")
    assert mode(own / "profiles" / "mine.toml") == 0o600
    assert mode(own / "profiles") == 0o700
    assert mode(tmp_path / "shared.toml") == 0o644
