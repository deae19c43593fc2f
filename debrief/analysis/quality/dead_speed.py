"""A speed pick-up that reads nothing in the whole recording while the engine burns."""

from __future__ import annotations

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.words.sentence import Quantity, Sentence, sentence

DEAD_PCT = 5.0
"""No engine lights, or goes on burning, at less."""

ROSE_C = 200.0
"""Heat soak of a standing engine is less."""

BURNS_C = 300.0
LEAST_VALUES = 5
"""A flame shows more readings; an open probe shows one."""


def dead_speed(view: EngineView) -> Sentence | None:
    """Return why Ng cannot be believed at all, None where it can: it never turned while the engine burned.

    Notes
    -----
    Ng stays below 5 % in the whole recording while ITT rises by 200 °C and more, above 300 °C, where it shows at least five
    different readings, with fuel or the starter recorded on. The numbers are common practice, no source.
    """
    ng, itt = view.trace("ng"), view.trace("itt")
    if ng is None or itt is None or float(ng.values.max()) >= DEAD_PCT:
        return None
    v = itt.values
    rise = v - np.minimum.accumulate(v)
    top = int(np.argmax(rise))
    if rise[top] < ROSE_C or v[top] < BURNS_C:
        return None
    foot = int(np.argmin(v[: top + 1]))
    if np.unique(v[v > BURNS_C]).size < LEAST_VALUES:
        return None
    begin, end = float(itt.time_s[foot]), float(itt.time_s[top])
    signals = [
        (view.channel("fuel_on"), 0.5),
        (view.channel("fuel_flow"), 0.0),
        (view.channel("starter"), 0.5),
    ]
    if not any(c is not None and bool(np.any(c.values[c.time_s <= end] > least)) for c, least in signals):
        return None  # whether it ran at all is another question, of `unknown_running`
    near = ng.values[ng.between(begin, end)]
    if not near.size:
        return None
    return sentence(
        "in doubt, since Ng read {ng} while {name} rose to {itt}",
        name=view.names.itt,
        ng=Quantity(float(near.max()), "%"),
        itt=Quantity(float(v[top]), "degC"),
    )
