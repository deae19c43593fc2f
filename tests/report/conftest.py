"""Papers are made under the application that windows need, so that both kinds of test can share a process in any order."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True, scope="session")
def _application_of_windows(qapp: object) -> object:
    return qapp
