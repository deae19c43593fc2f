"""What is typed and not yet saved lies in a file of the user's folder, so that a crash loses nothing; see `Draft`."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args
from weakref import WeakMethod

from PySide6.QtCore import QLockFile, QObject, QTimer, Slot

from debrief.errors import UserError
from debrief.home import home
from debrief.output.private import make_private, write_private

Kind = Literal["note", "profile", "columns"]
_KINDS: tuple[Kind, ...] = get_args(Kind)
KEPT_AFTER_MS = 1000


def _folder() -> Path:
    return home() / "unsaved"


class Draft(QObject):
    """One text that is being written, kept a second after it was touched until it is saved or given up.

    Parameters
    ----------
    kind : "note", "profile" or "columns"
    read : method
        Of what holds this. Returns what is to be kept; None where there is nothing that could be lost.
    parent : QObject
        With whose end nothing is removed: only `end` does that.
    """

    def __init__(self, kind: Kind, read: Callable[[], Mapping[str, object] | None], parent: QObject) -> None:
        super().__init__(parent)
        self._kind = kind
        self._read = WeakMethod(read)  # who reads holds this: a ring would stay for good
        self._path = _folder() / f"{kind}-{uuid.uuid4().hex}.json"
        self._lock: QLockFile | None = None
        # Not started anew by each key: who types without a pause is kept every second.
        self._timer = QTimer(self, singleShot=True, interval=KEPT_AFTER_MS)
        self._timer.timeout.connect(self.keep)

    @Slot()
    def touch(self) -> None:
        """Have it kept soon."""
        if not self._timer.isActive():
            self._timer.start()

    @Slot()
    def keep(self) -> None:
        """Keep it now."""
        self._timer.stop()
        read = self._read()
        if read is None:
            return
        values = read()
        if values is None:
            self.end()
            return
        # Where nothing can be written, one goes on as if there were no such help.
        with suppress(UserError, OSError):
            data = json.dumps({"kind": self._kind, **values}).encode()
            write_private(self._path, data, "What is being written")
            if self._lock is None:
                self._lock = _locked(self._path)

    def put_off(self) -> None:
        """Keep it now and leave it for the next time."""
        self.keep()
        if self._lock is not None:
            self._lock.unlock()
            self._lock = None

    @Slot()
    def end(self) -> None:
        """Remove it: it was saved, or given up."""
        self._timer.stop()
        _remove(self._path, self._lock)
        self._lock = None


@dataclass(frozen=True)
class LeftDraft:
    """A text that a program which has ended left unsaved."""

    path: Path
    kind: Kind
    values: Mapping[str, object]
    lock: QLockFile

    def text(self, name: str) -> str:
        """Return one of its texts; empty where it has none."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""

    def remove(self) -> None:
        """Remove it for good."""
        _remove(self.path, self.lock)

    def let_be(self) -> None:
        """Leave it for the next time."""
        self.lock.unlock()


def left_drafts() -> list[LeftDraft]:
    """Return what was left unsaved, the oldest first; not what another running program is writing."""
    found = []
    try:
        paths = sorted(_folder().glob("*.json"), key=lambda path: path.stat().st_mtime)
    except OSError:
        return []
    for path in paths:
        lock = _locked(path)
        if lock is None:
            continue
        with suppress(OSError, ValueError):
            values = json.loads(path.read_bytes())
            kind = values.pop("kind", "") if isinstance(values, dict) else ""
            if kind in _KINDS:
                found.append(LeftDraft(path, kind, values, lock))
                continue
        lock.unlock()
    return found


def _locked(path: Path) -> QLockFile | None:
    """Return the lock of a draft, taken; None where a running program has it."""
    lock = QLockFile(str(path.with_suffix(".lock")))
    lock.setStaleLockTime(0)  # only the end of its program makes it free
    if not lock.tryLock(0):
        return None
    with suppress(OSError):
        make_private(path.with_suffix(".lock"))
    return lock


def _remove(path: Path, lock: QLockFile | None) -> None:
    with suppress(OSError):
        path.unlink(missing_ok=True)
    if lock is not None:
        lock.unlock()
