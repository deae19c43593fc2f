"""The dials: digits off the pointer, words that fit, and no smaller dial with larger text."""

from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter, QPainterPath
from PySide6.QtWidgets import QApplication

from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import painted, painted_anew, tip_at, until
from tests.session import assessment_maker as made

DIALS = ("itt", "ng", "bus_volts", "torque", "np")


@contextmanager
def drawn(name):
    """Collect the first argument of each call of one of the painter's methods."""
    found, draw = [], getattr(QPainter, name)

    def drawing(painter, first, *rest):
        found.append(first)
        return draw(painter, first, *rest)

    setattr(QPainter, name, drawing)
    try:
        yield found
    finally:
        setattr(QPainter, name, draw)


def show(desk, number, scale=1.0, size=(1280, 720)):
    desk.show(assessed(next(path for path in DEMOS if path.stem.startswith(number))))
    desk.window.resize(*size)
    desk.theme.set_scale(scale)
    QApplication.processEvents()


def visible(desk):
    dials = (desk.window.gauges.gauge(name) for name in DIALS)
    return [dial for dial in dials if dial is not None and dial.isVisible()]


@pytest.mark.parametrize("scale", [1.0, 1.2, 1.6])
def test_the_pointer_never_runs_through_the_digits(desk, scale):
    show(desk, "02", scale)
    seen = 0
    for time_s in np.arange(12.0, 60.0, 2.3):
        desk.window.replay.seek(float(time_s))
        for dial in visible(desk):
            with drawn("drawPolygon") as polygons:
                words = painted(dial)
            (digits,) = (one.rect for one in words if one.text == dial.words)
            metrics = desk.theme.metrics(10, bold=True)
            # The letters alone: above and below them their line is empty.
            letters = digits.adjusted(0, 0, 0, 0)
            empty = (digits.height() - metrics.capHeight() * digits.height() / metrics.height()) / 2
            letters = letters.adjusted(0, empty, 0, -empty)
            assert polygons
            assert not [1 for one in polygons if one.boundingRect().intersects(letters)]
            seen += 1
    assert seen > 40


def radius_of(dial):
    with drawn("drawArc") as arcs:
        painted_anew(dial)
    return max(QRectF(arc).width() for arc in arcs) / 2


@pytest.mark.parametrize("size", [(1280, 720), (1440, 900), (2560, 1440)])
def test_small_dials_grow_with_their_text(desk, size):
    """Where the column has no room for as many, the last are left out: the lanes have their values."""
    for scale in (1.0, 1.2, 1.6):
        show(desk, "06", scale, size)
        radii = [radius_of(dial) for dial in visible(desk)[1:3]]
        assert len(radii) == 2
        assert min(radii) >= 26.0 * scale


@pytest.mark.parametrize("scale", [1.0, 1.2, 1.6])
@pytest.mark.parametrize("factor", [1.0, 1234.5])
def test_every_word_of_a_dial_is_inside_it_and_the_tip_has_all_of_them(desk, scale, factor):
    """Of a wide number the end of its words was cut: ``pm, max so far 10008(``."""
    whole = made.hot_start()
    ng = whole.recording.channels["ng"]
    wide = replace(ng, name="np", unit="rpm", values=factor * ng.values)
    desk.show(
        replace(whole, recording=replace(whole.recording, channels={**whole.recording.channels, "np": wide}))
    )
    desk.theme.set_scale(scale)
    desk.window.resize(1440, 900)
    QApplication.processEvents()
    for time_s in (10.0, 18.6, 24.0, 60.0):
        desk.window.replay.seek(time_s)
        for dial in visible(desk):
            for word in painted_anew(dial):
                assert word.rect.left() >= 0
                assert word.rect.right() <= dial.width()
                assert word.rect.bottom() <= dial.height() + 2
            tip = tip_at(dial, dial.rect().center())
            assert dial.extreme_words in tip
            assert dial.accessibleName() in tip


@pytest.mark.parametrize("scale", [1.0, 1.2, 1.6])
def test_the_name_of_a_switch_and_its_state_stand_apart(desk, scale):
    """Too narrow a column read ``Ignitionnot known``."""
    whole = assessed(next(path for path in DEMOS if path.stem.startswith("02")))
    late = {
        name: replace(channel, time_s=channel.time_s + 30.0)
        for name in ("ignition", "external_power")
        if (channel := whole.recording.channels.get(name)) is not None
    }
    channels = {**whole.recording.channels, **late}
    desk.show(replace(whole, recording=replace(whole.recording, channels=channels)))
    desk.theme.set_scale(scale)
    desk.window.lanes.show_strips(False)  # the list has them
    QApplication.processEvents()
    desk.window.replay.seek(5.0)
    words = painted(desk.user.find("Switches"))
    assert "not known" in [one.text for one in words]
    for one in words:
        for other in words:
            if one is not other and abs(one.rect.center().y() - other.rect.center().y()) < 4:
                apart = max(other.rect.left() - one.rect.right(), one.rect.left() - other.rect.right())
                assert apart >= 3, (one.text, other.text)


@pytest.mark.parametrize("number", ["02", "06", "12", "17"])
def test_with_text_two_steps_larger_the_replay_still_fits_a_small_window(desk, number):
    show(desk, number, 1.2)
    bars = [desk.window.scrolled.verticalScrollBar(), desk.window.scrolled.horizontalScrollBar()]
    # The verdict bar takes its lowest form in later turns of the event loop.
    until(lambda: not desk.window.replay.turns.count and [bar.maximum() for bar in bars] == [0, 0])


def test_no_pointer_runs_through_a_number_of_the_scale(desk):
    """The number under the pointer gives way, as the digits tell it; the others stay."""
    show(desk, "02")
    desk.user.presses("F11")
    desk.window.resize(1280, 720)
    QApplication.processEvents()
    dial = desk.window.gauges.gauge("itt")
    replay = desk.window.replay
    start = replay.session.assessment.starts[0]
    hidden = set()
    for time_s in np.arange(start.begin_s, start.peak_itt_s + 3.0, 0.25):
        replay.seek(float(time_s))
        words = painted(dial)
        with drawn("drawPolygon") as blades:
            dial.grab()
        numbers = [one for one in words if one.text in ("0", "200", "400", "600", "800", "1000", "1200")]
        assert len(numbers) >= 5
        hidden |= {"0", "200", "400", "600", "800", "1000", "1200"} - {one.text for one in numbers}
        for blade in blades:
            path = QPainterPath()
            path.addPolygon(blade)
            # The letters alone, not the room of their line.
            hit = [one for one in numbers if path.intersects(one.rect.adjusted(0, 3, 0, -3))]
            assert not hit, (hit, [blade.at(i) for i in range(blade.size())], time_s)
    assert "1200" in hidden
