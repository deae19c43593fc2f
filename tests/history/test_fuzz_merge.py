"""A small run of the trial of merging tampered exports; see `tests.history.fuzz_merge`."""

from __future__ import annotations

import random

from debrief.history.exchange import merging
from tests.history.fuzz_merge import made_export, run, tampered


def test_tampered_exports_are_refused_in_words_or_kept_harmless():
    found = run(count=50, seed=7)
    assert found.wrong == []
    assert found.refused > 30
    assert found.kept > 3


def test_the_trial_notices_where_values_are_not_looked_at(monkeypatch):
    monkeypatch.setattr(merging, "row_problem", lambda *_: None)
    assert run(count=20, seed=1).wrong != []


def test_the_same_seed_tampers_the_same(tmp_path):
    lines = made_export(tmp_path)
    assert tampered(lines, random.Random("1 5")) == tampered(lines, random.Random("1 5"))
