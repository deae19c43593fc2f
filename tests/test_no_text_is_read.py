"""Outside `words/` nothing looks for words inside a message: what is to be known of it travels beside it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "debrief"
MESSAGES = frozenset(
    ["message", "sentence", "why", "rule", "formula", "note", "notes", "problem", "reason", "question", "questions",
     "repairs", "decisions", "time_source", "flag", "event"]
)  # fmt: skip
"""Names of what holds a message, of whatever object."""
CUTS = frozenset(
    ["startswith", "endswith", "removesuffix", "removeprefix", "partition", "rpartition", "split", "rsplit", "replace",
     "find", "rfind", "index", "rindex", "count"]
)  # fmt: skip


def name_of(node: ast.expr) -> str:
    """Return the last name of an expression: of ``item.why`` and of ``str(why)`` it is ``why``."""
    if isinstance(node, ast.Call) and node.args and name_of(node.func) == "str":
        return name_of(node.args[0])
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def has_words(node: ast.expr) -> bool:
    """Whether a literal with letters stands in an expression."""
    return any(
        isinstance(part, ast.Constant) and isinstance(part.value, str) and re.search("[A-Za-z]", part.value)
        for part in ast.walk(node)
    )


def looks(source: str) -> Iterator[str]:
    """Yield each place of a source where words are looked for inside a message."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
            found = has_words(node.left) and name_of(node.comparators[0]) in MESSAGES
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CUTS:
            found = name_of(node.func.value) in MESSAGES and any(map(has_words, node.args))
        else:
            found = False
        if found:
            yield ast.unparse(node)


def test_nothing_looks_for_words_inside_a_message() -> None:
    found = {
        f"{path.relative_to(PACKAGE)}: {place}"
        for path in sorted(PACKAGE.rglob("*.py"))
        if path.relative_to(PACKAGE).parts[0] != "words"
        for place in looks(path.read_text(encoding="utf-8"))
    }
    assert found == {
        # A formula of the page of definitions names its unit in brackets, as a place for the unit that is shown.
        "session/evidence/why.py: formula.replace('[°C]', f'[{shown}]')",
    }


def test_what_was_done_before_would_be_found() -> None:
    for source in (
        "x = 'not recorded' in item.why",
        "y = question.removeprefix('not known: ')",
        "z = assessment.sentence.partition(' The profile')",
        "w = '--profile' not in self.assessment.sentence",
        "v = recording.provenance.time_source.startswith('stated rate')",
        "u = str(problem).split('--map')",
    ):
        assert list(looks(source)), source
    assert not list(looks("a = 'ng' in channels; b = name.startswith('itt'); c = message.split()"))
