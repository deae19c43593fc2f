"""What cannot be judged with a profile as it stands: the one table of the keys that each rule cannot do without."""

from __future__ import annotations

from collections.abc import Collection
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
BURNING = "fire after shutdown"
PURGE = "motoring between fuel cut-off and fuel again"
ABORT = "motoring after the abort"
DUTY = "starter duty"
BETA = "beta in flight"
SETTLING = "settling before the fuel cut-off"
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
    (SETTLING, ("shutdown.settle_s",)),
    (HOT_START, ("limits.start.itt",)),
    (RUNNING_ITT, ("limits.running.itt",)),
)
"""What is judged, and all the keys that it needs; ``limits.WHEN.CHANNEL`` is any limit of that kind."""

_OF_FUEL_BY_HAND = (NG_AT_FUEL, STABILISED)


@dataclass(frozen=True)
class Gap:
    """Something that is not judged, and why: the keys that the profile lacks, in words."""

    what: str
    why: str


def gaps(profile: EngineProfile) -> tuple[Gap, ...]:
    """Return all that cannot be judged with this profile, in the order of a start, then of a flight."""
    return tuple(Gap(what, why) for what, why in all_judged(profile) if why is not None)


def all_judged(profile: EngineProfile) -> tuple[tuple[str, str | None], ...]:
    """Return everything that is judged with a complete profile, each with why it is not with this one, or None."""
    return tuple((what, lacking(profile, what)) for what, _ in _NEEDS)


def needed_for(keys: Collection[str]) -> tuple[str, ...]:
    """Return what cannot be judged where none of these keys is given."""
    return tuple(what for what, needed in _NEEDS if any(key in keys for key in needed))


def keys_of(what: str) -> tuple[str, ...]:
    """Return the keys that something judged needs."""
    return next(keys for name, keys in _NEEDS if name == what)


def absent_keys(profile: EngineProfile, what: str) -> tuple[str, ...]:
    """Return the keys that the profile lacks to judge something; none where it has all."""
    if what in _OF_FUEL_BY_HAND and profile.start.fuel_control == "automatic":
        return ()  # it is not the crew's doing, and that is no gap
    return tuple(key for key in keys_of(what) if not _given(profile, key))


def words_of(key: str) -> str:
    """Return a key that something judged needs in words."""
    table, _, name = key.partition(".")
    if table == "limits":
        return f"limit of ITT {'in starts' if name == 'start.itt' else 'running'}"
    return key_title(name)[0]


def lacking(profile: EngineProfile, what: str) -> str | None:
    """Return why the profile leaves something not judged, None where it has all that it needs."""
    absent = absent_keys(profile, what)
    if not absent:
        return None
    return f"the profile gives no {' and no '.join(words_of(key) for key in absent)}"


def _given(profile: EngineProfile, key: str) -> bool:
    table, _, name = key.partition(".")
    if table == "limits":
        when, _, channel = name.partition(".")
        return any(one.channel == channel and one.when in (when, "any") for one in profile.limits)
    if key == "starter.duty":
        return bool(profile.starter.duty or profile.starter.external_duty)
    return getattr(getattr(profile, table), name) is not None
