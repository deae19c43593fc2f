"""How fast the replay moves, beside the plot library's own reduction in the same run.

Twelve lanes of 576,000 samples (10 h at 16 Hz) and the gauges, 1400 x 900, software raster. Frames are timed
by the process's own work, the best of several rounds; the aim is 60 a second and twice the library's rate in
the same run. Asserted are the ratio and wider bounds, since other programs slow the work itself too.
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
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.recording.model import Channel, Recording
from debrief.session.lanes.lane_stack import prepare_lane
from debrief.session.session import Session, prepare

pytestmark = pytest.mark.slow

SAMPLES = 576_000
UNITS = {"ng": "%", "itt": "degC", "torque": "%", "bus_volts": "V", "np": "rpm", "oil_temp": "degC",
         "oil_press": "psi", "ias": "kt", "fuel_flow": "kg/h", "palt": "ft", "oat": "degC",
         "battery_amps": "A"}  # fmt: skip
FRAMES = 60
ROUNDS = 4
LEAST = 40
"""Frames a second that are asserted; the aim on a quiet machine is 60."""
STALL_S = 0.1


def _assessment() -> Assessment:
    rng = np.random.default_rng(3)
    t = np.arange(SAMPLES) / 16.0
    channels = {}
    for name, unit in UNITS.items():
        values = 100 + 0.1 * np.cumsum(rng.normal(size=SAMPLES)) + rng.normal(size=SAMPLES)
        channels[name] = Channel(name, unit, t, values, name)
    recording = Recording(channels, float(t[-1]))
    return Assessment(recording, None, (), (), (), (), {}, (), (), "undetermined", "Undetermined.")


def _frames_per_second(move: Callable[[int], None], begin: Callable[[], None]) -> tuple[float, float]:
    """Return frames a second and the longest frame, [s], of the process's own work.

    The same frames are drawn in several rounds and of each the quickest counts: what else runs on the machine
    only adds.
    """
    best = [float("inf")] * FRAMES
    for _ in range(ROUNDS):
        begin()
        QApplication.processEvents()
        for i in range(FRAMES):
            before = time.process_time()
            move(i)
            QApplication.processEvents()
            best[i] = min(best[i], time.process_time() - before)
    return FRAMES / sum(best), max(best)


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

    def reset() -> None:
        for plot in plots:
            plot.setXRange(begin, begin + span, padding=0)

    rate, _ = _frames_per_second(move, reset)
    widget.close()
    return rate


@pytest.mark.parametrize(("span", "step"), [(300.0, 1.0), (18_000.0, 40.0)])
def test_panning_is_at_least_twice_as_fast_as_the_library_s_own_reduction(
    qtbot, window, assessment, span, step, record_property
):
    own, worst = _frames_per_second(
        lambda i: window.replay.pan(step), lambda: window.replay.set_frame(1000.0, 1000.0 + span)
    )
    library = _library_pan(qtbot, assessment, 1000.0, span, step)
    record_property("frames_per_second", round(own))
    record_property("library_frames_per_second", round(library))
    print(f"pan {span:.0f} s: own {own:.0f}/s, worst {worst * 1000:.0f} ms, library {library:.0f}/s")
    assert own >= 2 * library
    assert own >= LEAST
    assert worst < STALL_S


def test_zooming_over_ten_hours_is_fast_and_never_stalls(window, record_property):
    """In and out between ten hours and a minute, about a moment, as the wheel does."""
    own, worst = _frames_per_second(
        lambda i: window.replay.zoom(0.8 if i < FRAMES / 2 else 1.25, 12_000.0), window.replay.frame_all
    )
    record_property("frames_per_second", round(own))
    print(f"zoom: {own:.0f}/s, worst frame {worst * 1000:.0f} ms")
    assert own >= LEAST
    assert worst < STALL_S


def test_playing_costs_a_small_part_of_a_frame(window, record_property):
    own, worst = _frames_per_second(
        lambda i: window.replay.seek(1010.0 + 0.3 * i), lambda: window.replay.frame(1000.0, 1300.0)
    )
    record_property("frames_per_second", round(own))
    print(f"play: {own:.0f}/s, worst frame {worst * 1000:.0f} ms")
    assert own >= LEAST
    assert worst < STALL_S
