"""Which numbers of a start and of a flight the history keeps and compares, and whose they are."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from debrief.analysis.model import Start
from debrief.recording.model import Identity

_FIELDS: Mapping[str, tuple[str, str]] = {
    "peak_itt": ("peak_itt_c", "degC"),
    "ng_at_fuel": ("ng_at_fuel_pct", "%"),
    "max_motoring_ng": ("max_motoring_ng_pct", "%"),
    "min_bus_volts": ("min_bus_volts", "V"),
    "rest_bus_volts": ("rest_bus_volts", "V"),
    "residual_itt_fuel_on": ("residual_itt_c", "degC"),
}
"""Measure names as the analysis gives them, and the field of `Start` with the same number."""

ADJUSTED_PEAK = "peak_itt_adjusted"
"""The peak compared with what the conditions of the start lead one to expect; not kept, only compared."""

_DURATIONS = (
    ("fuel_to_light_off", "fuel_on_s", "light_off_s"),
    ("light_off_to_idle", "light_off_s", "idle_s"),
)

USUAL_MEASURES = (
    "peak_itt",
    "light_off_to_idle",
    "fuel_to_light_off",
    "min_bus_volts",
    "source_resistance",
    "max_motoring_ng",
    "ng_at_fuel",
)
"""What is compared with the normal range unless something else is asked for."""


FLIGHT_MEASURES = (
    "highest_itt_running",
    "highest_torque_running",
    "highest_ng_running",
    "highest_np_running",
    "highest_oil_temp_running",
    "run_down",
    "itt_margin_smallest",
)
"""Numbers of a whole flight that are trended first; others that the history has follow them."""

UNTRENDED = frozenset(
    {
        "running_time",
        "airborne_time",
        "starts_completed",
        "flights",
        "touch_and_goes",
        "go_arounds",
        "equivalent_cycles",
        "taxi_time",
        "taxi_highest_speed",
        "taxi_beta_time",
        "taxi_reverse_time",
        "idle_before_cut",
        "cut_to_residual_itt",
        "itt_margin_smallest_at",
        "itt_margin_smallest_density_altitude",
        "itt_margin_smallest_isa_deviation",
    }
)
"""How long a flight was, and what was flown, says nothing of its engine."""

ANY_RUN = frozenset(
    {"run_down", "soak_peak_itt", "cooling_time_constant", "propeller_lag", "propeller_lag_median"}
)
"""Numbers that mean the same on the ground; the others are trended over flights that left it."""


@dataclass(frozen=True)
class Kept:
    """One finite number with its unit, as it is kept."""

    value: float
    unit: str
    inferred: bool = False


def start_values(start: Start) -> dict[str, Kept]:
    """Return every number of a start that is known, by name. What is unknown is absent, never 0.

    Notes
    -----
    `Start.measures` comes first; the named fields add what it does not hold. What is only "at least" or "at most", as the
    peak of a start that the recording cuts, is no value of it.
    """
    measured = (
        (name, _told_whole(one.value, one.low, one.high), one.unit, one.inferred)
        for name, one in start.measures.items()
    )
    return _known(measured, partial(getattr, start), start.inferred)


def told_values(start: Mapping[str, Any]) -> dict[str, Kept]:
    """Return the same of a start as a kept assessment document tells it."""
    return _known(_told(start["measures"]), start.__getitem__, start.get("inferred", ()))


def told_flight_values(document: Mapping[str, Any]) -> dict[tuple[int, str], Kept]:
    """Return the known numbers of a document's flight by (engine, name); ``name.2`` is the second engine's."""
    out = {}
    for name, kept in _known(_told(document["flight"]["measures"])).items():
        base, _, engine = name.partition(".")
        out[(int(engine) if engine.isdigit() else 1, base)] = kept
    return out


def _told(measures: Mapping[str, Any]) -> Iterator[tuple[str, float | None, str, bool]]:
    for name, one in measures.items():
        value = _told_whole(one["value"], one.get("low"), one.get("high"))
        yield name, value, one["unit"], one.get("inferred", False)


def _told_whole(value: float | None, low: float | None, high: float | None) -> float | None:
    """Return the value; not a number where only one of its bounds is known."""
    return math.nan if value is not None and (low is None) != (high is None) else value


def _known(
    measured: Iterable[tuple[str, float | None, str, bool]],
    field: Callable[[str], float | None] = lambda _: None,
    inferred: Collection[str] = (),
) -> dict[str, Kept]:
    out, open_ones = {}, set()
    for name, value, unit, is_inferred in measured:
        if value is not None and math.isfinite(value):
            out[name] = Kept(float(value), unit, is_inferred)
        elif value is not None:
            open_ones.add(name)
    for name, (attribute, unit) in _FIELDS.items():
        value = field(attribute)
        if value is not None and math.isfinite(value) and name not in open_ones:
            out.setdefault(name, Kept(float(value), unit, attribute in inferred))
    for name, begin, end in _DURATIONS:
        first, last = field(begin), field(end)
        if first is not None and last is not None and 0 <= last - first < math.inf:
            out.setdefault(name, Kept(float(last - first), "s", begin in inferred or end in inferred))
    return out


def start_power(start: Start) -> str:
    """Return ``battery``, ``external``, ``mixed`` or ``unknown``: what turned the starter."""
    return powers_word({run.power for run in start.starter_runs})


def powers_word(powers: set[str]) -> str:
    """Return the word for what turned the starter in all its runs."""
    if not powers:
        return "unknown"
    return next(iter(powers)) if len(powers) == 1 else "mixed"


def engine_key(identity: Identity, engine: int, engines: int) -> str | None:
    """Return the name under which this engine's starts are trended; None for an unnamed one.

    Parameters
    ----------
    identity : Identity
        Of the recording.
    engine, engines : int
        Its number, and how many engines the recording has.

    Notes
    -----
    An engine may change aircraft, so its serial number is its name. Where a recording of several engines tells
    only one serial number it does not say whose it is: these, and an aircraft without a serial number, are named
    by aircraft and position. Both are apart, since nothing says that they are the same engine.
    """
    serial = identity.serial_of(engine)
    if serial and (engines == 1 or identity.engine_serials):
        return " ".join(serial.split())
    if identity.aircraft:
        return f"{' '.join(identity.aircraft.split())} engine {engine}"
    return None


def start_epoch(start: datetime | None) -> tuple[float | None, bool | None]:
    """Return (seconds since 1970, whether the instant has a zone).

    Notes
    -----
    Without a zone the clock counts as UTC, for order only; what is told and printed is the text as given.
    """
    if start is None:
        return None, None
    if start.tzinfo is None:
        return (start - datetime(1970, 1, 1)).total_seconds(), False
    return start.timestamp(), True
