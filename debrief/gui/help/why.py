"""Why: the evidence behind the findings, for a reader who wants to check them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

from PySide6.QtCore import Qt, QUrl, Signal, Slot
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from debrief.analysis.model import Event, Start
from debrief.gui.help.remedies import cure_words
from debrief.gui.plain_text import titled
from debrief.gui.style.theme import Theme
from debrief.profile.naming import full_name
from debrief.session.evidence.deciding_samples import deciding_samples, sample_decimals
from debrief.session.evidence.why import Why, factor_why, flight_whys, measure_why
from debrief.session.session import Session
from debrief.session.texts.definitions import Definition, definition_of, source_text
from debrief.session.texts.plain_names import (
    key_words,
    keys_in_words,
    moment_of,
    not_judged_title,
    severity_words,
)
from debrief.words.cautions import CAUTION
from debrief.words.channels import channel_symbol
from debrief.words.events import event_title
from debrief.words.numbers import clock_text, duration_text, number, plain, unit_words
from debrief.words.visible import visible

_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|%|mΩ|[a-zA-Z]{1,3}(?:/h|/s|/min)?)(?![\w/]))")
"""Between a number and a short word such as its unit: no line ends there."""
LINK = "definition:"
"""Links that begin so lead to the page of definitions: group and name of the entry follow."""


def why_html(session: Session) -> str:
    """Return the evidence of all findings as simple HTML, the chosen one first, then that of the flight's measures."""
    events = list(session.assessment.events)
    if session.step_in_play is not None:
        chosen = session.story[session.step_in_play].event
        if chosen is not None:
            events.sort(key=lambda event: event is not chosen)
    parts = [_event_html(session, event) for event in events]
    parts = parts or ["<p>There is no finding in this recording.</p>"]
    parts += _not_judged_html(session)
    measured = [_why_html(why) for why in flight_whys(session.assessment)]
    if measured:
        parts += ["<h2>Over the whole recording</h2>" + measured[0], *measured[1:]]
    return "<hr>".join(parts) + f"<hr><p>{escape(CAUTION)}</p>"


def _not_judged_html(session: Session) -> list[str]:
    """Return what was not judged, why, and how it can be told; nothing where all was judged."""
    lines = []
    for item in session.assessment.not_judged:
        what = not_judged_title(item)
        cure = cure_words(item, session.recording)
        lines.append(
            f"<p><b>{escape(what[:1].upper() + what[1:])}</b>: {escape(item.why)}.{' ' + escape(cure) if cure else ''}</p>"
        )
    return ["<h3>Not judged</h3>" + "".join(lines)] if lines else []


def measure_html(session: Session, start: Start, name: str) -> str:
    """Return the evidence of one measure of a start as simple HTML, and of the factors that it is."""
    assessment = session.assessment
    parts = [_why_html(measure_why(assessment, start, name))]
    for factor in start.factors:
        if factor.measure == name:
            found = factor_why(assessment, start, factor)
            if found is not None:
                parts.append(
                    f"<p>Present at this start, not proven to be the cause: {escape(found.value)}</p>"
                )
    return "".join(parts) + f"<hr><p>{escape(CAUTION)}</p>"


def _why_html(why: Why) -> str:
    lines = [f"<h3>{escape(why.title)}: {escape(why.value)}</h3>"]
    if why.rule:
        lines.append(f"<p>Rule: {escape(why.rule)}</p>")
    if why.formula:
        lines.append(f"<p>Computed: {escape(why.formula)}</p>")
    lines += [f"<p>Profile: {escape(words)}: {escape(key)}</p>" for words, key in why.profile]
    rows = "".join(
        f"<tr><td>{escape(what)}&nbsp;&nbsp;</td><td>{_unbroken(samples)}</td></tr>"
        for what, samples in why.samples
    )
    if rows:
        lines.append(f"<p>Read from these samples:</p><table cellpadding=3>{rows}</table>")
    if why.validity:
        lines.append(f"<p>Where it holds: {escape(why.validity)}</p>")
    if why.source:
        lines.append(f"<p>Source of the definition: {escape(why.source)}.</p>")
    if why.definition is not None:
        lines.append(f"<p>{entry_link(why.definition)}</p>")
    return "".join(lines)


def _unbroken(samples: Sequence[str]) -> str:
    """Return samples as HTML in which no line ends between a time and its value."""
    return ", ".join(escape(one).replace(" ", "&nbsp;") for one in samples)


def entry_link(entry: Definition) -> str:
    """Return a link to an entry of the page of definitions."""
    return f'<a href="{LINK}{entry.group}/{entry.name}">Its entry on the page of definitions</a>'


def _event_html(session: Session, event: Event) -> str:
    words = severity_words(event)
    sure = "" if event.certain or event.severity not in ("limit",) else ", within the uncertainty of sampling"
    lines = [
        f"<h3>{escape(event_title(event.kind))} at {clock_text(moment_of(event))}: {escape(words.lower())}{sure}</h3>",
        f"<p>{escape(event.message)}</p>",
    ]
    if event.sensor_suspect:
        lines.append("<p>It rests on a sample that no engine can produce: the sensor is suspect.</p>")
    evidence = event.evidence
    if evidence is not None:
        lines.append(f"<p>Rule: {escape(evidence.rule)}</p>")
        if evidence.formula:
            lines.append(f"<p>Computed: {escape(evidence.formula)}</p>")
        if evidence.profile_key is not None:
            profile = session.profile
            name = escape(full_name(profile)) if profile is not None else "profile"
            words = key_words(evidence.profile_key, profile, evidence.profile_line)
            lines.append(f"<p>Profile: {name}, {escape(words)}</p>")
    meaning = definition_of(event.kind, "event")
    if meaning is not None:
        formula = keys_in_words(meaning.formula, session.profile)
        lines.append(f"<p>{escape(meaning.title)}, as this program means it: {escape(formula)}</p>")
        lines.append(f"<p>Source of the definition: {escape(source_text(meaning))}.</p>")
        lines.append(f"<p>{entry_link(meaning)}</p>")
    if event.reference:
        lines.append(f"<p>Reference: {escape(event.reference)}</p>")
    if event.levels:
        lines.append(_levels_html(event))
    if event.band:
        if event.band_action:
            told = f"Band {escape(event.band)}: {escape(event.band_action)} (profile text, confirm in the manual)"
        else:
            told = f"Band of the profile's chart: {escape(event.band)}"
        lines.append(f"<p>{told}</p>")
    lines.append(_samples_html(session, event))
    return "".join(lines)


def _levels_html(event: Event) -> str:
    unit = unit_words(event.unit)
    rows = "".join(
        f"<tr><td align=right>{plain(level.level, event.unit)} {unit}&nbsp;&nbsp;</td>"
        f"<td align=right>{duration_text(level.duration_s, level.duration_low_s, level.duration_high_s)}&nbsp;&nbsp;</td>"
        f"<td align=right>{plain(level.allowed_s)} s&nbsp;&nbsp;</td><td>{level.result.replace('_', ' ')}</td></tr>"
        for level in event.levels
    )
    return (
        "<table cellpadding=3><tr><td align=right>level&nbsp;&nbsp;</td><td align=right>time (bounds)&nbsp;&nbsp;"
        f"</td><td align=right>allowed&nbsp;&nbsp;</td><td>result</td></tr>{rows}</table>"
    )


def _samples_html(session: Session, event: Event) -> str:
    """Return the deciding samples as a table: what they are, then time and value in columns of their own."""
    rows = []
    channels = session.recording.channels
    for reading in deciding_samples(session.assessment, event):
        decimals = sample_decimals(channels[reading.channel])
        unit = unit_words(reading.unit)
        rows.append(
            f"<tr><td colspan=2>{escape(channel_symbol(reading.channel))}, {escape(reading.what)}</td></tr>"
        )
        rows += [
            f"<tr><td align=right>{clock_text(time_s, 2)}&nbsp;&nbsp;&nbsp;</td>"
            f"<td align=right>{number(value, decimals)}{'' if unit == '°' else ' '}{unit}</td></tr>"
            for time_s, value in zip(reading.times_s, reading.values, strict=True)
        ]
    if not rows:
        return ""
    return f"<p>Samples that decide, as recorded:</p><table cellpadding=2>{''.join(rows)}</table>"


class TextDialog(QDialog):
    """Shows words that scroll, with Close always in view; the window behind stays usable."""

    def __init__(
        self, title: str, html: str, theme: Theme, name: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(titled(title))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        free = self.screen().availableGeometry()
        self.resize(min(theme.px(640), free.width() - 40), min(theme.px(520), free.height() - 80))
        column = QVBoxLayout(self)
        self.text = QTextBrowser()
        self.text.setAccessibleName(name or title)
        self.text.setHtml(_UNIT.sub("\N{NO-BREAK SPACE}", visible(html, keep="\n")))
        column.addWidget(self.text)
        # A few words need no large window.
        document = self.text.document().clone(self)
        document.setTextWidth(self.width() - theme.px(60))
        self.resize(self.width(), min(self.height(), int(document.size().height()) + theme.px(96)))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column.addWidget(buttons)


class WhyDialog(TextDialog):
    """Shows the evidence of the findings, or of one measure of a start; its links lead to the definitions.

    Signals
    -------
    definition_wanted : str, str
        Group and name of the entry whose link was followed.
    """

    definition_wanted = Signal(str, str)

    def __init__(
        self,
        session: Session,
        theme: Theme,
        parent: QWidget | None = None,
        *,
        of: tuple[Start, str] | None = None,
    ) -> None:
        html = why_html(session) if of is None else measure_html(session, *of)
        super().__init__("Why", html, theme, "Evidence", parent)
        self.text.setOpenLinks(False)
        self.text.anchorClicked.connect(self._followed)

    @Slot(QUrl)
    def _followed(self, link: QUrl) -> None:
        group, _, name = link.toString().removeprefix(LINK).rpartition("/")
        self.definition_wanted.emit(group, name)
