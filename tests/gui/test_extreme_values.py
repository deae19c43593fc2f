"""Charts and instruments draw whatever number there is: dates, sizes, no value, one value, very many."""

from __future__ import annotations

import math
import sys
import time
import warnings
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QHelpEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.analysis import assess
from debrief.gui.charts.chart_view import ChartView
from debrief.gui.gauges.gauge import GaugeWidget
from debrief.gui.gauges.tape import TapeWidget
from debrief.gui.style.theme import Theme
from debrief.history.trends.series import Point, Trend, date_text
from debrief.history.usual.baseline import Band
from debrief.profile import find
from debrief.recording.model import Channel
from debrief.session.charts.trend_chart import trend_chart
from debrief.session.drawing.axes import (
    nice_step,
    rounded_range,
    share_of,
    shares_of,
    tick_text,
    ticks,
    time_step,
    time_ticks,
)
from debrief.session.session import Session, prepare
from tests.session import assessment_maker as made

LARGEST = sys.float_info.max
ANY = st.floats(allow_nan=False, allow_infinity=False)
EXTREMES = [
    0.0,
    1.0,
    -1.0,
    1e18,
    -1e18,
    1e308,
    -1e308,
    LARGEST,
    -LARGEST,
    5e-324,
    math.nan,
    math.inf,
    -math.inf,
]


@given(ANY, ANY, ANY)
def test_a_place_on_a_scale_is_always_a_number_that_can_be_drawn(value, low, high):
    assert abs(share_of(value, low, high)) <= 1000
    if low < high and low <= value <= high:
        assert 0 <= share_of(value, low, high) <= 1
    assert (
        shares_of(np.array([value]), low, high)[0] == pytest.approx(share_of(value, low, high)) or low >= high
    )


@given(st.sampled_from(EXTREMES))
def test_what_is_not_known_has_no_place(value):
    assert math.isnan(share_of(value, 0.0, 1.0)) == math.isnan(value)
    assert np.isnan(shares_of(np.array([value]), 0.0, 1.0)[0]) == math.isnan(value)


@given(ANY, ANY, st.integers(1, 30))
def test_ticks_of_any_range_are_few_and_inside(one, other, most):
    low, high = min(one, other), max(one, other)
    for found in (ticks(low, high, most), time_ticks(low, high, most)):
        assert len(found) <= 4 * most + 3
        slack = 1e-8 + (1e-6 * (high - low) if math.isfinite(high - low) else 0.0)
        assert all(low - slack <= tick <= high + slack for tick in found)
    assert tick_text(low, nice_step(high - low, most))
    assert time_step(high - low, most) > 0
    bottom, top = rounded_range(low, high)
    assert bottom < top


@pytest.mark.parametrize("epoch_s", [1e18, -1e18, 253402300800.0, -62135596801.0, math.nan, math.inf])
def test_a_date_outside_the_calendar_is_not_known(epoch_s):
    assert date_text(epoch_s) == "date not known"


def test_the_first_and_the_last_day_of_the_calendar_are_said():
    assert date_text(253402300799.0) == "9999-12-31"
    assert date_text(-62135596800.0) == "0001-01-01"


def _trend(values: list[float], at: list[float]) -> Trend:
    points = tuple(
        Point(when, value, f"{i:064x}", 1, f"{i}.csv", None, None)
        for i, (value, when) in enumerate(zip(values, at, strict=True))
    )
    band = Band("E", "peak_itt_c", "degC", "battery", "ground", len(values))
    return Trend("E", "peak_itt_c", "degC", points, tuple(range(len(points))), band)


def _use(chart: ChartView) -> None:
    """Paint, and mean each of some points."""
    chart.grab()
    chart.setFocus()
    for key in (Qt.Key.Key_Left, Qt.Key.Key_Left, Qt.Key.Key_Right):
        QTest.keyClick(chart, key)
        chart.grab()
    place = QPointF(200, 100)
    QApplication.sendEvent(chart, QHelpEvent(QHelpEvent.Type.ToolTip, place.toPoint(), place.toPoint()))


@pytest.mark.parametrize(
    ("values", "at"),
    [
        ([], []),
        ([742.0], [0.0]),
        ([742.0] * 5, [1e18] * 5),
        (EXTREMES, [0.0] * len(EXTREMES)),
        ([742.0] * len(EXTREMES), EXTREMES),
        ([LARGEST, -LARGEST], [0.0, 1.0]),
        ([1e18, 1e18 + 200], [0.0, 1.0]),
        ([5e-324, 0.0], [0.0, 1.0]),
        ([math.nan, math.nan], [0.0, 1.0]),
    ],
)
def test_a_trend_of_any_numbers_is_drawn(qtbot, values, at):
    chart = ChartView(Theme("light"), "Trend")
    qtbot.addWidget(chart)
    chart.resize(560, 300)
    chart.show()
    chart.show_chart(trend_chart(_trend(values, at)))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        _use(chart)


def test_a_trend_of_a_hundred_thousand_starts_is_drawn_in_a_moment(qtbot):
    chart = ChartView(Theme("light"), "Trend")
    qtbot.addWidget(chart)
    chart.resize(560, 300)
    chart.show()
    many = 100_000
    chart.show_chart(
        trend_chart(_trend([700.0 + i % 50 for i in range(many)], [86400.0 * i for i in range(many)]))
    )
    begun = time.process_time()
    chart.grab()
    assert time.process_time() - begun < 4
    begun = time.process_time()
    QTest.mouseMove(chart.viewport(), QPointF(200, 100).toPoint())
    chart.grab()
    assert time.process_time() - begun < 0.5


# --- a recording ----------------------------------------------------------------------------------------


def _with(channel: str, **changes):
    base = made.hot_start_recording()
    kept = base.channels[channel]
    values = changes["values"](np.array(kept.values))
    return replace(base, channels={**base.channels, channel: replace(kept, values=values)})


def _at(place: int, value: float):
    def put(values):
        values[place] = value
        return values

    return put


def _stretched(factor: float):
    base = made.hot_start_recording()
    channels = {k: replace(c, time_s=np.array(c.time_s) * factor) for k, c in base.channels.items()}
    return replace(base, duration_s=base.duration_s * factor, channels=channels)


def _cut(samples: int):
    base = made.hot_start_recording()
    channels = {
        name: Channel(name, one.unit, one.time_s[:samples], one.values[:samples], one.column, one.unit)
        for name, one in base.channels.items()
    }
    return replace(base, duration_s=max(0.0, (samples - 1) * 0.1), channels=channels)


def _at_the_end_of_time():
    base = made.hot_start_recording()
    start = datetime(9999, 12, 31, 23, 59, 30, tzinfo=UTC)
    return replace(base, identity=replace(base.identity, start=start, start_source="preamble"))


RECORDINGS = {
    **{
        f"one {channel} {value}": lambda channel=channel, value=value: _with(channel, values=_at(275, value))
        for channel in ("itt", "bus_volts")
        for value in (1e308, -1e308, 1e18, math.nan)
    },
    "all itt 1e308": lambda: _with("itt", values=lambda v: np.full_like(v, 1e308)),
    "all itt unknown": lambda: _with("itt", values=lambda v: np.full_like(v, math.nan)),
    "volts from end to end": lambda: _with(
        "bus_volts", values=lambda v: np.where(np.arange(v.size) % 2 == 0, 1e308, -1e308)
    ),
    "one sample": lambda: _cut(1),
    "two samples": lambda: _cut(2),
    "thirty years": lambda: _stretched(1e7),
    "a tenth of a millisecond": lambda: _stretched(1e-6),
    "the end of time": _at_the_end_of_time,
}


@pytest.mark.parametrize("name", RECORDINGS)
def test_a_recording_of_any_numbers_is_drawn(desk, qtbot, name):
    """What Qt calls must not fail: that comes to the last net, which fails the test."""
    assessment = assess(RECORDINGS[name](), find("tarn-tg7"))
    session = Session(Path("made.csv"), assessment, prepare(assessment), clock=desk.clock)
    window = desk.window
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        window.replay.show(session)
        qtbot.waitUntil(lambda: not window.replay.turns.count)
        for time_s in np.linspace(0.0, assessment.recording.duration_s, 5):
            window.replay.seek(float(time_s))
            window.grab()
        for _ in range(8):
            window.replay.zoom_in()
        window.grab()
        window.replay.frame_all()
        window.views.show_starts()
        qtbot.waitUntil(
            lambda: (window.starts.is_filled or not assessment.starts) and not window.replay.turns.count,
            timeout=20_000,
        )
        window.grab()


@pytest.mark.parametrize("kind", [GaugeWidget, TapeWidget])
@pytest.mark.parametrize("value", EXTREMES)
def test_an_instrument_shows_any_number(desk, qtbot, kind, value):
    window = desk.window
    desk.show(made.hot_start())
    if kind is TapeWidget:
        window.looks.toggle_tapes()
    instrument = next(one for one in window.gauges.findChildren(kind))
    instrument.show_reading(replace(instrument.instrument.read(0.0), value=value, extreme=value), ())
    instrument.grab()
    if kind is TapeWidget:
        window.looks.toggle_tapes()
