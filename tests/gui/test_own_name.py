"""A person whose file says EGT reads EGT everywhere in the window, painted words, tooltips and screen reader included."""

from __future__ import annotations

import re
from dataclasses import replace

from PySide6.QtWidgets import QWidget

from debrief.analysis import assess
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import busy, until, words_painted

ITT = re.compile(r"\bITT\b|[Ii]nterturbine")


def test_no_page_says_itt_of_a_recording_that_says_egt(desk):
    usual = assessed(next(path for path in DEMOS if path.name.startswith("06")))
    channel = replace(usual.recording.channels["itt"], column="EGT (degC)", sign="EGT")
    recording = usual.recording.with_channels({**usual.recording.channels, "itt": channel})
    with words_painted() as painted:
        desk.show(assess(recording, usual.profile))
        views = desk.window.views
        shown = []
        for show in (views.show_replay, views.show_starts, views.show_report):
            show()
            until(lambda: not busy(desk.window))
            desk.window.grab()
            shown.append(desk.user.words)
            for one in desk.window.findChildren(QWidget):
                if one.isVisible():
                    shown += [one.accessibleName(), one.accessibleDescription(), one.toolTip()]
    read = [*(word.text for word in painted), *shown]
    assert [text for text in read if ITT.search(text)] == []
    assert sum("EGT" in text for text in read) > 10
