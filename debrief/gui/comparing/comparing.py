"""Comparing starts in the window: asks which, reads other recordings, and says what happened."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.gui.comparing.choices import Choices
from debrief.gui.comparing.other_recordings import OtherRecordings
from debrief.gui.comparing.remembered import Pairing, pairings_from, with_pairing
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Asker
from debrief.session.comparing.start_curves import start_curves
from debrief.session.session import Session

NO_START = "This recording has no start to compare."


@dataclass(frozen=True)
class _Pair:
    """Two recordings of which the second is compared with the first, and where the playhead goes; swapped in the replay."""

    first: Path
    second: Path
    moment_s: float | None = None
    is_swapped: bool = False


class Comparing(QObject):
    """Puts the parts of comparing together for the window.

    Signals
    -------
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of another recording that is read; None when it has ended.
    open_wanted : str
        This recording is to be put on the table.
    pair_opened
        The first of two recordings that were opened together is on the table; the other is being read.
    recording_read : Session
        Another recording was read; its start lies behind.
    pair_chosen : int, str, int
        A person compares two starts: number of the start, path of the other's recording, number of the other.
    """

    told = Signal(str, bool, str)
    progressed = Signal(object)
    open_wanted = Signal(str)
    pair_opened = Signal()
    recording_read = Signal(object)
    pair_chosen = Signal(int, str, int)

    def __init__(self, replay: Replay, theme: Theme, settings: Settings, ask: Asker, window: QWidget) -> None:
        super().__init__(window)
        self._replay = replay
        self._theme = theme
        self._settings = settings
        self._ask = ask
        self._window = window
        self._others = OtherRecordings(self)
        self.jobs = self._others.jobs
        self._choices = Choices(replay, self._others, self)
        self._pair: _Pair | None = None
        self._others.read.connect(self.recording_read)
        self._others.told.connect(self.told)
        self._choices.told.connect(self.told)
        self._others.progressed.connect(self.progressed)
        replay.comparison.told.connect(self._tell)
        replay.comparison.changed.connect(self._remember)
        replay.session_changed.connect(self._restore)
        self._restored = ""

    @Slot()
    def choose(self) -> None:
        """Ask which start is compared with the one at the playhead."""
        from debrief.gui.comparing.compare_dialog import CompareDialog

        session = self._replay.session
        if session is None:
            return
        if not session.assessment.starts:
            self._tell(NO_START)
            return
        self._replay.pause()
        dialog = CompareDialog(self._replay, self._choices, self._theme, self._window)
        dialog.file_wanted.connect(self.ask_file)
        self._choices.ask_history()
        dialog.open()

    @Slot()
    def ask_file(self) -> None:
        """Ask for another recording, and lay its start behind."""
        session = self._replay.session
        if session is not None:
            self._ask(self._window, str(session.path.parent), self._choices.read)

    def open_both(self, first: str | Path, second: str | Path) -> None:
        """Open a recording, and compare the start of another one with its own."""
        self._open(_Pair(Path(first), Path(second)))

    def _open(self, pair: _Pair) -> None:
        is_one = pair.first.resolve() == pair.second.resolve()
        self._pair = None if is_one else pair
        self.open_wanted.emit(str(pair.first))
        if is_one:
            self._tell(f"Both are {pair.first.name}: a start is not compared with itself.")

    @Slot(object)
    def recording_opened(self, session: Session) -> None:
        """Go on with the second of two recordings when the first is on the table."""
        pair, self._pair = self._pair, None
        if pair is None or session.path != pair.first:
            return
        if not session.assessment.starts:
            self._tell(NO_START)
            return
        if pair.moment_s is not None:
            self._replay.seek(pair.moment_s)
        if not pair.is_swapped:
            self.pair_opened.emit()
        self._choices.read(pair.second)

    @Slot()
    def swap(self) -> None:
        """Put the compared start on the table at the same moment of it, and the one that was there behind it."""
        session, shown = self._replay.session, self._replay.comparison.shown
        if session is None or shown is None or shown.other.key is None or shown.own.key is None:
            self._tell("No start is compared that could be put on the table.")
            return
        sha256, engine, number = shown.other.key
        since_s = shown.since_instant(self._replay.position_s)
        moment_s = None if since_s is None else shown.other_zero_s + since_s
        own = {(one.engine, one.number): one for one in session.assessment.starts}
        if sha256 == shown.own.key[0] and engine != session.engine:
            self._tell(f"That start is of engine {engine}: show it first, with View, Engine.")
            return
        if sha256 == shown.own.key[0]:
            self._replay.comparison.choose(start_curves(session.assessment, own[shown.own.key[1:]]))
            self._replay.seek(own[engine, number].begin_s if moment_s is None else moment_s)
            self._replay.frame_start()
            return
        path = self._choices.path_of(sha256)
        if path is None:
            self._tell(f"{shown.other.name} is not at hand: open it by itself.")
        else:
            self._open(_Pair(path, session.path, moment_s, is_swapped=True))

    @Slot()
    def _remember(self) -> None:
        """Remember what the recording on the table is compared with, or that it is no more."""
        session, comparison = self._replay.session, self._replay.comparison
        if session is None:
            return
        of, chosen = session.recording.provenance.sha256, comparison.chosen
        pairing = None
        if chosen is not None:
            key = chosen.key
            path = self._choices.path_of(key[0]) if key is not None else None
            if key is not None and key[0] == of:
                path = session.path
            shown = comparison.shown
            if key is not None and path is not None and shown is not None and shown.own.key is not None:
                self.pair_chosen.emit(shown.own.key[2], str(path), key[2])
            where = "" if path is None else str(path.resolve())
            pairing = Pairing(of, *(key or ("", 1, 1)), where, chosen.name, comparison.instant)
        text = with_pairing(self._settings.compared, of, pairing)
        if text != self._settings.compared:
            self._settings.compared = text

    @Slot()
    def _restore(self) -> None:
        """Compare a recording again as it was when it was last looked at, unless something is compared already."""
        session, comparison = self._replay.session, self._replay.comparison
        of = "" if session is None else session.recording.provenance.sha256
        if of == self._restored:
            return
        self._restored = of
        if not of or comparison.chosen is not None or self._pair is not None:
            return
        found = [one for one in pairings_from(self._settings.compared) if one.of == of]
        for one in found[:1]:
            comparison.align(one.instant)
            self._choices.lay_again(one.key, one.path, one.name)

    @Slot()
    def cancel(self) -> None:
        """Stop reading another recording."""
        self._others.cancel()

    def close(self) -> None:
        """Stop everything and wait for it."""
        self._others.close()
        self._choices.close()

    @Slot(str)
    def _tell(self, words: str) -> None:
        self.told.emit(words, False, "")
