"""Where the user's own data live: profiles, remembered column maps, the history."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def home() -> Path:
    """Return the folder of the user's data; it need not exist yet.

    Notes
    -----
    ``DEBRIEF_HOME`` relocates all of it. Without that it is the platform's folder for application data.
    """
    told = os.environ.get("DEBRIEF_HOME")
    if told:
        return Path(told).expanduser()
    if sys.platform == "win32":
        base = os.environ.get("APPDATA")
        return Path(base if base else Path.home() / "AppData" / "Roaming") / "turbine-debrief"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "turbine-debrief"
    base = os.environ.get("XDG_DATA_HOME")
    return Path(base if base else Path.home() / ".local" / "share") / "turbine-debrief"
