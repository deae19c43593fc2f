"""Menus and keys as a table: what can be done, how it is called, which keys do it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractButton, QApplication, QMainWindow, QMenu

from debrief.gui.background.guarded import guarded

_ON_BUTTONS = (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter)


@dataclass(frozen=True)
class Command:
    """One entry of a menu; `needs` is ``session`` or ``replay`` (the view) where it needs that."""

    name: str
    menu: str
    text: str
    keys: tuple[str, ...] = ()
    needs: str = ""
    separated: bool = False


COMMANDS = (
    Command("open", "&File", "&Open a recording...", ("Ctrl+O",)),
    Command("demo", "&File", "Try an e&xample hot start"),
    Command("save_report", "&File", "&Save report...", ("Ctrl+S",), "session", True),
    Command("columns", "&File", "Col&umns...", ("Ctrl+U",), "session"),
    Command("starter_rest", "&File", "Starter &rest before the recording...", (), "session"),
    Command("new_profile", "&File", "&New engine profile..."),
    Command("edit_profile", "&File", "&Edit an engine profile...", ("Ctrl+Shift+E",)),
    Command("settings", "&File", "Settin&gs...", ("Ctrl+,",)),
    Command("close_recording", "&File", "&Close the recording", ("Ctrl+W",), "session"),
    Command("quit", "&File", "&Quit", ("Ctrl+Q",), separated=True),
    Command("toggle", "&Replay", "&Play or pause", ("Space",), "replay"),
    Command("slower", "&Replay", "&Slower", ("[",), "replay"),
    Command("faster", "&Replay", "&Faster", ("]",), "replay"),
    Command("loop", "&Replay", "&Repeat what is in view", ("L",), "replay"),
    Command("previous_step", "&Replay", "Pre&vious step of the story", ("P", "PgUp"), "replay", True),
    Command("next_step", "&Replay", "&Next step of the story", ("N", "PgDown"), "replay"),
    Command("previous_finding", "&Replay", "Previous fin&ding", ("Shift+P", "Shift+PgUp"), "replay"),
    Command("next_finding", "&Replay", "Ne&xt finding", ("Shift+N", "Shift+PgDown"), "replay"),
    Command("step_back", "&Replay", "Previous s&ample", ("Left",), "replay", True),
    Command("step_forward", "&Replay", "Next samp&le", ("Right",), "replay"),
    Command("to_begin", "&Replay", "To the be&ginning", ("Home",), "replay"),
    Command("to_end", "&Replay", "To the &end", ("End",), "replay"),
    Command("mark", "&Replay", "&Measure from here to the playhead", ("M",), "replay", True),
    Command("compare", "&Replay", "&Compare with another start...", ("C",), "session", True),
    Command("align_next", "&Replay", "Al&ign at the next instant", ("I",), "replay"),
    Command("compare_swap", "&Replay", "Swap the &two starts", ("X",), "session"),
    Command("compare_end", "&Replay", "End the c&omparison", ("Shift+C",), "session"),
    Command("why", "&Replay", "&Why: the evidence", ("W",), "session"),
    Command("note_add", "&Notes", "&Add a note...", ("Ctrl+N",), "session"),
    Command("note_change", "&Notes", "&Change the chosen note...", ("F2",), "session"),
    Command("note_remove", "&Notes", "&Remove the chosen note", ("Ctrl+Del",), "session"),
    Command("notes", "&Notes", "To the &list of notes", ("Ctrl+Shift+N",), "session"),
    Command("undo", "&Notes", "&Undo", ("Ctrl+Z",), separated=True),
    Command("redo", "&Notes", "Re&do", ("Ctrl+Shift+Z", "Ctrl+Y")),
    Command("view_replay", "&View", "&Replay", ("Ctrl+1",), "session"),
    Command("view_starts", "&View", "&Starts", ("Ctrl+2",), "session"),
    Command("view_flight", "&View", "F&light", ("Ctrl+3",), "session"),
    Command("view_history", "&View", "Histor&y", ("Ctrl+4",)),
    Command("view_report", "&View", "Re&port", ("Ctrl+5",), "session"),
    Command("zoom_in", "&View", "Zoom &in", ("+", "="), "replay", True),
    Command("zoom_out", "&View", "Zoom &out", ("-",), "replay"),
    Command("frame_selected", "&View", "&Zoom to the event", ("E",), "replay"),
    Command("frame_start", "&View", "Zoom to the s&tart", ("S",), "replay"),
    Command("frame_phase", "&View", "Zoom to the phas&e", ("D",), "replay"),
    Command("frame_all", "&View", "Zoom to the &whole recording", ("A",), "replay"),
    Command("frame_back", "&View", "Zoom &back", ("Alt+Left", "Backspace"), "replay"),
    Command("frame_forward", "&View", "Zoom forw&ard again", ("Alt+Right",), "replay"),
    Command("fit", "&View", "Fit the &heights to what is in view", ("H",), "replay"),
    Command("bands", "&View", "Shade the profile's ban&ds", ("B",), "replay"),
    Command("strips", "&View", "Show switches and le&vers", ("V",), "replay"),
    Command("tapes", "&View", "&Gauges as tapes", ("T",), "replay"),
    Command("present", "&View", "Present on a pro&jector", ("F11",), "session", True),
    Command("full_screen", "&View", "&Full screen", ("Ctrl+F11", "Alt+Return")),
    Command("larger", "&View", "Larger text", ("Ctrl++", "Ctrl+="), separated=True),
    Command("smaller", "&View", "S&maller text", ("Ctrl+-",)),
    Command("usual_size", "&View", "Usual te&xt size", ("Ctrl+0",)),
    Command("reduced_motion", "&View", "Reduced motion"),
    Command("definitions", "&Help", "What every &number means", ("F1",)),
    Command("about", "&Help", "&What this program is, and is not"),
    Command("keys", "&Help", "&Keys", ("Shift+F1",)),
)


def build_menus(window: QMainWindow, slots: Mapping[str, Callable[[], object]]) -> dict[str, QAction]:
    """Make the menus of a window; return the actions by name."""
    menus: dict[str, QMenu] = {}
    actions: dict[str, QAction] = {}
    for command in COMMANDS:
        if command.menu not in menus:
            menus[command.menu] = window.menuBar().addMenu(command.menu)
        menu = menus[command.menu]
        if command.separated:
            menu.addSeparator()
        action = QAction(command.text, window)
        action.setObjectName(command.name)
        action.setShortcuts([QKeySequence(key) for key in command.keys])
        action.triggered.connect(slots[command.name])
        menu.addAction(action)
        actions[command.name] = action
    return actions


def menu_called(window: QMainWindow, title: str) -> QMenu:
    """Return the window's menu of this title."""
    for action in window.menuBar().actions():
        menu = action.menu()
        if isinstance(menu, QMenu) and action.text() == title:
            return menu
    raise KeyError(title)


class ButtonKeys(QObject):
    """Lets a focused button have Space and Enter, which else would be taken by the menu's keys.

    To be installed on what the buttons lie in: a key that they leave comes there. Installed on the buttons
    themselves it would be asked a thousand times when all of them are styled anew.
    """

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the key from becoming a shortcut while a button has the focus."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() in _ON_BUTTONS
            and isinstance(QApplication.focusWidget(), QAbstractButton)
        ):
            event.accept()
            return True
        return False
