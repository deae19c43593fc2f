"""What stands beside the fields of the profile editor: gauges or the chart of a limit, and what can be judged."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QScrollArea, QStackedWidget, QStyle, QWidget

from debrief.analysis.model import TimeAbove
from debrief.gui.profiles.completeness_list import CompletenessList
from debrief.gui.profiles.limit_chart import LimitChart
from debrief.gui.profiles.profile_preview import ProfilePreview
from debrief.gui.profiles.section_page import SectionPage
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.parts import column_layout
from debrief.profile.model import EngineProfile
from debrief.session.charts.limit_table_chart import TITLE
from debrief.session.profiles.limit_rows import corners_of
from debrief.session.profiles.profile_fields import choice_words

_WIDTH = 310


class EditorSide(QWidget):
    """The live pictures.

    Parameters
    ----------
    theme : Theme
    above : TimeAbove, optional
        Of a start of the open recording, shown behind a start limit.

    Signals
    -------
    drawn : tuple of (level, seconds)
        The corners of the limit as a person has drawn them.
    settled
        A move has ended.
    key_wanted : str
        The field of a key that is lacking is to be shown.
    """

    drawn = Signal(object)
    settled = Signal()
    key_wanted = Signal(str)

    def __init__(self, theme: Theme, above: TimeAbove | None) -> None:
        super().__init__()
        self._theme = theme
        self._above = above if above is not None and above.unit in ("degC", "degF") else None
        self.preview = ProfilePreview(theme)
        self._chart = LimitChart(theme)
        self._chart.drawn.connect(self.drawn)
        self._chart.settled.connect(self.settled)
        self._stack = QStackedWidget()
        gauges = QScrollArea(widgetResizable=True)
        gauges.setFrameShape(QFrame.Shape.NoFrame)
        gauges.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        gauges.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        gauges.setWidget(self.preview)
        self._stack.addWidget(gauges)
        self._stack.addWidget(self._chart)
        self._gaps = CompletenessList(theme)
        self._gaps.wanted.connect(self.key_wanted)
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=6)
        column.addWidget(self._stack, 3)
        column.addWidget(self._gaps, 2)

    def take_width(self, most: int) -> None:
        """Be as wide as is usual, but no wider than this where it can, [px]."""
        bar = self.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
        least = self.preview.minimumSizeHint().width() + bar
        self.setFixedWidth(min(self._theme.px(_WIDTH), max(least, most)))

    def show_nothing(self) -> None:
        """Show that nothing can be judged yet: a profile of which nothing could be read."""
        self.show_profile(EngineProfile(""))

    def show_profile(self, profile: EngineProfile) -> None:
        """Show the gauges of a profile, and what can be judged with it."""
        self.preview.show_profile(profile)
        self._gaps.show_profile(profile)

    def show_section(self, page: SectionPage) -> None:
        """Show a limit of ITT as a chart that can be drawn in; of all other parts the gauges."""
        corners = None
        if page.section.path[:1] == ("limits",):
            unit, rows = page.editor("unit").value, page.editor("allowed").value
            if page.editor("channel").value == "itt" and unit in ("degC", "degF") and isinstance(rows, tuple):
                corners = corners_of(rows)
        self._stack.setCurrentIndex(int(corners is not None))
        if corners is not None:
            in_start = page.editor("when").value == "start"
            above = self._above if in_start else None
            title = TITLE if in_start else f"Allowed {choice_words(str(page.editor('when').value))}"
            self._chart.show_table(corners, str(unit), above, str(page.editor("count").value), title)
