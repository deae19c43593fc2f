"""What the panel beside the lanes says of one question: why this verdict, finding, limit or measure.

The order is that of a reader who checks: the levels, then the samples with their lines of the file, then the rule, the
profile's line, and the formula last.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from debrief.analysis.model import Assessment, Event, LevelResult, LimitResult, NotJudged, Reading, Start
from debrief.profile.model import Limit
from debrief.profile.naming import full_name
from debrief.session.evidence.deciding_samples import deciding_samples, sample_decimals
from debrief.session.evidence.profile_text import profile_line
from debrief.session.evidence.why import OUTSIDE, factor_why, measure_why
from debrief.session.texts.definitions import Definition, definition_of, measure_title, source_text
from debrief.session.texts.plain_names import (
    key_words,
    keys_in_words,
    moment_of,
    not_judged_title,
    severity_words,
)
from debrief.words.clock import ELAPSED, Clock
from debrief.words.events import event_title
from debrief.words.numbers import duration_text, number, plain, unit_words, value_text

LEVELS = "Levels"
"""Title of the table of levels."""
MOST_ROWS = 200
"""Of one table; beyond these it says how many there are."""
_WORST_FIRST = ("exceeded", "possible", "caution", "not_judged", "within")
_RESULTS = {"not_judged": "not judged"}
_SAID = {
    "within": "Within what is allowed",
    "possible": "Possibly exceeded",
    "did not apply": "Did not apply: what it holds for did not occur in this recording",
}
_KINDS = Literal["verdict", "finding", "limit", "measure"]


@dataclass(frozen=True)
class Subject:
    """What is asked about.

    Attributes
    ----------
    kind : str
        The verdict, a finding, a limit or a measure.
    index : int
        Of a finding in `Assessment.events`, of a limit in `Assessment.limits`, of a measure's start in
        `Assessment.starts`; -1 for a measure of the whole recording.
    name : str
        Of a measure its name.
    """

    kind: _KINDS = "verdict"
    index: int = 0
    name: str = ""


@dataclass(frozen=True)
class WhyRow:
    """A row of a table: its cells, the moment that it leads to, and what else it explains, where it does."""

    cells: tuple[str, ...]
    time_s: float | None = None
    subject: Subject | None = None


@dataclass(frozen=True)
class WhyTable:
    """A table with a title; `numbers` are the columns that stand on the right."""

    title: str
    head: tuple[str, ...]
    rows: tuple[WhyRow, ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True)
class WhyPage:
    """Everything said of one subject, in the order of reading.

    Attributes
    ----------
    title, said : str
        What it is about, and the finding in a sentence.
    tables : tuple of WhyTable
        Levels first, then samples.
    words : tuple of (str, str)
        Rule, profile, formula and what else there is: what it is, and its text.
    open_points : tuple of NotJudged
        What is open.
    entry : Definition or None
        Its entry on the page of definitions.
    """

    subject: Subject
    title: str
    said: str = ""
    tables: tuple[WhyTable, ...] = ()
    words: tuple[tuple[str, str], ...] = ()
    open_points: tuple[NotJudged, ...] = ()
    entry: Definition | None = None


def subjects(assessment: Assessment, clock: Clock = ELAPSED) -> list[tuple[Subject, str]]:
    """Return what can be asked about, with its name: the verdict, findings, limits, measures of the recording."""
    out = [(Subject(), "The verdict")]
    out += [
        (Subject("finding", i), _event_title(assessment, event, clock))
        for i, event in enumerate(assessment.events)
    ]
    out += [(Subject("limit", i), _limit_title(assessment, r)) for i, r in enumerate(assessment.limits)]
    out += [
        (Subject("measure", -1, name), measure_title(name, assessment.names()))
        for name, proof in assessment.flight_evidence.items()
        if proof.readings
    ]
    return out


def why_page(assessment: Assessment, subject: Subject, sentence: str = "", clock: Clock = ELAPSED) -> WhyPage:
    """Return the evidence of a subject; `sentence` is the verdict where it is worded for the window."""
    if subject.kind == "finding":
        return _finding_page(assessment, subject, clock)
    if subject.kind == "limit":
        return _limit_page(assessment, subject, clock)
    if subject.kind == "measure":
        return _measure_page(assessment, subject, clock)
    return _verdict_page(assessment, sentence or assessment.sentence, clock)


def limit_of(assessment: Assessment, subject: Subject) -> LimitResult | None:
    """Return the limit that a subject is about; None where it is about none."""
    if subject.kind == "limit":
        return assessment.limits[subject.index]
    if subject.kind == "finding":
        event = assessment.events[subject.index]
        return next(
            (one for one in assessment.limits if (one.id, one.engine) == (event.limit_id, event.engine)), None
        )
    return None


def profile_limit(assessment: Assessment, result: LimitResult) -> Limit | None:
    """Return the profile's limit of a result."""
    limits = () if assessment.profile is None else assessment.profile.limits
    return next((limit for limit in limits if limit.id == result.id), None)


# --- the verdict ----------------------------------------------------------------------------------------


def _verdict_page(assessment: Assessment, sentence: str, clock: Clock) -> WhyPage:
    levels = []
    for index, result in sorted(
        enumerate(assessment.limits), key=lambda one: _WORST_FIRST.index(one[1].result)
    ):
        subject = Subject("limit", index)
        levels.append(WhyRow((_limit_title(assessment, result),), None, subject))
        if applied(result) and result.levels:
            levels += [WhyRow(_level_cells(result.unit, one), one.start_s, subject) for one in result.levels]
        else:
            levels.append(WhyRow(("", "", "", _limit_words(result)), None, subject))
    findings = [
        WhyRow(
            (
                clock.text(moment_of(event)),
                f"{_engine(assessment, event.engine)}{event_title(event.kind)}",
                severity_words(event).lower(),
            ),
            moment_of(event),
            Subject("finding", index),
        )
        for index, event in enumerate(assessment.events)
    ]
    return WhyPage(
        Subject(),
        "The verdict",
        str(sentence),
        (
            *_table(LEVELS, _LEVEL_HEAD, levels, (0, 1, 2)),
            *_table("Findings", ("Time", "Finding", "Result"), findings, (0,)),
        ),
        open_points=assessment.not_judged,
        entry=definition_of(assessment.verdict, "verdict"),
    )


# --- a finding ------------------------------------------------------------------------------------------


def _engine(assessment: Assessment, engine: int) -> str:
    return f"Engine {engine}: " if assessment.recording.has_several_engines else ""


def _event_title(assessment: Assessment, event: Event, clock: Clock) -> str:
    return f"{clock.text(moment_of(event))} {_engine(assessment, event.engine)}{event_title(event.kind)}"


def _finding_page(assessment: Assessment, subject: Subject, clock: Clock) -> WhyPage:
    event = assessment.events[subject.index]
    evidence, profile = event.evidence, assessment.profile
    names = assessment.names(event.engine)
    entry = definition_of(event.kind, "event", names)
    words = []
    if event.sensor_suspect:
        words.append(("Sensor", "Rests on a sample that no engine can produce: the sensor is suspect."))
    if evidence is not None:
        words.append(("Rule", str(evidence.rule)))
    if event.band:
        action = (
            f": {event.band_action} (the profile's text, confirm in the manual)" if event.band_action else ""
        )
        words.append(("Band of the profile's chart", f"{event.band}{action}"))
    if evidence is not None and evidence.profile_key is not None:
        name = full_name(profile) if profile is not None else "profile"
        key = key_words(evidence.profile_key, profile, evidence.profile_line, names)
        words += _profile_words(f"{name}, {key}", profile_line(profile, evidence.profile_line))
    if event.reference:
        words.append(("Reference in the manual", event.reference))
    if evidence is not None and evidence.formula:
        words.append(("Computed", evidence.formula))
    if entry is not None:
        words.append(("Definition", keys_in_words(entry.formula, profile, names)))
        words.append(("Source of the definition", source_text(entry)))
    severity = severity_words(event)
    if not event.certain and event.severity == "limit":
        severity += ", within the uncertainty of sampling"
    levels = [WhyRow(_level_cells(event.unit, level), level.start_s) for level in event.levels]
    return WhyPage(
        subject,
        f"{event_title(event.kind)} at {clock.text(moment_of(event))}: {severity.lower()}",
        str(event.message),
        (
            *_table(LEVELS, _LEVEL_HEAD, levels, (0, 1, 2)),
            *_samples(assessment, deciding_samples(assessment, event), clock),
        ),
        tuple(words),
        entry=entry,
    )


_LEVEL_HEAD = ("Level", "Allowed", "Measured", "Result")


def _level_cells(unit: str, level: LevelResult) -> tuple[str, str, str, str]:
    return (
        f"{plain(level.level, unit)} {unit_words(unit)}".rstrip(),
        allowed_words(level.allowed_s),
        duration_text(level.duration_s, level.duration_low_s, level.duration_high_s),
        result_words(level.result),
    )


def allowed_words(seconds: float) -> str:
    """Return how long is allowed."""
    return "none" if seconds == 0 else f"{plain(seconds)} s"


def result_words(result: str) -> str:
    """Return the result of a level in a word or two."""
    return _RESULTS.get(result, result)


def _profile_words(where: str, text: str) -> list[tuple[str, str]]:
    return [("Profile", where), *([("The line", text)] if text else [])]


def applied(result: LimitResult) -> bool:
    """Return whether a limit held anywhere in the recording, or that cannot be told."""
    return bool(result.windows) or result.result != "within"


def _limit_words(result: LimitResult) -> str:
    return result_words(result.result) if applied(result) else "did not apply"


# --- a limit --------------------------------------------------------------------------------------------


def _limit_title(assessment: Assessment, result: LimitResult) -> str:
    symbol = assessment.names(result.engine).symbol(result.channel)
    return f"{_engine(assessment, result.engine)}{symbol}, {event_title(result.event).lower()} ({result.id})"


def _limit_page(assessment: Assessment, subject: Subject, clock: Clock) -> WhyPage:
    result = assessment.limits[subject.index]
    limit, profile = profile_limit(assessment, result), assessment.profile
    levels = [
        WhyRow(_level_cells(result.unit, level), level.start_s) for level in result.levels if applied(result)
    ]
    words: list[tuple[str, str]] = []
    if limit is not None:
        side = "below" if limit.below else "above"
        unit = unit_words(limit.unit)
        rows = ", ".join(
            f"{side} {plain(row.level, limit.unit)} {unit} "
            + ("at no time" if row.seconds == 0 else f"for no longer than {plain(row.seconds)} s")
            for row in limit.allowed
        )
        count = "in total" if limit.count == "total" else "in one run"
        words.append(("Rule", f"{assessment.names(result.engine).symbol(limit.channel)} {rows} ({count})."))
        key = f"limits.{limit.id}"
        line = None if profile is None else profile.lines.get(key)
        for number_, _ in enumerate(limit.allowed, 1):
            own = None if profile is None else profile.lines.get(f"{key}.allowed[{number_}]")
            line = own if number_ == 1 and own is not None else line
        name = full_name(profile) if profile is not None else "profile"
        words += _profile_words(f"{name}, {key_words(key, profile, line)}", profile_line(profile, line))
        if limit.reference:
            words.append(("Reference in the manual", limit.reference))
    said = f"{_SAID.get(_limit_words(result), _limit_words(result).capitalize())}."
    if result.why and applied(result):
        said = f"{said[:-1]}: {result.why}."
    entry = definition_of(result.result, "limit result", assessment.names(result.engine))
    open_points = tuple(
        one for one in assessment.not_judged if one.limit_id == result.id and one.engine == result.engine
    )
    samples = _around_highest(assessment, result, limit)
    return WhyPage(
        subject,
        _limit_title(assessment, result),
        said,
        (*_table(LEVELS, _LEVEL_HEAD, levels, (0, 1, 2)), *_samples(assessment, samples, clock)),
        tuple(words),
        open_points,
        entry,
    )


def _around_highest(assessment: Assessment, result: LimitResult, limit: Limit | None) -> tuple[Reading, ...]:
    """Return the sample nearest to the limit, or farthest beyond it, where it applied, with its neighbours."""
    channel = assessment.recording.channels.get(result.channel)
    if channel is None or limit is None or not result.windows:
        return ()
    best: int | None = None
    for window in result.windows:
        first, last = channel.time_s.searchsorted([window.start_s, window.end_s]).tolist()
        if first == last:
            continue
        part = channel.values[first:last]
        at = first + int(part.argmin() if limit.below else part.argmax())
        beyond = -1.0 if limit.below else 1.0
        if best is None or beyond * channel.values[at] > beyond * channel.values[best]:
            best = at
    if best is None:
        return ()
    index = tuple(k for k in (best - 1, best, best + 1) if 0 <= k < channel.time_s.size)
    side = "lowest" if limit.below else "highest"
    return (
        Reading(
            channel.name,
            channel.unit,
            f"{side} with its neighbours",
            index,
            tuple(float(channel.time_s[k]) for k in index),
            tuple(float(channel.values[k]) for k in index),
        ),
    )


# --- a measure ------------------------------------------------------------------------------------------


def _measure_page(assessment: Assessment, subject: Subject, clock: Clock) -> WhyPage:
    start: Start | None = None if subject.index < 0 else assessment.starts[subject.index]
    why = measure_why(assessment, start, subject.name, clock)
    evidence = assessment.flight_evidence if start is None else start.evidence
    proof = evidence.get(subject.name)
    words = [("Rule", why.rule)] if why.rule else []
    if start is not None:
        for factor in start.factors:
            found = factor_why(assessment, start, factor) if factor.measure == subject.name else None
            if found is not None:
                words.append(("Present at this start, not proven to be the cause", found.value))
    for said, key in why.profile:
        line = None if assessment.profile is None else assessment.profile.lines.get(key)
        words += _profile_words(said, profile_line(assessment.profile, line))
    if why.validity:
        words.append(("Where it holds", why.validity))
    if why.source:
        words.append(("Source of the definition", why.source))
    if why.formula:
        words.append(("Computed", why.formula))
    where = "" if start is None else f" (start {start.number})"
    return WhyPage(
        subject,
        f"{why.title}{where}",
        why.value,
        tuple(_samples(assessment, () if proof is None else proof.readings, clock)),
        tuple(words),
        entry=why.definition,
    )


# --- tables ---------------------------------------------------------------------------------------------


def _table(
    title: str, head: tuple[str, ...], rows: Sequence[WhyRow], numbers: tuple[int, ...]
) -> Iterator[WhyTable]:
    if rows:
        more = f", the first {MOST_ROWS} of {len(rows)}" if len(rows) > MOST_ROWS else ""
        yield WhyTable(f"{title}{more}", head, tuple(rows[:MOST_ROWS]), numbers)


def _samples(assessment: Assessment, readings: Sequence[Reading], clock: Clock) -> Iterator[WhyTable]:
    """Yield the samples as recorded, each with its line of the file where it came from one."""
    recording = assessment.recording
    lines = recording.lines
    rows = []
    for reading in readings:
        channel = recording.channels.get(reading.channel)
        unit = unit_words(reading.unit)
        rows.append(WhyRow((f"{recording.names.symbol(reading.channel)}, {reading.what}",)))
        for k, time_s, value in zip(reading.index, reading.times_s, reading.values, strict=True):
            text = (
                value_text(value, reading.unit)
                if channel is None
                else f"{number(value, sample_decimals(channel))}{'' if unit == '°' else ' '}{unit}".rstrip()
            )
            if not reading.counts(k):
                text = f"{text} ({OUTSIDE})"
            line = None if lines is None else lines.line_at(time_s)
            rows.append(WhyRow(("" if line is None else str(line), clock.text(time_s, 2), text), time_s))
    yield from _table(
        "Samples that decide, as recorded", ("Row of the file", "Time", "Value"), rows, (0, 1, 2)
    )


# --- the clipboard --------------------------------------------------------------------------------------


def as_text(page: WhyPage) -> str:
    """Return a page as lines, each table with a tab between its cells."""
    lines = [page.title, page.said]
    for table in page.tables:
        lines += ["", table.title, "\t".join(table.head), *("\t".join(row.cells) for row in table.rows)]
    if page.words:
        lines += ["", *(f"{what}\t{text}" for what, text in page.words)]
    if page.open_points:
        lines += ["", *(f"{not_judged_title(one)}\t{one.why}" for one in page.open_points)]
    return "\n".join(lines) + "\n"


def as_html(page: WhyPage) -> str:
    """Return a page as simple HTML, its tables as tables."""
    parts = [f"<h3>{escape(page.title)}</h3><p>{escape(page.said)}</p>"]
    for table in page.tables:
        parts.append(_html_table(table.title, table.head, [row.cells for row in table.rows]))
    if page.words:
        parts.append(_html_table("", (), page.words))
    if page.open_points:
        parts.append(
            _html_table("Not judged", (), [(not_judged_title(x), str(x.why)) for x in page.open_points])
        )
    return "".join(parts)


def _html_table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    top = "".join(f"<th>{escape(one)}</th>" for one in head)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<p>{escape(title)}</p><table>{f'<tr>{top}</tr>' if top else ''}{body}</table>"
