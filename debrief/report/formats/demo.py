"""The demonstration: which invented flight, and whether a window can be shown."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.errors import UserError
from debrief.resources import resource

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment

DEMO_PDF = "debrief_demo.pdf"

_PROBE = (
    "from PySide6.QtGui import QGuiApplication as A; a = A([]); "
    "raise SystemExit(3 if a.platformName() in ('offscreen', 'minimal', 'minimalegl') else 0)"
)


def demo_flight() -> Path:
    """Return the demo flight that shows most: a hot start.

    Raises
    ------
    UserError
        The demo flights are not installed.
    """
    try:
        files = sorted(resource("demo_flights").glob("*.csv"))
    except FileNotFoundError as error:
        raise UserError(str(error)) from None
    hot = [file for file in files if "hot" in file.stem]
    aborted = [file for file in hot if "abort" in file.stem]
    if not files:
        raise UserError("The demo flights are missing: install Turbine Debrief again.")
    return (aborted or hot or files)[0]


def display_is_named() -> bool:
    """Whether the environment names a display that answers, as far as that can be told at once.

    Notes
    -----
    Where there is no display Qt ends the whole process and cannot be caught, so it is asked before. Only X is
    asked; Wayland, other systems and a platform that the user chose are taken at their word.
    """
    if not sys.platform.startswith("linux"):
        return True
    if os.environ.get("QT_QPA_PLATFORM") or os.environ.get("WAYLAND_DISPLAY"):
        return True
    display = os.environ.get("DISPLAY", "")
    found = re.fullmatch(r"([^:]*):(\d+)(?:\.\d+)?", display)
    if found is None:
        return bool(display)
    host, number = found.group(1), int(found.group(2))
    if host not in ("", "unix"):
        return _answers(socket.AF_INET, (host, 6000 + number))
    place = f"/tmp/.X11-unix/X{number}"
    return _answers(socket.AF_UNIX, f"\0{place}") or _answers(socket.AF_UNIX, place)


def _answers(family: int, address: str | tuple[str, int]) -> bool:
    try:
        with socket.socket(family, socket.SOCK_STREAM) as connection:
            connection.settimeout(3.0)
            connection.connect(address)
            return True
    except OSError:
        return False


def has_display(timeout_s: float = 20.0) -> bool:
    """Whether a window can be shown here.

    Notes
    -----
    Asked in a child process: where a window cannot be shown Qt ends the whole process.
    """
    if not display_is_named():
        return False
    try:
        done = subprocess.run(
            [sys.executable, "-c", _PROBE],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=timeout_s,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def write_demo_report(assessment: Assessment, printed_on: date | None = None) -> Path:
    """Write the paper into the current folder, or a temporary one where that cannot be; return its path."""
    from debrief.report.formats.write import write_pdf

    here = Path.cwd() / DEMO_PDF
    try:
        write_pdf(assessment, here, printed_on=printed_on)
        return here
    except UserError:
        there = Path(tempfile.mkdtemp(prefix="debrief-")) / DEMO_PDF
        write_pdf(assessment, there, printed_on=printed_on)
        return there
