"""The questions at the top of the import dialog, each with the answers that can be chosen."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtWidgets import (
    QAbstractButton,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from debrief.gui.background.guarded import guarded
from debrief.gui.importing.import_model import range_words, short_range
from debrief.gui.importing.remembered_row import STATE_WORDS, RememberedRow, state_mark
from debrief.gui.importing.traces import joined_trace, trace_icon, trace_size
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.flow_layout import FlowLayout
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, restyle, row_layout
from debrief.recording.matching.rivals import quoted
from debrief.session.importing.column_choices import choice_words, unit_choice_words
from debrief.session.importing.import_form import ImportForm, QuestionState
from debrief.session.importing.import_questions import Answer, Question
from debrief.session.importing.judgement_gaps import bare_words
from debrief.words.visible import visible

_WAYS = {"mean": "mean", "highest": "highest", "engines": "one engine each"}
_LONGEST = 30
_WIDEST = 420
_HIGHEST_BY_HEIGHT = ((740, 260), (640, 204), (540, 136), (0, 88))
"""In a dialog of at least this height the questions are at most so high."""


class QuestionsPanel(QFrame):
    """What is unsure; hidden where nothing is.

    Signals
    -------
    answered : str
        The form has taken an answer; with a sentence where another column had to give the channel up.
    forget_wanted
        What is remembered for this kind of file is to be forgotten.
    """

    answered = Signal(str)
    forget_wanted = Signal()

    def __init__(self, form: ImportForm, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._form = form
        self._theme = theme
        self._states: list[tuple[PlainLabel, WrappedLabel, Question | None]] = []
        """With None for the problem."""
        self._remembered: RememberedRow | None = None
        self._buttons: list[tuple[QPushButton, Question, Answer | None]] = []
        """With None for the answer that no column is it."""
        self.setObjectName("asked")
        self.setAccessibleName("Questions")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        outer = column_layout(self, margins=(4, 4, 4, 4))
        self._area = QScrollArea(widgetResizable=True)
        self._area.setObjectName("asked_area")
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._body = QWidget()
        self._body.setObjectName("asked_body")
        self._column = column_layout(self._body, margins=(10, 6, 10, 6), spacing=4)
        proposal = form.proposal
        if proposal.problem:
            self._row_of(None, proposal.problem)
        self._area.setWidget(self._body)
        outer.addWidget(self._area)
        is_bare = not proposal.has_a_lane
        self.setVisible(bool(proposal.problem or proposal.questions or is_bare or not proposal.kept.is_empty))

    def ask_all(self) -> Iterator[None]:
        """Put what is remembered and the questions, one a step."""
        if not self._form.proposal.kept.is_empty:
            self._remembered = RememberedRow(self._form, self._theme)
            self._remembered.answered.connect(self.answered)
            self._remembered.forget_wanted.connect(self.forget_wanted)
            self._column.addWidget(self._remembered)
            yield
        if not self._form.proposal.problem and not self._form.proposal.has_a_lane:
            found = [column.channel for column in self._form.proposal.columns]
            self._column.addWidget(self._say(bare_words(found), bold=True))
        for question in self._form.proposal.questions:
            yield
            self._ask(question)
        self._column.addStretch(1)
        yield  # what was added is shown, and has a size, in the next step only
        self.updateGeometry()

    @property
    def has_time_answer(self) -> bool:
        """Whether a column is offered as the time."""
        return any(question.channel == "time" for _, question, _ in self._buttons)

    @property
    def buttons(self) -> tuple[QPushButton, ...]:
        """The answers in order."""
        return tuple(button for button, _, _ in self._buttons)

    def focus_first(self) -> bool:
        """Give the focus to the first answer; return whether there is one."""
        if self._remembered is not None and self._remembered.focus_first():
            return True
        if not self._buttons:
            return False
        self._buttons[0][0].setFocus()
        return True

    def tell_forgotten(self) -> None:
        """Show that nothing is remembered any more."""
        if self._remembered is not None:
            self._remembered.tell_forgotten()

    def show_answers(self) -> None:
        """Mark the answers that the form holds, and how far each question is; nothing moves by that."""
        form = self._form
        if self._remembered is not None:
            self._remembered.show_form()
        for button, question, answer in self._buttons:
            button.setChecked(
                form.is_declined(question) if answer is None else form.is_answered_by(question, answer)
            )
        for mark, label, asked in self._states:
            if asked is not None:
                state = form.state_of(asked)
            else:
                state = "settled" if form.is_problem_settled else "open"
            _show_state(mark, label, state)

    def show_theme(self) -> None:
        """Draw the traces on the answers in the colours of the theme."""
        for button, _, answer in self._buttons:
            if answer is not None and answer.way != "engines":
                columns = [self._form.proposal.columns[c] for c in answer.probes or (answer.column,)]
                button.setIcon(trace_icon(joined_trace(columns), self._theme))

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return as much height as the questions need, up to a part of the dialog."""
        inner = self._body.layout()
        assert inner is not None
        width = max(self.width() - 40, self._theme.px(600))
        high = inner.heightForWidth(width) if inner.hasHeightForWidth() else inner.sizeHint().height()
        dialog = self.window()
        room = dialog.height()
        most = next(high for height, high in _HIGHEST_BY_HEIGHT if room >= self._theme.px(height))
        return QSize(self._theme.px(600), min(high + 12, self._theme.px(most)))

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return the same height, so that nothing squeezes it."""
        return QSize(200, self.sizeHint().height())

    def _say(self, text: str, bold: bool = False) -> WrappedLabel:
        label = WrappedLabel(text)
        label.setAccessibleName(label.text())
        if bold:
            label.setProperty("role", "heading")
        return label

    def _row_of(self, question: Question | None, text: str) -> QHBoxLayout:
        """Put a sentence, with room before it for how far it is answered; return its row."""
        label = self._say(text, bold=question is None)
        row = row_layout(spacing=6)
        self._column.addLayout(row)
        if question is None or question.answers:
            mark = state_mark()
            row.addWidget(mark)
            self._states.append((mark, label, question))
        row.addWidget(label, 1)
        return row

    def _ask(self, question: Question) -> None:
        """Put the sentence beside its answers, or above them where they are many."""
        buttons = self._make_buttons(question)
        width = sum(button.sizeHint().width() + 6 for button in buttons)
        row = self._row_of(question, question.text)
        if buttons and width <= self._theme.px(_WIDEST):
            for button in buttons:
                row.addWidget(button)
            self._states[-1][0].setAlignment(Qt.AlignmentFlag.AlignVCenter)
            return
        below = row_layout(spacing=6)
        self._column.addLayout(below)
        below.addSpacing(self._states[-1][0].width() + 6)
        answers = FlowLayout(6)
        below.addLayout(answers, 1)
        for button in buttons:
            answers.addWidget(button)

    def _make_buttons(self, question: Question) -> list[QPushButton]:
        several_columns = len({answer.column for answer in question.answers}) > 1
        channel = choice_words(question.channel)
        made = []
        for answer in question.answers:
            column = self._form.proposal.columns[answer.column]
            unit = f", {unit_choice_words(answer.unit)}" if answer.unit else ""
            if answer.probes:
                column = joined_trace([self._form.proposal.columns[c] for c in answer.probes])
            shown = "" if answer.probes else f", {range_words(column)}"
            names = quoted([visible(self._form.proposal.names[c]) for c in answer.probes or (answer.column,)])
            way = f"{_WAYS[answer.way]} of " if answer.way else ""
            whole = f"{channel}: {way}{names}{unit}{shown}"
            words = self._words(answer, several_columns, len(question.answers) > 1)
            button = made_button(words, self._clicked, name=whole, tip=whole, checkable=True)
            if answer.way != "engines":
                button.setIcon(trace_icon(column, self._theme))
                button.setIconSize(trace_size(self._theme))
            made.append(button)
            self._buttons.append((button, question, answer))
        if made and question.channel != "time":
            words = "None of them" if several_columns else "Not used"
            whole = f"{channel}: {words.lower()}"
            tip = f"{whole}; it is not asked again where the columns are remembered"
            made.append(made_button(words, self._clicked, name=whole, tip=tip, checkable=True))
            self._buttons.append((made[-1], question, None))
        return made

    def _words(self, answer: Answer, several_columns: bool, several_answers: bool) -> str:
        if answer.probes:
            return f"{_WAYS[answer.way].capitalize()} of the {len(answer.probes)}"
        name = visible(self._form.proposal.names[answer.column])
        if len(name) > _LONGEST:
            name = name[: _LONGEST - 1] + "\N{HORIZONTAL ELLIPSIS}"
        unit = unit_choice_words(answer.unit) if answer.unit else ""
        words = f"{name}, {unit}" if unit else name
        if not several_columns and unit:
            words = f"It is in {unit}" if several_answers else f"Yes, in {unit}"
        elif not several_answers:
            words = "Yes"
        if several_columns or not several_answers:
            words += f" ({short_range(self._form.proposal.columns[answer.column])})"
        return words.replace("&", "&&")

    @Slot()
    def _clicked(self) -> None:
        sender = self.sender()
        for button, question, answer in self._buttons:
            if isinstance(sender, QAbstractButton) and button is sender:
                said = ""
                if answer is None:
                    self._form.decline(question)
                elif (
                    self._form.is_answered_by(question, answer)
                    and self._form.state_of(question) != "proposed"
                ):
                    self._form.take_back(question, answer)  # the same answer again does
                else:
                    said = self._form.answer(question, answer)
                self.answered.emit(said)
                return


def _show_state(mark: PlainLabel, label: WrappedLabel, state: QuestionState) -> None:
    """Let a question that is settled step back, in a word of its own and in colour."""
    words = STATE_WORDS[state]
    if mark.text() == words:
        return
    mark.setText(words)
    label.setAccessibleName(f"{words}: {label.text()}")
    if label.property("role") != "heading":  # in another weight it would take another room
        restyle(label, "role", "muted" if state == "settled" else "")
