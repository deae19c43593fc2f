"""What a column can be in the import dialog, in which units, and how sure that is, in words."""

from __future__ import annotations

from debrief.recording.lexicon import wanted_word
from debrief.session.importing.column_proposal import ColumnProposal
from debrief.session.importing.file_proposal import LIKELY, SURE
from debrief.words.channels import (
    CANONICAL,
    ENGINE_CHANNELS,
    JOINABLE,
    JOINED,
    base_name,
    channel_in_text,
    channel_symbol,
    channel_words,
    joined_way,
    within_sentence,
)
from debrief.words.numbers import unit_words

NOT_USED = ""
TIME = "time"
SAID = ("option", "remembered", "entered")
"""Sources of a column that a person has told."""
STATES = ("0/1", "0/1/2")
_MORE_UNIT_WORDS = {
    "": "",
    "0/1": "off/on",
    "0/1/2": "0, 1 or 2",
    "krpm": "thousand rpm",
    "rpm x100": "hundred rpm",
    "degR": "°R",
    "min": "minutes",
    "s": "seconds",
    "h": "hours",
    "d": "days",
    "ms": "milliseconds",
    "us": "microseconds",
    "ns": "nanoseconds",
}


def channel_choices() -> tuple[str, ...]:
    """Return what a column can be: not used, time, every channel, those of a second engine, then probes of one."""
    second = tuple(f"{name}.2" for name in CANONICAL if name in ENGINE_CHANNELS)
    of_probes = (name for name in (*CANONICAL, *second) if base_name(name) in JOINABLE)
    return (NOT_USED, TIME, *CANONICAL, *second, *(f"{name}.{way}" for name in of_probes for way in JOINED))


def choice_words(channel: str) -> str:
    """Return a choice as it is shown."""
    if channel == NOT_USED:
        return "Not used"
    whole, way = joined_way(channel)
    if way:
        return f"{channel_in_text(whole, begins=True)}, {JOINED[way]}"
    base, _, engine = channel.partition(".")
    if engine:  # first, since a narrow cell cuts the end
        return f"Engine {engine}: {within_sentence(channel_words(base))}"
    return "Time" if channel == TIME else channel_words(channel)


def unit_choices(channel: str) -> tuple[str, ...]:
    """Return the units in which a column of this channel may be recorded; for time also "as written"."""
    from debrief.words.units import QUANTITIES, UNITS

    if channel == NOT_USED:
        return ()
    if channel == TIME:
        return ("", *(unit.name for unit in UNITS if unit.quantity == "time"))
    base = base_name(channel)
    canonical = CANONICAL[base]
    if canonical in STATES:
        return (canonical,)
    fitting = [unit.name for unit in UNITS if unit.quantity in QUANTITIES[base]]
    return (canonical, *(name for name in fitting if name != canonical))


def unit_choice_words(unit: str, channel: str = "") -> str:
    """Return a unit as it is shown."""
    if not unit:
        return "as written" if channel == TIME else "choose"
    return _MORE_UNIT_WORDS.get(unit) or unit_words(unit)


def confidence_words(column: ColumnProposal, channel: str, unit: str) -> str:
    """Return in words how sure it is that a column is this channel in this unit."""
    if channel != column.channel or (channel and unit != column.unit):
        return "chosen here"
    if not channel:
        if column.source in SAID:
            return "remembered" if column.source == "remembered" else "chosen before"
        if column.role == "time":
            return "another time column"
        if column.role not in ("unmapped", "channel"):
            return {"index": "row number", "date": "date", "identity": "identity", "text": "text"}.get(
                column.role, column.role
            )
        if column.candidates:
            return f"unsure: may be {channel_symbol(column.candidates[0])}"
        return "not a measurement" if wanted_word(column.name) else "not recognised"
    if column.source in ("option", "entered"):
        return "chosen before"
    if column.source == "remembered":
        return "remembered"
    words = "sure" if column.confidence >= SURE else "likely" if column.confidence >= LIKELY else "unsure"
    if unit in STATES or channel == TIME:
        return words
    if column.unit_source == "assumed":
        return f"{words}; unit not told"
    return f"{words}; unit by values" if column.unit_source == "values" else words
