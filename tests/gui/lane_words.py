"""What the lanes write at the playhead, under the mouse and between the cursors."""

from __future__ import annotations

from debrief.gui.lanes.lanes_view import LanesView


def measured_words(lanes: LanesView) -> list[str]:
    """Return what is measured between the mark and the playhead, channel by channel."""
    return [words for _, words, _ in lanes.readout.measures]


def hover_words(lanes: LanesView) -> list[str]:
    """Return the values under the mouse, channel by channel."""
    return [tag.text for tag in lanes.readout.hover_tags]


def tag_words(lanes: LanesView) -> dict[str, str]:
    """Return the values at the playhead by colour role."""
    return {tag.role: tag.text for tag in lanes.readout.tags}
