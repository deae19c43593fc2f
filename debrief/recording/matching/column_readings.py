"""What a column's name, unit and values say together about the channel it may be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from debrief.recording.csv.table import Numbers
from debrief.recording.lexicon import NameMatch, load, match_name, own_name, split_unit, wanted_word
from debrief.recording.median import median
from debrief.recording.model import FloatArray
from debrief.words.channels import CANONICAL, DISCRETE
from debrief.words.units import BY_NAME, QUANTITIES, Unit, find_unit

ITT_SUSPECT_C = 1000.0
"""Highest ITT from which a file that tells no unit is asked for it; common practice, no source."""
ITT_NEVER_C = 1000.0
"""No engine runs for most of a recording at this ITT in °C; common practice, no source."""


@dataclass(frozen=True)
class Evidence:
    """A column as the matcher sees it: name, other header rows, units row, and its numbers on demand."""

    column: int
    name: str
    alternatives: tuple[str, ...]
    units_cell: str
    numbers: Callable[[str | None], Numbers]
    """Called with the channel, whose own state words then count."""


@dataclass(frozen=True)
class Reading:
    """One reading of a column: name match, unit with its source, confidence, and what speaks against it.

    `options` are the units that would settle the doubt.
    """

    match: NameMatch
    unit: Unit | None
    unit_source: str
    confidence: float
    doubt: str = ""
    options: tuple[str, ...] = ()


def told_unit(item: Evidence) -> Unit | None:
    """Return the unit that the units row or the header tells, whatever it measures."""
    if item.units_cell.strip():
        unit = find_unit(item.units_cell)
        if unit is not None:
            return unit
    for _, text in split_unit(item.name):
        if text and (unit := find_unit(text)) is not None:
            return unit
    return None


def _cells_unit(item: Evidence) -> str:
    """Return the unit that most cells carry behind their number, which the name may need to be understood."""
    suffixes = item.numbers(None).suffixes
    text = suffixes.most_common(1)[0][0] if suffixes else ""
    return text if find_unit(text) is not None else ""


def read_column(item: Evidence, families: set[str]) -> list[Reading]:
    """Return the readings of a column by name, each weighed with its unit and its values, best first."""
    matches: dict[tuple[str, int | None], NameMatch] = {}
    cells = _cells_unit(item) if told_unit(item) is None else ""
    wanted = bool(wanted_word(item.name))  # of all header rows together
    for name in (item.name,) if wanted else (item.name, *item.alternatives):
        for match in match_name(name, item.units_cell or cells):
            key = (match.channel, match.engine)
            if key not in matches or match.confidence > matches[key].confidence:
                matches[key] = match
    numbered = {match.channel for match in matches.values() if match.engine and not match.plain_number}
    out = []
    for match in matches.values():
        if match.engine is None and match.channel in numbered:
            continue  # a group name over the header tells the engine
        source = (
            ""
            if match.unit is None
            else "cells"
            if cells
            else "units row"
            if find_unit(item.units_cell)
            else "header"
        )
        reading = Reading(match, match.unit, source, match.confidence)
        if match.unit is not None and not match.unit_fits:
            reading = replace(
                reading,
                doubt=f"but its unit is {match.unit.name}",
                unit=None,
                confidence=min(match.confidence, 0.4),
            )
            out.append(reading)
            continue
        out.append(with_values(reading, item.numbers(match.channel), families, item.name))
    return sorted(out, key=surest_first)


def surest_first(reading: Reading) -> tuple[float, bool, int]:
    """Return what sorts readings; of two that are as sure the one with an engine first: "L Ng" is no "lng"."""
    return -reading.confidence, reading.match.engine is None, reading.match.engine or 0


def with_values(reading: Reading, numbers: Numbers, families: set[str], name: str) -> Reading:
    """Return the reading with its unit settled by the cells or the values, or with the doubt they raise."""
    channel = reading.match.channel
    values = numbers.believable
    canonical = BY_NAME[CANONICAL[channel]]
    if channel in DISCRETE:
        return _state(reading, values, canonical)
    suffix = find_unit(numbers.suffixes.most_common(1)[0][0]) if numbers.suffixes else None
    if suffix is not None:
        if suffix.quantity not in QUANTITIES[channel]:
            return _doubt(reading, f"its cells are in {suffix.name}")
        if reading.unit is not None and suffix is not reading.unit:
            return _doubt(
                reading,
                f"header says {reading.unit.name}, cells say {suffix.name}",
                (reading.unit.name, suffix.name),
            )
        if reading.unit is None:
            reading = replace(reading, unit=suffix, unit_source="cells")
    if values.size == 0:
        return replace(reading, unit=reading.unit or canonical, unit_source=reading.unit_source or "assumed")
    if reading.unit is not None:
        return _checked(reading, values)
    settled = _unit_by_values(reading, values, float(np.max(values)), families, name)
    if settled.doubt and values.size >= 1000:
        # A few false values must not decide what a thousand others are.
        highest = float(np.partition(values, -(values.size // 500))[-(values.size // 500)])
        settled = _unit_by_values(reading, values, highest, families, name)
    return settled


RUNNING_ITT = 600.0
"""An ITT that comes so high and never to `ITT_SUSPECT_C` is in °C: in °F it would be that of an engine that never ran.
Common practice, no source."""


def like_sibling(reading: Reading, item: Evidence, sibling: Reading, beside: Evidence) -> Reading | None:
    """Return the reading of a column without a unit in that of another engine's column of the same channel.

    None where the column tells its own unit, or the sibling knows no better.
    """
    if reading.match.unit is not None or reading.unit_source in ("cells", "header", "units row"):
        return None
    known = sibling.unit_source in ("cells", "header", "units row", "option")
    if not known and sibling.match.channel == "itt" and not sibling.doubt:
        values = beside.numbers("itt").believable
        known = bool(values.size) and RUNNING_ITT <= float(values.max()) < ITT_SUSPECT_C
    if not known or sibling.doubt or sibling.unit is None or sibling.unit is reading.unit:
        return None
    values = item.numbers(reading.match.channel).believable
    settled = Reading(reading.match, sibling.unit, "sibling", reading.match.confidence)
    return _checked(settled, values) if values.size else settled


def _unit_by_values(
    reading: Reading, values: FloatArray, highest: float, families: set[str], name: str
) -> Reading:
    """Return the reading with the unit that the values show where the file tells none, or with the doubt."""
    channel = reading.match.channel
    canonical = BY_NAME[CANONICAL[channel]]
    ranges = load().channels[channel].highest
    fits = [unit for unit, (low, high) in ranges.items() if low <= highest <= high]
    below = bool(ranges) and highest < min(low for low, _ in ranges.values())
    usable = not ranges or highest <= ranges[canonical.name][1]
    own = own_name(name)
    if own is not None and own[0] == channel and usable and not (channel == "np" and 30 < highest <= 130):
        # A header that is the channel's own name speaks the program's language, units included.
        return replace(reading, unit=canonical, unit_source="assumed")
    if not ranges:
        units = ("kg/h", "lb/h") if channel == "fuel_flow" else (canonical.name,)
        return _doubt(reading, "no unit is told and the values cannot show it", units)
    if channel == "torque" and not fits:
        return _doubt(reading, "no unit is told and it is no percentage", ("lbf ft", "N m"))
    if below:
        return replace(reading, unit=canonical, unit_source="assumed")
    if not fits:
        return _doubt(reading, f"no unit is told and its values reach {highest:g}", tuple(ranges)[:2])
    if canonical.quantity == "temperature":
        return _temperature(reading, values, fits, families)
    if canonical.name in fits and (len(fits) == 1 or channel == "ng" or not np.any(values)):
        # A speed up to 130 is a percentage; thousands of rpm without a word are rare and asked for beside it.
        return replace(reading, unit=canonical, unit_source="values" if len(fits) == 1 else "assumed")
    if fits == ["rpm"]:
        return replace(reading, unit=BY_NAME["rpm"], unit_source="values")
    options = fits if len(fits) > 1 else [canonical.name, *fits]
    return _doubt(reading, f"no unit is told and its values reach {highest:g}", tuple(options))


def _temperature(reading: Reading, values: FloatArray, fits: list[str], families: set[str]) -> Reading:
    """Return a temperature's unit by its values; °F told elsewhere in the file makes °C here a question."""
    running = _running(values)
    hot = reading.match.channel == "itt" and running.size > 10 and median(running) >= 900
    if fits == ["degF"]:
        highest = float(values.max())
        if reading.match.channel == "itt" and hot and "degC" not in families:
            return replace(
                reading, unit=BY_NAME["degF"], unit_source="values", confidence=min(reading.confidence, 0.75)
            )
        return _doubt(reading, f"no unit is told and its values reach {highest:g}", ("degF", "degC"))
    if hot:
        return _doubt(reading, "no unit is told; the running values would suit either", ("degF", "degC"))
    if reading.match.channel == "itt" and float(values.max()) >= ITT_SUSPECT_C:
        why = f"no unit is told, and a peak of {values.max():g} would be a hot start in °C and a usual one in °F"
        return _doubt(reading, why, ("degC", "degF"))
    if families and "degC" not in families:
        return _doubt(
            reading, f"no unit is told and other columns are in {sorted(families)[0]}", ("degC", "degF")
        )
    return replace(reading, unit=BY_NAME["degC"], unit_source="assumed")


def _running(values: FloatArray) -> FloatArray:
    """Return the values of a running engine, without the top of the range at which an open probe stands.

    Where nothing else runs hot, what stands there is all there is.
    """
    running = values[values > 400]
    if not running.size:
        return running
    below = running[running < running.max()]
    stands = running.size - below.size
    return below if stands > 10 and 20 * stands > running.size and below.size > 10 else running


def _checked(reading: Reading, values: FloatArray) -> Reading:
    """Return the reading, doubted where a told unit cannot be true of the values.

    One value in five hundred may be false without raising a doubt.
    """
    unit = reading.unit
    assert unit is not None
    channel = reading.match.channel
    if channel == "itt" and unit.name == "degC":
        running = _running(values)
        # Most of the recording: a hot start that is cut is hotter than this, and soon over.
        lasting = running.size > 10 and 2 * np.count_nonzero(values > 400) > values.size
        if lasting and median(running) >= ITT_NEVER_C:
            return _doubt(
                reading,
                f"said to be in °C but runs at {median(running):.0f}, which suits °F",
                ("degF", "degC"),
            )
    highest = float(np.max(values)) if channel in ("ng", "np") else 0.0
    if highest > 300 and values.size >= 500:
        rank = values.size // 500 + 1
        highest = float(np.partition(values, -rank)[-rank])
    if channel in ("ng", "np"):
        if unit.name == "%" and highest > 300:
            return _doubt(reading, f"said to be in % but reaches {highest:g}", ("rpm", "%"))
        if unit.name == "rpm" and 8 <= highest <= 130:
            return _doubt(reading, f"said to be in rpm but reaches {highest:g}", ("%", "rpm"))
    return reading


def _state(reading: Reading, values: FloatArray, canonical: Unit) -> Reading:
    reading = replace(reading, unit=canonical, unit_source=reading.unit_source or "assumed")
    top = 2.0 if canonical.name == "0/1/2" else 1.0
    if values.size and (float(values.min()) < 0 or float(values.max()) > top):
        return _doubt(
            reading, f"but its values run from {values.min():g} to {values.max():g}, which are no states"
        )
    return reading


def _doubt(reading: Reading, why: str, options: tuple[str, ...] = ()) -> Reading:
    return replace(reading, confidence=min(reading.confidence, 0.6), doubt=why, options=options)
