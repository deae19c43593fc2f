"""The last pages: how good the data are, notes, cautions, and what is filled in and signed by hand."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Protocol

from debrief.analysis.limits.judge import NEVER_APPLIED
from debrief.analysis.model import Assessment
from debrief.analysis.verdict import bars_restart
from debrief.report.blocks import Blanks, Block, Column, Heading, Notice, Paragraph, Row, Section, Table
from debrief.report.content import phrases
from debrief.report.content.budget import table
from debrief.report.content.options import Reader
from debrief.session.texts.plain_names import for_paper, not_judged_title
from debrief.words.cautions import AFTER_LIMIT, CAUTION, NOT_APPROVED
from debrief.words.channels import channel_words
from debrief.words.events import event_title
from debrief.words.numbers import clock_text, plain, unit_words, value_text

SIGNATURE = (
    "The signature confirms only that the data on these pages were reviewed. It is not a release to service and "
    "not an inspection, and nothing here permits further flight or another start."
)

_WHAT_TO_DO: dict[Reader, tuple[str, ...]] = {
    "pilot": (
        "Report what happened in the technical log and hand this paper to the maintenance organisation.",
        "Keep the recording: this paper can be checked only together with it, by the SHA-256 on page 1.",
    ),
    "student": (
        "Go through the pages with your instructor; the flight manual's procedure is what counts.",
        "If a limit was exceeded, the pilot in command reports it in the technical log.",
    ),
    "technician": (
        "Compare the levels and seconds with the approved maintenance manual: the profile is a copy by hand.",
        "Check the indication before trusting a value, and fill in by hand what the recording cannot know.",
        "File this paper with the recording: it can be checked only together with it, by the SHA-256 on page 1.",
    ),
}

WHAT_IT_IS = (
    "It tells what one recording holds beside the engine profile named on page 1; the same file and profile, by their "
    "SHA-256, give the same numbers with what a person or the history said beside them, such as starter runs before, the "
    "altimeter setting, which column is what and the unit; page 1 names it. It is no inspection, no release to service and no page of a log. What was not "
    "recorded is not in it."
)
_SHORT = 60

DEFINITIONS = (
    "Between two samples the signal is taken as a straight line; times above a level are measured on it. In "
    "brackets stand the least and the most that the samples allow. Equal to a level is not above it.",
    "Bounds cover sampling, resolution and the channel's own noise, not the sensor's accuracy or lag. Values are as recorded and "
    "never corrected for lag.",
    'Across a gap nothing is claimed. Where the recording\'s edge cuts a stretch, it says "at least".',
    '"Possibly exceeded" means exceeded only within these bounds. "Nothing exceeded" holds for what was '
    "recorded and judged, and says nothing about the rest.",
)


_LONGEST_PIECE = 4000


class Note(Protocol):
    """A note by a person, pinned to a moment or to the whole recording."""

    @property
    def text(self) -> str:
        """What was noted."""

    @property
    def time_s(self) -> float | None:
        """Where, [s]; None for the whole recording."""

    @property
    def author(self) -> str:
        """Who; may be empty."""

    @property
    def changed_at(self) -> str:
        """When it was last changed; may be empty."""

    @property
    def event_kind(self) -> str | None:
        """Kind of the finding that it is pinned to; None for a time alone."""


def quality_section(assessment: Assessment) -> Section:
    """Return limits, what was not judged, and how good the data are."""
    blocks: list[Block] = []
    if assessment.limits:
        blocks += [Heading("Limits of the profile"), *_limits_blocks(assessment)]
    blocks.append(Heading("Not judged"))
    if assessment.not_judged:
        rows = [
            Row((not_judged_title(item), _where(item.start_s, item.end_s), item.why))
            for item in assessment.not_judged
        ]
        columns = (Column("what", 0.4), Column("where", 0.2), Column("why", 0.4))
        blocks += table(columns, rows, "points not judged")
    elif assessment.profile is None:
        blocks.append(Paragraph(phrases.NO_PROFILE))
    else:
        blocks.append(Paragraph("Nothing: everything that the profile asks was judged."))
    blocks.append(Heading("Data quality"))
    if assessment.quality:
        rows = [
            Row((flag.message, channel_words(flag.channel), _where(flag.start_s, flag.end_s)))
            for flag in assessment.quality
        ]
        columns = (Column("what was seen", 0.6), Column("channel", 0.2), Column("where", 0.2))
        blocks += table(columns, rows, "flags")
    else:
        blocks.append(Paragraph("No gap, stuck value, spike or value out of range was seen."))
    provenance = assessment.recording.provenance
    for title, lines in (
        ("Repairs on reading", provenance.repairs),
        ("Decisions on reading", provenance.decisions),
        ("Open questions", provenance.questions),
    ):
        if lines:
            blocks.append(Heading(title))
            told = [for_paper(line) for line in lines]
            # A decision is a few words, and there may be several; the others are sentences.
            short = all(len(line) < _SHORT for line in told)
            blocks += [Paragraph(line, "small") for line in (["; ".join(told)] if short else told)]
    return Section("Data quality and what was not judged", tuple(blocks))


def _where(start_s: float | None, end_s: float | None) -> str:
    if start_s is None:
        return "whole recording"
    if end_s is None or end_s <= start_s:
        return clock_text(start_s)
    return f"{clock_text(start_s)} to {clock_text(end_s)}"


def _limits_blocks(assessment: Assessment) -> list[Block]:
    """Return the table of limits, and in a sentence those that had nothing to apply to."""
    several = assessment.recording.has_several_engines
    rows: list[Row] = []
    never: list[str] = []
    for limit in assessment.limits:
        engine = f", engine {limit.engine}" if several else ""
        name = f"{event_title(limit.event)} ({limit.id}{engine})"
        if limit.result == "within" and limit.why == NEVER_APPLIED:
            never.append(name)
            continue
        nearest = "—"
        if limit.nearest_level is not None:
            nearest = f"{plain(limit.nearest_level, limit.unit)} {unit_words(limit.unit)}".rstrip()
        away = phrases.level_distance(limit) or "—"
        over = limit.margin_seconds is not None and limit.margin_seconds < 0
        left = (
            f"{value_text(-(limit.margin_seconds or 0.0), 's')} too long"
            if over
            else phrases.time_left(limit)
        )
        rows.append(
            Row(
                (
                    name,
                    phrases.result_words(limit),
                    nearest,
                    away,
                    left or "—",
                ),
                detail=limit.why or "",
            )
        )
    columns = (
        Column("limit", 0.34),
        Column("result", 0.16),
        Column("nearest level", 0.13, right=True),
        Column("distance", 0.23, right=True),
        Column("allowed time left", 0.14, right=True),
    )
    out: list[Block] = [Table(columns, tuple(rows))] if rows else []
    if never:
        said = f"Did not apply, since what they hold for did not occur in this recording: {'; '.join(never)}."
        out.append(Paragraph(said, "small"))
    return out


def notes_section(notes: tuple[Note, ...]) -> Section | None:
    """Return the notes of instructors and technicians; None without any."""
    if not notes:
        return None
    blocks: list[Block] = [
        Paragraph("Written by people; no finding and no verdict comes from them.", "muted")
    ]
    for note in sorted(notes, key=lambda note: (note.time_s is None, note.time_s or 0.0)):
        blocks.append(Heading(_pinned_to(note)))
        # Running text, since a cell of a table would be cut where somebody wrote much.
        blocks += [Paragraph(part) for line in note.text.splitlines() for part in _pieces(line)]
        by = ", ".join(part for part in (note.author, _moment(note.changed_at)) if part)
        if by:
            blocks.append(Paragraph(by, "muted"))
    return Section("Notes", tuple(blocks), new_page=False)


def _pieces(line: str) -> list[str]:
    """Return a line in pieces short enough to be printed whole, cut at blanks where there are any."""
    pieces = []
    rest = line.strip()
    while len(rest) > _LONGEST_PIECE:
        cut = rest.rfind(" ", 0, _LONGEST_PIECE)
        cut = cut if cut > 0 else _LONGEST_PIECE
        pieces.append(rest[:cut])
        rest = rest[cut:].strip()
    return [*pieces, rest] if rest else pieces


def _pinned_to(note: Note) -> str:
    """Return the time of a note and, where it is pinned to a finding, that."""
    if note.time_s is None:
        return "Whole flight"
    kind = note.event_kind
    return clock_text(note.time_s) + (f", {event_title(kind).lower()}" if kind else "")


def _moment(text: str) -> str:
    """Return the instant of a change to the minute, in UTC; any other text as it is."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if at.tzinfo is not None else text


def closing_section(assessment: Assessment, reader: Reader) -> Section:
    """Return the cautions, the definitions, and the blocks to fill in and sign."""
    lines = list(_WHAT_TO_DO[reader])
    if bars_restart(assessment.events, assessment.profile):
        lines.insert(0, AFTER_LIMIT)
    if assessment.profile is not None and not assessment.profile.approved_data:
        lines.append(f"{NOT_APPROVED}: every result here has to be repeated with the approved data.")
    blocks: list[Block] = [
        Notice(CAUTION, None),
        Heading("What this paper is, and is not"),
        Paragraph(WHAT_IT_IS, "small"),
        Heading("What to do with this paper"),
        *(Paragraph(line) for line in lines),
        Heading("How it was measured"),
        *(Paragraph(line, "small") for line in DEFINITIONS),
    ]
    if reader == "technician":
        blocks += [Heading("Enter by hand what is not printed"), _by_hand(assessment)]
    blocks += [
        Heading("Reviewed by"),
        Blanks(
            (("Name", None), ("Licence or authorisation number", None), ("Date", None), ("Signature", None)),
            kept=True,
        ),
        Paragraph(SIGNATURE, "bold"),
    ]
    return Section("Cautions and signature", tuple(blocks), whole=True)


def _by_hand(assessment: Assessment) -> Blanks:
    identity = assessment.recording.identity
    return Blanks(
        (
            ("Engine model", identity.engine_model),
            ("Engine serial number", identity.engine_serial),
            *((f"Engine {n} serial number", text) for n, text in identity.engine_serials.items()),
            ("Position on the aircraft", None),
            ("Hours and cycles", None),
            ("Technical log entry", None),
            ("Reported by", None),
            ("Value seen by the crew", None),
            ("Last check of the indication", None),
            ("Chart of the manual used", None),
            ("Findings", None),
        )
    )
