"""What would change the verdict: the nearest change in words, and two fields to try others."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QWidget

from debrief.analysis.model import Assessment, LevelResult, LimitResult
from debrief.errors import UserError
from debrief.gui.plain_text import entry
from debrief.gui.style.theme import Theme
from debrief.gui.why.trying import Trying
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, restyle
from debrief.session.evidence.why_page import profile_limit
from debrief.session.limits.trial import LimitTrial, Nearest, judged_words, level_title, nearest_words
from debrief.session.limits.typed_level import level_in
from debrief.words.durations import seconds_of
from debrief.words.numbers import plain, unit_words

_WORST = ("exceeded", "possible", "caution")
HINT = "Drag the grip on the dashed line in the lane, or type. Only a trial: nothing is saved."


class TrialBox(QWidget):
    """Asks for a level and its seconds and says what they would have come to."""

    def __init__(self, trying: Trying, theme: Theme, assessment: Assessment, result: LimitResult) -> None:
        super().__init__()
        self._trying = trying
        self._assessment = assessment
        self._result = result
        self._quiet = False
        column = column_layout(self, margins=(0, 4, 0, 4), spacing=5)
        column.addWidget(PlainLabel("What would change this", role="muted"))
        self._rows = ChoiceBox(theme)
        self._rows.setAccessibleName("Level of the limit")
        limit = profile_limit(assessment, result)
        assert limit is not None
        names = assessment.names(result.engine)
        for row, _ in enumerate(limit.allowed):
            self._rows.addItem(entry(level_title(limit, row, names)), row)
        if len(limit.allowed) == 1:
            self._rows.hide()
        self._rows.setMinimumContentsLength(10)
        self._rows.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        column.addWidget(self._rows)
        self._nearest = WrappedLabel("Looking for the nearest change...")
        self._nearest.setAccessibleName("Nearest change")
        column.addWidget(self._nearest)
        grid = QGridLayout()
        grid.setSpacing(6)
        self._level, self._seconds = QLineEdit(), QLineEdit()
        side = "Below" if limit.below else "Above"
        symbol = names.symbol(limit.channel)
        for place, (field, words, name, unit) in enumerate(
            (
                (self._level, f"{side}", f"Try another level of {symbol}", unit_words(limit.unit)),
                (self._seconds, "Allowed", "Try other seconds", "s"),
            )
        ):
            label = PlainLabel(words)
            label.setBuddy(field)
            field.setAccessibleName(name)
            field.setAccessibleDescription(HINT)
            field.setMaximumWidth(theme.px(90))
            field.textEdited.connect(self._typed)
            grid.addWidget(label, 0, 3 * place)
            grid.addWidget(field, 0, 3 * place + 1)
            grid.addWidget(PlainLabel(unit, role="muted"), 0, 3 * place + 2)
        grid.setColumnStretch(6, 1)
        column.addLayout(grid)
        self._told = WrappedLabel(HINT, role="small")
        column.addWidget(self._told)
        self._banner = QFrame()
        self._banner.setObjectName("trial")
        self._banner.setAccessibleName("Trial")
        self._banner.setStyleSheet(
            f"QFrame#trial {{ background: {theme.color('tint_caution').name()};"
            f" border: 1px dashed {theme.color('caution').name()}; border-radius: 4px; }}"
        )
        inner = column_layout(self._banner, margins=(8, 6, 8, 6), spacing=4)
        inner.addWidget(PlainLabel("TRIAL, not saved", role="heading"))
        self._came_to = WrappedLabel("Counting...")
        self._came_to.setAccessibleName("What the trial came to")
        inner.addWidget(self._came_to)
        back = made_button("Back to the profile's", self._back, role="small", tip="End the trial (Esc)")
        inner.addWidget(back, 0, Qt.AlignmentFlag.AlignLeft)
        self._banner.hide()
        column.addWidget(self._banner)
        self._rows.currentIndexChanged.connect(self._offer)
        trying.changed.connect(self._changed)
        trying.judged.connect(self._judged)
        trying.nearest_found.connect(self._found)
        worst = [
            (_WORST.index(one.result), row) for row, one in enumerate(result.levels) if one.result in _WORST
        ]
        self._rows.setCurrentIndex(min(worst)[1] if worst else 0)
        self._offer()

    @Slot()
    def _offer(self) -> None:
        """Make the chosen level the one that is tried."""
        self._nearest.setText("Looking for the nearest change...")
        self._trying.offer(LimitTrial(self._assessment, self._result, self._rows.currentIndex()))

    @Slot()
    def _back(self) -> None:
        self._trying.leave()

    @Slot()
    def _typed(self) -> None:
        trial = self._trying.trial
        channel = self._assessment.recording.channels.get(self._result.channel)
        if trial is None or channel is None:
            return
        try:
            level = level_in(self._level.text(), channel)
            seconds = seconds_of(self._seconds.text())
        except UserError as error:
            self._tell(str(error), problem=True)
            return
        self._tell(HINT)
        self._quiet = True
        self._trying.try_numbers(level, seconds)
        self._quiet = False

    def _tell(self, words: str, *, problem: bool = False) -> None:
        restyle(self._told, "role", "problem" if problem else "small")
        self._told.setText(words)

    @Slot()
    def _changed(self) -> None:
        """Show the numbers that are tried, where they were not typed here."""
        trying = self._trying
        trial = trying.trial
        self._banner.setVisible(trying.is_on)
        if trial is None:
            return
        if not self._quiet:
            self._level.setText(plain(round(trying.level, 6)))
            self._seconds.setText(plain(trying.seconds))
            self._tell(HINT)
        if not trying.is_on:
            self._came_to.setText("Counting...")

    @Slot(object)
    def _judged(self, one: LevelResult) -> None:
        trial = self._trying.trial
        if trial is not None:
            self._came_to.setText(judged_words(trial.limit, one))

    @Slot(object)
    def _found(self, found: Nearest) -> None:
        trial = self._trying.trial
        if trial is not None:
            self._nearest.setText(nearest_words(trial, found))
