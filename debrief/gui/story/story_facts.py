"""What the story says in words below its list: what contributed, the recording, its quality, what was not judged."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from debrief.analysis.model import Factor
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel, WrappedLabel
from debrief.profile.naming import own_file
from debrief.session.assessing.user_inputs import stated
from debrief.session.session import Session
from debrief.session.texts.definitions import definition_of
from debrief.session.texts.plain_names import for_window, keys_in_words, no_factor, not_judged_words
from debrief.words.numbers import beside, length_text, reference_beside

_MOST_NOTES = 8


def rule() -> QFrame:
    """Return a hairline."""
    line = QFrame()
    line.setObjectName("rule")
    line.setFixedHeight(1)
    return line


class StoryFacts(QWidget):
    """Groups of words, one below the other.

    They are written one group in each turn of the event loop: making, styling and laying out some fifty labels
    in one go would hold it up.

    Signals
    -------
    profile_wanted
        The user asks to choose a profile.
    """

    profile_wanted = Signal()

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._shown_start: int | None = None
        self._groups: list[QWidget] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(10, 0, 6, 0)
        self._column.setSpacing(5)
        self._lines = QVBoxLayout()
        self._steps = (
            self._write_factors,
            self._write_whole,
            self._write_recording,
            self._write_quality,
            self._write_not_judged,
        )

    @property
    def words(self) -> list[str]:
        """All words, for tests."""
        self._replay.turns.finish(*self._steps)
        return [label.text() for group in self._groups for label in group.findChildren(QLabel)]

    def fill(self) -> None:
        """Write everything anew; what was there is gone at once."""
        turns = self._replay.turns
        turns.drop(*self._steps)
        for group in self._groups:
            group.hide()
            self._column.removeWidget(group)
            group.deleteLater()
        self._groups = []
        self._shown_start = self._start_in_view()
        if self._replay.session is not None:
            turns.take(*self._steps)

    def follow_choice(self) -> None:
        """Say what contributed to the start that was chosen, where it is another one."""
        if self._start_in_view() != self._shown_start:
            self.fill()

    def _start_in_view(self) -> int | None:
        session = self._replay.session
        if session is None:
            return None
        if session.selected is not None:
            number_ = session.story[session.selected].start_number
            if number_ is not None:
                return number_
        starts = session.assessment.starts
        return next((s.number for s in starts if s.factors or no_factor(session.assessment, s)), None)

    def _write_factors(self) -> None:
        self._write(self._add_factors)

    def _write_whole(self) -> None:
        self._write(self._add_whole)

    def _write_recording(self) -> None:
        self._write(self._add_recording)

    def _write_quality(self) -> None:
        self._write(self._add_quality)

    def _write_not_judged(self) -> None:
        self._write(self._add_not_judged)

    def _write(self, add: Callable[[Session], None]) -> None:
        """Write one group below those that are there; none where it has nothing to say."""
        session = self._replay.session
        if session is None:
            return
        group = QWidget()
        self._lines = QVBoxLayout(group)
        self._lines.setContentsMargins(0, 6 if self._groups else 0, 0, 0)
        self._lines.setSpacing(5)
        add(session)
        if self._lines.count():
            self._groups.append(group)
            self._column.addWidget(group)

    def _heading(self, text: str) -> None:
        self._lines.addWidget(rule())
        label = PlainLabel(text)
        label.setProperty("role", "heading")
        label.setContentsMargins(0, 4, 0, 0)
        self._lines.addWidget(label)

    def _rows(self, rows: list[tuple[str, str, bool]]) -> None:
        holder = QWidget()
        grid = QGridLayout(holder)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(3)
        for index, (name, value, strong) in enumerate(rows):
            left = PlainLabel(name)
            left.setProperty("role", "muted")
            left.setAlignment(Qt.AlignmentFlag.AlignTop)
            right: QLabel
            if " " in value:
                right = WrappedLabel(value)
                right.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            else:
                # A file name cannot be wrapped.
                right = ElidedLabel(value, Qt.AlignmentFlag.AlignRight, Qt.TextElideMode.ElideMiddle)
            if strong:
                right.setFont(self._theme.font(13, bold=True))
            grid.addWidget(left, index, 0)
            grid.addWidget(right, index, 1)
        grid.setColumnStretch(1, 1)
        self._lines.addWidget(holder)

    def _paragraph(self, text: str, muted: bool = True) -> None:
        label = WrappedLabel(text)
        if muted:
            label.setProperty("role", "small")
        self._lines.addWidget(label)

    def _add_factors(self, session: Session) -> None:
        start = next((s for s in session.assessment.starts if s.number == self._shown_start), None)
        if start is None:
            return
        none = no_factor(session.assessment, start)
        if not start.factors and not none:
            return
        several = len(session.assessment.starts) > 1
        self._heading(f"What contributed to start {start.number}" if several else "What contributed")
        if none:
            self._paragraph(none)
            return
        self._paragraph("Present, not proven to be the cause.")
        holder = QWidget()
        grid = QGridLayout(holder)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(3)
        for row, factor in enumerate(start.factors):
            words = factor_words(factor)
            name, value, reference = WrappedLabel(words[0]), PlainLabel(words[1]), PlainLabel(words[2])
            value.setFont(self._theme.font(13, bold=True))
            reference.setProperty("role", "muted")
            for column, label in enumerate((name, value, reference)):
                side = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
                label.setAlignment(side | Qt.AlignmentFlag.AlignTop)
                label.setToolTip(plain_tip(factor.message))
                grid.addWidget(label, row, column)
        grid.setColumnStretch(0, 1)
        self._lines.addWidget(holder)

    def _add_whole(self, session: Session) -> None:
        """Say what was measured over the whole recording, as the paper does."""
        from debrief.report.content.measure_tables import flight_rows

        known = [row for row in flight_rows(session.assessment.flight_measures) if row.known]
        if not known:
            return
        self._heading("Over the whole recording")
        holder = QWidget()
        grid = QGridLayout(holder)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(3)
        for row, measure in enumerate(known):
            meaning = definition_of(measure.name, "measure")
            shown, found, bounds = measure.value.partition(" (")
            if found:  # a line breaks before the bounds, not inside them
                shown += found + bounds.replace(" ", "\N{NO-BREAK SPACE}")
            name, value = WrappedLabel(measure.title), WrappedLabel(shown)
            name.setProperty("role", "muted")
            for column, label in enumerate((name, value)):
                side = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
                label.setAlignment(side | Qt.AlignmentFlag.AlignTop)
                if meaning is not None:
                    label.setToolTip(plain_tip(keys_in_words(meaning.formula, session.profile)))
                grid.addWidget(label, row, column)
        grid.setColumnStretch(0, 6)
        grid.setColumnStretch(1, 5)
        self._lines.addWidget(holder)

    def _add_recording(self, session: Session) -> None:
        self._heading("Recording")
        recording, profile = session.recording, session.profile
        who = recording.identity
        rows = [("File", recording.provenance.file_name or session.path.name, False)]
        if who.start is not None:
            rows.append(
                ("Began", f"{who.start:%d %b %Y, %H:%M:%S} {who.start.tzname() or ''}".strip(), False)
            )
        rows.append(("Length", length_text(recording.duration_s), False))
        rows.append(("Channels", str(len(recording.channels)), False))
        rows += [(label, words, False) for label, words in stated(session.assessment)]
        if profile is None:
            rows.append(("Profile", "none", True))
        else:
            revision = f", rev {profile.revision}" if profile.revision else ""
            rows.append(("Profile", f"{profile.name}{revision}", False))
            file = own_file(profile)
            if file:
                # In a row of its own: a copy has its original's name, and behind that the file would be cut.
                rows.append(("from the file", file, False))
        self._rows(rows)
        if profile is None:
            button = QPushButton("Choose a profile...")
            button.clicked.connect(self.profile_wanted)
            self._lines.addWidget(button)
        elif session.not_approved is not None:
            self._paragraph(f"{session.not_approved}.", muted=False)

    def _add_quality(self, session: Session) -> None:
        self._heading("Quality of the recording")
        flags = session.assessment.quality
        repairs = session.recording.provenance.repairs
        questions = session.recording.provenance.questions
        notes = [*(f.message for f in flags), *repairs, *questions]
        if not notes:
            self._paragraph("Nothing conspicuous found.")
        for text in notes[:_MOST_NOTES]:
            self._paragraph(for_window(text))
        if len(notes) > _MOST_NOTES:
            self._paragraph(f"and {len(notes) - _MOST_NOTES} more, all in the report.")

    def _add_not_judged(self, session: Session) -> None:
        self._heading("Not judged")
        items = session.assessment.not_judged
        if not items:
            self._paragraph("Nothing: everything that the profile asks was judged.")
        for item in items[:_MOST_NOTES]:
            what, why = not_judged_words(item)
            self._paragraph(f"{what[:1].upper()}{what[1:]}: {why}")
        if len(items) > _MOST_NOTES:
            self._paragraph(f"and {len(items) - _MOST_NOTES} more, all in the report.")


def factor_words(factor: Factor) -> tuple[str, str, str]:
    """Return a factor's name, its value, and the reference that it is outside of."""
    meaning = definition_of(factor.kind, "factor")
    name = meaning.title if meaning is not None else factor.kind.replace("_", " ").capitalize()
    side = "min" if factor.value < factor.reference else "max"
    return (
        name,
        beside(factor.value, factor.reference, factor.unit),
        f"{side} {reference_beside(factor.value, factor.reference, factor.unit)}",
    )
