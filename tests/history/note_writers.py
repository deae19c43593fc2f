"""Several programs that change the same notes at the same time: does any overwrite what it has not seen?

``python -m tests.history.note_writers`` runs four writers of 360 changes each, on notes beside the settings and on
notes in the history. What is counted: changes that took the place of a version which was not the one that its
writer had read. Texts that no later change had read are looked for in the end, too: each must still be there.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from debrief.history.model import Note
from debrief.history.service.history_service import keep
from debrief.history.service.notes import own_notes, remove_own_note, write_own_note
from tests.history.history_making import made_assessment

FLIGHT = made_assessment()
SHA = FLIGHT.recording.provenance.sha256
FIRST = "5f0c2e5e-6a0b-4f2e-9a53-1f6f2f0c9d11"


@dataclass(frozen=True)
class Trial:
    """What several writers did: changes, those in place of another text, unseen overwrites, texts that are gone."""

    changes: int
    in_place: int
    unseen: int
    lost: int


def _writer(who: int, changes: int, home: str, log: str) -> None:
    os.environ["DEBRIEF_HOME"] = home
    done: list[dict[str, Any]] = []
    for i in range(changes):
        notes = own_notes(SHA)
        read = next((note for note in notes if note.note_id == FIRST), None)
        if read is None:  # removed by another: a note of its own
            write_own_note(Note("", SHA, f"{who} found none at {i}", time_s=2.0))
            read = write_own_note(Note(FIRST, SHA, f"{who} began it at {i}", time_s=1.0)).note
            continue
        if i % 40 == 39:
            remove_own_note(read, read.version)
            continue
        text = f"{who} says {i}"
        written = write_own_note(replace(read, text=text), read.version).note
        assert written is not None
        done.append(
            {"text": text, "read": read.text, "on": read.version, "in_place": written.note_id == FIRST}
        )
    Path(log).write_text(json.dumps(done), encoding="utf-8")


def trial(home: Path, writers: int, changes: int) -> Trial:
    """Run writers in processes of their own on one note in a home."""
    write_own_note(Note(FIRST, SHA, "as all read it", time_s=1.0))
    context = multiprocessing.get_context("spawn")
    logs = [home / f"writer-{who}.log" for who in range(writers)]
    running = [
        context.Process(target=_writer, args=(who, changes, str(home), str(log)))
        for who, log in enumerate(logs)
    ]
    for one in running:
        one.start()
    for one in running:
        one.join(600)
        if one.exitcode != 0:
            raise RuntimeError(f"a writer ended with {one.exitcode}")
    done = [change for log in logs for change in json.loads(log.read_text(encoding="utf-8"))]
    in_place = [change for change in done if change["in_place"]]
    # Two changes in place of the same version: the later one had not seen the earlier.
    unseen = sum(many - 1 for many in Counter(change["on"] for change in in_place).values())
    seen = {change["read"] for change in done}
    there = {note.text for note in own_notes(SHA)}
    lost = [change for change in done if not change["in_place"] and change["text"] not in there | seen]
    return Trial(len(done), len(in_place), unseen, len(lost))


def main() -> None:
    """Run the trial at the size that a command line names."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--writers", type=int, default=4)
    parser.add_argument("--changes", type=int, default=360)
    options = parser.parse_args()
    for place in ("beside the settings", "in the history"):
        with tempfile.TemporaryDirectory() as folder:
            os.environ["DEBRIEF_HOME"] = folder
            if place == "in the history":
                keep(FLIGHT)
            print(place, trial(Path(folder), options.writers, options.changes), flush=True)


if __name__ == "__main__":
    main()
