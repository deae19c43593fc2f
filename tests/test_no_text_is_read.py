"""Outside `words/` nothing looks for words inside a text: what is to be known of it travels beside it.

Two laws. A name that holds a message is nowhere cut, replaced or searched. And in the layers that say something
(analysis, session, report, history, window, commands) no text at all is, but for what those layers read themselves: names,
what a person typed, a file of their own, or a text that is done and is only broken into lines.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "debrief"
MESSAGES = frozenset(
    ["message", "sentence", "why", "rule", "formula", "note", "notes", "problem", "reason", "question", "questions",
     "repairs", "decisions", "time_source", "flag", "event", "validity"]
)  # fmt: skip
"""Names of what holds a message, of whatever object."""
CUTS = frozenset(
    ["startswith", "endswith", "removesuffix", "removeprefix", "partition", "rpartition", "split", "rsplit", "replace",
     "find", "rfind", "index", "rindex", "count"]
)  # fmt: skip
SPEAKING = (
    "analysis",
    "session",
    "report",
    "history",
    "gui",
    "cli.py",
    "arguments.py",
    "frames.py",
    "errors.py",
)
NAMES = frozenset(
    ["np", "os", "name", "key", "base", "unit", "scheme", "begun", "identity", "aircraft", "engine_serial"]
)
"""What holds a name, and no sentence, of whatever object."""
READ_HERE = {
    "arguments.py": "an option, as it was typed",
    "gui/gauges/tape.py": "layout: two words of an instrument stand on two lines",
    "gui/help/definitions_view.py": "what was typed into the search, and the address of a link",
    "gui/help/keys_dialog.py": "names of menu entries and of keys, and what was typed into the search",
    "gui/help/text_dialog.py": "layout: no line ends between a number and its unit",
    "gui/lanes/strip_layer.py": "layout: two words of a strip's name stand on two lines",
    "gui/report/report_side.py": "the path of a file",
    "gui/plain_text.py": "layout: lines, and words that are too long",
    "history/exchange/soundness.py": "the name of a table",
    "history/exchange/transfer.py": "cells that a spreadsheet would take for a formula",
    "history/service/notes.py": "an id of a note",
    "history/storage/changes.py": "marks of versions",
    "history/storage/copies.py": "the name of a copy",
    "history/storage/failures.py": "the state that a server's driver gives",
    "history/storage/people.py": "the beginning of an id, as it was typed",
    "history/storage/places.py": "an address of a history, as it was typed",
    "history/storage/store.py": "the beginning of a checksum, as it was typed",
    "history/storage/rules.py": "what a column may hold",
    "report/content/appendix.py": "lines of the profile's file",
    "session/evidence/profile_text.py": "lines of the profile's file",
    "session/importing/column_choices.py": "the name of a channel",
    "session/importing/import_questions.py": "the name of a channel",
    "report/content/options.py": "an option, as it was typed",
    "report/content/phrases.py": "layout: no line ends between a number and its unit",
    "report/content/reference_start.py": "an option, as it was typed",
    "report/formats/demo.py": "the name of the system",
    "report/formats/tables.py": "cells that a spreadsheet would take for a formula",
    "report/formats/text.py": "layout: lines of a terminal",
    "report/pdf/": "layout, and bytes of the file",
    "session/assessing/starter_rest.py": "a line of the recording's preamble",
    "session/document.py": "its own table of names",
    "session/evidence/why.py": "a path of the profile",
    "session/limits/typed_level.py": "a level, as it was typed",
    "session/profiles/": "fields as they were typed, and paths of the profile",
    "session/texts/definitions.py": "the page of definitions is read here",
    "session/texts/definitions_page.py": "the page of definitions, and what is looked for on it",
    "session/texts/plain_names.py": "keys that the page of definitions marks, and paths of the profile",
}  # fmt: skip
"""Where a speaking layer reads a text, and why that is no message; a folder stands for all in it."""


def name_of(node: ast.expr) -> str:
    """Return the last name of an expression: of ``item.why`` and of ``str(why)`` it is ``why``."""
    if isinstance(node, ast.Call) and node.args and name_of(node.func) == "str":
        return name_of(node.args[0])
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and not node.args:
        return name_of(node.func.value)  # such as .lower()
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def has_words(node: ast.expr) -> bool:
    """Whether a literal with letters, or a named text, stands in an expression."""
    return any(
        isinstance(part, ast.Name)
        or (
            isinstance(part, ast.Constant)
            and isinstance(part.value, str)
            and re.search("[A-Za-z]", part.value)
        )
        for part in ast.walk(node)
    )


def looks(source: str) -> Iterator[str]:
    """Yield each place of a source where words are looked for inside a message."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
            literal = isinstance(node.left, ast.Constant | ast.JoinedStr) and has_words(node.left)
            found = literal and name_of(node.comparators[0]) in MESSAGES
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CUTS:
            found = name_of(node.func.value) in MESSAGES and any(map(has_words, node.args))
        else:
            found = False
        if found:
            yield ast.unparse(node)


def cuts(source: str) -> Iterator[str]:
    """Yield each place of a source where any text but a name is cut, or is read by a pattern."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import) and any(alias.name == "re" for alias in node.names):
            yield "import re"
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        # One sign put in another's place is spelling; words in the place of words are not.
        spelling = node.func.attr == "replace" and not (node.args and has_words(node.args[0]))
        to_find = node.func.attr in ("find", "rfind", "index", "rindex", "count")  # of lists as well
        bare = node.func.attr in ("split", "rsplit") and not node.args
        if (
            node.func.attr in CUTS
            and not (spelling or to_find or bare)
            and name_of(node.func.value) not in NAMES
        ):
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


def test_who_speaks_reads_no_text() -> None:
    found: dict[str, list[str]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        if module.startswith(SPEAKING):
            found |= {module: places} if (places := list(cuts(path.read_text(encoding="utf-8")))) else {}
    assert {
        module: places for module, places in found.items() if not module.startswith(tuple(READ_HERE))
    } == {}
    assert {place for place in READ_HERE if not any(module.startswith(place) for module in found)} == set()


@pytest.mark.parametrize(
    "source",
    [
        "x = 'not recorded' in item.why",
        "y = question.removeprefix('not known: ')",
        "z = assessment.sentence.partition(' The profile')",
        "w = '--profile' not in self.assessment.sentence",
        "v = recording.provenance.time_source.startswith('stated rate')",
        "u = str(problem).split('--map')",
        "t = why.removesuffix(_NOT_RECORDED)",
        "s = event.message.lower().startswith(title)",
    ],
)
def test_what_was_done_to_messages_would_be_found(source: str) -> None:
    assert list(looks(source))


@pytest.mark.parametrize(
    "source",
    [
        "import re",
        "_, _, digits = said.removesuffix(' %').partition('.')",
        "what = ' '.join(reversed(what.split(', ')))",
        "what = band.counted(many).split(' ')",
        "held = line.rpartition(': ')[0]",
        "same = title.startswith(words)",
        "less = text.replace('the profile’s the ', 'the ')",
    ],
)
def test_what_was_done_to_other_texts_would_be_found(source: str) -> None:
    assert list(cuts(source))


def test_names_and_spelling_are_no_messages() -> None:
    source = (
        "a = 'ng' in channels; b = name.startswith('itt'); c = message.split(); d = text.replace('&', '&&')"
    )
    assert not list(looks(source))
    assert not list(cuts(source))
