"""The last pages: how good the data are, notes, cautions, and what is filled in and signed by hand."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Protocol

from debrief.analysis.limits.judge import NEVER_APPLIED
from debrief.analysis.model import Assessment
from debrief.report.blocks import (
    Blanks,
    Block,
    Column,
    Columns,
    Heading,
    Pairs,
    Paragraph,
    Row,
    Section,
    Table,
)
from debrief.report.content import phrases
from debrief.report.content.budget import table
from debrief.report.content.options import Reader, ReportOptions
from debrief.session.texts.plain_names import for_paper, not_judged_title
from debrief.session.texts.recording_kind import recording_word
from debrief.words.events import event_title
from debrief.words.numbers import clock_text, plain, unit_words

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

HOW_TITLE = "How it was measured"
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
        blocks += table(columns, rows, "points not judged", dense=True)
    elif assessment.profile is None:
        blocks.append(Paragraph(phrases.NO_PROFILE))
    else:
        blocks.append(Paragraph("Nothing: everything in the profile was judged."))
    provenance = assessment.recording.provenance
    read: list[tuple[str, str]] = []
    for title, lines in (
        ("Repairs on reading", provenance.repairs or ("none",)),
        ("Decisions on reading", provenance.decisions),
        ("Open questions", provenance.questions),
    ):
        told = [for_paper(line) for line in lines]
        # A decision is a few words, and there may be several; the others are sentences.
        short = all(len(line) < _SHORT for line in told)
        told = ["; ".join(told)] if short and told else told
        read += [(title if number == 0 else "", line) for number, line in enumerate(told)]
    if assessment.quality:
        rows = [
            Row(
                (
                    flag.message,
                    assessment.recording.names.words(flag.channel),
                    _where(flag.start_s, flag.end_s),
                )
            )
            for flag in assessment.quality
        ]
        columns = (Column("data problem", 0.6), Column("channel", 0.2), Column("where", 0.2))
        blocks += table(columns, rows, "flags", dense=True)
    else:
        read.insert(0, ("Data", "No gap, stuck value, spike or value out of range was seen."))
    blocks.append(Pairs(tuple(read), label_mm=30.0, dense=True))
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
        away = phrases.level_distance(limit, phrases.is_minimum(assessment, limit)) or "—"
        rows.append(
            Row(
                (
                    name,
                    phrases.result_words(limit),
                    nearest,
                    away,
                    phrases.time_over(limit) or phrases.time_left(limit) or "—",
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
    out: list[Block] = [Table(columns, tuple(rows), dense=True)] if rows else []
    if never:
        said = f"Did not apply, since what they hold for did not occur in this recording: {'; '.join(never)}."
        out.append(Paragraph(said, "small"))
    return out


def notes_section(notes: tuple[Note, ...], assessment: Assessment) -> Section | None:
    """Return the notes of instructors and technicians; None without any."""
    if not notes:
        return None
    blocks: list[Block] = [
        Paragraph("Written by people; no finding and no verdict comes from them.", "muted")
    ]
    for note in sorted(notes, key=lambda note: (note.time_s is None, note.time_s or 0.0)):
        blocks.append(Heading(_pinned_to(note, assessment)))
        # Running text, since a cell of a table would be cut where somebody wrote much.
        blocks += [Paragraph(part) for line in note.text.splitlines() for part in _pieces(line)]
        by = ", ".join(part for part in (note.author, _moment(note.changed_at)) if part)
        if by:
            blocks.append(Paragraph(by, "muted"))
    return Section("Notes", tuple(blocks))


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


def _pinned_to(note: Note, assessment: Assessment) -> str:
    """Return the time of a note and, where it is pinned to a finding, that."""
    if note.time_s is None:
        return f"Whole {recording_word(assessment)}"
    kind = note.event_kind
    return clock_text(note.time_s) + (f", {event_title(kind).lower()}" if kind else "")


def _moment(text: str) -> str:
    """Return the instant of a change to the minute, in UTC; any other text as it is."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if at.tzinfo is not None else text


def closing_section(assessment: Assessment, options: ReportOptions) -> Section:
    """Return what to do with the paper, the definitions, and the fields to fill in and sign."""
    lines = list(_WHAT_TO_DO[options.reader])
    if assessment.profile is not None and not assessment.profile.approved_data:
        lines.append("Every result here has to be repeated with the approved data.")
    columns: tuple[Block, ...] = (
        Heading("What to do with this paper"),
        *(Paragraph(line, "tiny") for line in lines),
        Heading("What this paper is, and is not"),
        Paragraph(WHAT_IT_IS, "fine"),
    )
    if options.reader != "technician":  # who has it in the appendix, with the formulas
        columns += (Heading(HOW_TITLE), *(Paragraph(line, "fine") for line in DEFINITIONS))
    blocks: list[Block] = [Columns(columns, 2 if options.reader == "technician" else 3)]
    if options.reader == "technician":
        blocks += [Heading("Enter by hand what is not printed"), _by_hand(assessment, options)]
    return Section("Cautions and signature", (*blocks, *signature_blocks()), whole=True)


def signature_blocks() -> tuple[Block, ...]:
    """Return the fields of whoever reviewed the data, and what the signature confirms."""
    fields = ("Name", "Licence or authorisation number", "Date", "Signature")
    return (
        Heading("Reviewed by"),
        Blanks(tuple((field, None) for field in fields), kept=True),
        Paragraph(SIGNATURE, "small"),
    )


def _by_hand(assessment: Assessment, options: ReportOptions) -> Blanks:
    """Return the fields that the recording does not fill; what it tells stands on page 1."""
    identity = assessment.recording.identity
    known = (
        ("Registration", identity.aircraft),
        ("Date of the recording", identity.start),
        ("Date of printing", options.printed_on),
        ("Engine model", identity.engine_model),
        ("Engine serial number", identity.engine_serial),
    )
    never = (
        "Position on the aircraft",
        "Hours and cycles",
        "Technical log entry",
        "Reported by",
        "Value seen by the crew",
        "Last check of the indication",
        "Chart of the manual used",
        "Findings",
    )
    return Blanks(tuple((field, None) for field in (*(name for name, told in known if told is None), *never)))
