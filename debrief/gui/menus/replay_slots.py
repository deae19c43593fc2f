"""What the commands of the menus do to the replay."""

from __future__ import annotations

from collections.abc import Callable

from debrief.gui.replay.replay_controller import Replay


def replay_slots(replay: Replay) -> dict[str, Callable[[], object]]:
    """Return what is done by each command that the replay alone answers, by its name."""
    return {
        "toggle": replay.toggle,
        "slower": replay.slower,
        "faster": replay.faster,
        "loop": replay.toggle_loop,
        "previous_step": replay.previous_step,
        "next_step": replay.next_step,
        "previous_finding": replay.previous_finding,
        "next_finding": replay.next_finding,
        "step_back": replay.step_back,
        "step_forward": replay.step_forward,
        "to_begin": replay.to_begin,
        "to_end": replay.to_end,
        "align_next": replay.comparison.align_next,
        "compare_end": replay.comparison.clear,
        "zoom_in": replay.zoom_in,
        "zoom_out": replay.zoom_out,
        "frame_selected": replay.frame_selected,
        "mark": replay.toggle_mark,
        "frame_start": replay.frame_start,
        "frame_phase": replay.frame_phase,
        "frame_all": replay.frame_all,
        "frame_back": replay.frame_back,
        "frame_forward": replay.frame_forward,
    }
