"""Watches the program for sockets: it opens none but the display's, and those of a database that was named."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.hostile.operations import FLIGHTS, OPERATIONS, Rooms, within
from tests.hostile.recordings import ROOT
from tests.hostile.tracing import available, watched


@dataclass
class Heard:
    """How many runs were watched, and each address that was asked for."""

    runs: int = 0
    findings: list[str] = field(default_factory=list)


def listen(rooms: Rooms, window_s: float) -> Heard:
    """Run everything that writes, the text of a flight, and the window, and listen.

    Parameters
    ----------
    rooms : Rooms
        Where it is run.
    window_s : float
        How long a window is open, [s].
    """
    heard = Heard()
    if not available():
        return heard
    runs: list[tuple[str, Callable[[], int]]] = [(one.name, one.run) for one in OPERATIONS]
    runs.append(("assess", _assess))
    runs.append(("window", lambda: _window(window_s)))
    for name, run in runs:
        operation = next((one for one in OPERATIONS if one.name == name), OPERATIONS[0])
        room = rooms.fresh(operation)
        traced = watched(
            lambda there=room, what=run: within(there, what), out=rooms.folder / "heard", below=room
        )  # type: ignore[misc]
        if traced.code:
            heard.findings.append(
                f"{name} ended with {traced.code}: {(rooms.folder / 'heard').read_text()[-300:]}"
            )
        heard.findings += [
            f"{name}: {call.name} {call.path} (family {call.flags})"
            for call in traced.calls
            if call.name in ("connect", "bind") and call.flags != socket.AF_UNIX
        ]
        heard.runs += 1
        shutil.rmtree(room, ignore_errors=True)
    return heard


def _assess() -> int:
    from debrief.cli import main

    return main(["assess", FLIGHTS["01"]])


def _window(seconds: float) -> int:
    """Open a flight in the window and interrupt it; 0 if it was open until then."""
    process = subprocess.Popen(
        [sys.executable, "-m", "debrief", "open", FLIGHTS["01"]],
        env=os.environ | {"QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT)},
    )
    time.sleep(seconds)
    if process.poll() is not None:
        return 1
    process.send_signal(signal.SIGTERM)
    process.wait()
    return 0
