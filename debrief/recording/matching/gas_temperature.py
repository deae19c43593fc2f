"""Which columns may be the temperature of the turbine's gas, by what they show, and how far its probes are apart."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from debrief.recording.lexicon import NameMatch, wanted_word
from debrief.recording.matching.column_readings import Evidence, Reading, told_unit, with_values
from debrief.recording.matching.joined_probes import HOT, HOT_SAMPLES, join_probes
from debrief.recording.matching.rivals import quoted
from debrief.recording.model import FloatArray
from debrief.words.channels import CHANNELS, base_name
from debrief.words.numbers import value_text
from debrief.words.units import BY_NAME, QUANTITIES, Unit, kept_unit, scale

_TEMPERATURE = re.compile(
    r"(?:^|[\W_])(?:t\d*|tc\d*|te|tmp)(?:$|[\W_])|temp|gas|exhaust|abgas|pyro|thermo|probe|sonde",
    re.IGNORECASE,
)
"""What says that a column without a unit is a temperature."""
_LETTER = re.compile(r"[\s_.\-][A-Za-z]$")
_NUMBERED = re.compile(r"(?:\d{1,2}|(?<=[\W_])[A-Za-z])$")
_OTHER = {
    "temperature": _TEMPERATURE,
    "pressure": re.compile(r"(?:^|[\W_])(?:p|fp|prs)\d*[\W_]|press|druck|pression", re.IGNORECASE),
    "vibration": re.compile(r"(?:^|[\W_])(?:acc|vib)|vibr|bearing|lager|palier", re.IGNORECASE),
}
"""What says that a column measures this and not what a part of its name means."""
_MOVES = 100.0
"""A turbine that is lit moves its gas by so much at least, [°C]; no source."""


def says_other(name: str, channel: str) -> bool:
    """Whether a name that holds that of a channel says that something else is measured, as a bearing's temperature.

    Examples
    --------
    >>> says_other("T_N2_Front_Bearing", "np"), says_other("N_PLC_N2", "np"), says_other("T_PLC_EGT", "itt")
    (True, False, False)
    """
    return any(quantity not in QUANTITIES[channel] and said.search(name) for quantity, said in _OTHER.items())


def moves(item: Evidence) -> bool:
    """Whether a column shows more than one value."""
    values = item.numbers(None).believable
    return bool(values.size) and float(np.ptp(values)) > 0


def may_be_gas(item: Evidence) -> bool | None:
    """Whether a column shows a temperature that only the gas of a turbine has; None where nothing shows it.

    A set point never does, nor what is measured in another unit than one of temperature, nor what stands still.
    """
    unit = _told_unit(item)
    if wanted_word(item.name) or not moves(item) or (unit is not None and unit.quantity != "temperature"):
        return False
    row = CHANNELS["itt"]
    values = _in_kept_unit(item, "itt")
    values = values[(values > row.low) & (values < row.high)]
    if unit is None and not _TEMPERATURE.search(item.name):
        return None
    hot = int(np.count_nonzero(values > HOT))
    return (hot >= HOT_SAMPLES and float(np.ptp(values)) > _MOVES) or None


def numbered_alike(columns: Sequence[int], names: Sequence[str]) -> list[int]:
    """Return those of the columns whose names are alike but for a number or a letter at their end, as the first one's."""
    stems = [_NUMBERED.sub("", names[column]).casefold() for column in columns]
    return [
        column
        for column, stem in zip(columns, stems, strict=True)
        if stem and stem == stems[0] != names[column]
    ]


def _told_unit(item: Evidence) -> Unit | None:
    """Return the unit that the file tells; a letter behind a temperature's name is no ampere ("Temp A", "T_V")."""
    unit = told_unit(item)
    if unit is None or unit.quantity == "temperature" or item.units_cell.strip():
        return unit
    return None if _LETTER.search(item.name) and _TEMPERATURE.search(item.name) else unit


def sure_unit(key: str, item: Evidence) -> str:
    """Return the unit that an answer has to name, by the values; empty where the file tells it or nothing shows it."""
    if _told_unit(item) is not None:
        return ""
    match = NameMatch(base_name(key), None, 1.0, None)
    reading = with_values(Reading(match, None, "", 1.0), item.numbers(key), set(), "")
    return "" if reading.doubt or reading.unit is None else reading.unit.name


def apart_words(key: str, probes: Sequence[Evidence]) -> str:
    """Return in words how far several probes of a temperature are apart while hot; empty where they never are."""
    row = CHANNELS[base_name(key)]
    joined = join_probes([_in_kept_unit(item, key) for item in probes], "mean", row.low, row.high)
    hot = joined.values > HOT
    if len(joined.used) < 2 or np.count_nonzero(hot) < HOT_SAMPLES:
        return ""
    usual, most = float(np.median(joined.spread[hot])), float(np.max(joined.spread[hot]))
    left = quoted([probes[one.probe].name for one in joined.left_out])
    told = _told_unit(probes[0])
    unit, factor = ("degF", 1.8) if told is not None and told.name == "degF" else ("degC", 1.0)
    often, seldom = value_text(usual * factor, unit), value_text(most * factor, unit)
    apart = (
        f"{often} apart while hot"
        if often == seldom
        else f"usually {often} apart while hot, at most {seldom}"
    )
    return apart + (f", without {left}" if left else "")


def _in_kept_unit(item: Evidence, key: str) -> FloatArray:
    """Return a column's values, one a row, in the unit that its channel keeps, by the unit that the file tells."""
    values, unit = item.numbers(key).values, _told_unit(item)
    if unit is None or unit.quantity not in QUANTITIES[base_name(key)]:
        return values
    return scale(values, unit, kept_unit(unit, key) or BY_NAME[unit.name])
