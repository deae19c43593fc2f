"""Time above a level that a person types, on any channel: needs no profile and changes no verdict."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from debrief.analysis.level_time import level_times
from debrief.analysis.model import Assessment, LevelTime
from debrief.errors import UserError
from debrief.recording.model import Channel, Recording, names_of
from debrief.words.channels import USUAL_NAMES, ChannelNames
from debrief.words.clock import ELAPSED, Clock
from debrief.words.engines import engine_of
from debrief.words.numbers import duration_text, number, plain, unit_words, value_text
from debrief.words.starts import start_title
from debrief.words.units import find_unit, scale

_LEVEL = re.compile(r"\s*([-\N{MINUS SIGN}+]?\d+(?:[.,]\d+)?)\s*:?\s*(\S.*?)?\s*")


def level_in(text: str, channel: Channel) -> float:
    """Return the level that a text tells, in the channel's unit.

    Parameters
    ----------
    text : str
        A number in the channel's unit, or one with a unit of its own: ``800``, ``1472 degF``.

    Raises
    ------
    UserError
        It tells none, or its unit measures something else.
    """
    symbol, unit = names_of([channel]).symbol(channel.name), unit_words(channel.unit)
    found = _LEVEL.fullmatch(text)
    if found is None:
        raise UserError(
            f'"{text.strip()}" is no level of {symbol}: write a number, in {unit or "its unit"}, such as 800.'
        )
    level = float(found[1].replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    if found[2] is None:
        return level
    given, own = find_unit(found[2]), find_unit(channel.unit)
    if given is None:
        raise UserError(f'"{found[2]}" is not a unit that is known here: {symbol} is in {unit or "no unit"}.')
    if given.name == channel.unit:
        return level
    if own is None or given.quantity != own.quantity:
        raise UserError(f"{symbol} is in {unit or 'no unit'}, which {found[2]} does not measure.")
    return float(scale([level], given, own)[0])


def with_levels(assessment: Assessment, asked: Iterable[str]) -> Assessment:
    """Return the assessment with the time above each level that was asked for, ``CHANNEL=LEVEL[ UNIT]``.

    Raises
    ------
    UserError
        There is no such channel, or no level.
    """
    found: list[LevelTime] = []
    for text in asked:
        name, equals, level = text.partition("=")
        if not equals:
            raise UserError(f'"{text}" names no level: write CHANNEL=LEVEL, such as itt=800.')
        channel = measured_channel(assessment.recording, name.strip())
        _, _, engine = channel.name.partition(".")
        starts = [s for s in assessment.starts if s.engine == (int(engine) if engine.isdigit() else 1)]
        found += level_times(channel, level_in(level, channel), assessment.recording.duration_s, starts)
    return replace(assessment, levels_asked=tuple(found)) if found else assessment


def measured_channel(recording: Recording, name: str) -> Channel:
    """Return the channel, or the column that is no channel, of a name; never a switch.

    Raises
    ------
    UserError
        There is none.
    """
    everything = {**recording.unmapped, **recording.channels}
    measured = {key: one for key, one in everything.items() if one.values.size and not one.is_discrete}
    folded = {key.lower(): one for key, one in measured.items()}
    channel = measured.get(name) or folded.get(name.lower())
    if channel is None:
        names = ", ".join(measured) or "none"
        raise UserError(
            f"{recording.provenance.file_name or 'The recording'} has no {name}; it has: {names}."
        )
    return channel


def level_words(one: LevelTime, clock: Clock = ELAPSED, names: ChannelNames = USUAL_NAMES) -> str:
    """Return in one line how long a channel was above a level: the total, the longest run, and when that was."""
    symbol, unit = names.symbol(one.channel), unit_words(one.unit)
    level = f"{plain(one.level, one.unit)} {unit}".rstrip()
    if not one.runs:
        highest = "" if one.highest is None else f", highest {value_text(one.highest, one.unit)}"
        possibly = ""
        if one.total_high_s is None or one.total_high_s > 0:
            possibly = f" for sure, at most {number(one.total_high_s, 1)} s" if one.total_high_s else ""
        return f"{symbol} was never above {level}{possibly}{highest}"
    total = duration_text(one.total_s, one.total_low_s, one.total_high_s)
    when = f"from {clock.text(one.longest_begin_s)} to {clock.text(one.longest_end_s)}"
    longest = (
        f"in one run {when}"
        if one.runs == 1
        else f"in {one.runs} runs, the longest {number(one.longest_s, 1)} s {when}"
    )
    return f"{symbol} was above {level} for {total}, {longest}, highest {value_text(one.highest, one.unit)}"


def where_words(one: LevelTime, assessment: Assessment) -> str:
    """Return between which moments it was counted."""
    if one.start_number is None:
        return "Whole recording"
    return start_title(one.start_number, assessment.start_count(engine_of(one.channel)))
