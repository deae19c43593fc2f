"""The keys and the mouse that parts of the window have beside the menus, each with the module that reads them.

`tests/gui/menus/test_keys_page.py` fails where a module reads a key that does not stand here.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class OwnKey:
    """Keys that one part of the window has for itself.

    Attributes
    ----------
    place : str
        Where they work.
    keys : tuple of str
        As Qt writes them; what the mouse does is written as it is.
    words : str
        What they do.
    module : str
        Below ``debrief.gui``, who reads them; empty for the mouse.
    """

    place: str
    keys: tuple[str, ...]
    words: str
    module: str = ""


def _rows(place: str, module: str, *rows: tuple[tuple[str, ...], str]) -> tuple[OwnKey, ...]:
    return tuple(OwnKey(place, keys, words, module) for keys, words in rows)


OWN_KEYS: tuple[OwnKey, ...] = (
    *_rows(
        "Lanes", "lanes.lane_gestures",
        (("Up", "Down"), "Choose a lane"),
        (("Ctrl+Up", "Ctrl+Down"), "Move the chosen lane"),
        (("Shift+Up", "Shift+Down"), "Make the chosen lane higher or lower"),
        (("Del",), "Remove the chosen lane"),
        (("Esc",), "Choose no lane; let go of a lane that is dragged"),
    ),
    *_rows(
        "Anywhere", "menus.menu_key",
        (("Shift+F10", "Menu"), "What can be done here: in the lanes, the story, the timeline, at a gauge"),
    ),
    *_rows("Buttons", "menus.actions", (("Space", "Return", "Enter"), "Press the button that has the focus")),
    *_rows("Presentation", "shell.presentation", (("Esc",), "Leave the presentation")),
    *_rows(
        "Why", "why.panel",
        (("Ctrl+C",), "Copy the tables"),
    ),
    *_rows(
        "Why, tables", "why.evidence_table",
        (("Return", "Enter"), "Move the playhead to the chosen sample"),
        (("Esc",), "Close the panel, or end the trial"),
    ),
    *_rows(
        "Why, grip of a trial", "why.trial_line",
        (("Up", "Down"), "Try another level; with Shift ten steps"),
    ),
    *_rows("Panel beside the lanes", "shell.beside", (("Esc",), "End the trial, else close the panel")),
    *_rows(
        "List of notes", "notes.notes_panel",
        (("Return", "Enter"), "Go to the note's time"),
        (("F2",), "Change the note"),
        (("Del",), "Remove the note"),
    ),
    *_rows("Note", "notes.note_dialog", (("Ctrl+Return", "Ctrl+Enter"), "Save the note")),
    *_rows("Starter rest, field in the verdict", "shell.rest_answer", (("Esc",), "Leave the field empty")),
    *_rows(
        "Charts", "charts.chart_view",
        (("Left", "Right"), "From point to point; with Shift ten"),
        (("Home", "End"), "To the first or last point"),
        (("Return", "Enter"), "Open what the point is of"),
        (("+", "-"), "Zoom"),
        (("0",), "Show all of the chart"),
        (("Ctrl+C",), "Copy the chart as a picture"),
    ),
    *_rows(
        "Two starts", "charts.two_starts_view",
        (("Left", "Right"), "Move the cursor by a tenth of a second; with Shift by a second"),
        (("Home", "End"), "Cursor to the beginning or end"),
    ),
    *_rows(
        "Pages of the report", "report.pages_view",
        (("PgUp", "PgDown"), "Page before or after"),
        (("Home", "End"), "First or last page"),
        (("+", "=", "-"), "Zoom"),
    ),
    *_rows(
        "What every number means", "help.definitions_view",
        (("Up", "Down"), "From entry to entry, in the search field"),
        (("Esc",), "Back"),
    ),
    *_rows(
        "Columns", "importing.import_dialog",
        (("Return", "Enter"), "Open the file, where nothing is missing"),
        (("Esc",), "Leave; asks where something was chosen"),
    ),
    *_rows(
        "Columns, table", "importing.import_table",
        (("Return", "Enter", "Space", "F2", "F4"), "Open the list of a cell"),
    ),
    *_rows("Keys", "help.keys_dialog", (("Esc",), "Close")),
    *_rows(
        "Profile editor", "profiles.profile_editor",
        (("Ctrl+S",), "Save"),
        (("Ctrl+Shift+S",), "Save as"),
        (("Esc",), "Close"),
    ),
    *_rows(
        "Profile editor and wizard", "profiles.undo_keys",
        (("Ctrl+Z",), "Undo"),
        (("Ctrl+Shift+Z", "Ctrl+Y"), "Redo"),
    ),
    *_rows("Profile editor, table", "profiles.row_grid", (("Up", "Down"), "Row above or below")),
    *_rows(
        "Limit in a chart", "profiles.limit_chart",
        (("PgUp", "PgDown", "Home", "End"), "Choose a corner"),
        (("Up", "Down", "Left", "Right"), "Move the corner; with Shift farther"),
        (("Ins",), "Add a corner"),
        (("Del", "Backspace"), "Remove the corner"),
    ),
    *_rows(
        "Profile wizard", "profiles.profile_wizard",
        (("Return", "Enter"), "Next field"),
        (("Alt+Right", "Alt+Left"), "Next page, page before"),
        (("Esc",), "Close"),
    ),
    *_rows(
        "Mouse, in the lanes", "",
        (("Click, drag",), "Move the playhead"),
        (("Wheel",), "Zoom; with Shift pan"),
        (("Shift and drag",), "Zoom to a range"),
        (("Ctrl and drag",), "Measure between two cursors"),
        (("Right button, drag",), "Pan"),
        (("Right button, click",), "Menu of the lane; further channels in it"),
        (("Drag a lane's title",), "Move the lane"),
        (("Drag the border below a lane",), "Change its height"),
        (("Double click on the ribbon",), "Zoom to that part"),
        (("Drag the grip of a trial",), "Try another level, while Why explains a limit"),
    ),
)  # fmt: skip
