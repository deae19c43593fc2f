"""Everything that the program says of a set of recordings, as files: to compare before and after a change of the house.

``python -m tests.frozen OUT [FILE_OR_FOLDER ...]`` writes, for each demo flight and each recording named, the JSON, the
text and the table, the text in other units, and the text of every page of the papers. ``diff -r OUT1 OUT2`` then
tells what a change did to words and numbers. Recordings beside an engine profile (``*.toml``) are judged by that one too.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

ROOT = Path(__file__).parents[1]
UNITS = "degF,bar,lb/h,m,km/h"
READERS = ("pilot", "student", "technician")


def recordings(places: Sequence[str]) -> Iterator[tuple[Path, list[str]]]:
    """Yield each recording with the options that it is judged with."""
    demos = [(path, []) for path in sorted((ROOT / "demo_flights").glob("*.csv*"))]
    yield from demos
    for place in map(Path, places):
        files = sorted(place.glob("*.csv*")) if place.is_dir() else [place]
        for file in files:
            profiles = sorted(file.parent.glob("*.toml"))
            yield file, ["--profile", str(profiles[0])] if profiles else []
            if not profiles:
                yield file, ["--profile", "quill-b2"]


def run(arguments: list[str]) -> str:
    """Return what a command says, with its exit code."""
    from debrief.cli import main

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    return f"{out.getvalue()}\n--- {code}\n{err.getvalue()}"


def freeze(file: Path, options: list[str], out: Path) -> None:
    """Write everything that is said of one recording."""
    from pypdf import PdfReader

    name = file.name + ("" if not options else "." + Path(options[1]).stem)
    out.mkdir(parents=True, exist_ok=True)

    def keep(kind: str, text: str) -> None:
        text = text.replace(str(ROOT), "").replace(temporary, "")
        (out / f"{name}.{kind}").write_text(text, encoding="utf-8")

    with tempfile.TemporaryDirectory() as temporary:
        for kind, more in (
            ("json", ["--format", "json"]),
            ("txt", []),
            ("foreign.txt", ["--units", UNITS]),
        ):
            keep(kind, run(["assess", str(file), *options, *more]))
        table = Path(temporary) / "table.csv"
        said = run(["report", str(file), "-o", str(table), *options])
        keep("csv", said + (table.read_text(encoding="utf-8-sig") if table.exists() else ""))
        for reader in READERS:
            for units in ("", UNITS):
                paper = Path(temporary) / f"{reader}{len(units)}.pdf"
                asked = ["report", str(file), "-o", str(paper), "--for", reader, *options]
                said = run([*asked, "--units", units])
                pages = [page.extract_text() for page in PdfReader(paper).pages] if paper.exists() else []
                keep(f"{reader}{'.foreign' if units else ''}.pages", "\n=== page\n".join([said, *pages]))


def main() -> None:
    """Freeze what the arguments name."""
    out = Path(sys.argv[1]).resolve()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    os.environ.setdefault("DEBRIEF_HOME", tempfile.mkdtemp(prefix="debrief-frozen-"))
    with ProcessPoolExecutor(max_workers=2) as pool:
        done = [pool.submit(freeze, file, options, out) for file, options in recordings(sys.argv[2:])]
        for one in done:
            one.result()
    print(f"{len(done)} recordings, {len(list(out.iterdir()))} files in {out}")


if __name__ == "__main__":
    main()
