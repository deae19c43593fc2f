"""What usually happens: the history database, baselines, trends.

Nothing heavy is imported here: SQLAlchemy loads with `debrief.history.storage.store`, at first use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.storage.store import Store
    from debrief.history.usual.comparing import Comparison

__all__ = ["compare"]


def compare(assessment: Assessment, store: Store) -> tuple[Comparison, ...]:
    """Return how unusual the starts are for their engine; see `debrief.history.usual.comparing.compare`."""
    from debrief.history.usual.comparing import compare as _compare

    return _compare(assessment, store)
