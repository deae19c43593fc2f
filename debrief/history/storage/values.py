"""Whether each value of the history can be right, by what its column may hold (`schema`).

Asked before an export is merged, when a history is checked, and before its values are listed, averaged or drawn: a
database or an export may hold what this program never wrote.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from debrief.history.storage import schema as tables
from debrief.history.storage.rules import (
    ENGINE,
    LONGEST_SHOWN,
    SECONDS,
    START,
    Rule,
    is_storable,
    parsed_or_none,
)
from debrief.words.visible import visible


def _are_others(value: object) -> bool:
    """Whether a text is what others said of an exclusion at the same time."""
    if type(value) is not str or len(value) > 1 << 24:
        return False
    rows = parsed_or_none(value)
    names = {column.name for column in tables.exclusions.columns} - {
        "sha256",
        "engine",
        "start_number",
        "others",
    }
    return isinstance(rows, list) and all(
        isinstance(row, dict) and set(row) == names and row_problem(tables.exclusions.name, row) is None
        for row in rows
    )


_OTHERS = Rule(_are_others, "a list of what others said at the same time")
_CHECKS: Mapping[str, list[tuple[str, Callable[[Any], bool], bool, Rule]]] = {
    name: [
        (column.name, rule.fits, bool(column.nullable), rule)
        for column in table.columns
        for rule in [_OTHERS if column is tables.exclusions.c.others else column.info["rule"]]
    ]
    for name, table in tables.metadata.tables.items()
}


def row_problem(table: str, row: Mapping[Any, Any]) -> str | None:
    """Return what cannot be right in a row of the history; None where nothing is.

    Parameters
    ----------
    table : str
        Its table, as `debrief.history.storage.schema` names it.
    row : mapping
        Values by column. Columns that are not there are not asked for.

    Returns
    -------
    str or None
        As ``at_epoch_s is 1e+18: it must be seconds since 1970 that lie between the years 1900 and 2200``.
    """
    return next((words for _, words in _odd(table, row)), None)


def odd_values(table: str, row: Mapping[Any, Any]) -> dict[str, str]:
    """Return everything in a row that cannot be right, by column; see `row_problem`."""
    return dict(_odd(table, row))


def _odd(table: str, row: Mapping[Any, Any]) -> Iterator[tuple[str, str]]:
    for name, fits, nullable, rule in _CHECKS[table]:
        if name not in row:
            continue
        value = row[name]
        if value is None:
            if not nullable:
                yield name, f"{name} is missing"
        elif not fits(value):
            storable = type(value) is not str or is_storable(value)
            words = rule.words if storable else "a text without NUL and without halves of characters"
            yield name, f"{name} is {shown(value)}: it must be {words}"


def shown(value: object) -> str:
    """Return a value that may be anything, short and safe to be read."""
    if isinstance(value, int) and not isinstance(value, bool) and value.bit_length() > 128:
        return "a number of very many digits"
    if isinstance(value, str):
        text = value if len(value) <= LONGEST_SHOWN else f"{value[:LONGEST_SHOWN]}…"
        return f'"{visible(text)}"'
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "an object"
    return visible(repr(value)[:LONGEST_SHOWN])


def row_name(table: str, row: Mapping[Any, Any]) -> str:
    """Return which row of which table it is, by its key, for a person who looks for it."""
    keys = tables.metadata.tables[table].primary_key.columns
    parts = [
        str(row.get(key.name))[:12] if key.name == "sha256" else shown(row.get(key.name)).strip('"')
        for key in keys
    ]
    return f"{table} {visible(' '.join(parts))}"


def fitted(table: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with its texts as a database can hold them: no NUL, no half surrogates, none endless.

    Notes
    -----
    A path whose bytes are not UTF-8, or a preamble with a NUL or without an end, must not lose the flight.
    """
    out = dict(row)
    for name, _, _, rule in _CHECKS[table]:
        value = out.get(name)
        if isinstance(value, str) and rule.longest is not None:
            text = storable(value)
            out[name] = text if len(text) <= rule.longest else text[: rule.longest - 1] + "…"
    return out


def storable(text: str) -> str:
    """Return the text without what a database cannot hold: NUL, and halves of surrogate pairs, written out."""
    return text.replace("\x00", "\\x00").encode("utf-8", "backslashreplace").decode("utf-8")


def document_problem(
    text: object, sha256: str, starts: int | None = None, events: int | None = None
) -> str | None:
    """Return what is wrong with the kept assessment document of a recording; None where nothing is.

    Parameters
    ----------
    text : object
        As it is kept.
    sha256 : str
        Of the recording that it must be of.
    starts, events : int, optional
        How many rows of them are kept; not compared when not given.
    """
    document = parsed_or_none(text) if isinstance(text, str) else None
    if not isinstance(document, dict):
        return "its document is damaged"
    recording, found, happened = (document.get(name) for name in ("recording", "starts", "events"))
    if not isinstance(recording, dict) or recording.get("sha256") != sha256:
        return "its document is of another recording"
    if not isinstance(found, list) or not isinstance(happened, list) or not all(map(_is_start, found)):
        return "its document is damaged"
    if starts is not None and len(found) != starts:
        return "its document has another number of starts than are kept"
    if events is not None and len(happened) != events:
        return "its document has another number of findings than are kept"
    return None


def _is_start(start: object) -> bool:
    """Whether a document's start has what is read from it again: its starter runs."""
    if not isinstance(start, dict) or not isinstance(runs := start.get("starter_runs"), list):
        return False
    if not (ENGINE.fits(start.get("engine")) and START.fits(start.get("number"))):
        return False
    return all(isinstance(run, dict) and isinstance(run.get("power"), str) and _is_run(run) for run in runs)


def _is_run(run: Mapping[str, Any]) -> bool:
    names = ("start_s", "end_s", "duration_s", "duration_low_s", "duration_high_s")
    return all(name in run and (run[name] is None or SECONDS.fits(run[name])) for name in names)


def sound_rows(
    table: str, rows: Sequence[Mapping[Any, Any]], left_out: set[str] | None = None
) -> list[Mapping[Any, Any]]:
    """Return the rows that can be right; the names of the others are added to `left_out`."""
    sound = []
    for row in rows:
        if row_problem(table, row) is None:
            sound.append(row)
        elif left_out is not None:
            left_out.add(row_name(table, row))
    return sound
