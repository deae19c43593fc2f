"""Which way round a fuel signal is that is called by its cut-off."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from debrief.recording.model import Channel, FloatArray
from debrief.words.channels import base_name
from debrief.words.visible import visible

_CUTS = re.compile(
    r"cut[\W_]*off|shut[\W_]*off|fuel[\W_]*cut|fuel[\W_]*stop|(?:^|[\W_])ico(?:$|[\W_])", re.IGNORECASE
)
RUNS_ABOVE = {"ng": {"%": 40.0, "rpm": 8000.0}, "itt": {"degC": 350.0}, "fuel_flow": {"kg/h": 15.0}}
"""Beyond these an engine burns fuel. Common practice, no source."""


def with_fuel_sense(
    channels: Mapping[str, Channel],
) -> tuple[dict[str, Channel], list[str], list[str]]:
    """Return the channels with each fuel signal 1 where fuel comes, what was decided, and what must be asked.

    A signal that is called by its cut-off ("Fuel Cutoff Lever") may be 1 either way. It is turned round only where the
    name says so and the values agree: it is 0 while the engine runs. Where the engine never runs nothing shows it, and
    it is left out.
    """
    out, decisions, questions = dict(channels), [], []
    for name, channel in channels.items():
        if base_name(name) != "fuel_on" or not _CUTS.search(channel.column):
            continue
        number = name.partition(".")[2]
        running = _while_running(channel, channels, f".{number}" if number else "")
        column = visible(channel.column)
        if running is None:
            del out[name]
            questions.append(
                f'"{column}" may be 1 with fuel or without, and the engine does not run that would show it; it was not used'
            )
        elif running < 0.5:
            out[name] = replace(channel, values=1.0 - channel.values)
            decisions.append(f'"{column}" is 0 while the engine runs: it was turned round, 1 is with fuel')
    return out, decisions, questions


def _while_running(fuel: Channel, channels: Mapping[str, Channel], suffix: str) -> float | None:
    """Return the usual value of a switch while its engine runs; None where it does not."""
    for base, above in RUNS_ABOVE.items():
        channel = channels.get(base + suffix)
        if channel is None or channel.unit not in above:
            continue
        runs: FloatArray = channel.time_s[channel.values > above[channel.unit]]
        runs = runs[runs >= fuel.time_s[0]]
        if runs.size >= 3:
            held = fuel.values[np.searchsorted(fuel.time_s, runs, side="right") - 1]
            return float(np.median(held))
    return None
