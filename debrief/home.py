"""Where the user's own data live: profiles, remembered column maps, the history."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from debrief.errors import UserError
from debrief.words.secrets import looks_like_url


def home() -> Path:
    """Return the folder of the user's data; it need not exist yet.

    Notes
    -----
    ``DEBRIEF_HOME`` relocates all of it. Without that it is the platform's folder for application data.

    Raises
    ------
    UserError
        ``DEBRIEF_HOME`` is a URL rather than a folder: none is made of that name, which may hold a password.
    """
    told = os.environ.get("DEBRIEF_HOME")
    if told:
        if looks_like_url(told) and not os.path.exists(told):
            raise UserError("DEBRIEF_HOME looks like a URL: name a folder for the user's data.")
        return Path(told).expanduser()
    if sys.platform == "win32":
        base = os.environ.get("APPDATA")
        return Path(base if base else Path.home() / "AppData" / "Roaming") / "turbine-debrief"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "turbine-debrief"
    base = os.environ.get("XDG_DATA_HOME")
    return Path(base if base else Path.home() / ".local" / "share") / "turbine-debrief"


def history_file() -> Path:
    """Return where the user's own history is; it need not be there yet."""
    return home() / "history.sqlite"
