"""What each column is taken for: what a person said, what its name, unit and values make sure, whose engine it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator, Mapping, Sequence

from debrief.recording.lexicon import (
    ACCEPTED,
    SURE,
    NameMatch,
    match_name,
)
from debrief.recording.matching.column_readings import (
    Evidence,
    Reading,
    like_sibling,
    read_column,
    surest_first,
    told_unit,
)
from debrief.recording.matching.maps import NOT_USED, ColumnMap, as_option
from debrief.recording.matching.proposals import Proposal, accepted, as_told, unsure
from debrief.recording.matching.rivals import choose, meant
from debrief.words.asked import Asked, Doubt, Kind
from debrief.words.channels import CANONICAL, ENGINE_CHANNELS, channel_in_text


def key_of(channel: str, number: int | None) -> str:
    """Return the name of an engine's channel: ``itt.2`` of the second, ``itt`` of the first."""
    return channel if number in (None, 1) else f"{channel}.{number}"


def engine_in(key: str) -> int | None:
    """Return the engine that a channel is of; None for one that belongs to no single engine."""
    base, _, number = key.partition(".")
    return int(number or 1) if base in ENGINE_CHANNELS else None


SHOWS_AN_ENGINE = ("ng", "itt", "torque", "np")
"""Channels of which a second column shows a second engine; generators, igniters and pumps are often two of one engine."""


def best_of(readings: Sequence[Reading]) -> Reading | None:
    """Return the surest reading, if it is sure enough to be taken."""
    if readings and readings[0].confidence >= ACCEPTED:
        return readings[0]
    return None


def surest_of(options: Sequence[Reading]) -> NameMatch | None:
    """Return what a column is by its name; its unit may still be open, whose it is does not rest on that."""
    return options[0].match if options and options[0].match.confidence >= ACCEPTED else None


class Settling:
    """The first half of the matching, one step after the other; what is settled is in `out`, by column.

    `columns._Matcher` goes on and asks about the rest.
    """

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
            each = " ".join(self._option(key_of(channel, place), c, "") for place, c in enumerate(probes, 1))
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
            if (best := best_of(options)) is not None
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
            match = surest_of(options)
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
            match = surest_of(options)
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
        others = (best_of(options) for c, options in self._readings.items() if c != column)
        return match.engine > 1 or any(best and best.match.channel == match.channel for best in others)

    def settle(self) -> None:
        """Settle the columns that are sure enough, one for each channel."""
        rivals: dict[str, list[tuple[int, Reading]]] = {}
        for column, options in self._readings.items():
            best = best_of(options)
            if best is None:
                continue
            number = best.match.engine
            if best.match.probe is not None:
                self._probes.setdefault(key_of(best.match.channel, number), []).append(column)
                continue
            if number is not None and self._may_number_probes(column, best.match):
                self._numbered.append((column, best.match.channel, number))
                self.out[column] = unsure(column, self._names[column], options, "engine or probe number")
                continue
            rivals.setdefault(key_of(best.match.channel, number), []).append((column, best))
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
                    f'"{name}" was taken for {meant(key, name)} (confidence {reading.confidence:.2f})'
                )
