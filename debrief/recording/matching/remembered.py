"""Column maps that were confirmed once, by header signature, in the user's folder."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from debrief.errors import UserError
from debrief.home import home
from debrief.output.private import write_private

FILE_NAME = "column_maps.json"


class Remembered(Mapping[str, tuple[str, ...]]):
    """The remembered maps: header signature to ``CHANNEL=COLUMN[:UNIT]`` texts.

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
        self._maps = _load(self.path)

    def __getitem__(self, signature: str) -> tuple[str, ...]:
        return self._maps[signature]

    def __iter__(self) -> Iterator[str]:
        return iter(self._maps)

    def __len__(self) -> int:
        return len(self._maps)

    def remember(self, signature: str, maps: Sequence[str]) -> None:
        """Keep the maps for files with this header; no maps at all forgets it.

        Raises
        ------
        UserError
            The file could not be written; what was there stays as it was.
        """
        kept = {key: value for key, value in self._maps.items() if key != signature}
        if maps:
            kept[signature] = tuple(maps)
        text = json.dumps({key: list(value) for key, value in kept.items()}, indent=1, ensure_ascii=False)
        write_private(self.path, (text + "\n").encode(), "The column map")
        self._maps = kept


def _load(path: Path) -> dict[str, tuple[str, ...]]:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise UserError(f"The remembered column maps in {path} cannot be read: {error}.") from None
    try:
        tree = json.loads(text)
        return {str(key): tuple(str(item) for item in value) for key, value in tree.items()}
    except (ValueError, AttributeError, TypeError):
        raise UserError(
            f"The remembered column maps in {path} are damaged: move the file away and map the columns again."
        ) from None
