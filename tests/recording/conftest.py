"""Small made files for the reader's tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write text or bytes to a file and return its path."""

    def _write(content: str | bytes, name: str = "flight.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return path

    return _write
