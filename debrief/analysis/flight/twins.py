"""Two engines of one aircraft against each other."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from debrief.analysis.flight.steady_windows import window_of
from debrief.analysis.flight_model import SteadyWindow, TwinDifference
from debrief.analysis.signal.engine_view import EngineView

LEAST_S = 60.0


def twin_differences(engines: Sequence[tuple[EngineView, Sequence[SteadyWindow]]]) -> list[TwinDifference]:
    """Return the difference of each two engines where steady windows of both overlap for a minute and more.

    Both are referred to the same air; what neither theta nor the load tells apart stays.
    """
    out = []
    for (one, own), (other, theirs) in itertools.combinations(engines, 2):
        for a, b in itertools.product(own, theirs):
            begin, end = max(a.start_s, b.start_s), min(a.end_s, b.end_s)
            if end - begin < LEAST_S:
                continue
            first, second = (window_of(view, begin, end, (), ()) for view in (one, other))
            out.append(
                TwinDifference(
                    begin,
                    end,
                    (one.engine, other.engine),
                    _less(second.referred_itt, first.referred_itt),
                    _less(second.referred_ng, first.referred_ng),
                )
            )
    return sorted(out, key=lambda x: (x.start_s, x.engines))


def _less(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other
