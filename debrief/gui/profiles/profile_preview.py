"""The gauges of a profile as they will look, with a pointer that a slider moves."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QGridLayout, QSlider, QWidget

from debrief.analysis.model import Assessment
from debrief.gui.gauges.gauge import GaugeWidget
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, remove_parts
from debrief.profile.model import EngineProfile
from debrief.recording.model import Channel, Recording
from debrief.session.limits.instrument_readings import Instrument, Reading
from debrief.words.sentence import words

_MOST = 6
_STEPS = 200


class ProfilePreview(QWidget):
    """Live gauges: they follow the profile as far as it is not refused."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.gauges: list[GaugeWidget] = []
        self._profile: EngineProfile | None = None
        self._first = ""
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=6)
        column.addWidget(PlainLabel("Gauges as they will look", role="heading"))
        self._grid = QGridLayout()
        self._grid.setSpacing(6)
        column.addLayout(self._grid, 1)
        self._nothing = WrappedLabel("The profile has no gauge.", role="small")
        column.addWidget(self._nothing)
        label = PlainLabel("&Pointer")
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setAccessibleName("Pointer of all gauges")
        self.slider.setRange(0, _STEPS)
        self.slider.setValue(_STEPS * 2 // 3)
        self.slider.valueChanged.connect(self._moved)
        label.setBuddy(self.slider)
        column.addWidget(label)
        column.addWidget(self.slider)
        self.setToolTip("Short marks outside the arc: levels that are allowed for a time in a start.")
        theme.changed.connect(self._restyle)

    def show_first(self, channel: str) -> None:
        """Put this channel's gauge, which is being edited, before the others."""
        if channel != self._first:
            self._first = channel
            if self._profile is not None and channel in self._profile.gauges:
                self._make(self._profile)

    def show_profile(self, profile: EngineProfile) -> None:
        """Show this profile's gauges; they are made anew only where their markings are others."""
        before = self._profile
        same = before is not None and (before.gauges, before.limits) == (profile.gauges, profile.limits)
        self._profile = profile
        if not same:
            self._make(profile)

    def _make(self, profile: EngineProfile) -> None:
        remove_parts(self._grid, self.gauges)
        sample = _sweep(profile)
        names = sorted(profile.gauges, key=lambda name: name != self._first)
        for index, name in enumerate(names[:_MOST]):
            gauge = GaugeWidget(Instrument(sample, name), self._theme, large=False, parent=self)
            gauge.setMinimumSize(self._theme.px(110), self._theme.px(110))
            self._grid.addWidget(gauge, index // 2, index % 2)
            self.gauges.append(gauge)
        self._nothing.setVisible(not self.gauges)
        self._moved()

    @Slot()
    def _moved(self) -> None:
        profile = self._profile
        if profile is None:
            return
        share = self.slider.value() / _STEPS
        for gauge in self.gauges:
            low, high = gauge.instrument.range
            levels = tuple(
                row.level
                for limit in profile.limits
                if limit.when == "start" and limit.channel == gauge.instrument.name
                for row in limit.allowed
            )
            gauge.show_reading(Reading(low + share * (high - low)), levels)

    @Slot()
    def _restyle(self) -> None:
        for gauge in self.gauges:
            gauge.restyle()


def _sweep(profile: EngineProfile) -> Assessment:
    """Return an assessment of nothing, whose channels run over the scales of the profile's gauges."""
    times = np.array([0.0, 1.0])
    channels = {
        name: Channel(name, gauge.unit, times, np.array(gauge.range))
        for name, gauge in profile.gauges.items()
    }
    return Assessment(
        recording=Recording(channels=channels, duration_s=1.0),
        profile=profile,
        starts=(),
        events=(),
        limits=(),
        phases=(),
        flight_measures={},
        not_judged=(),
        quality=(),
        verdict="undetermined",
        sentence=words(""),
    )
