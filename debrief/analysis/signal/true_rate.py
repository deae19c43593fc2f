"""Rows that come faster than the readings in them: each reading is taken once, so that no bound is narrower than it was looked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.noise import held_rows
from debrief.recording.model import Channel, FloatArray, QualityFlag, Recording
from debrief.words.channels import ChannelNames, base_name, named
from debrief.words.sentence import sentence

IN_PHASE = 0.95
"""So many of the changes come in the same row of a reading: a lost row may shift them."""

LEAST_ROWS = 64


def at_true_rate(recording: Recording) -> tuple[Recording, tuple[QualityFlag, ...]]:
    """Return the recording with each reading once, and a flag where readings stand in several rows.

    Notes
    -----
    A channel repeats where all its changes come every so many rows (or a multiple: two readings may be equal), in the
    same phase. A switch changes too seldom to show it: it is taken with the channels on its rows where all of these
    that move repeat alike. The recording's last row stays: until then it was looked.
    """
    together: dict[int, list[Channel]] = {}
    for channel in recording.channels.values():
        together.setdefault(id(channel.time_s), []).append(channel)
    kept: dict[str, Channel] = dict(recording.channels)
    flags: list[QualityFlag] = []
    for channels in together.values():
        rows = channels[0].time_s.size
        if rows < LEAST_ROWS:
            continue
        found = {c.name: _held(c) for c in channels if not c.is_discrete}
        moving = {held for held in found.values() if held is not None}
        common = moving.pop() if len(moving) == 1 else (1, 0)
        common = common if _in_phase(channels, *common) else (1, 0)
        times: dict[tuple[int, int], tuple[NDArray[np.intp], FloatArray]] = {}
        for channel in channels:
            held, phase = common if common[0] > 1 else found.get(channel.name) or (1, 0)
            if held == 1:
                continue
            if (held, phase) not in times:
                index = np.unique(np.concatenate(([0], np.arange(phase, rows, held), [rows - 1])))
                times[held, phase] = index, channel.time_s[index]
            index, time_s = times[held, phase]
            kept[channel.name] = replace(channel, time_s=time_s, values=channel.values[index])
        flags += _flags(channels, common[0], found, recording.names)
    return (replace(recording, channels=kept), tuple(flags)) if flags else (recording, ())


def _held(channel: Channel) -> tuple[int, int] | None:
    """Return how many rows each reading of a channel stands in and in which the first begins; None where it hardly moves."""
    held = held_rows(channel.values)
    if held is None or held == 1:
        return None if held is None else (1, 0)
    changes = np.flatnonzero(np.diff(channel.values)) + 1
    phase = int(np.bincount(changes % held).argmax())
    return (held, phase) if float(np.mean(changes % held == phase)) >= IN_PHASE else (1, 0)


def _in_phase(channels: Sequence[Channel], held: int, phase: int) -> bool:
    """Return whether also the switches and what seldom moves change only where a reading begins."""
    if held == 1:
        return False
    changes = np.concatenate([np.flatnonzero(np.diff(c.values)) + 1 for c in channels])
    return float(np.mean(changes % held == phase)) >= IN_PHASE


def _flags(
    channels: Sequence[Channel], common: int, found: dict[str, tuple[int, int] | None], called: ChannelNames
) -> list[QualityFlag]:
    """Return one flag for the rows of all these channels, else one for each that the engine is judged by."""
    time_s = channels[0].time_s
    begin, end = float(time_s[0]), float(time_s[-1])
    if common > 1:
        said = sentence(
            "Each reading stands in {rows} rows: it was looked so much less often.", rows=str(common)
        )
        return [QualityFlag("repeated_rows", channels[0].name, begin, end, said)]
    judged = set(named("never_drops")) | set(named("never_ends")) | set(named("always_moves"))
    out = []
    for name, held in found.items():
        if held is not None and held[0] > 1 and base_name(name) in judged:
            said = sentence(
                "Each reading of {what} stands in {rows} rows: it was looked so much less often.",
                what=called.symbol(name), rows=str(held[0]),
            )  # fmt: skip
            out.append(QualityFlag("repeated_rows", name, begin, end, said))
    return out
