"""What the reader asks, as questions with answers that can be chosen, in place of the command line's options."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from debrief.words.asked import Asked, Kind
from debrief.words.channels import CANONICAL, JOINED, base_name, channel_words, within_sentence
from debrief.words.visible import visible

if TYPE_CHECKING:
    from debrief.session.importing.column_proposal import ColumnProposal

NEEDED = frozenset(
    ["time", "ng", "np", "itt", "torque", "fuel_flow", "bus_volts", "starter", "ignition", "fuel_on"]
)
"""Doubt about one of these changes what is judged of a start, so it is asked before anything is shown."""

_HINTED = frozenset(["ng", "itt"])
"""Of channels that no header names, these are asked for; a weak hint at another one is no reason to ask."""


@dataclass(frozen=True)
class Answer:
    """One way to settle a question: this column (from 0) is the question's channel, in this unit.

    Attributes
    ----------
    column : int
        The first of `probes` where there are several.
    unit : str
        Empty where it is known, or has to be chosen.
    probes : tuple of int
        Several columns, which are it together.
    way : str
        What they are together: their ``mean``, the ``highest`` of them, or ``engines``, one of each.
    """

    column: int
    unit: str = ""
    probes: tuple[int, ...] = ()
    way: str = ""


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
    kind : str
        That of the reader's doubt; empty where it has no answers.
    reason : str
        Why the reader is unsure.
    """

    text: str
    channel: str = ""
    answers: tuple[Answer, ...] = ()
    matters: bool = False
    kind: Kind | Literal[""] = ""
    reason: str = ""


def question_of(text: str, columns: Sequence[ColumnProposal]) -> Question:
    """Return a question of the reader without the command line's options: these are its answers."""
    if not isinstance(text, Asked):
        return Question(_sentence(text))
    doubt = text.doubt
    answers: Sequence[Answer] = [Answer(column, unit) for column, unit in doubt.answers]
    matters = base_name(doubt.channel) in (_HINTED if doubt.kind == "not_found" else NEEDED)
    if doubt.channel != "time":
        answers = _with_present(doubt.channel, answers, columns)
    if doubt.probes:
        units = {unit for column, unit in doubt.answers if column in doubt.probes}
        unit = units.pop() if len(units) == 1 else ""
        ways = (*JOINED, *(["engines"] if doubt.engines else []))
        answers = [*answers, *(Answer(doubt.probes[0], unit, doubt.probes, way) for way in ways)]
    words = doubt.sentence(_short(doubt.named or doubt.channel))
    said = _sentence(words)
    if doubt.kind in ("only_rises", "rises_evenly"):
        said = f"{words}: is it the time in seconds?"
    elif doubt.kind == "may_be":
        name = visible(columns[doubt.answers[0][0]].name)
        why = _sentence(doubt.reason) if doubt.reason else "Its name alone does not tell."
        said = f'Is "{name}" {_in_sentence(doubt.channel)}? {why}'
    elif doubt.kind == "not_found" and len(doubt.answers) == 1:
        name = visible(columns[doubt.answers[0][0]].name)
        said = f'Is "{name}" {_in_sentence(doubt.channel)}? No column is called so.'
    elif doubt.kind in ("not_found", "probes"):  # the answers have the names
        told = (
            "None is called so; these may be it." if doubt.kind == "not_found" else "These may be its probes."
        )
        apart = f" {_sentence(doubt.reason)}" if doubt.reason else ""
        said = f"Which column is {_in_sentence(doubt.channel)}? {told}{apart}"
    return Question(said, doubt.channel, tuple(answers), matters, doubt.kind, doubt.reason)


def _with_present(channel: str, answers: Sequence[Answer], columns: Sequence[ColumnProposal]) -> list[Answer]:
    """Return the answers with what is proposed now in front, so that it can be confirmed, too."""
    present = [Answer(c.number, c.unit) for c in columns if c.channel == channel]
    wanted = {(a.column, a.unit) for a in answers if not a.probes}
    keep = [a for a in present if (a.column, a.unit) not in wanted and (a.column, "") not in wanted]
    return [*keep, *answers]


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."


def _short(channel: str) -> str:
    """Return a channel's name for the middle of a sentence."""
    base, _, engine = channel.partition(".")
    words = within_sentence(channel_words(base))
    return f"{words} of engine {engine}" if engine else words


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
        if question.kind in ("may_be_too", "thousands"):
            parts.append(question.text)
        elif question.kind == "none_taken":
            parts.append("They hold different values.")
        if question.reason:
            parts.append(_sentence(question.reason))
    return Question(" ".join(dict.fromkeys(parts)), channel, answers, any(q.matters for q in group))


def _in_sentence(channel: str) -> str:
    if base_name(channel) not in CANONICAL:
        return f"the {channel}"
    return f"the {_short(channel)}"
