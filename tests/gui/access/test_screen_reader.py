"""What those hear who do not see: names and roles of everything, values of what is painted, and what changes meanwhile."""

from __future__ import annotations

import pytest
from PySide6.QtGui import (
    QAccessible,
    QAccessibleAnnouncementEvent,
    QAccessibleEvent,
    QAccessibleValueChangeEvent,
)
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QFileDialog, QLineEdit, QWidget

from debrief.gui.charts.chart_view import ChartView
from debrief.gui.gauges.gauge import GaugeWidget
from debrief.gui.lanes.lanes_view import LanesView
from debrief.gui.profiles.limit_chart import LimitChart
from debrief.gui.replay.timeline import Timeline
from debrief.gui.report.pages_view import PagesView
from debrief.gui.widgets import spoken
from tests.gui.access.focusing import to_be_reached
from tests.gui.access.walking import settled, shown, walk
from tests.session import assessment_maker as made

PAINTED = (ChartView, GaugeWidget, LanesView, LimitChart, PagesView, Timeline)
"""Parts that paint all they show: Qt has no role for them, so that their words must have it all."""
NO_ROLES = (QAccessible.Role.NoRole, QAccessible.Role.Client, QAccessible.Role.Pane)
ROLES = {
    QAbstractButton: {"Button", "CheckBox", "RadioButton", "ButtonMenu", "PushButton"},
    QLineEdit: {"EditableText"},
    QAbstractItemView: {"List", "Table", "Tree"},
}


def said(widget: QWidget, what: QAccessible.Text) -> str:
    return QAccessible.queryAccessibleInterface(widget).text(what)


def faults(widget: QWidget) -> list[str]:
    """Return what a screen reader lacks of a widget that takes the keys."""
    role = QAccessible.queryAccessibleInterface(widget).role()
    called = f"{type(widget).__name__} {said(widget, QAccessible.Text.Name)[:40]!r}"
    found = [] if said(widget, QAccessible.Text.Name).strip() else [f"{called} has no name"]
    if isinstance(widget, PAINTED):
        if not said(widget, QAccessible.Text.Description).strip():
            found.append(f"{called} does not say what it shows")
    elif role in NO_ROLES:
        found.append(f"{called} has the role {role.name}")
    for kind, roles in ROLES.items():
        if isinstance(widget, kind) and role.name not in roles:
            found.append(f"{called} has the role {role.name}")
    return found


def test_everything_that_takes_the_keys_has_a_name_and_a_role_or_says_what_it_shows(desk):
    found, kinds = set(), set()
    for name, root in walk(desk.window):
        if isinstance(root, QFileDialog):
            continue  # Qt's own
        for widget in to_be_reached(root):
            kinds.add(type(widget).__name__)
            found |= {f"{name}: {fault}" for fault in faults(widget)}
    assert found == set()
    assert {"LanesView", "Timeline", "GaugeWidget", "PagesView", "StoryList"} <= kinds


@pytest.fixture
def heard(monkeypatch):
    """What a screen reader would be told."""
    events: list[QAccessibleEvent] = []
    monkeypatch.setattr(spoken.QAccessible, "isActive", lambda: True)
    monkeypatch.setattr(spoken, "tell", events.append)
    return events


def words_of(events) -> list[str]:
    return [one.message() for one in events if isinstance(one, QAccessibleAnnouncementEvent)]


def test_the_verdict_is_announced_when_it_changes_and_only_then(desk, heard):
    desk.show(made.hot_start())
    first = desk.window.replay.session.sentence
    assert words_of(heard) == [str(first)]
    desk.window.looks.larger()
    settled(desk.window)
    assert len(words_of(heard)) == 1
    shown(desk.window)
    assert words_of(heard)[1:] == [str(desk.window.replay.session.sentence)]


def test_a_problem_is_announced_at_once_and_other_messages_after_what_is_being_said(desk, heard):
    desk.window.messages.tell("The file cannot be read.", True)
    desk.window.messages.tell("Saved.", False)
    polite = QAccessible.AnnouncementPoliteness
    told = [
        (one.message(), one.politeness()) for one in heard if isinstance(one, QAccessibleAnnouncementEvent)
    ]
    assert told == [("The file cannot be read.", polite.Assertive), ("Saved.", polite.Polite)]
    alerts = [one for one in heard if one.type() == QAccessible.Event.Alert]
    assert len(alerts) == 1


def test_the_playhead_is_a_value_that_changes(desk, heard):
    session = shown(desk.window)
    timeline = desk.window.timeline
    heard.clear()
    desk.window.replay.seek(31.0)
    values = [one.value() for one in heard if isinstance(one, QAccessibleValueChangeEvent)]
    assert values == [31.0]
    assert said(timeline, QAccessible.Text.Description) == "Playhead at 0:31.0 of 4:40.0"
    assert session.playback.duration_s == pytest.approx(280.0, abs=0.5)


def test_lanes_and_dials_say_the_values_at_the_playhead_with_their_limits(desk):
    shown(desk.window)
    desk.window.replay.seek(31.0)
    lanes = said(desk.window.lanes, QAccessible.Text.Description)
    assert lanes.startswith("At 0:31.0: Ng 20.4 %")
    assert "ITT 14 °C, levels 830: 20 s, 920: 6 s, 1030: never" in lanes
    dial = desk.window.gauges.gauge("itt")
    assert said(dial, QAccessible.Text.Name) == "Interturbine temperature"
    assert said(dial, QAccessible.Text.Description).startswith("14 °C")
    desk.window.replay.seek(250.0)
    assert said(desk.window.lanes, QAccessible.Text.Description).startswith("At 4:10.0: Ng ")
    assert not said(dial, QAccessible.Text.Description).startswith("14 °C")
