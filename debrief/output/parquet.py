"""Tables as Parquet, with the mark by which the program knows its own again."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

_MARK = b"turbine-debrief"
"""The key in the file's metadata; its value is the name of the kind (`debrief.output.kinds`)."""


def parquet_bytes(frame: pd.DataFrame, kind: str) -> bytes:
    r"""Return a table as the bytes of a Parquet file: unknown is null, texts are as they are.

    Notes
    -----
    Parquet's texts are UTF-8: half of a surrogate pair, as in a file's name of other bytes, is written as ``\udcff``.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    texts: list[str] = list(frame.select_dtypes("string").columns)
    whole = {name: frame[name].map(_unicode, na_action="ignore").astype("string") for name in texts}
    table = pa.Table.from_pandas(frame.assign(**whole), preserve_index=False)
    out = io.BytesIO()
    pq.write_table(
        table.replace_schema_metadata({**(table.schema.metadata or {}), _MARK: kind.encode()}), out
    )
    return out.getvalue()


def is_parquet_of(kind: str, path: Path) -> bool:
    """Return whether a file is a Parquet file of this kind; what cannot be understood is none."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        # Not mapped into memory, and with the reader's own limits of what a footer may hold.
        metadata = pq.read_metadata(path).metadata or {}
    except (pa.ArrowException, OSError):
        return False
    return bool(metadata.get(_MARK) == kind.encode())


def parquet_starts(path: Path) -> Iterator[tuple[str, int]]:
    """Give SHA-256 and number of each start in a table of a history's starts, a part of the file at a time."""
    import pyarrow.parquet as pq

    columns = ["sha256", "start_number"]
    with pq.ParquetFile(path) as file:
        for part in file.iter_batches(columns=columns):
            yield from zip(*(part.column(name).to_pylist() for name in columns), strict=True)


def _unicode(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
