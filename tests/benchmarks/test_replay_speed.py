"""How fast the replay moves, beside the plot library's own reduction in the same run.

Twelve lanes of 576,000 samples (10 h at 16 Hz) and the gauges, 1400 x 900, software raster. Frame times
depend on the machine and on what else runs there: asserted is the ratio, and a wide bound on stalls.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyqtgraph as pg
import pytest
from PySide6.QtWidgets import QApplication

from debrief.analysis.model import Assessment
from debrief.gui.settings import Settings
from debrief.gui.theme import Theme
from debrief.gui.window import Window
from debrief.recording.model import Channel, Recording
from debrief.session.lane_stack import prepare_lane
from debrief.session.session import Session, prepare

pytestmark = pytest.mark.slow

SAMPLES = 576_000
UNITS = {"ng": "%", "itt": "degC", "torque": "%", "bus_volts": "V", "np": "rpm", "oil_temp": "degC",
         "oil_press": "psi", "ias": "kt", "fuel_flow": "kg/h", "palt": "ft", "oat": "degC",
         "battery_amps": "A"}  # fmt: skip
FRAMES = 60


def _assessment() -> Assessment:
    rng = np.random.default_rng(3)
    t = np.arange(SAMPLES) / 16.0
    channels = {}
    for name, unit in UNITS.items():
        values = 100 + 0.1 * np.cumsum(rng.normal(size=SAMPLES)) + rng.normal(size=SAMPLES)
        channels[name] = Channel(name, unit, t, values, name)
    recording = Recording(channels, float(t[-1]))
    return Assessment(recording, None, (), (), (), (), {}, (), (), "undetermined", "Undetermined.")


def _frames_per_second(move: Callable[[int], None]) -> tuple[float, float]:
    worst = 0.0
    begin = time.perf_counter()
    for i in range(FRAMES):
        before = time.perf_counter()
        move(i)
        QApplication.processEvents()
        worst = max(worst, time.perf_counter() - before)
    return FRAMES / (time.perf_counter() - begin), worst


@pytest.fixture(scope="module")
def assessment() -> Assessment:
    return _assessment()


@pytest.fixture
def window(qtbot, assessment):
    theme = Theme("light")
    theme.apply()
    made = Window(theme, Settings())
    qtbot.addWidget(made)
    made.resize(1400, 900)
    made.show()
    session = Session(Path("long.csv"), assessment, prepare(assessment))
    for name in UNITS:
        session.lane_stack.add(prepare_lane(assessment, name))
    made.replay.show(session)
    QApplication.processEvents()
    return made


def _library_pan(qtbot, assessment, begin: float, span: float, step: float) -> float:
    widget = pg.GraphicsLayoutWidget()
    qtbot.addWidget(widget)
    widget.resize(1400, 900)
    plots = []
    for row, name in enumerate(UNITS):
        plot = widget.addPlot(row=row, col=0)
        channel = assessment.recording.channels[name]
        curve = plot.plot(channel.time_s, channel.values, pen=pg.mkPen("b", width=1))
        # Both are silently reset when they are set before the curve is in its plot.
        curve.setDownsampling(auto=True, method="peak")
        curve.setClipToView(True)
        plot.disableAutoRange()
        plot.setXRange(begin, begin + span, padding=0)
        plots.append(plot)
    widget.show()
    QApplication.processEvents()

    def move(i: int) -> None:
        for plot in plots:
            plot.setXRange(begin + i * step, begin + span + i * step, padding=0)

    rate, _ = _frames_per_second(move)
    widget.close()
    return rate


@pytest.mark.parametrize(("span", "step"), [(300.0, 1.0), (18_000.0, 40.0)])
def test_panning_is_at_least_twice_as_fast_as_the_library_s_own_reduction(
    qtbot, window, assessment, span, step, record_property
):
    window.replay.frame(1000.0, 1000.0 + span)
    QApplication.processEvents()
    own, worst = _frames_per_second(lambda i: window.replay.pan(step))
    library = _library_pan(qtbot, assessment, 1000.0, span, step)
    record_property("frames_per_second", round(own))
    record_property("library_frames_per_second", round(library))
    print(f"pan {span:.0f} s: own {own:.0f}/s, worst {worst * 1000:.0f} ms, library {library:.0f}/s")
    assert own >= 2 * library
    assert worst < 0.25


def test_playing_costs_a_small_part_of_a_frame(window):
    window.replay.frame(1000.0, 1300.0)
    QApplication.processEvents()
    own, worst = _frames_per_second(lambda i: window.replay.seek(1010.0 + 0.3 * i))
    print(f"play: {own:.0f}/s, worst {worst * 1000:.0f} ms")
    assert own >= 30
    assert worst < 0.25
