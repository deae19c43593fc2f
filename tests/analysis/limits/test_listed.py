"""Of tens of thousands of events of one kind some are listed; the rest is counted, and nothing else changes by it."""

from __future__ import annotations

import json
from collections import Counter

import jsonschema
import numpy as np
import pytest

from debrief.analysis import assess, listed, verdict
from debrief.analysis.model import Assessment, Event, LeftOut
from debrief.profile.loader import find
from debrief.recording.model import Channel, Recording, frozen
from debrief.report.content.options import ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text
from debrief.resources import resource
from debrief.session.document import assessment_document, dumps, json_pieces
from debrief.session.texts.in_units import in_units
from debrief.words.channels import CANONICAL
from debrief.words.display_units import parse_units
from tests.analysis.starts.test_thousands_of_starts import noise

MOST = 2


def one_start(rows: int) -> Recording:
    """Return one start in which fuel comes and goes every other second and the temperature leaps."""
    row = np.arange(rows)
    leaps = (row * 7919) % 101
    time_s = frozen(row * 1.0)
    made = {"ng": leaps, "itt": 10.0 * leaps, "starter": row % 2, "fuel_on": row // 2 % 2}
    channels = {k: Channel(k, CANONICAL[k], time_s, frozen(v)) for k, v in made.items()}
    return Recording(channels, float(time_s[-1]))


def judged(recording: Recording, most: int) -> Assessment:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(listed, "MOST_OF_A_KIND", most)
        patch.setattr(verdict, "MOST_OF_A_KIND", most)
        return assess(recording, find("tarn-tg7"))


@pytest.fixture(scope="module", params=["one start", "many starts"])
def pair(request: pytest.FixtureRequest) -> tuple[Assessment, Assessment]:
    recording = one_start(600) if request.param == "one start" else noise(400)
    return judged(recording, 10**9), judged(recording, MOST)


def counts(assessment: Assessment) -> Counter[tuple[object, ...]]:
    """Return how often each kind was found in each start."""
    found: Counter[tuple[object, ...]] = Counter()
    one: Event | LeftOut
    for one in (*assessment.events, *assessment.left_out):
        count = one.count if isinstance(one, LeftOut) else 1
        found[one.kind, one.event_class, one.severity, one.start_number, one.limit_id, one.reason] += count
    return found


def test_what_is_not_listed_is_counted_and_judged(pair: tuple[Assessment, Assessment]) -> None:
    whole, short = pair
    assert whole.left_out == ()
    assert len(whole.events) > 200
    assert len(short.events) < len(whole.events)
    assert counts(short) == counts(whole)
    assert (short.verdict, short.limits, short.starts) == (whole.verdict, whole.limits, whole.starts)
    assert short.not_judged == whole.not_judged
    more = len(whole.events) - len(short.events)
    told = f" Of each kind in each start the first {MOST} findings are listed; {more} more are counted."
    assert short.sentence.replace(told, "") == whole.sentence
    assert told in short.sentence


def test_the_first_are_listed_and_every_start_keeps_some(pair: tuple[Assessment, Assessment]) -> None:
    whole, short = pair
    assert set(map(repr, short.events)) <= set(map(repr, whole.events))
    assert {e.start_number for e in short.events} == {e.start_number for e in whole.events}
    for one in short.left_out:
        same = [
            e
            for e in short.events
            if (e.kind, e.severity, e.start_number, e.limit_id, e.reason)
            == (one.kind, one.severity, one.start_number, one.limit_id, one.reason)
        ]
        assert len(same) >= MOST
        assert max(e.start_s for e in same) <= one.start_s <= one.end_s


def test_every_output_says_what_is_not_listed(pair: tuple[Assessment, Assessment]) -> None:
    _, short = pair
    more = sum(one.count for one in short.left_out)
    text = " ".join(assessment_text(short).split())
    assert text.count("more, not listed: ") == len(short.left_out) > 0
    assert f"{more} more are counted" in text
    shown = in_units(short, parse_units("F"))
    assert f"{more} more are counted" in shown.sentence
    assert f"{more} more events were counted and are listed nowhere" in repr(build(short, ReportOptions()))
    document = assessment_document(short)
    assert sum(one["count"] for one in document["events_left_out"]) == more
    schema = json.loads(resource("assessment.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(json.loads(dumps(document)))


def test_the_document_is_written_in_pieces(pair: tuple[Assessment, Assessment]) -> None:
    document = assessment_document(pair[0])
    pieces = list(json_pieces(document))
    assert "".join(pieces) == json.dumps(document, indent=2, ensure_ascii=False)
    assert max(map(len, pieces)) < 500_000 < sum(map(len, pieces))
