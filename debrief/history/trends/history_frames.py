"""The history as tables (pandas): the flights that are kept, and their starts with every number."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
    return starts_and_numbers(store, engine)[0]


def starts_and_numbers(
    store: Store, engine: str | None = None
) -> tuple[pd.DataFrame, dict[tuple[str, str], str]]:
    """Return the same with the column of each number by its name and unit in the history."""
    import pandas as pd

    starts = store.starts(engine)
    rows = [
        {
            **{name: getattr(start, name) for name in _START if hasattr(start, name)},
            "file": start.file_name,
            "start_number": start.number,
            "start_utc": start.at_epoch_s,
        }
        for start in starts
    ]
    made = _dated(table(rows, _START))
    kinds = {(name, kept.unit) for start in starts for name, kept in start.values.items()}
    columns: dict[tuple[str, str], str] = {}
    taken = set(_START)
    for name, unit in sorted(kinds):
        columns[name, unit] = _free(column_name(name, unit), taken)
        taken.add(columns[name, unit])
    numbers = {
        column: [
            kept.value if (kept := start.values.get(name)) and kept.unit == unit else None for start in starts
        ]
        for (name, unit), column in columns.items()
    }
    ordered = pd.DataFrame(
        {name: pd.Series(numbers[name], dtype="float64") for name in sorted(numbers)}, made.index
    )
    return pd.concat([made, ordered], axis=1), columns


def _free(name: str, taken: set[str]) -> str:
    """Return a name of a column that none has: what a history holds may be called anything."""
    return name if name not in taken else _free(f"{name}_", taken)


def _dated(made: pd.DataFrame) -> pd.DataFrame:
    """Return the table with its instants as such; a clock without a zone counts as UTC, as in the history."""
    import pandas as pd

    made["start_utc"] = pd.to_datetime(made["start_utc"], unit="s", utc=True)
    return made
