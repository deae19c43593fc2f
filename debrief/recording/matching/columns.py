"""From columns to channels: evidence of name, unit and values, a confidence each, and what must be asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import replace

from debrief.recording.lexicon import (
    ACCEPTED,
    SURE,
    WEAK,
    NameMatch,
    match_name,
    measured_name,
    partial_matches,
    wanted_word,
)
from debrief.recording.matching.column_readings import Evidence, Reading, read_column, told_unit
from debrief.recording.matching.maps import NOT_USED, ColumnMap, as_option
from debrief.recording.matching.proposals import Matching, Proposal, accepted, as_told, unsure
from debrief.recording.matching.rivals import choose, quoted
from debrief.words.asked import Asked, Doubt, Kind
from debrief.words.channels import CANONICAL, channel_in_text
from debrief.words.units import QUANTITIES

NOT_MEASURED = "not a measurement but a set point, target, limit or command"
"""What is said of a column whose name tells so."""


def match_columns(
    evidence: Sequence[Evidence], names: Sequence[str], maps: Sequence[ColumnMap], taken: Mapping[int, str]
) -> Generator[float, None, Matching]:
    """Return which column is which channel; yields the progress of `assembly.assemble`.

    Parameters
    ----------
    evidence : sequence of Evidence
        Every column that may become a channel.
    names : sequence of str
        All columns of the file.
    maps : sequence of ColumnMap
        What a person said; it wins over every name. A column that is said to be not used stays unmapped and
        nothing is asked about it.
    taken : mapping of int to str
        Columns with another role (time, index, ...).

    Notes
    -----
    A column is matched when its confidence reaches `lexicon.ACCEPTED` and nothing speaks against it. Of two
    columns for one channel the surer one is matched and the other named; equally sure ones are both left
    unmapped, unless they hold the same values or one is in the canonical unit.
    """
    matcher = _Matcher(evidence, names, taken)
    matcher.take_told(maps)
    yield from matcher.read()
    matcher.settle()
    matcher.ask()
    matcher.tell_unmapped()
    ordered = tuple(matcher.out[column] for column in sorted(matcher.out))
    return Matching(ordered, tuple(matcher.decisions), tuple(matcher.questions))


class _Matcher:
    """Takes one step of the matching after the other; what is settled is in `out`, by column."""

    def __init__(self, evidence: Sequence[Evidence], names: Sequence[str], taken: Mapping[int, str]) -> None:
        self.decisions: list[str] = []
        self.questions: list[str] = []
        self.out = {column: Proposal(column, names[column], role=role) for column, role in taken.items()}
        self._names = names
        self._unique = {name for name, count in Counter(names).items() if count == 1}
        self._evidence = {item.column: item for item in evidence}
        self._used: set[str] = set()
        self._readings: dict[int, list[Reading]] = {}
        self._several = False
        self._numbered: list[tuple[int, str, int]] = []

    def _asked(
        self,
        kind: Kind,
        parts: Sequence[str | None],
        channel: str,
        answers: Sequence[tuple[int, str]],
        lead: str = ": ",
        named: str = "",
        reason: str = "",
    ) -> Asked:
        """Return a question whose answers are columns for a channel, with the options that give them."""
        ways = " or ".join(
            as_option(channel, self._names[c], c, unit, unique=self._names[c] in self._unique)
            for c, unit in answers
        )
        return Asked(Doubt(kind, tuple(parts), channel, tuple(answers), lead + ways, named, reason))

    def take_told(self, maps: Sequence[ColumnMap]) -> None:
        """Settle what a person said."""
        for told in maps:
            if told.channel == "time" or told.column not in self._evidence:
                continue
            if told.channel == NOT_USED:
                name = self._names[told.column]
                how = "as is remembered" if told.source == "remembered" else "as was said"
                self.decisions.append(f'"{name}" is not used, {how}')
                self.out[told.column] = Proposal(
                    told.column, name, source=told.source, why=f"said: {told.text}"
                )
                continue
            item = self._evidence[told.column]
            self.out[told.column] = as_told(told, item, self.decisions, self.questions)
            self._used.add(told.channel)

    def read(self) -> Generator[float, None, None]:
        """Read what every other column may be."""
        families = {
            unit.name
            for item in self._evidence.values()
            if (unit := told_unit(item)) is not None and unit.quantity == "temperature"
        }
        for column, item in self._evidence.items():
            if column not in self.out:
                yield 0.2 + 0.2 * column / len(self._names)
                self._readings[column] = read_column(item, families)
        self._several = _several_engines(self._readings)

    def _may_number_probes(self, column: int, match: NameMatch) -> bool:
        """Whether a bare number may be that of a probe as well as of an engine."""
        if match.engine is None or not match.plain_number or self._several:
            return False
        others = (_best(options) for c, options in self._readings.items() if c != column)
        return match.engine > 1 or any(best and best.match.channel == match.channel for best in others)

    def settle(self) -> None:
        """Settle the columns that are sure enough, one for each channel."""
        rivals: dict[str, list[tuple[int, Reading]]] = {}
        for column, options in self._readings.items():
            best = _best(options)
            if best is None:
                continue
            number = best.match.engine
            if number is not None and self._may_number_probes(column, best.match):
                self._numbered.append((column, best.match.channel, number))
                self.out[column] = unsure(column, self._names[column], options, "engine or probe number")
                continue
            rivals.setdefault(_key(best.match.channel, number), []).append((column, best))
        for key, group in rivals.items():
            self._settle_channel(key, group)

    def _settle_channel(self, key: str, group: Sequence[tuple[int, Reading]]) -> None:
        if key in self._used:
            chosen, why = None, f"{channel_in_text(key)} is already mapped"
        else:
            chosen = choose(
                key, group, self._evidence, self._names, self.decisions, self.questions, self._asked
            )
            why = f"may be {channel_in_text(key)}"
        for column, reading in group:
            name, options = self._names[column], self._readings[column]
            if column != chosen:
                self.out[column] = unsure(column, name, options, why)
                continue
            self._used.add(key)
            self.out[column] = accepted(column, name, key, reading, options)
            if reading.unit_source in ("values", "assumed") and CANONICAL[key.partition(".")[0]][:3] != "0/1":
                unit = reading.unit.name if reading.unit else "no unit"
                how = "by its values" if reading.unit_source == "values" else "since none is told"
                self.decisions.append(f'"{name}" tells no unit; {unit} was taken {how}')
            if reading.match.confidence < SURE - 0.06:
                self.decisions.append(
                    f'"{name}" was taken for {channel_in_text(key)} (confidence {reading.confidence:.2f})'
                )

    def ask(self) -> None:
        """Ask about what is left, where an answer could still give a channel."""
        for column, options in self._readings.items():
            if column in self.out:
                continue
            self.out[column] = unsure(column, self._names[column], options, "")
            if not self._ask_of(column, options):
                self._hint_at(column)
        for column, channel, number in self._numbered:
            if channel not in self._used:
                parts = (
                    f'"{self._names[column]}" may be ',
                    None,
                    f" of engine {number} or one of several probes",
                )
                key, answers = _key(channel, number), [(column, "")]
                self.questions.append(
                    self._asked("probe_or_engine", parts, key, answers, "; if the former: ", named=channel)
                )
        self._ask_of_krpm()
        known = self._used | {channel for _, channel, _ in self._numbered}
        self.questions.extend(_partial_questions(self.out, known, self._asked))

    def _ask_of(self, column: int, options: Sequence[Reading]) -> bool:
        """Ask whether a column is the likeliest channel that is free; return whether there is one."""
        for reading in options:
            number = reading.match.engine
            if reading.match.plain_number and not self._several:
                number = None
            key = _key(reading.match.channel, number)
            if key in self._used or (reading.doubt and reading.match.confidence < ACCEPTED):
                continue
            units = reading.options or (reading.unit.name if reading.unit else "",)
            doubt = f" ({reading.doubt})" if reading.doubt else ""
            parts, answers = (
                (f'"{self._names[column]}" may be ', None, doubt),
                [(column, unit) for unit in units],
            )
            self.questions.append(self._asked("may_be", parts, key, answers, reason=reading.doubt))
            return True
        return False

    def _hint_at(self, column: int) -> None:
        """Note the channel that a part of the column's name names, if the unit can be its."""
        unit = told_unit(self._evidence[column])
        fitting = [
            (channel, confidence)
            for channel, confidence in partial_matches(self._names[column])
            if unit is None or unit.quantity in QUANTITIES[channel]
        ]
        if fitting and fitting[0][0] not in self._used:
            self.out[column] = replace(self.out[column], candidates=(fitting[0],))

    def _ask_of_krpm(self) -> None:
        """Ask whether a speed without a unit is in thousands of rpm where the propeller's may be."""
        readings = (reading for options in self._readings.values() for reading in options)
        if not any(r.match.channel == "np" and "krpm" in r.options for r in readings):
            return
        for column, proposal in self.out.items():
            if proposal.channel == "ng" and proposal.unit_source == "assumed":
                parts = (f'"{self._names[column]}" tells no unit and was taken in %',)
                lead = "; if it is in thousands of rpm: "
                self.questions.append(self._asked("thousands", parts, "ng", [(column, "krpm")], lead))

    def tell_unmapped(self) -> None:
        """Give the unmapped columns their own units, and say which are no measurements."""
        for column, proposal in self.out.items():
            if proposal.channel is not None or column not in self._evidence:
                continue
            word = wanted_word(proposal.name)
            if word and not proposal.why and not proposal.candidates:
                proposal = replace(proposal, why=f"{NOT_MEASURED}, by its name")
                if any(m.confidence >= WEAK for m in match_name(measured_name(proposal.name))):
                    self.decisions.append(
                        f'"{proposal.name}" is {NOT_MEASURED}, and stays unmapped ("{word}")'
                    )
            unit = told_unit(self._evidence[column])
            self.out[column] = replace(proposal, unit=unit, unit_source="header" if unit else "")


def _key(channel: str, number: int | None) -> str:
    return channel if number in (None, 1) else f"{channel}.{number}"


def _best(readings: Sequence[Reading]) -> Reading | None:
    if readings and readings[0].confidence >= ACCEPTED:
        return readings[0]
    return None


def _several_engines(readings: Mapping[int, Sequence[Reading]]) -> bool:
    """Whether the file has more than one engine: a worded number 2, or two quantities numbered 1 and 2."""
    numbered: dict[str, set[int]] = {}
    for options in readings.values():
        best = _best(options)
        if best is None or best.match.engine is None:
            continue
        if not best.match.plain_number and best.match.engine > 1:
            return True
        numbered.setdefault(best.match.channel, set()).add(best.match.engine)
    return sum(1 for numbers in numbered.values() if {1, 2} <= numbers) >= 2


def _partial_questions(
    proposals: Mapping[int, Proposal], used: set[str], asked: Callable[..., Asked]
) -> list[Asked]:
    """Return a question per channel that no column matched while the names of some hint at it."""
    hints: dict[str, list[int]] = {}
    for proposal in proposals.values():
        if proposal.role == "unmapped" and proposal.channel is None and proposal.candidates:
            channel, confidence = proposal.candidates[0]
            if confidence <= 0.3 and channel not in used:
                hints.setdefault(channel, []).append(proposal.column)
    return [
        asked(
            "not_found",
            (None, f" was not found; {quoted([proposals[c].name for c in columns[:3]])} may be it"),
            channel,
            [(c, "") for c in columns[:3]],
        )
        for channel, columns in hints.items()
    ]
