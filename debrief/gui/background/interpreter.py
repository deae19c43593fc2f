"""Settings of the interpreter that keep the window answering while other threads work.

**The garbage collector.** A full collection looks at every object there is, several hundred thousand once the
readers are imported, and the event loop stands still meanwhile (150 ms were measured). What stays anyway,
modules and the open recording, is put aside, so that later collections look only at what is new; and full ones
are rare. Memory is given back all the same: nearly everything is freed by its reference count.

**The switch of threads.** Nearly every call into Qt lets go of the interpreter and takes it again. While a job
runs Python code, taking it again lasts a whole switch interval: with the usual 5 ms a picture of a hundred
words took half a second.
"""

from __future__ import annotations

import gc
import sys

_YOUNG = 10_000
_MIDDLE = 20
_OLD = 100
_SWITCH_S = 0.0002
_MOST_NEW = 50_000
"""Objects that are looked through in some 15 ms."""


def calm_interpreter() -> None:
    """Collect in small steps and switch threads quickly from now on."""
    sys.setswitchinterval(_SWITCH_S)
    gc.set_threshold(_YOUNG, _MIDDLE, _OLD)
    gc.freeze()


def put_aside() -> None:
    """Let later collections pass over all that is there now, but for what can go.

    What is put aside is never looked at again, and rings of dead objects would stay for good: they are collected
    before. That looks only at what is new since the last time, some milliseconds; where that is so much that it
    would hold the event loop up, it stays in sight of the collector until the next time.
    """
    if sum(len(gc.get_objects(generation)) for generation in range(3)) <= _MOST_NEW:
        gc.collect()
        gc.freeze()
