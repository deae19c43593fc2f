"""What usually happens: the history database, baselines, trends.

Nothing heavy is imported here: SQLAlchemy loads with `debrief.history.store`, at first use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.comparing import Comparison
    from debrief.history.store import Store

__all__ = ["compare"]


def compare(assessment: Assessment, store: Store) -> tuple[Comparison, ...]:
    """Return how unusual the starts are for their engine; see `debrief.history.comparing.compare`."""
    from debrief.history.comparing import compare as _compare

    return _compare(assessment, store)
