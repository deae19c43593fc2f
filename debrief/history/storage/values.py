"""What each value of the history may be: the one table of types, ranges and lengths.

Asked before an export is merged, when a history is checked, and before its values are listed, averaged or drawn: a
database or an export may hold what this program never wrote.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any, get_args

import sqlalchemy as sa

from debrief.analysis.model import EventClass, Outcome, Severity, StartKind, Verdict
from debrief.history.model import LONGEST_NOTE
from debrief.history.storage import schema as tables
from debrief.history.storage.column_types import kind_of
from debrief.words.visible import visible

_FIRST_EPOCH_S = datetime(1900, 1, 1, tzinfo=UTC).timestamp()
_LAST_EPOCH_S = datetime(2200, 1, 1, tzinfo=UTC).timestamp()
_LONGEST_SHOWN = 40
_HIGHEST_NG_PCT = 200


@dataclass(frozen=True)
class _Rule:
    """What one column may hold: `words` say it after "must be"."""

    fits: Callable[[Any], bool]
    words: str
    longest: int | None = None
    """Of a text that may be cut, in characters."""


def _number(low: float, high: float, words: str = "") -> _Rule:
    # A NaN fails both comparisons, and True is no number.
    return _Rule(
        lambda value: type(value) in (float, int) and low <= value <= high,
        words or f"a number from {low:g} to {high:g}",
    )


def _whole(low: int, high: int) -> _Rule:
    return _Rule(
        lambda value: type(value) is int and low <= value <= high, f"a whole number from {low} to {high}"
    )


def _storable(value: str) -> bool:
    return "\x00" not in value and (value.isascii() or not re.search("[\ud800-\udfff]", value))


def _text(longest: int) -> _Rule:
    return _Rule(
        lambda value: type(value) is str and len(value) <= longest and _storable(value),
        f"a text of at most {longest} characters",
        longest,
    )


def _pattern(pattern: str, words: str) -> _Rule:
    matches = re.compile(pattern).fullmatch
    return _Rule(lambda value: type(value) is str and matches(value) is not None, words)


def _one_of(*values: str) -> _Rule:
    known = frozenset(values)
    return _Rule(lambda value: type(value) is str and value in known, f"one of {', '.join(values)}")


def _is_instant(value: object) -> bool:
    if type(value) is not str or len(value) > 40:
        return False
    try:
        datetime.fromisoformat(value)
    except ValueError:
        return False
    return True


def _is_trace(value: object) -> bool:
    if type(value) is not str or len(value) > 20_000:
        return False
    parsed = _parsed(value)
    if not isinstance(parsed, list) or len(parsed) != 2 or not all(isinstance(part, list) for part in parsed):
        return False
    percents, values = parsed
    return (
        len(percents) == len(values)
        and all(type(one) is int and 0 <= one <= _HIGHEST_NG_PCT for one in percents)
        and all(type(one) in (int, float) and -300 <= one <= 10_000 for one in values)
    )


def _are_others(value: object) -> bool:
    """Whether a text is what others said of an exclusion at the same time."""
    if type(value) is not str or len(value) > 1 << 24:
        return False
    rows = _parsed(value)
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


_VERSION = "[0-9]{1,9}-[0-9a-f]{12}"
_SHA256 = _pattern("[0-9a-f]{64}", "64 hexadecimal digits")
_ID = _pattern("[0-9A-Za-z-]{1,36}", "letters, digits and hyphens, at most 36")
_INSTANT = _Rule(_is_instant, "an instant such as 2031-05-04T09:30:00+00:00")
_EPOCH = _number(_FIRST_EPOCH_S, _LAST_EPOCH_S, "seconds since 1970 that lie between the years 1900 and 2200")
_SECONDS = _number(-1e9, 1e9)
_TRUTH = _Rule(lambda value: type(value) in (bool, int) and value in (0, 1), "true or false")
_COUNT = _whole(0, 2**62)
_ENGINE = _whole(1, 9999)
_START = _whole(1, 2**31 - 1)
_CHANGE = {
    "version": _pattern(f"({_VERSION})?", "the number and mark of a change, as 3-9f1c22ab04de"),
    "replaces": _pattern(f"({_VERSION}( {_VERSION}){{0,99999}})?", "numbers and marks of changes"),
}
_NAME = _text(400)
# Of what an index holds; four bytes a character, and PostgreSQL's index has room for 2,700 bytes a row.
_ENGINE_NAME = _text(420)
_PATH = _text(20_000)
_SENTENCE = _text(100_000)
_WORDS = _text(LONGEST_NOTE)
_FILE = replace(_text(1 << 26), longest=None)

_RULES: Mapping[str, Mapping[str, _Rule]] = {
    "debrief_migrations": {
        "version": _whole(1, 10_000),
        "title": _NAME,
        "applied_at": _INSTANT,
        "program": _NAME,
    },
    "profiles": {
        "profile_key": _NAME,
        "name": _SENTENCE,
        "revision": _SENTENCE,
        "toml": _FILE,
        "first_used_at": _INSTANT,
    },
    "recordings": {
        "sha256": _SHA256,
        "file_name": _PATH,
        "path": _PATH,
        "byte_count": _COUNT,
        "row_count": _COUNT,
        "duration_s": _number(0, 1e9),
        "aircraft": _NAME,
        "engine_serial": _NAME,
        "engine_model": _NAME,
        "start_text": _INSTANT,
        "start_epoch_s": _EPOCH,
        "profile_key": _NAME,
        "verdict": _one_of(*get_args(Verdict)),
        "sentence": _SENTENCE,
        "document": _FILE,
        "program": _NAME,
        "added_at": _INSTANT,
        "assessed_at": _INSTANT,
        **_CHANGE,
    },
    "starts": {
        "sha256": _SHA256,
        "engine": _ENGINE,
        "number": _START,
        "engine_key": _ENGINE_NAME,
        "at_epoch_s": _EPOCH,
        "kind": _one_of(*get_args(StartKind)),
        "outcome": _one_of(*get_args(Outcome)),
        "power": _one_of("battery", "external", "mixed", "unknown"),
    },
    "start_traces": {
        "sha256": _SHA256,
        "engine": _ENGINE,
        "number": _START,
        "points": _Rule(_is_trace, f"ITT at whole percents of Ng from 0 to {_HIGHEST_NG_PCT}"),
    },
    "measures": {
        "sha256": _SHA256,
        "engine": _ENGINE,
        "start_number": _whole(0, 2**31 - 1),
        "name": _NAME,
        "engine_key": _ENGINE_NAME,
        "value": _number(-1e9, 1e9),
        "unit": _text(40),
    },
    "events": {
        "sha256": _SHA256,
        "position": _whole(0, 2**31 - 1),
        "kind": _NAME,
        "event_class": _one_of(*get_args(EventClass)),
        "engine": _whole(0, 9999),
        "engine_key": _ENGINE_NAME,
        "severity": _one_of(*get_args(Severity)),
        "start_number": _whole(0, 2**31 - 1),
        "start_s": _SECONDS,
        "end_s": _SECONDS,
        "limit_id": _NAME,
        "message": _SENTENCE,
    },
    "notes": {
        "note_id": _ID,
        "sha256": _SHA256,
        "time_s": _SECONDS,
        "event_kind": _NAME,
        "author": _SENTENCE,
        "text": _WORDS,
        "changed_at": _INSTANT,
        "beside": _ID,
        **_CHANGE,
    },
    "exclusions": {
        "sha256": _SHA256,
        "engine": _ENGINE,
        "start_number": _START,
        "reason": _WORDS,
        "author": _SENTENCE,
        "changed_at": _INSTANT,
        "others": _Rule(_are_others, "a list of what others said at the same time"),
        **_CHANGE,
    },
    "maintenance": {
        "action_id": _ID,
        "engine_key": _ENGINE_NAME,
        "at_epoch_s": _EPOCH,
        "what": _WORDS,
        "author": _SENTENCE,
        "changed_at": _INSTANT,
    },
}
"""By table and column; what is true or false, and what may be unknown, is the schema's to say."""


def _checks(table: sa.Table) -> tuple[tuple[str, Callable[[Any], bool], bool, _Rule], ...]:
    rules = _RULES[table.name]
    return tuple(
        (column.name, rule.fits, bool(column.nullable), rule)
        for column in table.columns
        for rule in [_TRUTH if kind_of(column) == "yes or no" else rules[column.name]]
    )


_CHECKS = MappingProxyType({name: _checks(table) for name, table in tables.metadata.tables.items()})


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
            storable = type(value) is not str or _storable(value)
            words = rule.words if storable else "a text without NUL and without halves of characters"
            yield name, f"{name} is {shown(value)}: it must be {words}"


def shown(value: object) -> str:
    """Return a value that may be anything, short and safe to be read."""
    if isinstance(value, int) and not isinstance(value, bool) and value.bit_length() > 128:
        return "a number of very many digits"
    if isinstance(value, str):
        text = value if len(value) <= _LONGEST_SHOWN else f"{value[:_LONGEST_SHOWN]}…"
        return f'"{visible(text)}"'
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "an object"
    return visible(repr(value)[:_LONGEST_SHOWN])


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
    document = _parsed(text) if isinstance(text, str) else None
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
    if not (_ENGINE.fits(start.get("engine")) and _START.fits(start.get("number"))):
        return False
    return all(isinstance(run, dict) and isinstance(run.get("power"), str) and _is_run(run) for run in runs)


def _is_run(run: Mapping[str, Any]) -> bool:
    names = ("start_s", "end_s", "duration_s", "duration_low_s", "duration_high_s")
    return all(name in run and (run[name] is None or _SECONDS.fits(run[name])) for name in names)


def _parsed(text: str) -> object:
    """Return JSON as values; None where it is none, or holds numbers that JSON has not."""
    try:
        return parsed_json(text)
    except ValueError:
        return None


_MOST_PARTS = 500_000
_LEAST_OF_A_PART = 32
"""Characters: of what the program writes a row has many more. An empty one of two characters takes 72 bytes."""


def parsed_json(text: str) -> object:
    """Return JSON as values.

    Raises
    ------
    ValueError
        It is no JSON: also where a number is not finite, it is nested without an end, or it is so dense that it
        would take far more memory than its length.
    """
    parts = text.count("{") + text.count("[")
    if parts > _MOST_PARTS and parts * _LEAST_OF_A_PART > len(text):
        raise ValueError("more rows and lists than any flight has")
    try:
        return json.loads(text, parse_constant=_refused, parse_float=_finite)
    except RecursionError:
        raise ValueError("nested too deeply") from None


class NoNumber(ValueError):
    """A number that is not finite, in words."""


def _refused(name: str) -> float:
    raise NoNumber(f"{name} is no number of JSON")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise NoNumber(f"{text[:_LONGEST_SHOWN]} is too large a number")
    return value


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
