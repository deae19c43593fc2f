"""Why a version is pinned, so that nobody loosens it by mistake, and when it may go."""

from __future__ import annotations

import importlib.metadata
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parents[1]
DEPENDENCIES = {
    requirement.name: requirement
    for requirement in map(
        Requirement,
        tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"],
    )
}


def test_pyside_6_12_0_stays_out() -> None:
    """PySide6 6.12.0 loses references to None and aborts the program on Python 3.10 and 3.11.

    Calls that return nothing, such as QPainter.setPen, each drop one reference to None. A window with a few
    plots dies within seconds with "Fatal Python error: none_dealloc". On Python 3.12 and later None is
    immortal and nothing shows. 6.10 and 6.11 run on all. Raise the upper bound only after a later release has
    drawn the window for some minutes on Python 3.11; then give the broken release as an exclusion.
    """
    allowed = DEPENDENCIES["PySide6-Essentials"].specifier
    assert not allowed.contains("6.12.0")
    assert allowed.contains("6.11.3")
    assert Version(importlib.metadata.version("PySide6-Essentials")) in allowed


def test_only_the_small_part_of_qt_is_asked_for() -> None:
    """The whole of PySide6 brings a web engine and 1 GB that nothing here uses."""
    assert not {"PySide6", "PySide6-Addons"} & set(DEPENDENCIES)


def test_the_plot_library_stays_within_the_release_that_the_lanes_were_written_for() -> None:
    """The next release of pyqtgraph may change when options of a curve are reset; 0.14 was measured."""
    assert DEPENDENCIES["pyqtgraph"].specifier.contains("0.14.0")
    assert not DEPENDENCIES["pyqtgraph"].specifier.contains("0.15.0")


def test_what_runs_here_is_within_what_is_asked_for() -> None:
    for name, requirement in DEPENDENCIES.items():
        assert requirement.specifier.contains(importlib.metadata.version(name)), name
