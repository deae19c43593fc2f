"""The row of a flight that holds values which cannot be right, mended by what stands beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from debrief.history.measures import start_epoch
from debrief.history.storage import schema as tables
from debrief.history.storage.database import now_text
from debrief.history.storage.fitting import row_of_document
from debrief.history.storage.rows import document_of
from debrief.history.storage.values import document_problem, fitted, odd_values

_TABLE = tables.recordings.name
_BEGAN = ("start_epoch_s", "start_has_zone")
"""What the told instant says once more."""


@dataclass(frozen=True)
class Mended:
    """A flight's row in which nothing is odd any more.

    Attributes
    ----------
    row : mapping
        Its columns.
    unknown : tuple of str
        What was odd in optional ones, which are unknown now.
    kept : tuple of str
        What was odd in the others, and what stands there now.
    """

    row: dict[str, Any]
    unknown: tuple[str, ...]
    kept: tuple[str, ...]


def mended(row: Mapping[str, Any]) -> Mended | None:
    """Return a flight's row without odd values; None where its document is not whole.

    Parameters
    ----------
    row : mapping
        Of the table of recordings, with its document.
    """
    odd = odd_values(_TABLE, row)
    told = _told(row)
    if told is None or "document" in odd:
        return None
    out, unknown, kept = dict(row), [], []
    for name, words in odd.items():
        if name in told:
            out[name] = told[name]
            kept.append(f"{words}; that of its document is kept")
        elif name in ("added_at", "assessed_at"):
            other = "assessed_at" if name == "added_at" else "added_at"
            out[name] = now_text() if other in odd else row[other]
            kept.append(f"{words}; {'today' if other in odd else other} stands there now")
        elif not tables.recordings.c[name].nullable:
            out[name] = ""
            kept.append(f"{words}; nothing stands there now")
        elif name in _BEGAN and "start_text" not in odd:
            kept.append(f"{words}; that of start_text is kept")
        else:
            out[name] = None
            unknown.append(words)
    if odd.keys() & {*_BEGAN, "start_text"}:
        begun = out["start_text"]
        out |= dict(
            zip(_BEGAN, start_epoch(None if begun is None else datetime.fromisoformat(begun)), strict=True)
        )
    # One of both says nothing without the other.
    out |= {name: "" for name in ("version", "replaces") if odd.keys() & {"version", "replaces"}}
    return None if odd_values(_TABLE, out) else Mended(out, tuple(unknown), tuple(kept))


def _told(row: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return the columns that the document of a flight tells; None where it is not whole."""
    try:
        recording = document_of(row["document"])["recording"]
        sha = recording["sha256"] if "sha256" in odd_values(_TABLE, row) else row["sha256"]
        if document_problem(row["document"], sha) is not None:
            return None
        again = row_of_document(row)
        told = {
            name: again[name] for name in ("row_count", "duration_s", "byte_count", "verdict", "sentence")
        }
        told |= {"sha256": sha, "file_name": recording["file_name"], "path": recording["path"]}
        return fitted(_TABLE, told)
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError):
        return None
