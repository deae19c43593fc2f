"""What keeps the event loop going: the collector, parts that appear in turns, progress over the page."""

import gc
import sys
import weakref
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from debrief.gui.background.interpreter import calm_interpreter, put_aside
from tests.session import assessment_maker as made


@pytest.fixture
def usual_interpreter() -> Iterator[None]:
    threshold, switch = gc.get_threshold(), sys.getswitchinterval()
    yield
    gc.unfreeze()
    gc.set_threshold(*threshold)
    sys.setswitchinterval(switch)


def test_what_is_there_is_put_aside_from_the_collector(usual_interpreter):
    calm_interpreter()
    assert gc.get_freeze_count() > 1000
    assert gc.get_threshold()[0] > 700
    assert sys.getswitchinterval() < 0.005


def test_a_closed_recording_is_freed_without_the_collector(desk, usual_interpreter):
    session = desk.show(made.many_events(3))
    gone = weakref.ref(session)
    array = weakref.ref(session.recording.channels["itt"])
    put_aside()
    gc.disable()
    try:
        del session
        desk.window.close_recording()
        QApplication.processEvents()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()
        assert gone() is None
        assert array() is None
    finally:
        gc.enable()


def test_all_parts_of_the_replay_are_painted_after_a_recording_was_opened(desk, qtbot):
    desk.window.open_path("flight.csv")
    desk.opened()
    window = desk.window
    parts = (window.lanes, window.story, window.gauges, window.timeline, window.playback_bar)
    qtbot.waitUntil(lambda: all(part.updatesEnabled() for part in parts))


def test_progress_lies_over_the_page_and_moves_nothing(desk):
    desk.show(made.hot_start())
    before = desk.window.lanes.geometry()
    desk.window.progress.tell("Reading", 0.5)
    QApplication.processEvents()
    assert desk.window.lanes.geometry() == before
    assert desk.window.progress.isVisible()
    assert desk.window.progress.width() == desk.window.views.width()
    desk.window.progress.hide()
