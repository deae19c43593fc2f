"""What the hand-worked tests get: the analysis by the names of its modules."""

from __future__ import annotations

import pytest

from tests.analysis.fault_making import Analysis, true_analysis


@pytest.fixture
def lab() -> Analysis:
    """The analysis, with what judges a drawn recording."""
    return true_analysis()
