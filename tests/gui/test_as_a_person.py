"""Tests go by what a person sees and does: none reaches for a private part of the program."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
FOLDERS = ("gui", "session", "history", "report")
SEAMS = {"setattr", "getattr", "delattr", "hasattr"}
LEFT = {
    "gui/lanes/test_lanes.py": (
        28,
        "the lanes' own painting: their picture and places are asked of the view",
    ),
    "gui/lanes/test_screen_and_paper.py": (3, "the layers of the lanes' picture beside the paper's"),
    "gui/starts/test_starts_view.py": (6, "another recording, chosen and read; where traces cross"),
    "gui/charts/test_still_charts.py": (2, "a pan by the plot's own box"),
    "gui/replay/test_replay_window.py": (2, "boxes of words and shapes in the lanes; the range of one lane"),
    "session/profiles/test_profile_form.py": (1, "every choice that the loader knows is offered"),
    "history/exchange/test_history_merging.py": (2, "an export is read back without being merged"),
    "history/exchange/test_history_transfer.py": (1, "how much an export reads at once"),
    "history/service/test_history_notes.py": (1, "the clock of a note"),
    "session/test_document.py": (4, "each class of the document has its names: the table itself is checked"),
    "history/storage/test_history_copies.py": (2, "a disk that fails within a copy"),
}
"""How many are left where, and of what. It only shrinks."""


def is_private(name: object) -> bool:
    return isinstance(name, str) and name.startswith("_") and not name.startswith("__") and name != "_"


def privates(tree: ast.Module) -> Iterator[str]:
    """Give each private name that is reached for on something else than the test's own object."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and is_private(node.attr):
            own = isinstance(node.value, ast.Name) and node.value.id in ("self", "cls")
            if not own:
                yield f"line {node.lineno}: {ast.unparse(node)}"
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("debrief"):
            yield from (
                f"line {node.lineno}: {one.name} of {node.module}"
                for one in node.names
                if is_private(one.name)
            )
        elif isinstance(node, ast.Call):
            called = getattr(node.func, "attr", getattr(node.func, "id", ""))
            for word in node.args[:2] if called in SEAMS else ():
                if isinstance(word, ast.Constant) and is_private(str(word.value).rpartition(".")[2]):
                    yield f"line {node.lineno}: {word.value}"


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_test_reaches_for_a_private_part(folder):
    found = {
        str(file.relative_to(TESTS)): list(privates(ast.parse(file.read_text(encoding="utf-8"))))
        for file in sorted((TESTS / folder).rglob("*.py"))
    }
    for file, places in found.items():
        most, reason = LEFT.get(file, (0, ""))
        assert len(places) <= most, f"{file} has {len(places)}, no more than {most} ({reason}): {places}"


@pytest.mark.parametrize(
    "source",
    [
        "window._theme.px(3)",
        "self.window._theme",
        "monkeypatch.setattr(view, '_opener', slow)",
        "monkeypatch.setattr('debrief.gui.app._make', slow)",
        "from debrief.gui.app import _make",
        "getattr(view, '_opener')",
    ],
)
def test_what_reaches_for_a_private_part_is_found(source):
    assert list(privates(ast.parse(source)))


@pytest.mark.parametrize(
    "source", ["self._qtbot.wait(1)", "_, rest = pair", "thing.__dict__", "def _own(): _own()"]
)
def test_what_is_a_test_s_own_is_not(source):
    assert not list(privates(ast.parse(source)))
