"""The temperature of a cold engine against the air: an indication that is off is off when it is hot, too."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.analysis.model import StarterRun
from debrief.analysis.quality.doubt import Doubt
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.starts.attempts import Found
from debrief.recording.quality.flags import ZERO
from debrief.words.sentence import Quantity, sentence

COLDEST_C = -65.0
"""No air near the ground that an engine is started in is colder."""

OFF_C = 15.0
BELOW_AIR_C = 30.0
"""An engine is never so much colder than the air, however warm the sun makes the probe of the air."""

RESTED_S = 8.0 * 3600.0
LOOK_S = 10.0
LEAST_SAMPLES = 3
TURNING_PCT = 5.0


def cold_temperature(view: EngineView, found: Found, earlier: Sequence[StarterRun]) -> list[Doubt]:
    """Return the doubt of an ITT that before the first start lies off the air, or below any.

    Notes
    -----
    The median of the last 10 s before the first start, of an engine that stands and does not burn. After a rest of 8 h or
    longer, which only the user or earlier flights tell, it lies within 15 °C of the air; without that knowledge it is
    at least not 30 °C colder than the air, and never below -65 °C. Low, it reads low when hot as well, and limits may be
    missed in the whole recording; high, it is said. A reading of exactly zero may be the lower end of its range.
    """
    itt, oat = view.trace("itt"), view.trace("oat")
    if itt is None or not found.attempts or found.began_running:
        return []
    begin = min([found.attempts[0].begin_s, *(f.on_s for f in found.fuels[:1])])
    part = itt.between(begin - LOOK_S, np.nextafter(begin, -np.inf))
    ng = view.trace("ng")
    if part.stop - part.start < LEAST_SAMPLES:
        return []
    if ng is not None and bool(np.any(ng.values[ng.between(0.0, begin)] > TURNING_PCT)):
        return []
    values = itt.values[part]
    cold = float(np.median(values))
    channel = view.channel("itt")
    zero = 0.0 if channel is None else ZERO.get(channel.column_unit, 0.0)
    if bool(np.all(np.abs(values - zero) < 1e-6)):
        return []
    air = None
    if oat is not None:
        near = oat.values[oat.between(begin - LOOK_S, begin + LOOK_S)]
        air = float(np.median(near)) if near.size else None
    rest = None
    if earlier:
        last = max(run.start_s if run.end_s is None else run.end_s for run in earlier)
        rest = begin - last
    rested = rest is not None and rest >= RESTED_S
    low = cold < COLDEST_C or (air is not None and cold < air - (OFF_C if rested else BELOW_AIR_C))
    high = air is not None and rested and cold > air + OFF_C
    if not low and not high:
        return []
    said = "{itt} read {cold} before the start, colder than any air"
    if air is not None:
        said = "{itt} read {cold} before the start with the air at {air}"
        if rested and rest is not None:
            said += f", after a rest of {rest / 3600.0:.0f} h"
    why = sentence(
        said,
        itt=view.names.in_text(view.name_of("itt")),
        cold=Quantity(cold, "degC"),
        **({} if air is None else {"air": Quantity(air, "degC")}),
    )
    return [Doubt("itt", "cold_reading", 0.0, view.end_s, why, hides=low, spoils=False)]
