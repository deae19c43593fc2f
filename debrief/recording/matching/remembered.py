"""What was confirmed once for a kind of file, by header signature, in the user's folder."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from debrief.errors import UserError
from debrief.home import home
from debrief.output.private import write_private

FILE_NAME = "column_maps.json"


@dataclass(frozen=True)
class Kept:
    """What is kept for one kind of file.

    Attributes
    ----------
    maps : tuple of str
        Column choices, ``CHANNEL=COLUMN[:UNIT]``.
    rate_hz : float or None
        Rows a second of files without times, [Hz].
    profile : str or None
        Name of an engine profile.
    aircraft, engine_serial : str or None
        Whose recordings they were.
    engine_serials : tuple of (int, str)
        Of the engines from the second on.
    on : str
        The day, as 2031-05-04; empty where none was kept with it.
    """

    maps: tuple[str, ...] = ()
    rate_hz: float | None = None
    profile: str | None = None
    aircraft: str | None = None
    engine_serial: str | None = None
    engine_serials: tuple[tuple[int, str], ...] = ()
    on: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing is kept."""
        return not (self.maps or self.rate_hz or self.names_an_engine)

    @property
    def names_an_engine(self) -> bool:
        """Whether a profile, an aircraft or an engine is kept, which may be another one's than a file's."""
        return bool(self.profile or self.aircraft or self.engine_serial or self.engine_serials)


class Remembered(Mapping[str, tuple[str, ...]]):
    """The remembered maps: header signature to ``CHANNEL=COLUMN[:UNIT]`` texts; `kept` has what was kept with them.

    Parameters
    ----------
    path : path, optional
        The file; ``column_maps.json`` in the user's folder if not given. It need not exist.

    Raises
    ------
    UserError
        The file is there but cannot be read.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = home() / FILE_NAME if path is None else path
        self._kept = _load(self.path)

    def __getitem__(self, signature: str) -> tuple[str, ...]:
        return self._kept[signature].maps

    def __iter__(self) -> Iterator[str]:
        return iter(self._kept)

    def __len__(self) -> int:
        return len(self._kept)

    def kept(self, signature: str) -> Kept:
        """Return all that is kept for files with this header; an empty one where nothing is."""
        return self._kept.get(signature, Kept())

    def remember(self, signature: str, kept: Kept) -> None:
        """Keep this for files with this header; an empty one forgets it.

        Raises
        ------
        UserError
            The file could not be written; what was there stays as it was.
        """
        all_kept = {key: value for key, value in self._kept.items() if key != signature}
        if not kept.is_empty:
            all_kept[signature] = kept
        tree = {key: _tree(value) for key, value in all_kept.items()}
        text = json.dumps(tree, indent=1, ensure_ascii=False)
        write_private(self.path, (text + "\n").encode(), "What is remembered of files")
        self._kept = all_kept


def _tree(kept: Kept) -> list[str] | dict[str, Any]:
    """Return what is written; maps alone as before there was more, so that an older program reads them."""
    told = {
        "rate_hz": kept.rate_hz,
        "profile": kept.profile,
        "aircraft": kept.aircraft,
        "engine_serial": kept.engine_serial,
        "engine_serials": {str(number): serial for number, serial in kept.engine_serials},
        "on": kept.on,
    }
    more = {name: value for name, value in told.items() if value}
    return {"maps": list(kept.maps), **more} if more else list(kept.maps)


def _kept_of(value: object) -> Kept:
    if isinstance(value, list):
        return Kept(tuple(str(item) for item in value))
    if not isinstance(value, dict):
        raise TypeError("neither maps nor what is kept with them")
    rate = value.get("rate_hz")
    return Kept(
        maps=tuple(str(item) for item in value.get("maps", ())),
        rate_hz=None if rate is None else float(rate),
        profile=_text(value.get("profile")),
        aircraft=_text(value.get("aircraft")),
        engine_serial=_text(value.get("engine_serial")),
        engine_serials=tuple((int(n), str(serial)) for n, serial in value.get("engine_serials", {}).items()),
        on=_text(value.get("on")) or "",
    )


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _load(path: Path) -> dict[str, Kept]:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise UserError(f"What is remembered of files, in {path}, cannot be read: {error}.") from None
    try:
        return {str(key): _kept_of(value) for key, value in json.loads(text).items()}
    except (ValueError, AttributeError, TypeError):
        raise UserError(
            f"What is remembered of files, in {path}, is damaged: move the file away and say it again."
        ) from None
