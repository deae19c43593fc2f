"""The still picture of the lanes: grid, traces and words, painted once for each range of time."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPixmap

from debrief.gui.background.guarded import picture_of
from debrief.gui.lanes.lane_labels import Labels
from debrief.gui.lanes.lane_layers import Backdrop
from debrief.gui.lanes.lane_scene import Scene
from debrief.gui.lanes.strip_layer import StripLayer
from debrief.gui.style.theme import Theme


class LanePicture:
    """Draws the scene in two parts, which can be asked for in turns: without its words, and whole.

    Parameters
    ----------
    scene : Scene
        What is drawn, and where; its words are placed when they are drawn.
    theme : Theme
    """

    def __init__(self, scene: Scene, theme: Theme) -> None:
        self._scene = scene
        self._backdrop = Backdrop(scene, theme)
        self._strips = StripLayer(scene, theme)
        self._labels = Labels(scene, theme)
        self._without: QPixmap | None = None
        self._whole: QPixmap | None = None
        self._before: QPixmap | None = None

    @property
    def is_drawn(self) -> bool:
        """Whether all of it is there."""
        return self._whole is not None

    def forget(self) -> None:
        """Draw it anew when it is next asked for."""
        self._before = self._whole if self._whole is not None else self._before
        self._without = self._whole = None

    def before(self, size: QSize, ratio: float) -> QPixmap | None:
        """Return the picture that was there until it is drawn anew; None where it has not this size."""
        kept = self._before
        return kept if kept is not None and kept.size() == size * ratio else None

    def without_words(self, size: QSize, ratio: float) -> QPixmap:
        """Return the picture of this size without its words, at so many pixels to a unit of the screen."""
        if self._without is None:
            # Opaque: quicker to copy, and all of it is painted.
            with picture_of(size, ratio, Qt.GlobalColor.black) as (picture, painter):
                self._backdrop.paint(painter)
                for lane in self._scene.lanes:
                    lane.paint(painter)
                self._strips.paint(painter)
            self._without = picture
        return self._without

    def whole(self, size: QSize, ratio: float) -> QPixmap:
        """Return the whole picture.

        Words that give way to a value are covered with what is behind them: hence the picture without any.
        """
        if self._whole is None:
            picture = QPixmap(self.without_words(size, ratio))
            with QPainter(picture) as painter:
                self._labels.paint(painter)
            self._whole, self._before = picture, None
        return self._whole
