"""What was found of an engine in a file, and what cannot be judged without the rest, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from types import MappingProxyType

from debrief.words.channels import base_name, channel_in_text, named, within_sentence
from debrief.words.events import EVENTS

KINDS_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "ng": ("hung_start", "overspeed_ng"),
        "itt": ("hot_start", "overtemp"),
        "torque": ("overtorque",),
        "bus_volts": ("low_start_voltage",),
    }
)
"""The kinds of findings that rest on each of the channels that have a lane of their own."""


MOST_NAMED = 6


def bare_words(channels: Collection[str]) -> str:
    """Return what is said of a file of which no standard lane would show anything: what there is, and what to do.

    Examples
    --------
    >>> bare_words(["time", "fuel_on", "ignition"])
    'Only fuel, ignition found: no speed, temperature, torque or bus voltage. Choose their columns, or open it as it is.'
    """
    found = [channel_in_text(channel) for channel in channels if channel and channel != "time"]
    more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    only = f"Only {', '.join(found[:MOST_NAMED])}{more} found: no" if found else "No"
    end = " was found" if not found else ""
    return (
        f"{only} speed, temperature, torque or bus voltage{end}. Choose their columns, or open it as it is."
    )


def has_a_lane(channels: Collection[str]) -> bool:
    """Whether one of the standard lanes would have a trace."""
    lanes = set(named("lane"))
    return any(base_name(channel) in lanes for channel in channels)


def gap_words(channels: Collection[str]) -> str:
    """Return what is missing and what is not judged without it; empty where nothing of it is missing.

    Examples
    --------
    >>> gap_words(["ng", "itt", "torque"])
    'Not found: bus voltage (low start voltage), so that is not judged.'
    >>> gap_words(["ng", "itt", "torque", "bus_volts"])
    ''
    """
    found = {base_name(channel) for channel in channels}
    gaps = []
    for channel, kinds in KINDS_OF.items():
        if channel not in found:
            titles = (within_sentence(EVENTS[kind].listed or EVENTS[kind].title) for kind in kinds)
            gaps.append(f"{channel_in_text(channel)} ({', '.join(titles)})")
    if not gaps:
        return ""
    return f"Not found: {', '.join(gaps)}, so {'these are' if len(gaps) > 1 else 'that is'} not judged."
