"""Recordings drawn from corner points, for tests of the analysis. No test module, only what they share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from debrief.profile.model import (
    AllowedRow,
    DutyRow,
    EngineProfile,
    Limit,
    StarterRules,
    StartRules,
)
from debrief.recording.model import Channel, Recording
from debrief.words.channels import CANONICAL, DISCRETE, base_name

Corners = Sequence[tuple[float, float]]

RULES = StartRules(
    min_fuel_ng_pct=15.0,
    advised_fuel_ng_pct=18.0,
    stable_ng_rate_pct_per_s=0.3,
    stable_for_s=2.0,
    stopped_ng_pct=5.0,
    idle_ng_pct=58.0,
    idle_tolerance_pct=1.0,
    light_off_within_s=10.0,
    light_off_rise_c=40.0,
    idle_within_s=45.0,
    hung_ng_rate_pct_per_s=0.3,
    hung_for_s=5.0,
    start_window_max_s=120.0,
    min_bus_volts_before=23.0,
    min_bus_volts=18.0,
    max_residual_itt_c=190.0,
    max_engage_ng_pct=8.0,
    after_cut_rise_c=150.0,
    purge_s=15.0,
    fuel_control="manual",
)
START_LIMIT = Limit(
    id="itt-start",
    event="hot_start",
    channel="itt",
    when="start",
    unit="degC",
    count="total",
    allowed=(AllowedRow(830, 20), AllowedRow(920, 6), AllowedRow(1030, 0)),
)
RUNNING_LIMIT = Limit(
    id="itt-running",
    event="overtemp",
    channel="itt",
    when="running",
    unit="degC",
    count="longest",
    allowed=(AllowedRow(780, 300, "caution"), AllowedRow(830, 5)),
)
STARTER = StarterRules(
    duty=(DutyRow(45, 90), DutyRow(45, 90), DutyRow(45, 2400)),
    external_duty=(DutyRow(30, 150),),
    reset_after_s=2400,
)
PROFILE = EngineProfile("Test profile", start=RULES, starter=STARTER, limits=(START_LIMIT, RUNNING_LIMIT))


def recording(
    traces: Mapping[str, Corners], end_s: float, rate_hz: float = 10.0, resolution: float | None = None
) -> Recording:
    """Return a recording sampled evenly from corner points; discretes hold their corner's value."""
    time_s = np.arange(0.0, end_s + 1e-9, 1.0 / rate_hz)
    channels = {}
    for name, corners in traces.items():
        t, v = (np.array(x, dtype=float) for x in zip(*corners, strict=True))
        if base_name(name) in DISCRETE:
            values = v[np.maximum(np.searchsorted(t, time_s + 1e-9, side="right") - 1, 0)]
        else:
            values = np.interp(time_s, t, v)
            if resolution:
                values = np.round(values / resolution) * resolution
        channels[name] = Channel(name, CANONICAL[base_name(name)], time_s, values, resolution=resolution)
    return Recording(channels, float(time_s[-1]))


def normal_start(peak_c: float = 700.0, fuel_s: float = 22.0) -> dict[str, Corners]:
    """Return the corners of a start that goes well: starter at 10 s, plateau at 20 %, idle about 47 s."""
    return {
        "ng": [(0, 0), (10, 0), (17, 20), (fuel_s + 1, 20), (48, 58.5), (80, 59)],
        "itt": [
            (0, 15),
            (fuel_s + 1, 15),
            (fuel_s + 4, 0.8 * peak_c),
            (fuel_s + 8, peak_c),
            (48, 560),
            (80, 540),
        ],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (40, 23), (50, 24), (50.5, 28), (80, 28)],
        "starter": [(0, 0), (10, 1), (46, 0)],
        "fuel_on": [(0, 0), (fuel_s, 1)],
        "external_power": [(0, 0)],
    }
