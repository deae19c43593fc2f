"""From columns to channels: evidence of name, unit and values, a confidence each, and what must be asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator, Mapping, Sequence
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
from debrief.recording.matching.column_readings import (
    Evidence,
    Reading,
    like_sibling,
    read_column,
    surest_first,
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
from debrief.recording.matching.maps import NOT_USED, ColumnMap, as_option
from debrief.recording.matching.proposals import Matching, Proposal, accepted, as_told, unsure
from debrief.recording.matching.rivals import choose, quoted
from debrief.words.asked import Asked, Doubt, Kind
from debrief.words.channels import CANONICAL, ENGINE_CHANNELS, JOINABLE, base_name, channel_in_text
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
        self._probes: dict[str, list[int]] = {}
        """Columns that their names say are probes, by channel."""

    def _asked(
        self,
        kind: Kind,
        parts: Sequence[str | None],
        channel: str,
        answers: Sequence[tuple[int, str]],
        lead: str = ": ",
        named: str = "",
        reason: str = "",
        probes: Sequence[int] = (),
        engines: bool = False,
    ) -> Asked:
        """Return a question whose answers are columns for a channel, with the options that give them."""
        ways = " or ".join(self._option(channel, c, unit) for c, unit in answers)
        if probes:
            units = dict(answers)
            both = " ".join(self._option(f"{channel}.mean", c, units.get(c, "")) for c in probes)
            ways += f", or their mean: {both}, or the highest: {channel}.highest in place of {channel}.mean"
        if engines:
            each = " ".join(self._option(_key(channel, place), c, "") for place, c in enumerate(probes, 1))
            ways += f", or one engine each: {each}"
        return Asked(
            Doubt(
                kind,
                tuple(parts),
                channel,
                tuple(answers),
                lead + ways,
                named,
                reason,
                tuple(probes),
                engines,
            )
        )

    def _option(self, channel: str, column: int, unit: str) -> str:
        name = self._names[column]
        return as_option(channel, name, column, unit, unique=name in self._unique)

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
        self._several = self._several_engines()
        self._units_of_siblings()

    def _units_of_siblings(self) -> None:
        """Give a column without a unit that of another engine's column of the same channel, where that is known."""
        known = [
            (column, best)
            for column, options in self._readings.items()
            if (best := _best(options)) is not None
        ]
        for proposal in self.out.values():
            if proposal.channel is not None and proposal.unit_source != "assumed":
                base, _, number = proposal.channel.partition(".")
                match = NameMatch(base, int(number or 1), proposal.confidence, proposal.unit)
                source = "option" if proposal.source == "option" else proposal.unit_source
                known.append((proposal.column, Reading(match, proposal.unit, source, 1.0)))
        for column, options in self._readings.items():
            for place, reading in enumerate(options):
                for other, sibling in known:
                    if other == column or sibling.match.channel != reading.match.channel:
                        continue
                    if (sibling.match.engine or 1) == (reading.match.engine or 1):
                        continue
                    settled = like_sibling(reading, self._evidence[column], sibling, self._evidence[other])
                    if settled is not None:
                        options[place] = settled
                        break
            options.sort(key=surest_first)

    def _numbers(self) -> dict[str, dict[int | None, int]]:
        """Return the engine numbers of each channel with the column of each; None stands for a name without."""
        out: dict[str, dict[int | None, int]] = {}
        for column, proposal in self.out.items():
            if proposal.channel is not None and proposal.source != "header":
                base, _, number = proposal.channel.partition(".")
                named = next((m for m in match_name(proposal.name) if m.channel == base), None)
                engine = int(number) if number else None if named is None else named.engine
                out.setdefault(base, {}).setdefault(engine, column)
        for column, options in self._readings.items():
            match = _surest(options)
            if match is not None:
                out.setdefault(match.channel, {}).setdefault(match.engine, column)
        return out

    def _several_engines(self) -> bool:
        """Whether the file has more than one engine.

        A worded number 2 says so, or what a person said, or two quantities numbered 1 and 2, one of them a speed, ITT
        or torque. A name without a number beside the number 2 is that of engine 1; beside 1 and 2 it is that of all
        probes together.
        """
        for options in self._readings.values():
            match = _surest(options)
            if (
                match
                and (match.engine or 1) > 1
                and not match.plain_number
                and match.channel in ENGINE_CHANNELS
            ):
                return True
        if any("." in (proposal.channel or "") for proposal in self.out.values()):
            return True
        twofold = [
            channel
            for channel, numbers in self._numbers().items()
            if set(numbers) == {None, 2} or ({1, 2} <= set(numbers) and None not in numbers)
        ]
        return len(twofold) >= 2 and any(channel in SHOWS_AN_ENGINE for channel in twofold)

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
            if best.match.probe is not None:
                self._probes.setdefault(_key(best.match.channel, number), []).append(column)
                continue
            if number is not None and self._may_number_probes(column, best.match):
                self._numbered.append((column, best.match.channel, number))
                self.out[column] = unsure(column, self._names[column], options, "engine or probe number")
                continue
            rivals.setdefault(_key(best.match.channel, number), []).append((column, best))
        for key, columns in self._probes.items():
            if len(columns) == 1 and key not in rivals:
                rivals[key] = [(columns[0], self._readings[columns[0]][0])]
                continue
            for column in columns:
                why = f"may be a probe of {channel_in_text(key)}"
                self.out[column] = unsure(column, self._names[column], self._readings[column], why)
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
            if reading.unit_source == "sibling" and reading.unit is not None:
                self.decisions.append(
                    f'"{name}" tells no unit; {reading.unit.name} was taken as for the other engine'
                )
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
        grouped = self._ask_of_probes()
        for column, channel, number in self._numbered:
            if (
                column not in grouped
                and _key(channel, number) not in self._used
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
                key, answers = _key(channel, number), [(column, "")]
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
        best = _best(self._readings[column])
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
        mapped = {_engine_of(p.channel) for p in self.out.values() if p.channel is not None} - {None}
        for column, options in self._readings.items():
            match = _surest(options)
            if match is None or match.engine is None or self.out[column].channel is not None:
                continue
            if match.channel not in ENGINE_CHANNELS or (
                match.plain_number
                and not self._several
                and not (match.channel in SHOWS_AN_ENGINE and column in self._beside(match.channel))
            ):
                continue
            shown.setdefault(match.engine, []).append(self._names[column])
            key = _key(match.channel, match.engine)
            if match.engine not in mapped or (match.channel in ("ng", "itt") and key not in self._used):
                lost.add(match.engine)
        return {number: tuple(shown[number]) for number in sorted(lost)} if mapped else {}

    def _ask_of(self, column: int, options: Sequence[Reading]) -> bool:
        """Ask whether a column is the likeliest channel that is free; return whether there is one."""
        for reading in options:
            number = reading.match.engine
            if reading.match.plain_number and not self._several:
                number = None
            key = _key(reading.match.channel, number)
            if key in self._used or (reading.doubt and reading.match.confidence < ACCEPTED):
                continue
            if reading.match.probe is not None and not moves(self._evidence[column]):
                continue  # a probe that shows nothing, beside others
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


def _key(channel: str, number: int | None) -> str:
    return channel if number in (None, 1) else f"{channel}.{number}"


def _engine_of(key: str) -> int | None:
    base, _, number = key.partition(".")
    return int(number or 1) if base in ENGINE_CHANNELS else None


SHOWS_AN_ENGINE = ("ng", "itt", "torque", "np")
"""Channels of which a second column shows a second engine; generators, igniters and pumps are often two of one engine."""


def _best(readings: Sequence[Reading]) -> Reading | None:
    if readings and readings[0].confidence >= ACCEPTED:
        return readings[0]
    return None


def _surest(options: Sequence[Reading]) -> NameMatch | None:
    """Return what a column is by its name; its unit may still be open, whose it is does not rest on that."""
    return options[0].match if options and options[0].match.confidence >= ACCEPTED else None
