"""What a person makes of a proposed file: corrections, checked, and turned into choices for the reader."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from debrief.errors import UserError
from debrief.recording.matching.rivals import quoted
from debrief.session.assessing.file_assessment import Choices
from debrief.session.importing.column_choices import (
    NOT_USED,
    SAID,
    STATES,
    TIME,
    choice_words,
    confidence_words,
    unit_choices,
)
from debrief.session.importing.file_proposal import SURE, FileProposal
from debrief.session.importing.import_questions import Answer, Question
from debrief.words.channels import (
    base_name,
    channel_in_text,
    joined_way,
)
from debrief.words.engines import engine_of

QuestionState = Literal["open", "proposed", "settled"]
MAX_RATE_HZ = 1e6
_PLAIN_QUANTITIES = ("voltage", "current", "angle")
_NONE = "none"
"""What a map calls a column that is not used."""


class ImportForm:
    """The state of the import dialog, without a window.

    Parameters
    ----------
    proposal : FileProposal

    Attributes
    ----------
    proposal
        As given.
    rate_text, aircraft, engine_serial, start_text, altimeter : str
        As typed; empty where nothing is.
    engine_serials : dict of int to str
        Serial numbers of further engines, as typed.
    profile : str or None
        The profile to judge with; None: the one that the file names, if any.
    remember : bool
        Keep the columns for this kind of file.
    """

    def __init__(self, proposal: FileProposal) -> None:
        self.proposal = proposal
        choices = proposal.choices
        self.rate_text = f"{choices.rate_hz:g}" if choices.rate_hz is not None else ""
        self.aircraft = choices.aircraft or ""
        self.engine_serial = choices.engine_serial or ""
        self.engine_serials = dict(choices.engine_serials)
        self.start_text = choices.start_iso or ""
        self.altimeter = choices.altimeter or ""
        self.profile = choices.profile
        self.remember = not proposal.kept.is_empty
        self.is_offer_declined = False
        self._told = {
            c.number: (c.channel, c.unit if c.channel else "") for c in proposal.columns if c.channel
        }

        self._unused = {c.number for c in proposal.columns if not c.channel and c.source in SAID}
        self._said: set[str] = set()
        """Channels of which a person has said in this form which column they are."""

    @property
    def is_offer_taken(self) -> bool:
        """Whether all that is offered of what is remembered stands in the form."""
        offer = self.proposal.offer
        typed = (self.profile, self.aircraft, self.engine_serial, self.engine_serials)
        wanted = self._with_offer()
        return offer.names_an_engine and typed == wanted

    def _with_offer(self) -> tuple[str | None, str, str, dict[int, str]]:
        offer = self.proposal.offer
        return (
            offer.profile or self.profile,
            offer.aircraft or self.aircraft,
            offer.engine_serial or self.engine_serial,
            {**self.engine_serials, **dict(offer.engine_serials)},
        )

    def take_offer(self) -> None:
        """Enter what is remembered of profile, aircraft and engine."""
        self.is_offer_declined = False
        self.profile, self.aircraft, self.engine_serial, self.engine_serials = self._with_offer()

    def decline_offer(self) -> None:
        """Take out again what was entered of what is remembered: it is another engine."""
        offer = self.proposal.offer
        self.is_offer_declined = True
        self.profile = None if self.profile == offer.profile else self.profile
        self.aircraft = "" if self.aircraft == offer.aircraft else self.aircraft
        self.engine_serial = "" if self.engine_serial == offer.engine_serial else self.engine_serial
        offered = dict(offer.engine_serials)
        self.engine_serials = {n: s for n, s in self.engine_serials.items() if offered.get(n) != s}

    @property
    def has_something_to_remember(self) -> bool:
        """Whether something was said that another file of this kind may need again."""
        whose = (
            self.profile,
            self.aircraft.strip(),
            self.engine_serial.strip(),
            *self.engine_serials.values(),
        )
        return bool(self.maps()) or not self.proposal.kept.is_empty or self.needs_rate or any(whose)

    @property
    def further_engines(self) -> tuple[int, ...]:
        """The engines from the second on that columns are of."""
        channels = (joined_way(c.channel)[0] for c in self.proposal.columns if c.channel)
        return tuple(sorted({n for n in map(engine_of, filter(None, channels)) if n > 1}))

    @property
    def held(self) -> tuple[object, ...]:
        """All that is chosen and typed, to tell whether anything was since."""
        typed = (
            self.rate_text,
            self.aircraft,
            self.engine_serial,
            tuple(self.engine_serials.items()),
            self.start_text,
            self.altimeter,
            self.profile,
        )
        return *typed, self.remember, tuple(sorted(self._told.items())), frozenset(self._unused)

    @property
    def answered(self) -> tuple[dict[int, tuple[str, str]], set[int], set[str]]:
        """Channel and unit of each column, those that are not used, and of which channels a person has spoken."""
        return dict(self._told), set(self._unused), set(self._said)

    def put_back(self, told: dict[int, tuple[str, str]], unused: set[int], said: set[str]) -> None:
        """Let it hold again what `answered` told."""
        self._told, self._unused, self._said = told, unused, said

    def channel(self, column: int) -> str:
        """Return what a column is taken for; empty for "not used"."""
        return self._told.get(column, ("", ""))[0]

    def unit(self, column: int) -> str:
        """Return the unit of a column's values; empty where none is chosen or needed."""
        return self._told.get(column, ("", ""))[1]

    def column_of(self, channel: str) -> int | None:
        """Return the column that is taken for a channel, or None."""
        return next((n for n, (name, _) in self._told.items() if name == channel), None)

    def assign(self, column: int, channel: str, unit: str | None = None) -> str:
        """Take a column for a channel; return a sentence where another column had to give it up."""
        said = ""
        self._said.discard(joined_way(self.channel(column))[0])
        if channel == NOT_USED:
            self._told.pop(column, None)
            self._unused.add(column)
            return said
        self._unused.discard(column)
        whole, way = joined_way(channel)
        self._said.add(whole)
        names = self.proposal.names
        others = [n for n, (name, _) in self._told.items() if joined_way(name)[0] == whole and n != column]
        if way:
            # Whatever was taken for the channel is a probe of it, too.
            for other in others:
                self._told[other] = (channel, self._told[other][1])
        elif others:
            for other in others:
                del self._told[other]
            listed = quoted([names[other] for other in others])
            said = f'{choice_words(whole)} was moved from {listed} to "{names[column]}".'
        if unit is None:
            unit = self._fitting_unit(column, channel)
        self._told[column] = (channel, unit)
        return said

    def _fitting_unit(self, column: int, channel: str) -> str:
        """Return the unit that the column is known to have, if the channel can have it; else none."""
        from debrief.words.units import BY_NAME

        choices = unit_choices(channel)
        for known in (self.unit(column), self.proposal.columns[column].unit):
            if known and known in choices:
                return known
        if channel == TIME:
            return ""
        # Another engine's column of the same quantity was told: one recorder writes both alike.
        base = base_name(joined_way(channel)[0])
        for other, (name, unit) in self._told.items():
            if other != column and unit in choices and base_name(joined_way(name)[0]) == base:
                return unit
        unit = choices[0]
        plain = unit in STATES or BY_NAME[unit].quantity in _PLAIN_QUANTITIES
        return unit if plain else ""

    def set_unit(self, column: int, unit: str) -> None:
        """Say in which unit a column's values are."""
        channel = self.channel(column)
        if channel and unit in unit_choices(channel):
            self._told[column] = (channel, unit)
            self._said.add(joined_way(channel)[0])

    def answer(self, question: Question, answer: Answer) -> str:
        """Settle a question; return a sentence where another column had to give the channel up."""
        if not answer.probes:
            return self.assign(answer.column, question.channel, answer.unit or None)
        for column in self.columns_of(question.channel):
            if column not in answer.probes:
                del self._told[column]
        for place, column in enumerate(answer.probes, 1):
            self.assign(column, _of_answer(question, answer, place), answer.unit or None)
        return ""

    def take_back(self, question: Question, answer: Answer) -> None:
        """Use none of an answer's columns, since it is taken back; the question is open again."""
        self._said.discard(question.channel)
        for column in answer.probes or (answer.column,):
            self._told.pop(column, None)

    def columns_of(self, channel: str) -> tuple[int, ...]:
        """Return the columns that are taken for a channel, alone or as probes of it."""
        return tuple(n for n, (name, _) in sorted(self._told.items()) if joined_way(name)[0] == channel)

    def decline(self, question: Question) -> None:
        """Settle a question by using none of its columns; the same again takes that back."""
        declined = self.is_declined(question)
        for column in {answer.column for answer in question.answers}:
            self._told.pop(column, None)
            (self._unused.discard if declined else self._unused.add)(column)

    def is_declined(self, question: Question) -> bool:
        """Return whether it is said of all columns of a question that they are not used."""
        columns = {answer.column for answer in question.answers}
        return bool(columns) and columns <= self._unused

    def state_of(self, question: Question) -> QuestionState:
        """Return how far a question is answered.

        It is settled once a person has said which column it is, or that none is, and its unit is known; what the reader
        proposes is only proposed.
        """
        if self.is_declined(question):
            return "settled"
        columns = self.columns_of(question.channel)
        units = [self.unit(column) for column in columns]
        if not columns or (question.channel != TIME and not all(units)):
            return "open"
        lone = joined_way(self.channel(columns[0]))[1] and len(columns) < 2
        if lone or not question.channel:
            return "open"
        return "settled" if question.channel in self._said else "proposed"

    def is_answered_by(self, question: Question, answer: Answer) -> bool:
        """Return whether the form holds this answer now."""
        if answer.probes:
            wanted = {c: _of_answer(question, answer, place) for place, c in enumerate(answer.probes, 1)}
            held = {c: self.channel(c) for c in {*wanted, *self.columns_of(question.channel)}}
            return wanted == held
        if self.channel(answer.column) != question.channel:
            return False
        return not answer.unit or answer.unit == self.unit(answer.column)

    @property
    def needs_rate(self) -> bool:
        """Whether no column is taken for the time, so that a rate is wanted."""
        return self.proposal.needs_rate and self.column_of(TIME) is None

    @property
    def rate_hz(self) -> float | None:
        """The rate that was typed, [Hz]; None where it is no number above 0."""
        try:
            rate = float(self.rate_text.strip().replace(",", "."))
        except ValueError:
            return None
        return rate if 0 < rate <= MAX_RATE_HZ else None

    @property
    def is_problem_settled(self) -> bool:
        """Whether what the file could not be read for is answered, whatever else is open."""
        named = self.proposal.has_header or any(channel != TIME for channel, _ in self._told.values())
        if self.proposal.needs_rate:
            return named and (not self.needs_rate or self.rate_hz is not None)
        return not self.problems()

    def problems(self) -> tuple[str, ...]:
        """Return what still has to be chosen or mended, one sentence each; empty: it can be opened."""
        from debrief.recording.identity import HOW_TO_WRITE, altimeter_setting, start_problem

        out = []
        names = self.proposal.names
        if self.needs_rate:
            if not self.rate_text.strip():
                out.append("Give the samples per second, or choose the column that holds the time.")
            elif self.rate_hz is None:
                out.append(
                    f'"{self.rate_text.strip()}" is no rate: give samples per second above 0, such as 10.'
                )
        elif not self.proposal.problem and self.column_of(TIME) is None:
            out.append("Choose the column that holds the time.")
        if not any(channel != TIME for channel, _ in self._told.values()):
            out.append("Choose at least one column as a channel of the engine or the flight.")
        for column, (channel, unit) in sorted(self._told.items()):
            if channel != TIME and not unit:
                out.append(f'Choose the unit of "{names[column]}" ({choice_words(channel).lower()}).')
        for channel in dict.fromkeys(name for name, _ in self._told.values()):
            whole, way = joined_way(channel)
            if way and len(self.columns_of(whole)) < 2:
                out.append(
                    f"Choose a second probe for the {way} of {channel_in_text(whole)}, or use the one alone."
                )
        start = self.start_text.strip()
        if start and (problem := start_problem(start)):
            out.append(f'"{start}" {problem}: {HOW_TO_WRITE}.')
        setting = self.altimeter.strip()
        if setting and altimeter_setting(setting) is None:
            out.append(f'"{setting}" is no altimeter setting: write it in hPa or inHg, like 1013 or 29.92.')
        return tuple(out)

    def maps(self) -> tuple[str, ...]:
        """Return ``CHANNEL=COLUMN[:UNIT]`` for all that a person has said, or confirmed where it was unsure.

        ``none=COLUMN`` stands for a column that is not used.
        """
        asked = {question.channel for question in self.proposal.questions}
        out = []
        for number, (channel, unit) in sorted(self._told.items()):
            column = self.proposal.columns[number]
            same = (channel, unit) == (column.channel, column.unit)
            told = column.source in SAID
            if channel == TIME:
                certain = same and not told and channel not in asked
            else:
                guessed = column.unit_source in ("assumed", "values") and unit not in STATES
                certain = same and not told and channel not in asked
                certain = certain and column.confidence >= SURE and not guessed
            if not certain:
                out.append(self._map(number, channel, "" if unit in STATES else unit))
        out.extend(self._map(number, _NONE, "") for number in self.unused())
        return tuple(out)

    def unused(self) -> tuple[int, ...]:
        """Return the columns of which the reader has to be told that they are not used.

        Those are the ones that a person said so of and that the reader would use or ask about, and, where a
        channel is left to no column, every other one that would take its place.
        """
        out: set[int] = set()
        columns = self.proposal.columns
        asked = {answer.column for question in self.proposal.questions for answer in question.answers}
        left = {joined_way(c.channel)[0] for c in columns if c.channel not in (NOT_USED, TIME)}
        left -= {*self.kept_channels()}
        for column in columns:
            if column.number in self._told or column.role == TIME:
                continue
            known = bool(column.channel or column.candidates) or column.source in SAID
            said = column.number in self._unused and (known or column.number in asked)
            if said or left.intersection((column.channel, *column.candidates)):
                out.add(column.number)
        return tuple(sorted(out))

    def sureness(self, column: int) -> str:
        """Return in words how sure it is what a column is used as."""
        proposed = self.proposal.columns[column]
        if column in self._unused and not proposed.channel and proposed.source not in SAID:
            return "chosen here"
        return confidence_words(proposed, self.channel(column), self.unit(column))

    def _map(self, number: int, channel: str, unit: str) -> str:
        """Return one map, by the column's name where that cannot be misread, else by its place."""
        from debrief.recording.matching.maps import parse_maps

        name = self.proposal.names[number]
        ending = f":{unit}" if unit else ""
        if self.proposal.has_header and name == name.strip() and name and not name.startswith("#"):
            text = f"{channel}={name}{ending}"
            whole, _ = joined_way(channel)
            try:
                found = parse_maps([f"{whole}={name}{ending}"], self.proposal.names)[0]
            except UserError:
                found = None
            if found is not None and (found.column, found.unit.name if found.unit else "") == (number, unit):
                return text
        return f"{channel}=#{number + 1}{ending}"

    def kept_channels(self) -> tuple[str, ...]:
        """Return the channels that the recording is to have; the reader may find more, which are not used."""
        told = (joined_way(channel)[0] for channel, _ in self._told.values() if channel != TIME)
        return tuple(dict.fromkeys(told))

    def choices(self) -> Choices:
        """Return everything that was said, for the reader and the assessment."""
        return replace(
            self.proposal.choices,
            profile=self.profile,
            maps=self.maps(),
            rate_hz=self.rate_hz if self.needs_rate else None,
            aircraft=self.aircraft.strip() or None,
            engine_serial=self.engine_serial.strip() or None,
            engine_serials=tuple(
                (n, text.strip()) for n, text in self.engine_serials.items() if text.strip()
            ),
            start_iso=self.start_text.strip() or None,
            altimeter=self.altimeter.strip() or None,
            remembered=False,
            remembered_on="",
        )


def _of_answer(question: Question, answer: Answer, place: int) -> str:
    """Return what a column is by an answer of several: a probe, or the engine's of its place, from 1."""
    if answer.way != "engines":
        return f"{question.channel}.{answer.way}"
    return question.channel if place == 1 else f"{base_name(question.channel)}.{place}"
