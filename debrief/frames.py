"""Results as pandas DataFrames, for those who script.

Of an assessment: `starts`, `measures`, `events`, `limits`, `phases`, `cycles`, `steady` windows,
`load_steps`, `margins`, `twins`, `power_checks`, and its `channels` on an even grid of times. Of a
history: `history_flights` and `history_starts`. Units stand in the names of columns or in a column beside; unknown is
NaN or NA.

Examples
--------
>>> import debrief
>>> from debrief import frames
>>> recording = debrief.read("demo_flights/02_early_fuel_hot.csv")
>>> found = debrief.assess(recording, debrief.load_profile("tarn-tg7"))
>>> frames.starts(found)["peak_itt_c"].tolist()
[1179.0]
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from debrief.session.frames import (
    channels,
    cycles,
    events,
    limits,
    load_steps,
    margins,
    measures,
    phases,
    power_checks,
    starts,
    steady,
    twins,
)

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "channels",
    "cycles",
    "events",
    "history_flights",
    "history_starts",
    "limits",
    "load_steps",
    "margins",
    "measures",
    "phases",
    "power_checks",
    "starts",
    "steady",
    "twins",
]


def history_flights(db: str | None = None) -> pd.DataFrame:
    """Return the kept flights; see `debrief.history.trends.history_frames.history_flights`, which loads the database."""
    from debrief.history.trends.history_frames import history_flights as _flights

    return _flights(db)


def history_starts(db: str | None = None, engine: str | None = None) -> pd.DataFrame:
    """Return the kept starts; see `debrief.history.trends.history_frames.history_starts`, which loads the database."""
    from debrief.history.trends.history_frames import history_starts as _starts

    return _starts(db, engine)
