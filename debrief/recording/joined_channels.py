"""The channels that a person has made of several probes, with what was decided, and what is doubtful of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from debrief.recording.csv.table import Numbers
from debrief.recording.lexicon import own_sign
from debrief.recording.matching.joined_probes import join_probes
from debrief.recording.matching.proposals import Proposal
from debrief.recording.matching.rivals import meant, quoted
from debrief.recording.model import Channel, FloatArray, QualityFlag
from debrief.recording.quality.data_quality import RESOLUTION_SAMPLES, resolution
from debrief.recording.quality.probes import joined_flags
from debrief.words.channels import CHANNELS, ChannelNames, base_name, channel_in_text
from debrief.words.engines import engine_of
from debrief.words.units import kept_unit, scale


@dataclass
class JoinedChannels:
    """The channels by name, how far the probes of each are apart, and what is said of them."""

    channels: dict[str, Channel] = field(default_factory=dict)
    spreads: dict[str, Channel] = field(default_factory=dict)
    """In kelvin, since a difference in °C has another zero."""
    decisions: list[str] = field(default_factory=list)
    repairs: list[str] = field(default_factory=list)
    flags: list[QualityFlag] = field(default_factory=list)


def join_channels(
    proposals: Sequence[Proposal], numbers: Callable[[int, str], Numbers], time_s: FloatArray
) -> JoinedChannels:
    """Return the channels that are made of several columns.

    Parameters
    ----------
    proposals : sequence of Proposal
        Those with `joined` are the probes; they stay columns of their own besides.
    numbers : callable
        Returns a column, from 0, as the channel's numbers, one a row.
    time_s : (rows,) float array
    """
    out = JoinedChannels()
    groups: dict[str, list[Proposal]] = {}
    for proposal in proposals:
        if proposal.joined and proposal.channel is not None:
            groups.setdefault(proposal.channel, []).append(proposal)
    for name, group in groups.items():
        _join(name, group, numbers, time_s, out)
    return out


def _join(
    name: str,
    group: Sequence[Proposal],
    numbers: Callable[[int, str], Numbers],
    time_s: FloatArray,
    out: JoinedChannels,
) -> None:
    row, way = CHANNELS[base_name(name)], group[0].joined
    probes = []
    for one in group:
        to = kept_unit(one.unit, name) if one.unit is not None else None
        values = numbers(one.column, name).values
        probes.append(values if one.unit is None or to is None else scale(values, one.unit, to))
    joined = join_probes(probes, way, row.low, row.high)
    names = [one.name or f"Column {one.column + 1}" for one in group]
    sign = own_sign(name, names)
    called = ChannelNames({(base_name(name), engine_of(name)): sign})
    used = quoted([names[number] for number in joined.used])
    read = np.isfinite(joined.values)
    if not read.any():
        out.repairs.append(
            f"{called.in_text(name)} was to be the {way} of {quoted(names)}, which never read together: it is not recorded"
        )
        return
    said = f"the {way} of {used} was taken for {meant(name, names[0]) if sign else channel_in_text(name)}, in each row in which all of them read"
    if joined.lost:
        said += f"; {joined.lost} rows in which one of them does not read were left out"
    out.decisions.append(said)
    units = {one.unit.name for one in group if one.unit is not None}
    made = Channel(
        name=name,
        unit=row.unit,
        time_s=time_s[read],
        values=joined.values[read],
        column=f"{way} of {used}",
        column_unit=units.pop() if len(units) == 1 else "",
        map_source=group[0].source,
        resolution=resolution(joined.values[read], RESOLUTION_SAMPLES),
        sign=sign,
    )
    spread = f"{called.in_text(name, begins=True)}, spread of the probes"
    out.channels[name] = made
    out.spreads[spread] = Channel(
        spread, "K", made.time_s, joined.spread[read], f"highest less lowest of {used}", "K", "none"
    )
    out.flags += joined_flags(made, names, joined)
