"""Files are asked for in the folder where one of their kind was last opened or saved."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QWidget

from debrief.gui.style.settings import FolderKind, Settings
from debrief.gui.widgets.asking import Askers


def remembering(askers: Askers, settings: Settings) -> Askers:
    """Return the same askers, which begin in the remembered folder of their kind and remember that of each answer.

    What is suggested otherwise stands where no folder is remembered, or where it is gone.
    """

    def kept(ask: Callable[..., None], kind: FolderKind, is_new: bool = False) -> Callable[..., None]:
        def asked(parent: QWidget, suggested: str, answer: Callable[[Any], None]) -> None:
            def answered(chosen: Any) -> None:
                paths = [chosen] if isinstance(chosen, str | Path) else list(chosen)
                if paths and str(paths[0]):
                    settings.remember_folder(kind, paths[0])
                answer(chosen)

            ask(parent, _in_folder(settings.folder(kind), suggested, is_new), answered)

        return asked

    return replace(
        askers,
        files=kept(askers.files, "recordings"),
        recording=kept(askers.recording, "recordings"),
        recordings=kept(askers.recordings, "recordings"),
        report=kept(askers.report, "reports", is_new=True),
        profile=kept(askers.profile, "profiles"),
        new_profile=kept(askers.new_profile, "profiles", is_new=True),
    )


def _in_folder(folder: str, suggested: str, is_new: bool) -> str:
    """Return what is suggested: a folder, or the name of a new file with its folder."""
    if not folder:
        return suggested
    return os.path.join(folder, os.path.basename(suggested)) if is_new else folder
