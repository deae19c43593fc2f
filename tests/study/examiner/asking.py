"""Gives a recording to the program as a user would, and takes its published JSON. The one module that knows the program."""

from __future__ import annotations

import gzip
import os
import tempfile
from dataclasses import dataclass
from typing import Any

from debrief.analysis import assess
from debrief.errors import UserError
from debrief.profile.loader import parse
from debrief.session.assessing.file_assessment import read_recording
from debrief.session.assessing.starter_rest import told_in
from debrief.session.document import assessment_document

EVERYTHING = "Everything that the profile asks was judged"
AGAIN = "Do not attempt another start"


@dataclass(frozen=True)
class Made:
    """A recording and what it is to be judged by; `truth` is what the family knows of it."""

    text: str
    profile: str
    truth: Any = None
    name: str = "recording.csv"


@dataclass(frozen=True)
class Said:
    """What the program said: the published JSON, or the sentence by which it refused."""

    document: dict[str, Any] | None
    refusal: str = ""

    @property
    def verdict(self) -> str:
        """Return the verdict; ``refused`` where there is none."""
        return "refused" if self.document is None else str(self.document["verdict"])

    @property
    def sentence(self) -> str:
        """Return the sentence of the verdict."""
        return self.refusal if self.document is None else str(self.document["sentence"])

    def part(self, name: str) -> list[dict[str, Any]]:
        """Return one of the document's lists; empty where it was refused."""
        return [] if self.document is None else list(self.document[name])

    @property
    def starts(self) -> list[dict[str, Any]]:
        """Return the starts."""
        return self.part("starts")

    @property
    def events(self) -> list[dict[str, Any]]:
        """Return the events."""
        return self.part("events")

    @property
    def questions(self) -> list[str]:
        """Return what the reader asks."""
        return [self.refusal] if self.document is None else list(self.document["recording"]["questions"])

    def limit(self, name: str) -> str:
        """Return the worst result of a limit over the engines; ``absent`` where there is none."""
        order = ("exceeded", "possible", "not_judged", "caution", "within")
        results = [str(one["result"]) for one in self.part("limits") if one["id"] == name]
        return min(results, key=order.index) if results else "absent"

    def open_points(self, *words: str) -> list[dict[str, Any]]:
        """Return what was not judged that names one of the words in any of its fields."""
        return [p for p in self.part("not_judged") if any(w in str(p).lower() for w in words)]

    def flags(self, channel: str) -> list[str]:
        """Return the kinds of quality flags of a channel."""
        if self.document is None:
            return []
        return [str(q["kind"]) for q in self.document["recording"]["quality"] if q["channel"] == channel]


def ask(made: Made) -> Said:
    """Return what the program says of a recording."""
    profile = parse(made.profile.encode(), file_name="examiner.toml")
    handle, path = tempfile.mkstemp(suffix=".csv" if not made.name.endswith(".gz") else ".csv.gz")
    try:
        with os.fdopen(handle, "wb") as file:
            data = made.text.encode()
            file.write(gzip.compress(data, 1) if made.name.endswith(".gz") else data)
        try:
            recording = read_recording(path)
            assessment = assess(recording, profile, told_in(recording))
        except UserError as error:
            return Said(None, str(error))
        return Said(assessment_document(assessment))
    finally:
        os.unlink(path)
