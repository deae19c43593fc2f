"""The history as tables (pandas): the flights that are kept, and their starts with every number."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from debrief.history.storage.store import Store
from debrief.session.frames import column_name, table

if TYPE_CHECKING:
    import pandas as pd

_FLIGHT = ("file", "sha256", "aircraft", "engine_serial", "start_utc", "duration_s", "profile", "verdict",
           "sentence", "starts", "events", "engines", "untrended")  # fmt: skip
_START = ("engine_key", "start_utc", "file", "sha256", "engine", "start_number", "kind", "outcome", "power",
          "excluded")  # fmt: skip


def history_flights(db: str | None = None) -> pd.DataFrame:
    """Return a row for each kept flight, the dated ones first in order of time.

    Parameters
    ----------
    db : str, optional
        The history: a file or a URL; the user's own if not given.

    Raises
    ------
    UserError
        It cannot be read.
    """
    with Store.open(db) as store:
        rows = [
            {
                **{name: getattr(flight, name) for name in _FLIGHT if hasattr(flight, name)},
                "file": flight.file_name,
                "start_utc": flight.start_epoch_s,
                "engines": ", ".join(flight.engines),
            }
            for flight in store.flights()
        ]
    return _dated(table(rows, _FLIGHT))


def history_starts(db: str | None = None, engine: str | None = None) -> pd.DataFrame:
    """Return a row for each kept start, of one engine where it is named, with every number in a column of its own.

    Parameters
    ----------
    db : str, optional
        See `history_flights`.
    engine : str, optional
        The name under which the engine is trended.

    Raises
    ------
    UserError
        The history cannot be read.
    """
    with Store.open(db) as store:
        return starts_table(store, engine)


def starts_table(store: Store, engine: str | None = None) -> pd.DataFrame:
    """Return the same of a history that is open."""
    rows: list[dict[str, Any]] = []
    measured: dict[str, None] = {}
    for start in store.starts(engine):
        values = {column_name(name, kept.unit): kept.value for name, kept in start.values.items()}
        measured |= dict.fromkeys(values)
        rows.append(
            {
                **{name: getattr(start, name) for name in _START if hasattr(start, name)},
                "file": start.file_name,
                "start_number": start.number,
                "start_utc": start.at_epoch_s,
                **values,
            }
        )
    return _dated(table(rows, (*_START, *sorted(measured))))


def _dated(made: pd.DataFrame) -> pd.DataFrame:
    """Return the table with its instants as such; a clock without a zone counts as UTC, as in the history."""
    import pandas as pd

    made["start_utc"] = pd.to_datetime(made["start_utc"], unit="s", utc=True)
    return made
