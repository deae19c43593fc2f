"""Why: the evidence behind the findings, for a reader who wants to check them."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from debrief.analysis.model import Event
from debrief.gui.theme import Theme
from debrief.session.definitions import definition_of, source_text
from debrief.session.saying import in_words, key_words, keys_in_words
from debrief.session.session import Session
from debrief.session.wording import (
    CAUTION,
    SEVERITY_WORDS,
    clock_text,
    duration_text,
    event_title,
    number,
    plain,
    unit_words,
)

_MOST_SAMPLES = 24


def why_html(session: Session) -> str:
    """Return the evidence of all findings as simple HTML, the chosen one first."""
    events = list(session.assessment.events)
    if session.step_in_play is not None:
        chosen = session.story[session.step_in_play].event
        if chosen is not None:
            events.sort(key=lambda event: event is not chosen)
    if not events:
        return "<p>There is no finding in this recording.</p>"
    parts = [_event_html(session, event) for event in events]
    return "<hr>".join(parts) + f"<hr><p>{escape(CAUTION)}</p>"


def _event_html(session: Session, event: Event) -> str:
    words = SEVERITY_WORDS[event.severity]
    sure = "" if event.certain or event.severity not in ("limit",) else ", within the uncertainty of sampling"
    lines = [
        f"<h3>{escape(event_title(event.kind))} at {clock_text(event.start_s)}: {escape(words.lower())}{sure}</h3>",
        f"<p>{escape(in_words(event.message))}</p>",
    ]
    if event.sensor_suspect:
        lines.append("<p>It rests on a sample that no engine can produce: the sensor is suspect.</p>")
    evidence = event.evidence
    if evidence is not None:
        lines.append(f"<p>Rule: {escape(in_words(evidence.rule))}</p>")
        if evidence.formula:
            lines.append(f"<p>Computed: {escape(keys_in_words(evidence.formula, session.profile))}</p>")
        if evidence.profile_key is not None:
            profile = session.profile
            name = escape(profile.name) if profile is not None else "profile"
            words = key_words(evidence.profile_key, profile)
            if evidence.profile_line is not None and "line " not in words:
                words += f" (line {evidence.profile_line} of the profile)"
            lines.append(f"<p>Profile: {name}, {escape(words)}</p>")
    meaning = definition_of(event.kind, "event")
    if meaning is not None:
        formula = keys_in_words(meaning.formula, session.profile)
        lines.append(f"<p>{escape(meaning.title)}, as this program means it: {escape(formula)}</p>")
        lines.append(f"<p>Source of the definition: {escape(source_text(meaning))}.</p>")
    if event.reference:
        lines.append(f"<p>Reference: {escape(event.reference)}</p>")
    if event.levels:
        lines.append(_levels_html(event))
    if event.band:
        action = f": {escape(event.band_action)}" if event.band_action else ""
        lines.append(f"<p>Band {escape(event.band)}{action} (profile text, confirm in the manual)</p>")
    if evidence is not None and evidence.times_s:
        lines.append(_samples_html(event))
    return "".join(lines)


def _levels_html(event: Event) -> str:
    unit = unit_words(event.unit)
    rows = "".join(
        f"<tr><td align=right>{plain(level.level)} {unit}&nbsp;&nbsp;</td>"
        f"<td align=right>{duration_text(level.duration_s, level.duration_low_s, level.duration_high_s)}&nbsp;&nbsp;</td>"
        f"<td align=right>{plain(level.allowed_s)} s&nbsp;&nbsp;</td><td>{level.result.replace('_', ' ')}</td></tr>"
        for level in event.levels
    )
    return (
        "<table cellpadding=3><tr><td align=right>level&nbsp;&nbsp;</td><td align=right>time (bounds)&nbsp;&nbsp;"
        f"</td><td align=right>allowed&nbsp;&nbsp;</td><td>result</td></tr>{rows}</table>"
    )


def _samples_html(event: Event) -> str:
    evidence = event.evidence
    assert evidence is not None
    pairs = list(zip(evidence.times_s, evidence.values, strict=False))
    shown = pairs[:_MOST_SAMPLES]
    words = ", ".join(f"{clock_text(t, 2)} {number(v, 1)}" for t, v in shown)
    more = f" and {len(pairs) - len(shown)} more" if len(pairs) > len(shown) else ""
    return f"<p>Samples: {escape(words)}{more}</p>"


class TextDialog(QDialog):
    """Shows words that scroll, with Close always in view; the window behind stays usable."""

    def __init__(
        self, title: str, html: str, theme: Theme, name: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        free = self.screen().availableGeometry()
        self.resize(min(theme.px(640), free.width() - 40), min(theme.px(520), free.height() - 80))
        column = QVBoxLayout(self)
        self.text = QTextBrowser()
        self.text.setAccessibleName(name or title)
        self.text.setHtml(html)
        column.addWidget(self.text)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column.addWidget(buttons)


class WhyDialog(TextDialog):
    """Shows the evidence."""

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__("Why", why_html(session), theme, "Evidence", parent)
