"""Texts of others in the window: markup, images, shortcuts and control characters are read, not obeyed."""

from __future__ import annotations

import ast
import ctypes
import os
import re
import struct
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QAbstractListModel, QEvent, QLocale, QPoint, Qt
from PySide6.QtGui import QHelpEvent, QImage, QPainter, QTextDocumentFragment
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QTextBrowser,
    QToolTip,
    QWidget,
)

import debrief.gui
from debrief.gui.importing.question_list import QuestionsPanel
from debrief.gui.plain_text import plain_tip, titled, unmarked, with_short_words
from debrief.gui.widgets.cells import PlainCells
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel, WrappedLabel
from debrief.session.importing.import_opening import open_or_ask
from debrief.words.channels import channel_symbol, channel_words
from debrief.words.visible import visible

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)

GUI = Path(debrief.gui.__file__).parent
DEMO = Path(__file__).resolve().parents[2] / "demo_flights"
HIDDEN = "\x1b[8m\u202e"
LONG = "w" * 10_000
TREE = {path.stem: ast.parse(path.read_text(encoding="utf-8")) for path in GUI.rglob("*.py")}


# --- the one way in -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(TREE))
def test_tooltips_and_labels_take_texts_of_others_by_the_one_door(name):
    def is_own(node: ast.expr) -> bool:
        """Whether a text is written in the program, or made plain."""
        match node:
            case ast.Constant():
                return True
            case ast.IfExp():
                return is_own(node.body) and is_own(node.orelse)
            case ast.Name():
                return node.id.isupper() or node.id == "tip"
            case ast.Call():
                return ast.unparse(node.func) == "plain_tip"
        return False

    for node in ast.walk(TREE[name]):
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func).rpartition(".")[2]
        if called in ("setToolTip", "setStatusTip", "setWhatsThis"):
            assert is_own(node.args[0]), f"line {node.lineno}: {ast.unparse(node)}"
        elif called == "showText":
            assert is_own(node.args[1]), f"line {node.lineno}: {ast.unparse(node)}"
        elif called == "QLabel":
            raise AssertionError(
                f"line {node.lineno}: a label of debrief/gui/widgets/labels.py shows a text as it is"
            )


@pytest.mark.parametrize(
    "text",
    ["plain words", "a < b > c", "<b>bold</b>", "x <img src='a.png'> y", "5 &lt; 6", "A & B", f"a{HIDDEN}b"],
)
def test_a_tooltip_reads_as_it_was_written(text, qapp):
    tip = plain_tip(text)
    assert QTextDocumentFragment.fromHtml(tip).toPlainText() == visible(text) or tip == visible(text)
    assert "<img" not in tip
    assert "<b>" not in tip


def test_a_long_tooltip_is_wrapped_and_cut():
    lines = plain_tip(f"{LONG} {LONG}").split("\n")
    assert max(map(len, lines)) <= 100
    assert sum(map(len, lines)) <= 2000
    assert plain_tip("one\ntwo") == "one\ntwo"


def test_an_ampersand_of_a_name_is_no_shortcut_and_a_mark_of_changes_is_none():
    assert unmarked("A & B.csv") == "A && B.csv"
    assert titled("a[*].csv") == "a[*][*].csv"
    assert unmarked(HIDDEN).startswith("\N{SYMBOL FOR ESCAPE}")


def test_a_label_shows_markup_and_control_characters_as_they_are(qtbot):
    for kind in (PlainLabel, ElidedLabel, WrappedLabel):
        label = kind(f"<b>A</b>{HIDDEN}")
        qtbot.addWidget(label)
        assert label.textFormat() == Qt.TextFormat.PlainText
        assert label.text() == visible(f"<b>A</b>{HIDDEN}")
        label.setText("\x07")
        assert label.text() == "\N{SYMBOL FOR BELL}"


def test_a_word_too_long_for_a_line_is_cut_and_its_tooltip_has_it(qtbot):
    name = "x" * 200 + ".csv"
    label = WrappedLabel(f"/a/path/to/{name} cannot be read.")
    qtbot.addWidget(label)
    assert max(map(len, re.split(r"[\s/]", label.text()))) <= 80
    assert label.text().startswith("/a/path/to/xxx")
    assert label.text().endswith(".csv cannot be read.")
    assert name in label.toolTip().replace("\n", "")
    usual = "/home/someone/recordings/2031/05/engine_one_left_side_flight_of_the_fifteenth.csv"
    assert with_short_words(usual) == usual


def test_a_point_in_the_name_of_a_column_tells_no_engine():
    assert channel_words("itt.2").endswith(", engine 2")
    assert channel_words("Temp.2") == "Temp.2"
    assert channel_symbol(f"a.png{HIDDEN}") == visible(f"a.png{HIDDEN}")


# --- the whole window -----------------------------------------------------------------------------------


class Opened:
    """Tells whether anybody opened a file, as the system sees it (inotify, Linux)."""

    def __init__(self, file: Path) -> None:
        self._libc = ctypes.CDLL(None, use_errno=True)
        self._fd = self._libc.inotify_init1(os.O_NONBLOCK)
        assert self._fd >= 0
        assert self._libc.inotify_add_watch(self._fd, os.fsencode(file), 0x21) >= 0  # IN_ACCESS, IN_OPEN

    def any(self) -> bool:
        try:
            return len(os.read(self._fd, 4096)) >= struct.calcsize("iIII")
        except BlockingIOError:
            return False

    def close(self) -> None:
        os.close(self._fd)


@pytest.fixture
def planted(tmp_path):
    """A recording and a profile whose every text is hostile, and the picture that they name."""
    picture = tmp_path / "picture.png"
    image = QImage(4, 4, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.red)
    assert image.save(str(picture))

    def evil(what: str, long: bool = False) -> str:
        return f'<img src="file://{picture}"><b>{what} & B</b>{HIDDEN}' + (LONG if long else "")

    lines = (DEMO / "02_early_fuel_hot.csv").read_text(encoding="utf-8").splitlines()
    head = [
        f"# aircraft: {evil('aircraft')}",
        f"# engine-serial: {evil('serial')}",
        *lines[3:5],
    ]
    quoted = '"' + evil("column").replace('"', '""') + '"'
    rows = [f"{lines[5]},{quoted}", *(f"{line},{i % 7}" for i, line in enumerate(lines[6:]))]
    # A name of a file has at most 255 bytes and no slash.
    file = tmp_path / f'<img src="picture.png"><b>A & B<\\b>{HIDDEN}\n{"n" * 150}.csv'
    file.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    toml = (GUI.parents[1] / "resources" / "profiles" / "tarn-tg7.toml").read_text(encoding="utf-8")

    def escaped(text: str) -> str:
        return (
            text.replace("\\", "\\\\")
            .replace('"', '\\"')
            .replace("\x1b", "\\u001b")
            .replace("\u202e", "\\u202e")
        )

    toml = re.sub(r'(?m)^name = ".*"$', lambda _: f'name = "{escaped(evil("profile"))}"', toml, count=1)
    toml = re.sub(r'action = "[^"]*"', lambda _: f'action = "{escaped(evil("action"))}"', toml)
    toml = re.sub(r'(?m)^source = ".*"$', lambda _: f'source = "{escaped(evil("source"))}"', toml, count=1)
    profile = tmp_path / f"<b>P & Q<\\b>{HIDDEN}.toml"
    profile.write_text(toml, encoding="utf-8")
    return file, profile, picture, evil


def texts_of(widget: QWidget) -> Iterator[tuple[str, str]]:
    """Give each text that a widget shows or says, and where."""
    yield "tooltip", widget.toolTip()
    yield "status", widget.statusTip()
    yield "what", widget.whatsThis()
    yield "name", widget.accessibleName()
    yield "description", widget.accessibleDescription()
    if widget.isWindow():
        yield "title", widget.windowTitle()
    if isinstance(widget, QLabel):
        yield "label", widget.text()
    if isinstance(widget, QAbstractButton):
        yield "button", widget.text()
    if isinstance(widget, QComboBox):
        for index in range(widget.count()):
            yield "item", widget.itemText(index)
    if (
        isinstance(widget, QAbstractItemView)
        and not isinstance(widget, QHeaderView)
        and widget.model() is not None
    ):
        model = widget.model()
        columns = 1 if isinstance(model, QAbstractListModel) else model.columnCount()
        roles = (
            Qt.ItemDataRole.DisplayRole,
            Qt.ItemDataRole.ToolTipRole,
            Qt.ItemDataRole.AccessibleTextRole,
        )
        for row in range(min(model.rowCount(), 60)):
            for column in range(columns):
                for role in roles:
                    said = str(model.index(row, column).data(role) or "")
                    delegate = widget.itemDelegate()
                    if role == Qt.ItemDataRole.DisplayRole and isinstance(delegate, PlainCells):
                        said = delegate.displayText(said, QLocale())
                    yield f"cell {role!r}", said
        for column in range(columns):
            yield "heading", str(model.headerData(column, Qt.Orientation.Horizontal) or "")
    if isinstance(widget, QTextBrowser):
        yield "page", widget.toPlainText()
    for action in widget.actions():
        yield "action", action.text()
        yield "action's tip", action.toolTip()


def look_at(root: QWidget, problems: set[str], seen: set[str]) -> None:
    """Collect what a window shows wrongly, and what of the planted texts it shows."""
    QApplication.processEvents()
    root.grab()
    for widget in [root, *root.findChildren(QWidget)]:
        kind = type(widget).__name__
        if isinstance(widget, QLineEdit) and "B</b>" in widget.text():
            # What is edited stands as the file has it; a field obeys no markup.
            seen.update(re.findall("action", widget.text()))
        for where, text in texts_of(widget):
            if "B</b>" in text or "B&lt;/b" in text or "<\\b" in text:
                seen.update(
                    re.findall(r"aircraft|serial|column|profile|action|note|author|picture\.png", text)
                )
            if visible(text, keep="\n") != text:
                problems.add(f"{kind}, {where}: a control character in {text[:80]!r}")
            is_rich = isinstance(widget, QLabel) and widget.textFormat() != Qt.TextFormat.PlainText
            is_read = where in ("tooltip", f"cell {Qt.ItemDataRole.ToolTipRole!r}") or (
                where == "label" and is_rich
            )
            if is_read and "<img" in text:
                problems.add(f"{kind}, {where}: markup in {text[:80]!r}")
            if where in ("button", "action") and re.search(r"(?<!&)&(?!&) ", text):
                problems.add(f"{kind}, {where}: a shortcut of {text[:80]!r}")
        if (
            isinstance(widget, QLabel) and widget.objectName() != "qtooltip_label"
        ):  # Qt's own, for what is tested
            assert widget.textFormat() != Qt.TextFormat.AutoText or not widget.text(), (
                kind,
                widget.text()[:80],
            )
        if widget.toolTip() and widget.isVisible():
            at = QPoint(2, 2)
            QApplication.sendEvent(widget, QHelpEvent(QEvent.Type.ToolTip, at, widget.mapToGlobal(at)))
            QToolTip.hideText()


@pytest.mark.skipif(sys.platform != "linux", reason="names of files, and inotify")
def test_no_text_of_others_is_obeyed_anywhere_in_the_window(desk, qtbot, planted, monkeypatch):
    file, profile, picture, evil = planted
    window = desk.window
    desk.opener = open_or_ask
    drawn: set[str] = set()
    draw = QPainter.drawText

    def drawing(painter, *args):
        drawn.update(arg for arg in args if isinstance(arg, str))
        return draw(painter, *args)

    monkeypatch.setattr(QPainter, "drawText", drawing)
    watch = Opened(picture)
    problems: set[str] = set()
    seen: set[str] = set()

    def look(root: QWidget = window) -> None:
        look_at(root, problems, seen)

    try:
        window.open_path(str(file))
        qtbot.waitUntil(lambda: window.replay.session is not None, timeout=20_000)
        window.requests.use_profile(str(profile))
        qtbot.waitUntil(
            lambda: window.replay.session.profile is not None and not window.progress.isVisible(),
            timeout=20_000,
        )
        session = window.replay.session
        window.notebook.add(evil("note", long=True), evil("author"), 5.0)
        qtbot.waitUntil(lambda: window.notebook.is_kept)
        qtbot.waitUntil(lambda: not window.replay.turns.count)
        window.messages.tell(f"{file} cannot be read: {evil('message', long=True)}")
        look()
        assert window.width() <= 1400, "a long name widens the window"
        window.messages.dismiss()
        foreign = next(name for name in session.lane_choices() if "column" in name)
        window.desk.add_lane(foreign)
        qtbot.waitUntil(lambda: foreign in session.lane_stack.names and not window.replay.turns.count)
        for step in range(len(session.story)):
            window.replay.choose(step)
        window.replay.frame_all()
        look()
        for menu in (window.profiles, window.lane_menu):
            menu.aboutToShow.emit()
            look(menu)
        window.beside.explain_verdict()
        look()
        window.beside.explain_finding()
        look()
        for dialog in window.findChildren(QWidget):
            if dialog.isWindow() and dialog.isVisible() and dialog is not window:
                dialog.close()
        window.views.show_starts()
        qtbot.waitUntil(lambda: window.starts.is_filled and not window.replay.turns.count, timeout=20_000)
        look()
        window.views.show_history()
        qtbot.waitUntil(lambda: window.history.page is not None, timeout=20_000)
        window.history.keep_button.click()
        qtbot.waitUntil(lambda: window.history.page.total == 1, timeout=20_000)
        look()
        window.views.show_report()
        qtbot.waitUntil(lambda: bool(window.report.pages_view.sharp_pages), timeout=30_000)
        look()
        window.views.show_definitions()
        look()
        window.importer.show_columns(session)
        qtbot.waitUntil(
            lambda: window.importer.dialog is not None and window.importer.dialog.is_ready, timeout=20_000
        )
        look(window.importer.dialog)
        assert window.importer.dialog.findChild(QuestionsPanel) is not None
        window.importer.dialog.reject()
        window.editing.show()
        look(window.editing.editor)
        for row in range(window.editing.editor.list.count()):
            window.editing.editor.list.setCurrentRow(row)
            look(window.editing.editor)
        window.editing.editor.close()
        window.close_recording()
        look()  # the start page with what was opened before
        assert not watch.any(), "a picture that a text names was opened"
    finally:
        watch.close()
    problems |= {f"drawn: {text[:80]!r}" for text in drawn if visible(text, keep="\n") != text}
    assert not problems, "\n".join(sorted(problems))
    assert {"aircraft", "column", "profile", "action", "note", "author", "picture.png"} <= seen, seen
