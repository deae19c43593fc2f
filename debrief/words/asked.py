"""What the reader is unsure of: a text for the command line, with its kind and its answers for the window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from debrief.words.channels import channel_in_text
from debrief.words.remedies import Remedy
from debrief.words.shortened import shortened
from debrief.words.visible import visible

Kind = Literal[
    "time_unit", "only_rises", "rises_evenly", "two_times", "may_be", "none_taken", "may_be_too", "probe_or_engine", "thousands",
    "not_found", "probes", "whose",
]  # fmt: skip


@dataclass(frozen=True)
class Doubt:
    """One thing that the reader is unsure of, and what would settle it.

    Attributes
    ----------
    kind : str
        What it is about.
    parts : tuple of (str or None)
        The sentence without options and full stop; None stands where the channel is named.
    channel : str
        The channel, or ``time``, that the answers give.
    answers : tuple of (int, str)
        Column, from 0, and unit of each; the unit is empty where the file tells it.
    options : str
        What the command line adds: its options, with the words that lead to them.
    named : str
        The channel as the sentence names it, where that is not `channel`.
    reason : str
        Why it is unsure, as the sentence has it in brackets.
    probes : tuple of int
        Columns among the answers that may be joined, as several probes of one temperature.
    engines : bool
        Whether these may instead be of one engine each, in their order.
    """

    kind: Kind
    parts: tuple[str | None, ...]
    channel: str
    answers: tuple[tuple[int, str], ...]
    options: str = ""
    named: str = ""
    reason: str = ""
    probes: tuple[int, ...] = ()
    engines: bool = False

    def sentence(self, name: str) -> str:
        """Return the sentence without options, with this name of the channel; names of columns are visible."""
        return shortened(visible("".join(name if part is None else part for part in self.parts)))


class Asked(str):
    """A question of the reader: the text of the command line, which keeps what it was made of."""

    __slots__ = ("doubt",)

    doubt: Doubt

    def __new__(cls, doubt: Doubt) -> Asked:
        """Return the question, bearably long and with nothing in it that acts."""
        made = super().__new__(
            cls, shortened(doubt.sentence(doubt.named or doubt.channel) + visible(doubt.options))
        )
        made.doubt = doubt
        return made

    @property
    def words(self) -> str:
        """The question for a reader who has no command line, as a sentence with the channel in words."""
        said = self.doubt.sentence(channel_in_text(self.doubt.named or self.doubt.channel))
        return f"{said[:1].upper()}{said[1:]}."

    def __reduce__(self) -> tuple[type[Asked], tuple[Doubt]]:
        """Keep what it was made of where it is copied or pickled."""
        return Asked, (self.doubt,)


def hint_of(question: str | None = None) -> Remedy | str:
    """Return a question of the reader as the end of a refusal, which it may explain; nothing without one."""
    if isinstance(question, Asked):
        return Remedy(f" {question.removesuffix('.')}.", f" {question.words}", f" {question.words}")
    return f" {question.removesuffix('.')}." if question else ""
