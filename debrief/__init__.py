"""Debriefing of turboprop starts and flights from their recordings.

For those who script: ``debrief.read``, ``debrief.load_profile`` and ``debrief.assess`` are public, and
`debrief.frames` has the results as tables. They load when they are first asked for.

Examples
--------
>>> import debrief
>>> profile = debrief.load_profile("tarn-tg7")
>>> profile.approved_data
False
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from debrief.analysis import assess
    from debrief.profile import find as load_profile
    from debrief.recording.reader import read

__version__ = "0.1.0"
__all__ = ["__version__", "assess", "load_profile", "read"]

_PUBLIC = {
    "assess": ("debrief.analysis", "assess"),
    "load_profile": ("debrief.profile", "find"),
    "read": ("debrief.recording.reader", "read"),
}


def __getattr__(name: str) -> Any:
    """Load a public function at its first use, so that ``import debrief`` stays light."""
    if name not in _PUBLIC:
        raise AttributeError(f"module 'debrief' has no attribute {name!r}")
    from importlib import import_module

    module, function = _PUBLIC[name]
    return getattr(import_module(module), function)
