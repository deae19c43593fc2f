"""Which start lies behind the one on the table: one for the whole window, whatever recording is shown."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal, Slot

from debrief.session.comparing.compared_start import ComparedStart, behind_start, start_in_play
from debrief.session.comparing.start_curves import (
    INSTANT_WORDS,
    INSTANTS,
    Comparable,
    Instant,
    StartCurves,
    start_curves,
)
from debrief.session.session import Session


class Comparison(QObject):
    """Keeps the compared start behind the start at the playhead; it stays when another recording is opened.

    Signals
    -------
    changed
        Another start lies behind, or it lies elsewhere. Not told with another session: who shows one asks anew.
    told : str
        What was changed without being asked for.
    aligned : str
        Where both are aligned now, in a word or two.
    """

    changed = Signal()
    told = Signal(str)
    aligned = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session: Session | None = None
        self._chosen: Comparable | None = None
        self._instant: Instant = "fuel_on"
        self._shown: ComparedStart | None = None
        self._place: tuple[int, int] | None = None
        self._sha256 = ""

    @property
    def chosen(self) -> Comparable | None:
        """What was chosen to lie behind; None: nothing."""
        return self._chosen

    @property
    def instant(self) -> Instant:
        """Where both are aligned."""
        return self._instant

    @property
    def shown(self) -> ComparedStart | None:
        """The start at the playhead with the chosen one behind it; None where nothing was chosen, or there is no start."""
        return self._shown

    def choose(self, other: Comparable | None) -> None:
        """Lay a start behind, or take it away."""
        self._chosen = other
        self._lay_behind()

    @Slot()
    def clear(self) -> None:
        """Take the compared start away."""
        if self._chosen is not None:
            self.choose(None)

    def align(self, instant: Instant) -> None:
        """Align both at another instant."""
        if instant != self._instant:
            self._instant = instant
            self._lay_behind()

    @Slot()
    def align_next(self) -> None:
        """Align both at the next of the instants."""
        if self._chosen is not None:
            self.align(INSTANTS[(INSTANTS.index(self._instant) + 1) % len(INSTANTS)])
            self.aligned.emit(f"aligned at {INSTANT_WORDS[self._instant]}")

    def _lay_behind(self) -> None:
        self._work_out()
        self.changed.emit()

    def _work_out(self) -> None:
        session, chosen = self._session, self._chosen
        self._shown = self._place = None
        if session is None or chosen is None:
            return
        start = start_in_play(session.assessment.starts, session.engine, session.playback.position_s)
        if start is not None:
            self._place = (start.engine, start.number)
            self._shown = behind_start(session.assessment, start, chosen, self._instant)

    def show(self, session: Session | None) -> None:
        """Lay what was chosen behind another recording, or the same one judged anew; it is no more where it cannot be."""
        self._session = session
        chosen = self._chosen
        if session is None:
            self._shown = self._place = None
            return
        sha256 = session.recording.provenance.sha256
        if chosen is not None and chosen.key is not None and chosen.key[0] == sha256:
            self._chosen = self._judged_anew(chosen)
        elif chosen is not None and chosen.key is None and sha256 != self._sha256:
            self._chosen = (
                None  # made for the recording before; who offers the usual start lays this one's behind
            )
        elif chosen is not None and sha256 != self._sha256 and self._is_of_another_engine(chosen):
            self._chosen = None
            self.told.emit(f"{chosen.name} is of another engine ({chosen.profile}): it is compared no more.")
        self._sha256 = sha256
        self._work_out()

    def _is_of_another_engine(self, chosen: Comparable) -> bool:
        session = self._session
        profile = session.profile if session is not None else None
        return profile is not None and bool(chosen.profile) and chosen.profile != profile.name

    def _judged_anew(self, chosen: Comparable) -> StartCurves | None:
        """Return the same start as it is judged now; None where it is none any more."""
        session = self._session
        assert session is not None
        assert chosen.key is not None
        for start in session.assessment.starts:
            if (start.engine, start.number) == chosen.key[1:]:
                return start_curves(session.assessment, start)
        return None

    @Slot(float)
    def move_to(self, time_s: float) -> None:
        """Follow the playhead: into another start it lies behind that one."""
        session = self._session
        if session is None or self._chosen is None or len(session.assessment.starts) < 2:
            return
        start = start_in_play(session.assessment.starts, session.engine, time_s)
        if start is not None and (start.engine, start.number) != self._place:
            self._lay_behind()
