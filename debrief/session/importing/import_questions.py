"""What the reader asks, as questions with answers that can be chosen, in place of the command line's options."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from debrief.errors import UserError
from debrief.words.channels import CANONICAL, base_name, channel_words

if TYPE_CHECKING:
    from debrief.session.importing.column_proposal import ColumnProposal

NEEDED = frozenset(
    ["time", "ng", "np", "itt", "torque", "fuel_flow", "bus_volts", "starter", "ignition", "fuel_on"]
)
"""Doubt about one of these changes what is judged of a start, so it is asked before anything is shown."""

_HINTED = frozenset(["ng", "itt"])
"""Of channels that no header names, these are asked for; a weak hint at another one is no reason to ask."""

_OPTION = re.compile(r'--map ([\w.]+)="([^"]*)"')
_IN_BRACKETS = re.compile(r"\((no unit[^)]*|said to be[^)]*|header says[^)]*)\)\.$")
_QUOTED = re.compile(r'("[^"]*")')


@dataclass(frozen=True)
class Answer:
    """One way to settle a question: this column (from 0) is the question's channel, in this unit."""

    column: int
    unit: str = ""


@dataclass(frozen=True)
class Question:
    """What the reader is unsure of.

    Attributes
    ----------
    text : str
        One sentence for a person.
    channel : str
        The channel (or ``time``) that it is about; empty where it is about none.
    answers : tuple of Answer
        What would settle it; empty where nothing can be chosen.
    matters : bool
        Whether a start is judged differently by the answer: then it is asked before the file is shown.
    """

    text: str
    channel: str = ""
    answers: tuple[Answer, ...] = ()
    matters: bool = False


def question_of(text: str, names: Sequence[str], columns: Sequence[ColumnProposal]) -> Question | None:
    """Return a question of the reader without the command line's options: these become its answers."""
    from debrief.recording.matching.maps import find_column, parse_maps

    channel, answers = "", []
    for told, column in _OPTION.findall(text):
        try:
            found = parse_maps([f"{told}={column}"], names)[0]
        except UserError:
            continue
        channel = channel or found.channel
        if found.channel == channel:
            answers.append(Answer(found.column, found.unit.name if found.unit else ""))
    if channel == "time" and "only rises" in text:
        answers = [Answer(a.column, a.unit or "s") for a in answers]
        name = names[answers[0].column]
        return Question(f'"{name}" only rises: is it the time in seconds?', "time", tuple(answers), True)
    if "has no time column" in text:
        return None  # said as the problem
    if text.startswith("the time columns"):
        quoted = re.findall(r'"([^"]*)"', text)
        places = [find_column(name, names, "") if names.count(name) == 1 else None for name in quoted[:2]]
        channel, answers = "time", [Answer(place) for place in places if place is not None]
    hint = "was not found" in text
    matters = base_name(channel) in (_HINTED if hint else NEEDED)
    if channel not in ("", "time") and answers:
        answers = _with_present(channel, answers, columns)
    return Question(_plain(text, channel), channel, tuple(answers), matters)


def _with_present(channel: str, answers: Sequence[Answer], columns: Sequence[ColumnProposal]) -> list[Answer]:
    """Return the answers with what is proposed now in front, so that it can be confirmed, too."""
    present = [Answer(c.number, c.unit) for c in columns if c.channel == channel]
    wanted = {(a.column, a.unit) for a in answers}
    keep = [a for a in present if (a.column, a.unit) not in wanted and (a.column, "") not in wanted]
    return [*keep, *answers]


def _plain(text: str, channel: str) -> str:
    """Return the sentence without options, with the channel in words."""
    text = text.split("--map")[0].rstrip(" :,")
    text = re.sub(r"[;,] if (?:the former|it is in [\w ]+)$", "", text)
    base = base_name(channel)
    if base in CANONICAL:
        words = channel_words(channel)
        short = words if words[:2].isupper() else words[0].lower() + words[1:]
        parts = _QUOTED.split(text)
        pattern = re.compile(rf"(?<![\w.]){re.escape(base)}(?:\.\d)?(?![\w.])")
        text = "".join(p if p.startswith('"') else pattern.sub(short, p) for p in parts)
    return f"{text[:1].upper()}{text[1:]}."


def merged(questions: Sequence[Question]) -> tuple[Question, ...]:
    """Return one question for each channel that several ask about, those that matter first."""
    groups: dict[str, list[Question]] = {}
    for place, question in enumerate(questions):
        groups.setdefault(question.channel or f"#{place}", []).append(question)
    out = [group[0] if len(group) == 1 else _one_of(group) for group in groups.values()]
    return tuple(sorted(out, key=lambda question: not question.matters))


def _one_of(group: Sequence[Question]) -> Question:
    channel = group[0].channel
    answers = tuple(dict.fromkeys(answer for question in group for answer in question.answers))
    parts = [f"Which column is {_in_sentence(channel)}?"]
    for question in group:
        if " taken " in question.text and "none was taken" not in question.text:
            parts.append(question.text)
        elif "hold different values" in question.text:
            parts.append("They hold different values.")
        reason = _IN_BRACKETS.search(question.text)
        if reason:
            parts.append(f"{reason[1][:1].upper()}{reason[1][1:]}.")
    return Question(" ".join(dict.fromkeys(parts)), channel, answers, any(q.matters for q in group))


def _in_sentence(channel: str) -> str:
    if base_name(channel) not in CANONICAL:
        return f"the {channel}"
    words = channel_words(channel)
    return f"the {words if words[:2].isupper() else words[0].lower() + words[1:]}"
