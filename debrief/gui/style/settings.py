"""What the window remembers between two runs: looks, recent files, its size."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QByteArray, QSettings

from debrief.errors import UserError
from debrief.gui.style.theme import CHOICES, Choice
from debrief.home import home
from debrief.output.private import make_private, private_folder
from debrief.session.lanes.lane_stack import LaneRow, layout_from, layout_text
from debrief.session.recent_files import RecentFile, recent_from, recent_text
from debrief.words.clock import TIMES_SHOWN, TimeShown
from debrief.words.display_units import AS_COMPUTED, ShownUnits, parse_units

FolderKind = Literal["recordings", "reports", "profiles"]
"""What has a folder of its own to be opened from and saved in."""


class _Flag:
    """A setting that is on or off."""

    def __init__(self, usual: bool) -> None:
        self._usual = usual

    def __set_name__(self, owner: type[Settings], name: str) -> None:
        self._name = name

    def __get__(self, settings: Settings, owner: type[Settings]) -> bool:
        return str(settings._store.value(self._name, self._usual)).lower() == "true"

    def __set__(self, settings: Settings, on: bool) -> None:
        settings._store.setValue(self._name, on)


class _Word:
    """A setting that is a word; who reads it takes the usual one where it is none that they know."""

    def __set_name__(self, owner: type[Settings], name: str) -> None:
        self._name = name

    def __get__(self, settings: Settings, owner: type[Settings]) -> str:
        return str(settings._store.value(self._name, ""))

    def __set__(self, settings: Settings, word: str) -> None:
        settings._store.setValue(self._name, word)


class Settings:
    """Kept in the user's folder; never the recording itself."""

    tapes = _Flag(False)
    """Whether gauges are shown as tapes."""
    bands = _Flag(True)
    """Whether the profile's bands are shaded in the lanes."""
    strips = _Flag(True)
    """Whether switches and levers are shown below the lanes."""
    reduced_motion = _Flag(False)
    """Whether the replay moves in steps, and nothing blinks, slides or runs to and fro."""
    reader = _Word()
    """Whom the last paper was for."""
    paper = _Word()
    """The size of the last paper."""

    def __init__(self) -> None:
        file = home() / "window.ini"
        with contextlib.suppress(OSError):  # it opens as well where nothing can be kept
            private_folder(file.parent)
            make_private(file)
        self._store = QSettings(str(file), QSettings.Format.IniFormat)

    @property
    def theme(self) -> Choice:
        """Chosen colours."""
        value = self._store.value("theme", "system")
        return next((choice for choice in CHOICES if choice == value), "system")

    @theme.setter
    def theme(self, choice: Choice) -> None:
        self._store.setValue("theme", choice)

    @property
    def scale(self) -> float:
        """Size of text."""
        try:
            return min(max(float(str(self._store.value("scale", 1.0))), 0.8), 2.0)
        except ValueError:
            return 1.0

    @scale.setter
    def scale(self, scale: float) -> None:
        self._store.setValue("scale", scale)

    @property
    def why_width(self) -> int:
        """Width of the panel that explains, [px at the usual size of text]."""
        try:
            return min(max(int(str(self._store.value("why_width", 400))), 200), 1200)
        except ValueError:
            return 400

    @why_width.setter
    def why_width(self, width: int) -> None:
        self._store.setValue("why_width", width)

    @property
    def units(self) -> ShownUnits:
        """In which units numbers are shown."""
        try:
            return parse_units(str(self._store.value("units", "")))
        except UserError:
            return AS_COMPUTED

    @units.setter
    def units(self, units: ShownUnits) -> None:
        self._store.setValue("units", units.words)

    @property
    def time_shown(self) -> TimeShown:
        """How moments are told."""
        value = self._store.value("time_shown", "elapsed")
        return next((shown for shown in TIMES_SHOWN if shown == value), "elapsed")

    @time_shown.setter
    def time_shown(self, shown: TimeShown) -> None:
        self._store.setValue("time_shown", shown)

    @property
    def lanes(self) -> tuple[LaneRow, ...]:
        """The lanes as they were left, or nothing: the usual ones."""
        return layout_from(str(self._store.value("lanes", "")))

    @lanes.setter
    def lanes(self, rows: Sequence[LaneRow]) -> None:
        self._store.setValue("lanes", layout_text(rows) if rows else "")

    @property
    def compared(self) -> str:
        """What recordings were compared with, as `comparing.remembered` writes it."""
        return str(self._store.value("compared", ""))

    @compared.setter
    def compared(self, text: str) -> None:
        self._store.setValue("compared", text)

    @property
    def author(self) -> str:
        """Who wrote the last note."""
        return str(self._store.value("author", ""))

    @author.setter
    def author(self, author: str) -> None:
        self._store.setValue("author", author)

    @property
    def recent(self) -> tuple[RecentFile, ...]:
        """Recordings opened before, newest first; also those that are not there any more."""
        return recent_from(str(self._store.value("recent_files", "")))

    @recent.setter
    def recent(self, files: Sequence[RecentFile]) -> None:
        self._store.setValue("recent_files", recent_text(files))

    def folder(self, kind: FolderKind) -> str:
        """Return where files of a kind were last opened or saved; empty where that is not known, or gone."""
        folder = str(self._store.value(f"folder_{kind}", ""))
        return folder if folder and Path(folder).is_dir() else ""

    def remember_folder(self, kind: FolderKind, path: str | Path) -> None:
        """Remember the folder of a file of a kind."""
        self._store.setValue(f"folder_{kind}", str(Path(path).absolute().parent))

    @property
    def geometry(self) -> QByteArray | None:
        """Size and place of the window, or None."""
        value = self._store.value("geometry")
        return value if isinstance(value, QByteArray) else None

    @geometry.setter
    def geometry(self, value: QByteArray) -> None:
        self._store.setValue("geometry", value)

    def sync(self) -> None:
        """Write to disk."""
        self._store.sync()
