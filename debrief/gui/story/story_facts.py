"""What the story says in words below its list: what contributed, the recording, its quality, what was not judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QVBoxLayout, QWidget

from debrief.analysis.model import Factor, Measure, Start
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, remove_parts, row_layout
from debrief.profile.naming import own_file
from debrief.session.assessing.user_inputs import stated
from debrief.session.session import Session
from debrief.session.texts.definitions import definition_of
from debrief.session.texts.plain_names import for_window, keys_in_words, no_factor, not_judged_title
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
    new_profile_wanted
        The user asks to make one.
    """

    profile_wanted = Signal()
    new_profile_wanted = Signal()

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._shown_start: Start | None = None
        self._groups: list[QWidget] = []
        self._column = column_layout(self, margins=(10, 0, 6, 0), spacing=5)
        self._lines = QVBoxLayout()
        adds = (
            self._add_factors,
            self._add_whole,
            self._add_recording,
            self._add_quality,
            self._add_not_judged,
        )
        self._steps = tuple(partial(self._write, add) for add in adds)

    @property
    def words(self) -> list[str]:
        """All words, for tests."""
        self._replay.turns.finish(*self._steps)
        return [label.text() for group in self._groups for label in group.findChildren(QLabel)]

    def fill(self) -> None:
        """Write everything anew; what was there is gone at once."""
        turns = self._replay.turns
        turns.drop(*self._steps)
        remove_parts(self._column, self._groups)
        self._shown_start = self._start_in_view()
        if self._replay.session is not None:
            turns.take(*self._steps)

    def follow_choice(self) -> None:
        """Say what contributed to the start that was chosen, where it is another one."""
        if self._start_in_view() is not self._shown_start:
            self.fill()

    def _start_in_view(self) -> Start | None:
        session = self._replay.session
        if session is None:
            return None
        if session.chosen_start is not None:
            return session.chosen_start
        starts = session.assessment.starts
        return next((s for s in starts if s.factors or no_factor(session.assessment, s)), None)

    def _write(self, add: Callable[[Session], None]) -> None:
        """Write one group below those that are there; none where it has nothing to say."""
        session = self._replay.session
        if session is None:
            return
        group = QWidget()
        self._lines = column_layout(group, margins=(0, 6 if self._groups else 0, 0, 0), spacing=5)
        add(session)
        if self._lines.count():
            self._groups.append(group)
            self._column.addWidget(group)

    def _heading(self, text: str) -> None:
        self._lines.addWidget(rule())
        label = PlainLabel(text, role="heading")
        label.setContentsMargins(0, 4, 0, 0)
        self._lines.addWidget(label)

    def _table(self, rows: Sequence[Sequence[QLabel]], spacing: int, stretches: tuple[int, ...]) -> None:
        """Write labels in columns, all but the first to the right."""
        holder = QWidget()
        grid = QGridLayout(holder)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(spacing)
        grid.setVerticalSpacing(3)
        for row, labels in enumerate(rows):
            for column, label in enumerate(labels):
                side = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
                label.setAlignment(side | Qt.AlignmentFlag.AlignTop)
                grid.addWidget(label, row, column)
        for column, stretch in enumerate(stretches):
            grid.setColumnStretch(column, stretch)
        self._lines.addWidget(holder)

    def _fact(self, name: str, value: str, strong: bool = False) -> tuple[QLabel, QLabel]:
        right: QLabel
        if " " in value:
            right = WrappedLabel(value)
        else:
            # A file name cannot be wrapped.
            right = ElidedLabel(value, Qt.AlignmentFlag.AlignRight, Qt.TextElideMode.ElideMiddle)
        if strong:
            right.setFont(self._theme.font(13, bold=True))
        return PlainLabel(name, role="muted"), right

    def _paragraph(self, text: str, muted: bool = True) -> None:
        self._lines.addWidget(WrappedLabel(text, role="small" if muted else ""))

    def _add_factors(self, session: Session) -> None:
        start = self._shown_start
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
        rows = []
        for factor in start.factors:
            name, value, reference = factor_words(factor)
            labels = WrappedLabel(name), PlainLabel(value), PlainLabel(reference, role="muted")
            labels[1].setFont(self._theme.font(13, bold=True))
            for label in labels:
                label.setToolTip(plain_tip(factor.message))
            rows.append(labels)
        self._table(rows, 8, (1,))

    def _add_whole(self, session: Session) -> None:
        """Say what was measured over the whole recording, as the paper does."""
        from debrief.session.evidence.measure_tables import flight_rows

        # The paper has the bounds; here they are behind the mouse.
        measures = session.assessment.flight_measures
        brief = {name: _without_bounds(measure) for name, measure in measures.items()}
        known = [
            pair
            for pair in zip(
                flight_rows(brief, session.names), flight_rows(measures, session.names), strict=True
            )
            if pair[0].known
        ]
        if not known:
            return
        self._heading("Over the whole recording")
        rows = []
        for row, whole in known:
            meaning = definition_of(row.name, "measure", session.names)
            labels = WrappedLabel(row.title, role="muted"), WrappedLabel(row.value)
            tip = whole.value
            if meaning is not None:
                tip += f"\n{keys_in_words(meaning.formula, session.profile, session.names)}"
            for label in labels:
                label.setToolTip(plain_tip(tip))
            rows.append(labels)
        self._table(rows, 8, (6, 5))

    def _add_recording(self, session: Session) -> None:
        self._heading("Recording")
        recording, profile = session.recording, session.profile
        rows = [self._fact("File", recording.provenance.file_name or session.path.name)]
        began = session.clock.date_text(seconds=True)
        if began:
            rows.append(self._fact("Began", began))
        rows.append(self._fact("Length", length_text(recording.duration_s)))
        rows.append(self._fact("Channels", str(len(recording.channels))))
        rows += [self._fact(label, words) for label, words in stated(session.assessment)]
        if profile is None:
            rows.append(self._fact("Profile", "none", strong=True))
        else:
            revision = f", rev {profile.revision}" if profile.revision else ""
            rows.append(self._fact("Profile", f"{profile.name}{revision}"))
            file = own_file(profile)
            if file:
                # In a row of its own: a copy has its original's name, and behind that the file would be cut.
                rows.append(self._fact("from the file", file))
        self._table(rows, 10, (0, 1))
        if profile is None:
            row = row_layout(spacing=8)
            row.addWidget(made_button("Choose a profile...", self.profile_wanted), 1)
            row.addWidget(made_button("New...", self.new_profile_wanted, name="New engine profile"))
            self._lines.addLayout(row)
        elif session.not_approved is not None:
            self._paragraph(f"{session.not_approved}.", muted=False)

    def _add_quality(self, session: Session) -> None:
        self._heading("Quality of the recording")
        flags = session.assessment.quality
        repairs = session.recording.provenance.repairs
        questions = session.recording.provenance.questions
        notes = [*(f.message for f in flags), *repairs, *questions]
        self._listed([for_window(text) for text in notes], "No data problems found.")

    def _add_not_judged(self, session: Session) -> None:
        self._heading("Not judged")
        items = [(not_judged_title(item), item.why) for item in session.assessment.not_judged]
        self._listed(
            [f"{what[:1].upper()}{what[1:]}: {why}" for what, why in items],
            "Nothing: everything in the profile was judged.",
        )

    def _listed(self, texts: list[str], none: str) -> None:
        for text in texts[:_MOST_NOTES] or [none]:
            self._paragraph(text)
        if len(texts) > _MOST_NOTES:
            self._paragraph(f"and {len(texts) - _MOST_NOTES} more, all in the report.")


def _without_bounds(measure: Measure) -> Measure:
    """Return a measure of a known value without its bounds; "at least" and "at most" stay."""
    if measure.value is None or measure.low is None or measure.high is None:
        return measure
    return replace(measure, low=None, high=None)


def factor_words(factor: Factor) -> tuple[str, str, str]:
    """Return a factor's name, its value, and the reference that it is outside of."""
    meaning = definition_of(factor.kind, "factor")
    name = meaning.title if meaning is not None else factor.kind.replace("_", " ").capitalize()
    side = "below" if factor.value < factor.reference else "above"
    return (
        name,
        beside(factor.value, factor.reference, factor.unit),
        f"{side} {reference_beside(factor.value, factor.reference, factor.unit)}",
    )
