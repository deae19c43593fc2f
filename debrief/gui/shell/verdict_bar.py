"""The verdict in one sentence, above everything, with what follows from it."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import QEvent, QObject, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QGridLayout, QSizePolicy, QWidget

from debrief.analysis.rules.starter_duty import REST_BEFORE
from debrief.gui.background.guarded import guarded, painted
from debrief.gui.help.remedies import Cure, cures_of
from debrief.gui.plain_text import plain_tip, with_short_words
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.shell.rest_answer import RestAnswer
from debrief.gui.style.shapes import SHAPE_ROLE, draw_shape
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, remove_parts, row_layout
from debrief.gui.widgets.spoken import announce
from debrief.session.session import Session
from debrief.words.events import Sign, headline
from debrief.words.visible import visible

_MARGINS = (46, 6, 16, 7)
_ACROSS, _DOWN = 16, 2


class VerdictBar(QWidget):
    """Shows the session's sentence; a procedure finding is said as it is, not as an exceeded limit.

    Signals
    -------
    why_wanted
        The user asks for the evidence.
    profile_wanted
        The user asks to choose a profile.
    new_profile_wanted
        The user asks to make one.
    rest_told : object, float
        The user says how long the starter of an engine (None: the only one) had rested, [s].
    settle_wanted : str
        The user wants to settle what is open by a command of the menus.
    left
        The keys are wanted elsewhere.
    """

    why_wanted = Signal()
    profile_wanted = Signal()
    new_profile_wanted = Signal()
    rest_told = Signal(object, float)
    settle_wanted = Signal(str)
    left = Signal()

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self.setAccessibleName("Verdict")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(*_MARGINS)
        self._grid.setHorizontalSpacing(_ACROSS)
        self._grid.setVerticalSpacing(_DOWN)
        self._grid.setColumnStretch(0, 1)
        self._place: tuple[int, int, int, int] | None = None
        self._sentence = PlainLabel()
        self._sentence.setTextFormat(Qt.TextFormat.RichText)  # its lead in colour; the rest is escaped
        self._sentence.setWordWrap(True)
        self._sentence.setProperty("role", "verdict")
        self._sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._sentence.installEventFilter(self)
        self.after = WrappedLabel()
        # All that can be done stands on one line: the answers to the footnotes, then a profile, then Why.
        self._acts = QWidget()
        acts = row_layout(self._acts, margins=(0, 0, 0, 0), spacing=8)
        self._answers: list[QWidget] = []
        self._of = ""
        self._rests = column_layout(spacing=4)
        acts.addLayout(self._rests)
        self._settle = made_button("", self._settled, role="small")
        self._profile = made_button("Choose a profile...", self.profile_wanted, role="small")
        self._new_profile = made_button(
            "New...", self.new_profile_wanted, name="New engine profile", role="small"
        )
        self._why = made_button(
            "Why?",
            self.why_wanted,
            name="Why: the evidence behind the verdict",
            tip="The rule, the profile's line and the samples behind it (W)",
            role="small",
        )
        self._buttons = (self._settle, self._profile, self._new_profile, self._why)
        for button in self._buttons:
            acts.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        replay.session_changed.connect(self._session_changed)
        theme.changed.connect(self._session_changed)
        self._session_changed()

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return the height that the sentence needs."""
        return QSize(600, super().sizeHint().height())

    @Slot()
    def _session_changed(self) -> None:
        session = self._replay.session
        self.setVisible(session is not None)
        if session is None:
            return
        sign = _sign(session)
        color = self._theme.color("ink" if sign is None else SHAPE_ROLE[sign]).name()
        sentence = session.sentence
        words = f'<b style="color: {color}">{escape(sentence.lead)}</b> ' if sentence.lead else ""
        self._sentence.setText(words + escape(with_short_words(sentence.rest)))
        if self._sentence.accessibleName() != visible(sentence):
            self._sentence.setAccessibleName(visible(sentence))
            announce(self._sentence, sentence)
        not_approved = f"{session.not_approved}." if session.not_approved else ""
        after = [text for text in (session.next_step, session.footnotes, not_approved) if text]
        self.after.setText(" ".join(after))
        self._offer_answers(session)
        self.after.setVisible(bool(after))
        for button in (self._profile, self._new_profile):
            button.setVisible(session.profile is None)
        assessment = session.assessment
        self._why.setVisible(bool(assessment.events or assessment.not_judged) and session.profile is not None)
        # Hidden with what it holds: hidden parts would take their spaces from the sentence.
        self._acts.setVisible(bool(self._answers) or any(not button.isHidden() for button in self._buttons))
        self._arrange()
        self.update()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put what can be done where the bar is lowest."""
        super().resizeEvent(event)
        self._arrange()

    @guarded(False)
    def event(self, event: QEvent) -> bool:
        """Do so as well where words or buttons have another size, as in larger text."""
        if event.type() == QEvent.Type.LayoutRequest:
            self._arrange()
        return super().event(event)

    def _arrange(self) -> None:
        """Put what can be done beside all words, beside the footnotes or below them: where the bar is lowest."""
        whole = self.width() - _MARGINS[0] - _MARGINS[2]
        acts = QSize(0, 0) if self._acts.isHidden() else self._acts.sizeHint()
        beside = max(whole - acts.width() - _ACROSS, 1) if acts.width() else whole

        def words(label: QWidget, width: int) -> int:
            return 0 if label.isHidden() else label.heightForWidth(width) + _DOWN

        sentence, wide = words(self._sentence, beside), words(self._sentence, whole)
        heights = {
            (0, 1, 2, 1): max(sentence + words(self.after, beside), acts.height()),
            (1, 1, 1, 1): wide + max(words(self.after, beside), acts.height()),
            (2, 0, 1, 2): wide + words(self.after, whole) + acts.height(),
        }
        place = min(heights, key=lambda where: heights[where])
        if place == self._place:
            return
        self._place = place
        for part in (self._sentence, self.after, self._acts):
            self._grid.removeWidget(part)
        middle, right = Qt.AlignmentFlag.AlignVCenter, Qt.AlignmentFlag.AlignRight
        self._grid.addWidget(self._sentence, 0, 0, 1, 1 if place[0] == 0 else 2)
        self._grid.addWidget(self.after, 1, 0, 1, 2 if place[0] == 2 else 1)
        self._grid.addWidget(
            self._acts, *place, right | (middle if place[0] == 0 else Qt.AlignmentFlag.AlignTop)
        )

    def _offer_answers(self, session: Session) -> None:
        """Put beside the footnotes what answers them: of each engine's rest its own, and a button for columns."""
        # Looked at anew, in other colours or with what the history tells now, it keeps what is being typed.
        is_same = session.recording.provenance.sha256 == self._of
        typed = {one.engine: one for one in self._answers if is_same and isinstance(one, RestAnswer)}
        self._of = session.recording.provenance.sha256
        before: list[QWidget] = list(self._answers)
        self._answers.clear()
        cure = _cure(session)
        self._settle.setVisible(cure is not None)
        if cure is not None:
            self._settle.setText(cure.button)
            self._settle.setToolTip(plain_tip(cure.words))
            self._settle.setProperty("command", cure.command)
        engines = {item.engine for item in session.assessment.not_judged if item.what == REST_BEFORE}
        for engine in sorted(engines) if session.profile is not None else ():
            answer = RestAnswer(self._theme, engine if len(session.recording.engines) > 1 else None)
            answer.told.connect(self.rest_told)
            answer.left.connect(self.left)
            self._answers.append(answer)
            self._rests.addWidget(answer, 0, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            if answer.engine in typed:
                answer.show()  # what is not seen takes no keys
                answer.take_over(typed[answer.engine])
        remove_parts(self._rests, before)
        for one in self.findChildren(QAbstractButton):
            one.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # as in all of the window: a click leaves the keys

    @Slot()
    def _settled(self) -> None:
        self.settle_wanted.emit(str(self._settle.property("command")))

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Ask for the evidence where the verdict was clicked, and no words of it were selected."""
        is_click = event.type() == QEvent.Type.MouseButtonRelease and not self._sentence.hasSelectedText()
        if is_click and not self._why.isHidden():
            self.why_wanted.emit()
        return False

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the tint, the stripe and the shape."""
        session = self._replay.session
        if session is None:
            return
        theme = self._theme
        sign = _sign(session)
        role = "muted" if sign is None else SHAPE_ROLE[sign]
        tint = "panel" if sign is None else f"tint_{role}"
        painter.fillRect(self.rect(), theme.color(tint))
        painter.fillRect(QRectF(0, 0, 6, self.height()), theme.color(role))
        painter.setPen(theme.color("hairline"))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        if sign is not None:
            draw_shape(painter, sign, 26, self._sentence.y() + theme.px(10), theme.px(8), theme, tint)


def _sign(session: Session) -> Sign | None:
    """Return the sign of the verdict; none where nothing was exceeded."""
    return headline(session.assessment.verdict, session.assessment.events).sign


def _cure(session: Session) -> Cure | None:
    """Return how what is open can be settled, core questions first, where a person can settle it.

    What was exceeded comes first: then nothing. The starter's rest and a profile have their own.
    """
    if session.profile is None or session.assessment.verdict not in ("undetermined", "within"):
        return None
    items = sorted(session.assessment.not_judged, key=lambda item: not item.core)
    cures = (cure for item in items if item.what != REST_BEFORE for cure in cures_of(item, session.recording))
    return next(cures, None)
