"""A large file is opened with progress that moves, and can be cancelled from the window at any moment."""

from __future__ import annotations

import threading

import pytest
from PySide6.QtWidgets import QPushButton

from debrief.recording.csv import csv_arrow, source
from debrief.session.importing.import_opening import open_or_ask


@pytest.fixture
def window(desk, monkeypatch):
    desk.opener = open_or_ask
    monkeypatch.setattr(source, "HEAD_BYTES", 4096)
    monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
    monkeypatch.setattr(source, "BLOCK_BYTES", 8192)
    return desk.window


@pytest.fixture
def large(tmp_path):
    """Of many blocks."""
    lines = (f"{i / 16:.4f},{60 + i % 7 / 10:.1f},{600 + i % 11}" for i in range(8000))
    file = tmp_path / "large.csv"
    file.write_text("time (s),ng (%),itt (degC)\n" + "\n".join(lines) + "\n")
    return file


def test_the_progress_of_a_large_file_moves_many_times(window, qtbot, large):
    told = []
    window.desk.jobs.progressed.connect(lambda report: told.append(report.value.fraction))
    window.open_path(large)
    qtbot.waitUntil(lambda: window.replay.session is not None, timeout=20000)
    assert len(set(told)) > 10
    assert told == sorted(told)


def test_cancel_within_a_large_file_leaves_nothing_behind(window, qtbot, large, monkeypatch):
    go_on, inside = threading.Event(), threading.Event()
    parse, parsed = csv_arrow.parse, []

    def slow(*args, **options):
        parsed.append(args)
        if len(parsed) > 4:
            inside.set()
            go_on.wait(10)
        return parse(*args, **options)

    monkeypatch.setattr(csv_arrow, "parse", slow)
    threads = threading.active_count()
    window.open_path(large)
    qtbot.waitUntil(inside.is_set, timeout=20000)
    qtbot.waitUntil(lambda: window.progress.words != "")
    (button,) = [b for b in window.progress.findChildren(QPushButton) if b.text() == "Cancel"]
    button.click()
    assert window.progress.words == ""  # at once, whatever the reading is at
    assert window.view == "start"
    go_on.set()
    qtbot.waitUntil(lambda: window.desk.jobs.count == 0, timeout=3000)
    assert len(parsed) < 12  # of some 20 blocks: what waited was not parsed any more
    assert threading.active_count() <= threads + 1  # the pool's own idle thread
    assert window.replay.session is None
    window.open_path(large)
    qtbot.waitUntil(lambda: window.replay.session is not None, timeout=20000)
