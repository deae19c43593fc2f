"""The assessment as text for a terminal: a pilot understands it in a minute."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from debrief.analysis.model import Assessment, Event, LeftOut
from debrief.analysis.verdict import footnotes, next_step
from debrief.report.content import phrases
from debrief.session.assessing.user_inputs import stated
from debrief.session.limits.typed_level import level_words, where_words
from debrief.session.texts.highest_itt import highest_itt
from debrief.session.texts.plain_names import moment_of, no_factor, severity_words
from debrief.words.cautions import CAUTION, NOT_APPROVED
from debrief.words.events import event_title
from debrief.words.numbers import clock_text
from debrief.words.remedies import GIVE_A_PROFILE
from debrief.words.visible import acting

_ASCII = str.maketrans(
    {
        "°": " deg ",
        "−": "-",
        "·": "*",
        "—": "-",
        "–": "-",
        "Ω": "Ohm",
        "≥": ">=",
        "≤": "<=",
        "’": "'",
        "“": '"',
        "”": '"',
        "…": "...",
        **{symbol: f"<U+{acting(symbol):04X}>" for symbol in map(chr, range(0x2400, 0x2422))},
    }
)


_HARD = "\N{NO-BREAK SPACE}"


def assessment_text(assessment: Assessment, *, width: int = 100) -> str:
    """Return the assessment in words, ending with a line end.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    width : int
        Columns to wrap at.

    Notes
    -----
    The order is that of the questions: what happened, what each start did, what was exceeded, what stayed
    within, what was not judged, whether the data can be trusted, where the numbers come from.
    """
    out: list[str] = [f"{phrases.who(assessment)}, {phrases.when(assessment)}", ""]
    out += _wrapped(assessment.sentence, width)
    if assessment.profile is None:
        out += _wrapped(GIVE_A_PROFILE.command_line, width)
    if step := next_step(assessment.events, assessment.profile):
        out += _wrapped(step, width)
    left = footnotes(assessment.not_judged, assessment.recording.has_several_engines)
    if assessment.profile is not None and left:
        out += _wrapped(left, width)
    if assessment.profile is not None and not assessment.profile.approved_data:
        out.append(f"{NOT_APPROVED}.")
    out += _section("Starts", _starts(assessment), width)
    out += _section("Events", _events(assessment), width)
    out += _section("Limits", _limits(assessment), width)
    out += _section("Time above a level that was asked for", _levels_asked(assessment), width)
    out += _section("Not judged", [phrases.not_judged_line(item) for item in assessment.not_judged], width)
    out += _section("Data quality", _quality(assessment), width)
    out += _section("Recording", _recording(assessment), width)
    out.append("")
    out += _wrapped(CAUTION, width)
    return "\n".join(out) + "\n"


def to_ascii(text: str) -> str:
    """Return the text for a terminal that cannot show more than ASCII."""
    return text.translate(_ASCII).replace("  deg ", " deg ").encode("ascii", "replace").decode("ascii")


def _wrapped(text: str, width: int, indent: str = "", hang: str = "") -> list[str]:
    # A hard blank inside a value keeps it on one line; it is a blank again when printed.
    lines = textwrap.wrap(
        " ".join(word.replace(" ", _HARD) for word in phrases.words_of(text)),
        width,
        initial_indent=indent,
        subsequent_indent=hang or indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_HARD, " ") for line in lines] or [""]


def _section(title: str, lines: Iterable[str], width: int) -> list[str]:
    lines = list(lines)
    if not lines:
        return []
    out = ["", title]
    for line in lines:
        out += _wrapped(line, width, "  ", "      ")
    return out


def _starts(assessment: Assessment) -> list[str]:
    lines = []
    several = assessment.recording.has_several_engines
    for start in assessment.starts:
        engine = f" (engine {start.engine})" if several else ""
        kind = "" if start.kind == "ground" else f", {phrases.KIND_WORDS.get(start.kind, start.kind).lower()}"
        lines.append(
            f"{start.number}{engine}  {phrases.outcome_words(start)}{kind}: {phrases.start_headline(start)}."
        )
        if start.inferred:
            names = phrases.inferred_words(start, assessment)
            lines.append(f"    Inferred, not recorded directly: {names}.")
        lines += [f"    {note}" for note in start.notes]
        lines += [f"    Present: {phrases.factor_line(factor)}" for factor in start.factors]
        none = no_factor(assessment, start)
        if none:
            lines.append(f"    {none}")
    if not assessment.starts:
        lines.append(
            "Not looked for: that needs an engine profile."
            if assessment.profile is None
            else "None: the recording begins with the engine running."
            if assessment.began_running
            else "None was found in this recording."
        )
    many = len(assessment.recording.engines) > 1
    lines += [f"{one.words}{f', engine {one.engine}' if many else ''}." for one in highest_itt(assessment)]
    return lines


def _events(assessment: Assessment) -> list[str]:
    if assessment.profile is None:
        return []
    if not assessment.events:
        return ["None was found in what was recorded."]
    lines = []
    for event in assessment.events:
        place = _place(assessment, event)
        lines.append(
            f"{clock_text(moment_of(event))}  {severity_words(event)}: "
            f"{event_title(event.kind)}{place}. {event.message}"
        )
        lines += [f"    {line}" for line in phrases.band_lines(event)]
    for one in assessment.left_out:
        place = _place(assessment, one)
        place += f", engine {one.engine}" if assessment.recording.has_several_engines else ""
        limit = f" ({one.limit_id})" if one.limit_id is not None else ""
        lines.append(
            f"And {one.count} more, not listed: {event_title(one.kind)}{limit}, {severity_words(one).lower()}"
            f"{place}, from {clock_text(one.start_s)} to {clock_text(one.end_s)}."
        )
    return lines


def _place(assessment: Assessment, one: Event | LeftOut) -> str:
    """Return in which of several starts of its engine a finding is."""
    return (
        ""
        if one.start_number is None or assessment.start_count(one.engine) == 1
        else f", start {one.start_number}"
    )


_RULES_APART = "Rules of start, starter and shutdown have no row here: what they found stands under Events."


def _limits(assessment: Assessment) -> list[str]:
    lines = []
    for limit in assessment.limits:
        if limit.result == "not_judged":
            continue
        margin = phrases.limit_margin(limit, phrases.is_minimum(assessment, limit))
        engine = f", engine {limit.engine}" if assessment.recording.has_several_engines else ""
        lines.append(
            f"{phrases.result_words(limit)}: {event_title(limit.event)} ({limit.id}{engine})"
            + (f", {margin}" if margin else "")
        )
    if lines and any(event.limit_id is None for event in assessment.events):
        lines.append(_RULES_APART)
    return lines


def _levels_asked(assessment: Assessment) -> list[str]:
    return [
        f"{where_words(one, assessment)}: {level_words(one, names=assessment.recording.names)}."
        for one in assessment.levels_asked
    ]


def _quality(assessment: Assessment) -> list[str]:
    provenance = assessment.recording.provenance
    lines: list[str] = [flag.message for flag in assessment.quality]
    lines += [f"Repaired: {text}" for text in provenance.repairs]
    lines += [f"Open question: {text}" for text in provenance.questions]
    return lines


def _recording(assessment: Assessment) -> list[str]:
    provenance = assessment.recording.provenance
    lines = [f"File {provenance.file_name or 'not known'}, {phrases.recorded_line(assessment)}."]
    if provenance.sha256:
        lines.append(f"SHA-256 {provenance.sha256}")
    lines.append(f"Channels: {phrases.channel_list(assessment)}.")
    lines += [f"{label}: {words}." for label, words in stated(assessment)]
    profile = assessment.profile
    if profile is not None:
        lines.append(f"Profile {phrases.profile_line(assessment)}.")
        if profile.sha256:
            lines.append(f"Profile SHA-256 {profile.sha256}")
    lines.append(phrases.PROGRAM)
    return lines
