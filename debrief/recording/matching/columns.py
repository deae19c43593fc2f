"""From columns to channels: evidence of name, unit and values, a confidence each, and what must be asked."""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from dataclasses import replace

from debrief.recording.lexicon import (
    ACCEPTED,
    WEAK,
    match_name,
    measured_name,
    partial_matches,
    wanted_word,
)
from debrief.recording.matching.column_readings import (
    Evidence,
    Reading,
    told_unit,
)
from debrief.recording.matching.gas_temperature import (
    apart_words,
    may_be_gas,
    moves,
    numbered_alike,
    says_other,
    sure_unit,
)
from debrief.recording.matching.maps import ColumnMap
from debrief.recording.matching.proposals import Matching, unsure
from debrief.recording.matching.rivals import quoted
from debrief.recording.matching.settling import (
    SHOWS_AN_ENGINE,
    Settling,
    best_of,
    engine_in,
    key_of,
    surest_of,
)
from debrief.words.asked import Asked
from debrief.words.channels import ENGINE_CHANNELS, JOINABLE, base_name
from debrief.words.units import QUANTITIES

NOT_MEASURED = "not a measurement but a set point, target, limit or command"
"""What is said of a column whose name tells so."""
MAX_ANSWERS = 6
"""Columns that are offered for one channel."""


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
    return Matching(ordered, tuple(matcher.decisions), tuple(matcher.questions), matcher.engines_left())


class _Matcher(Settling):
    """Asks about what was not settled, and says what the rest is."""

    def ask(self) -> None:
        """Ask about what is left, where an answer could still give a channel."""
        for column, options in self._readings.items():
            if column in self.out:
                continue
            self.out[column] = unsure(column, self._names[column], options, "")
            if not self._ask_of(column, options):
                self._hint_at(column)
        grouped = self._ask_of_probes()
        for column, channel, number in self._numbered:
            if (
                column not in grouped
                and key_of(channel, number) not in self._used
                and (
                    channel not in self._used
                    or (channel in SHOWS_AN_ENGINE and column in self._beside(channel))
                )
            ):
                parts = (
                    f'"{self._names[column]}" may be ',
                    None,
                    f" of engine {number} or one of several probes",
                )
                key, answers = key_of(channel, number), [(column, "")]
                self.questions.append(
                    self._asked("probe_or_engine", parts, key, answers, "; if the former: ", named=channel)
                )
        self._ask_of_krpm()
        known = self._used | {channel for _, channel, _ in self._numbered} | set(self._probes)
        self._ask_of_hints(known)

    def _ask_of_probes(self) -> set[int]:
        """Ask which of several probes of one temperature is it, or all; return the columns that were asked about."""
        numbered: dict[str, list[tuple[int, int]]] = {}
        for column, channel, number in self._numbered:
            if channel in JOINABLE:
                numbered.setdefault(channel, []).append((number, column))
        groups = {key: (columns, False) for key, columns in self._probes.items()}
        for channel, pairs in numbered.items():
            columns = [column for _, column in sorted(pairs)]
            may_be_engines = channel in ENGINE_CHANNELS and sorted(n for n, _ in pairs) == [1, 2]
            known, _ = groups.get(channel, ([], False))
            groups[channel] = ([*known, *columns], may_be_engines and not known)
        asked: set[int] = set()
        for key, (columns, may_be_engines) in groups.items():
            if key in self._used or len(columns) < 2:
                continue
            asked.update(columns)
            what = "probes of one engine or one of each of two" if may_be_engines else "its probes"
            apart = self._apart(key, columns)
            parts = (f"{quoted(self._listed(columns))} may be ", None, f", {what}{apart and f' ({apart})'}")
            answers = [(column, sure_unit(key, self._evidence[column])) for column in columns[:MAX_ANSWERS]]
            self.questions.append(
                self._asked(
                    "probes", parts, key, answers, reason=apart, probes=columns, engines=may_be_engines
                )
            )
        return asked

    def _apart(self, key: str, columns: Sequence[int]) -> str:
        return apart_words(key, [self._evidence[column] for column in columns])

    def _listed(self, columns: Sequence[int]) -> list[str]:
        return [self._names[column] for column in columns]

    def _ask_of_hints(self, known: set[str]) -> None:
        """Ask about a channel that no column matched while the names of some hint at it, or their values, of ITT."""
        hints: dict[str, list[int]] = {}
        for proposal in self.out.values():
            if proposal.role == "unmapped" and proposal.channel is None and proposal.candidates:
                channel, confidence = proposal.candidates[0]
                if confidence <= 0.3 and channel not in known and moves(self._evidence[proposal.column]):
                    hints.setdefault(channel, []).append(proposal.column)
        asked = {base_name(q.doubt.channel) for q in self.questions if isinstance(q, Asked)}
        by_name = [
            column for column in hints.pop("itt", []) if may_be_gas(self._evidence[column]) is not False
        ]
        hot = [
            column
            for column in self._readings
            if self._is_free(column) and may_be_gas(self._evidence[column])
        ]
        if "itt" not in known | asked and (columns := by_name or hot):
            hints["itt"] = columns[:MAX_ANSWERS]
        for channel, columns in hints.items():
            most = columns if channel == "itt" else columns[:3]
            probes = most if by_name else numbered_alike(most, self._names)
            probes = probes if channel == "itt" and len(probes) > 1 else []
            apart = self._apart(channel, probes) if probes else ""
            parts = (None, f" was not found; {quoted(self._listed(most))} may be it{apart and f' ({apart})'}")
            answers = [
                (column, sure_unit(channel, self._evidence[column]) if channel == "itt" else "")
                for column in most
            ]
            self.questions.append(
                self._asked("not_found", parts, channel, answers, reason=apart, probes=probes)
            )

    def _is_free(self, column: int) -> bool:
        """Whether a column is no channel, and by its name surely no other than ITT."""
        best = best_of(self._readings[column])
        return self.out[column].channel is None and (best is None or best.match.channel == "itt")

    def _beside(self, channel: str) -> set[int]:
        """Return the columns with the bare number 2 beside one without a number: a second engine or a second probe.

        Beside a number 1 the one without is of all probes together, and three and more are the probes of one engine.
        """
        numbers = self._numbers().get(channel, {})
        return {numbers[2]} if set(numbers) == {None, 2} else set()

    def engines_left(self) -> dict[int, tuple[str, ...]]:
        """Return the engines that columns show by their names while their speed or ITT is no channel, with these columns."""
        shown: dict[int, list[str]] = {}
        lost: set[int] = set()
        mapped = {engine_in(p.channel) for p in self.out.values() if p.channel is not None} - {None}
        for column, options in self._readings.items():
            match = surest_of(options)
            if match is None or match.engine is None or self.out[column].channel is not None:
                continue
            if match.channel not in ENGINE_CHANNELS or (
                match.plain_number
                and not self._several
                and not (match.channel in SHOWS_AN_ENGINE and column in self._beside(match.channel))
            ):
                continue
            shown.setdefault(match.engine, []).append(self._names[column])
            key = key_of(match.channel, match.engine)
            if match.engine not in mapped or (match.channel in ("ng", "itt") and key not in self._used):
                lost.add(match.engine)
        return {number: tuple(shown[number]) for number in sorted(lost)} if mapped else {}

    def _ask_of(self, column: int, options: Sequence[Reading]) -> bool:
        """Ask whether a column is the likeliest channel that is free; return whether there is one."""
        for reading in options:
            number = reading.match.engine
            if reading.match.plain_number and not self._several:
                number = None
            key = key_of(reading.match.channel, number)
            if key in self._used or (reading.doubt and reading.match.confidence < ACCEPTED):
                continue
            is_hint = reading.match.probe is not None or reading.match.confidence < ACCEPTED
            if is_hint and not moves(self._evidence[column]):
                continue  # a probe beside others, or what only may be it by its name, and shows nothing
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
            if (unit is not None or not says_other(self._names[column], channel))
            and (unit is None or unit.quantity in QUANTITIES[channel])
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
