"""Where ITT may read low, nothing exceeded is no answer: the verdict is undetermined and says why."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.analysis import assess
from debrief.profile.loader import load
from debrief.recording.reader import read


def _verdict(tmp_path: Path, itt) -> tuple[str, str, set[str]]:
    rows = (f"{i / 2:g},{90 + i % 7 / 10:.1f},{itt(i)}" for i in range(600))
    path = tmp_path / "cruise.csv"
    path.write_text("time (s),ng (%),itt (degC)\n" + "\n".join(rows) + "\n")
    profile = tmp_path / "profile.toml"
    profile.write_text(
        'format = "engine-profile/1"\nname = "Bench"\n[[limits]]\nid = "itt"\nevent = "overtemp"\nchannel = "itt"\n'
        'when = "any"\nunit = "degC"\ncount = "longest"\nallowed = [{above = 900, seconds = 5}]\n'
    )
    found = assess(read(path), load(profile))
    return found.verdict, found.sentence, {q.kind for q in found.quality}


def test_a_thermocouple_that_moves_with_the_engine_is_believed(tmp_path: Path) -> None:
    verdict, sentence, kinds = _verdict(tmp_path, lambda i: 600 + i % 11)
    assert verdict == "within", sentence
    assert kinds == set()


@pytest.mark.parametrize(("level", "kind"), [(25, "open_thermocouple"), (0, "signal_lost")])
def test_one_that_opens_or_is_lost_in_cruise_makes_the_verdict_undetermined(
    tmp_path: Path, level: int, kind: str
) -> None:
    verdict, sentence, kinds = _verdict(tmp_path, lambda i: 600 + i % 11 if i < 200 else level)
    assert kind in kinds
    assert verdict == "undetermined"
    assert sentence.startswith("Cannot be told: ITT ")
    assert "so there is no verdict on overtemperature in part" in sentence
