"""What cannot be judged with a profile as it stands: the one table of the keys that each rule cannot do without."""

from __future__ import annotations

from dataclasses import dataclass

from debrief.profile.model import EngineProfile
from debrief.words.profile_keys import key_title

OUTCOME = "outcome of the start"
IDLE_AND_HANG = "idle and hung start"
HUNG = "hung start"
TOO_SLOW = "idle in time"
START_END = "where start limits end and running limits begin"
SHOWN_BY_NG = "starts that only Ng shows"
LIGHT_OFF = "light-off"
NG_AT_FUEL = "Ng at fuel"
STABILISED = "whether Ng had stabilised"
RESTING_VOLTS = "resting voltage"
CRANKING_VOLTS = "cranking voltage"
RESIDUAL = "residual heat"
ENGAGING = "Ng at starter on"
BURNING = "burning after the cut"
PURGE = "motoring between fuel cut and fuel again"
ABORT = "motoring after the abort"
DUTY = "starter duty"
BETA = "beta in flight"
HOT_START = "hot start"
RUNNING_ITT = "overtemperature while running"

_NEEDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (OUTCOME, ("start.idle_ng_pct",)),
    (IDLE_AND_HANG, ("start.idle_ng_pct",)),
    (START_END, ("start.idle_ng_pct",)),
    (HUNG, ("start.hung_ng_rate_pct_per_s", "start.hung_for_s")),
    (TOO_SLOW, ("start.idle_within_s",)),
    (SHOWN_BY_NG, ("start.stopped_ng_pct",)),
    (LIGHT_OFF, ("start.light_off_within_s", "start.light_off_rise_c")),
    (NG_AT_FUEL, ("start.min_fuel_ng_pct",)),
    (STABILISED, ("start.stable_ng_rate_pct_per_s", "start.stable_for_s")),
    (RESTING_VOLTS, ("start.min_bus_volts_before",)),
    (CRANKING_VOLTS, ("start.min_bus_volts",)),
    (RESIDUAL, ("start.max_residual_itt_c",)),
    (ENGAGING, ("start.max_engage_ng_pct",)),
    (BURNING, ("start.after_cut_rise_c",)),
    (PURGE, ("start.purge_s",)),
    (ABORT, ("abort.motor_for_s", "start.idle_ng_pct")),
    (DUTY, ("starter.duty",)),
    (BETA, ("flight.flight_gate_power_lever_pct",)),
)
"""What is judged, and all the keys that it needs."""

_OF_FUEL_BY_HAND = (NG_AT_FUEL, STABILISED)


@dataclass(frozen=True)
class Gap:
    """Something that is not judged, and why: the keys that the profile lacks, in words."""

    what: str
    why: str


def gaps(profile: EngineProfile) -> tuple[Gap, ...]:
    """Return all that cannot be judged with this profile, in the order of a start, then of a flight."""
    out = [Gap(what, why) for what, _ in _NEEDS if (why := lacking(profile, what)) is not None]
    for what, when in ((HOT_START, "start"), (RUNNING_ITT, "running")):
        if not any(one.channel == "itt" and one.when in (when, "any") for one in profile.limits):
            out.append(
                Gap(what, f"the profile gives no limit of ITT {'in starts' if when == 'start' else when}")
            )
    return tuple(out)


def lacking(profile: EngineProfile, what: str) -> str | None:
    """Return why the profile leaves something not judged, None where it has all that it needs."""
    if what in _OF_FUEL_BY_HAND and profile.start.fuel_control == "automatic":
        return None  # it is not the crew's doing, and that is no gap
    needed = next(keys for name, keys in _NEEDS if name == what)
    absent = [key for key in needed if not _given(profile, key)]
    if not absent:
        return None
    names = [key.split(".")[1] for key in absent]
    named = " and no ".join(f"{key_title(name)[0]} ({name})" for name in names)
    return f"the profile gives no {named}"


def _given(profile: EngineProfile, key: str) -> bool:
    table, name = key.split(".")
    if key == "starter.duty":
        return bool(profile.starter.duty or profile.starter.external_duty)
    return getattr(getattr(profile, table), name) is not None
