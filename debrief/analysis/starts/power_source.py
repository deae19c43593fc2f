"""What turned the starter where no column tells it: the battery's current does."""

from __future__ import annotations

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.traces import Trace

FULL_BATTERY = 13.0 / 12.0
"""A full lead-acid battery stands at some 2.15 V a cell of 2 V nominal, rounded up; common practice, no source."""

REST_BEFORE_S = 5.0
STARTER_AMPS = 150.0
"""A starter takes at least so much where it begins to turn an engine; common practice, no source."""

LOAD_SHARE = 0.3
"""What the battery gave before is a smaller part of it."""

NEAR_ZERO_AMPS = 50.0
SMALL_SAG = 0.1
"""A battery that turns a starter sinks by more than this part of its resting voltage; common practice, no source."""


def by_current(view: EngineView, begin: float, last_off: float | None, end: float) -> str:
    """Return ``battery``, ``external`` or ``unknown``, by the battery's current in a run of the starter.

    Parameters
    ----------
    begin, last_off, end : float
        First sample with the starter on, the last without it before, and the end of the run, [s].

    Notes
    -----
    A current of a starter's size that begins with the run is the battery's, if it was not charged before and the bus
    did not stand above a full battery. A current that stays near zero, or charges, is external power's, if the bus
    does not sink as a battery's would. All else stays unknown: a shared load, an ammeter that does not see the starter.
    """
    amps, volts = view.trace("battery_amps"), view.trace("bus_volts")
    if amps is None or last_off is None:
        return "unknown"
    before = amps.values[amps.between(last_off - REST_BEFORE_S, last_off)]
    cranking = amps.values[amps.between(begin, end)]
    if before.size < 2 or cranking.size < 4:
        return "unknown"
    rest = float(np.median(before))
    # The direction in which the run changed it is that of giving.
    moved = cranking - rest
    strongest = float(moved[np.argmax(np.abs(moved))])
    sign = 1.0 if strongest >= 0 else -1.0
    given, gave = sign * cranking, sign * rest
    least = STARTER_AMPS
    above, sag = _of_volts(view, volts, begin, last_off, end)
    first = given[: max(given.size // 4, 4)]
    if float(np.sort(first)[-2]) >= least:
        charged = gave < -max(NEAR_ZERO_AMPS / 10.0, 3.0 * amps.doubt)
        if charged or above or gave > LOAD_SHARE * float(first.max()):
            return "unknown" if not above or float(np.median(given)) > NEAR_ZERO_AMPS else "external"
        # Without a bus to hold it against, the battery must be seen to have carried the load before.
        return "battery" if above is not None or gave > 3.0 * amps.doubt else "unknown"
    if len(view.recording.engines) > 1 or float(np.median(given)) > NEAR_ZERO_AMPS:
        return "unknown"
    if abs(strongest) > NEAR_ZERO_AMPS and not above:
        return "unknown"
    return "external" if above or (sag is not None and sag < SMALL_SAG) else "unknown"


def _of_volts(
    view: EngineView, volts: Trace | None, begin: float, last_off: float, end: float
) -> tuple[bool | None, float | None]:
    """Return whether the bus stood above a full battery before, and by what part of that it sank; None if untold."""
    if volts is None:
        return None, None
    before = volts.values[volts.between(last_off - REST_BEFORE_S, last_off)]
    during = volts.values[volts.between(begin, end)]
    if not before.size or not during.size:
        return None, None
    rest = float(np.median(before))
    nominal = view.profile.start.nominal_bus_volts
    sag = 1.0 - float(during.min()) / rest if rest > 0 else None
    return None if nominal is None else rest > FULL_BATTERY * nominal + volts.doubt, sag
