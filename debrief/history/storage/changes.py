"""Which change of a person's words was made after which: told by counting changes, never by clocks.

Each change has a version, ``3-9f1c22ab04de``: the third of its line, and a mark that no other change has. It keeps
the versions that it replaces, all those before it. Of two histories that know the same words, what one has replaced
goes and everything else stays, whatever any clock said. So the order in which histories are merged does not matter,
and merging again changes nothing. Pure values: nothing here loads the database.
"""

from __future__ import annotations

import json
import secrets
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

_COUNTING = frozenset({"version", "replaces", "beside", "others"})
"""Columns that say which change a row is, not what it says."""

_NAMESPACE = uuid.UUID("0d6c5b1e-5d0f-4e0a-9d5e-2f6f9a1b7c33")


@dataclass(frozen=True)
class Change:
    """One state of something that people change.

    Attributes
    ----------
    version : str
        Of the change that made it so.
    replaces : frozenset of str
        Every version before it on its line.
    words : mapping
        What it says, by column.
    """

    version: str
    replaces: frozenset[str]
    words: Mapping[str, Any]

    @property
    def line(self) -> frozenset[str]:
        """Its version and all before it."""
        return self.replaces | {self.version}

    def columns(self) -> dict[str, Any]:
        """Return it as columns of a row."""
        return {**self.words, "version": self.version, "replaces": replaced_text(self.replaces)}


def next_version(replaced: Iterable[str]) -> str:
    """Return the version of a new change that replaces these."""
    return f"{1 + max(map(revision, replaced), default=0)}-{secrets.token_hex(6)}"


def revision(version: str) -> int:
    """Return the number of a change on its line; 0 for one of a program that did not count."""
    number, _, _ = version.partition("-")
    return int(number) if number.isdigit() else 0


def line_of(row: Mapping[Any, Any]) -> frozenset[str]:
    """Return the version of a row and all before it; none of a program that did not count."""
    return frozenset([*str(row["replaces"]).split(), *filter(None, [row["version"]])])


def replaced_text(versions: Iterable[str]) -> str:
    """Return versions as they are kept in one column."""
    return " ".join(sorted(versions, key=_order))


def change_of(row: Mapping[Any, Any]) -> Change:
    """Return a row of notes or exclusions as a change.

    Notes
    -----
    What an earlier program wrote has no version: it gets one from its words, so that the same words are the same
    change at every desk. A note that it removed replaces the note as it stood.
    """
    words = {str(name): value for name, value in row.items() if name not in _COUNTING}
    version, replaces = row.get("version") or "", frozenset((row.get("replaces") or "").split())
    if not version:
        version = _by_words(words, 0)
        if words.get("removed"):
            replaces = frozenset([_by_words({**words, "removed": False}, 0)])
            version = _by_words(words, 1)
    # What is replaced came before: a damaged row cannot make two changes replace each other.
    before = revision(version)
    return Change(version, frozenset(one for one in replaces if revision(one) < before), words)


def _by_words(words: Mapping[str, Any], number: int) -> str:
    without_clock = {name: value for name, value in words.items() if name != "changed_at"}
    return f"{number}-{sha256(_as_json(without_clock).encode()).hexdigest()[:12]}"


def _as_json(words: Mapping[str, Any]) -> str:
    return json.dumps(words, sort_keys=True)


def joined(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Return the changes that stand: those that none of the others replaces, in a fixed order.

    More than one where people changed the same thing without having seen each other's.
    """
    known: dict[str, Change] = {}
    for change in changes:
        there = known.get(change.version)
        if there is not None:
            words = min(there.words, change.words, key=_as_json)
            change = Change(change.version, there.replaces | change.replaces, words)
        known[change.version] = change
    latest_first = sorted(known.values(), key=lambda one: _order(one.version), reverse=True)
    replaced = frozenset[str]().union(*(one.replaces for one in latest_first))
    out = []
    for head in latest_first:
        if head.version in replaced:
            continue
        seen = set(head.replaces)
        for one in latest_first:
            if one.version in seen:
                seen |= one.replaces
        out.append(Change(head.version, frozenset(seen), head.words))
    return tuple(reversed(out))


def side_by_side(key: str, heads: Sequence[Change]) -> dict[str, Change]:
    """Return under which key each of the changes of one note that stand is kept.

    The line that parted first keeps the note's own key. The keys of the others come from where their lines parted,
    so that they are the same at every desk and stay when a line goes on.
    """
    parted: list[tuple[tuple[int, str], Change]] = []
    for head in heads:
        others = frozenset[str]().union(*(one.line for one in heads if one is not head))
        parted.append((min(map(_order, head.line - others)), head))
    parted.sort(key=lambda pair: pair[0])
    return {
        key if index == 0 else str(uuid.uuid5(_NAMESPACE, f"{key} {where[1]}")): head
        for index, (where, head) in enumerate(parted)
    }


def _order(version: str) -> tuple[int, str]:
    return revision(version), version
