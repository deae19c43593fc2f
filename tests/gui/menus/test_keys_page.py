"""The page of keys has every key that there is, because it is made of what reads the keys."""

import ast
from pathlib import Path

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QAction, QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication

from debrief.gui.menus.own_keys import OWN_KEYS
from tests.gui.user import User, plain
from tests.session import assessment_maker as made

GUI = Path(__file__).parents[3] / "debrief" / "gui"
STANDARD = {"Copy": "Ctrl+C", "Cancel": "Esc"}
NATIVE = QKeySequence.SequenceFormat.NativeText
MODULES = {".".join(file.relative_to(GUI).with_suffix("").parts): file for file in sorted(GUI.rglob("*.py"))}


def key_name(name: str) -> str:
    """Return a key of Qt's list without modifiers, as its own text."""
    return QKeySequence(getattr(Qt.Key, name)).toString()


def keys_read(file: Path) -> set[str]:
    """Return the keys, without modifiers, that a module names in its code."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and node.attr.startswith("Key_"):
            found.add(key_name(node.attr))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "QKeySequence":
            for given in node.args:
                if isinstance(given, ast.Constant) and isinstance(given.value, str):
                    found.add(without_modifiers(given.value))
        if isinstance(node, ast.Attribute) and getattr(node.value, "attr", "") == "StandardKey":
            found.add(without_modifiers(STANDARD[node.attr]))
    return found


def without_modifiers(keys: str) -> str:
    combination = QKeySequence(keys)[0]
    return QKeySequence(combination.key()).toString()


def opened(desk) -> User:
    desk.user.presses("Shift+F1")
    return desk.user.dialog("Keys")


def rows(user: User) -> list[list[str]]:
    return user.table("All keys").rows


def test_every_key_of_every_action_of_the_window_stands_there(desk):
    desk.show(made.hot_start())
    listed = {key for row in rows(opened(desk)) for key in row[0].split(", ")}
    keys = {
        key.toString(NATIVE): plain(action.text())
        for action in desk.window.findChildren(QAction)
        for key in action.shortcuts()
    }
    assert len(keys) > 60
    assert {key: text for key, text in keys.items() if key not in listed} == {}


def test_the_row_says_what_the_menu_says(desk):
    table = rows(opened(desk))
    assert ["F11", "Present on a projector", "Menu View"] in table
    assert ["N, PgDown", "Next step of the story", "Menu Replay"] in table
    assert ["Ctrl+Z", "Undo", "Menu Notes"] in table


def test_the_shortcuts_of_the_window_stand_there(desk):
    desk.show(made.hot_start())
    desk.user.presses("W")  # makes the panel, which has its own
    found = {
        key.toString(NATIVE) for one in desk.window.findChildren(QShortcut) for key in QShortcut.keys(one)
    }
    assert {"Shift+F10", "Ctrl+C"} <= found
    assert found <= {key for row in rows(opened(desk)) for key in row[0].split(", ")}


@pytest.mark.parametrize("module", [name for name, file in MODULES.items() if keys_read(file)])
def test_every_key_that_a_module_reads_stands_there(module):
    told = {without_modifiers(key) for own in OWN_KEYS if own.module == module for key in own.keys}
    assert keys_read(MODULES[module]) <= told


def test_no_row_is_of_a_module_that_is_gone():
    assert {own.module for own in OWN_KEYS if own.module} <= set(MODULES)


def test_it_is_searched_by_words_and_by_keys(desk):
    user = opened(desk)
    user.types("zoom start", into="Search the keys")
    assert rows(user) == [["S", "Zoom to the start", "Menu View"]]
    user.types("m", into="Search the keys")
    assert [row[1] for row in rows(user)] == ["Measure from here to the playhead"]
    user.types("lane grip", into="Search the keys")
    assert [row[0] for row in rows(user)] == ["Drag the grip of a trial"]
    user.types("", into="Search the keys")
    assert len(rows(user)) > 100


@pytest.mark.parametrize("theme", ["light", "dark", "contrast"])
def test_nothing_of_it_is_cut(desk, theme):
    desk.theme.choose(theme)
    user = opened(desk)
    QApplication.processEvents()
    table = user.table("All keys").view
    for row in range(table.rowCount()):
        for column in range(3):
            room = QRect(0, 0, table.columnWidth(column) - 10, 1000)
            text = table.item(row, column).text()
            needed = table.fontMetrics().boundingRect(room, Qt.TextFlag.TextWordWrap, text)
            assert needed.width() <= room.width(), text
            assert needed.height() <= table.rowHeight(row), text
    assert sum(table.columnWidth(column) for column in range(3)) <= table.viewport().width() + 1
