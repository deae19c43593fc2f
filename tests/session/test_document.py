"""The JSON document: its fields are a contract, unknown is null, and the schema describes it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from debrief.analysis.evidence.lazy_mapping import Later
from debrief.analysis.model import Assessment, Measure, Start
from debrief.resources import resource
from debrief.session import document
from debrief.session.document import assessment_document, assessment_pieces, dumps
from tests.demo_assessing import DEMOS, assessed
from tests.report.made_assessments import climb_overtemp, hot_start

SCHEMA = json.loads(resource("assessment.schema.json").read_text(encoding="utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

CASES = {
    "hot start": lambda: hot_start(),
    "twelve starts": lambda: hot_start(starts=12),
    "no event": lambda: hot_start(events=0),
    "no profile": lambda: hot_start(with_profile=False),
    "flight": climb_overtemp,
}


@pytest.mark.parametrize("name", CASES)
def test_every_document_is_described_by_the_schema(name: str) -> None:
    text = dumps(assessment_document(CASES[name]()))
    VALIDATOR.validate(json.loads(text))


def test_schema_itself_is_valid() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def objects_of(schema: object) -> Iterator[set[str]]:
    """Yield the names of the fields of every object that a schema describes."""
    if isinstance(schema, dict):
        if isinstance(schema.get("properties"), dict):
            yield set(schema["properties"])
        for below in schema.values():
            yield from objects_of(below)
    elif isinstance(schema, list):
        for below in schema:
            yield from objects_of(below)


@pytest.mark.parametrize("kind", document._NAMES, ids=lambda kind: kind.__name__)
def test_the_names_that_are_written_of_a_class_are_those_of_the_schema(kind: type) -> None:
    names = [name.partition("=")[0] for name in document._NAMES[kind].split()]
    assert len(names) == len(set(names))
    assert set(names) in list(objects_of(SCHEMA))
    document._converter(kind)  # every annotation has a form in JSON


def test_what_has_no_form_in_json_is_a_fault_and_not_written_somehow() -> None:
    with pytest.raises(TypeError, match="no form in JSON"):
        document._converter(set[int])


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("verdict",), "ok"),
        (("events", 0, "severity"), "bad"),
        (("events", 0, "class"), "crew"),
        (("starts", 0, "outcome"), "fine"),
        (("starts", 0, "kind"), "push"),
        (("limits", 0, "result"), "passed"),
        (("limits", 0, "surplus"), 1),
        (("surplus",), 1),
        (("recording", "rows"), -1),
        (("recording", "sha256"), "xyz"),
        (("profile",), {}),
    ],
)
def test_schema_refuses_what_is_outside_the_contract(path: tuple[str | int, ...], value: object) -> None:
    document = assessment_document(hot_start())
    place = document
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    assert not VALIDATOR.is_valid(document)


def test_schema_wants_no_event_and_undetermined_without_a_profile() -> None:
    document = assessment_document(hot_start(with_profile=False))
    document["verdict"] = "within"
    assert not VALIDATOR.is_valid(document)


def test_profile_is_null_where_none_was_named() -> None:
    document = assessment_document(hot_start(with_profile=False))
    assert document["profile"] is None
    assert document["verdict"] == "undetermined"


def published(text: str) -> dict[str, object]:
    """Return the field tree of the published example."""
    tree: dict[str, object] = json.loads(text)
    return tree


# The published example of one assessment: these names are read by other programs.
CONTRACT = published(
    """{"schema": 0,
 "recording": {"path": 0, "sha256": 0, "rows": 0, "duration_s": 0, "began_running": 0, "channels":
   {"itt": {"column": 0, "unit": 0, "samples": 0, "interval_s": 0, "map_source": 0}},
   "quality": [{"kind": 0, "channel": 0, "start_s": 0, "end_s": 0, "message": 0}], "repairs": 0,
   "questions": 0, "identity": {"aircraft": 0, "engine_serial": 0, "start": 0}},
 "profile": {"name": 0, "revision": 0, "sha256": 0, "approved_data": 0},
 "starts": [{"number": 0, "engine": 0, "kind": 0, "outcome": 0, "starter_on_s": 0, "starter_off_s": 0,
   "fuel_on_s": 0, "fuel_off_s": 0, "light_off_s": 0, "idle_s": 0, "peak_itt_c": 0, "peak_itt_s": 0,
   "ng_at_fuel_pct": 0, "ng_stable_at_fuel": 0, "max_motoring_ng_pct": 0, "min_bus_volts": 0,
   "rest_bus_volts": 0, "residual_itt_c": 0, "fuel_periods": 0,
   "measures": {"oat": {"value": 0, "unit": 0, "low": 0, "high": 0, "inferred": 0}},
   "inferred": 0, "factors": [{"kind": 0, "value": 0, "reference": 0, "unit": 0}]}],
 "events": [{"kind": 0, "class": 0, "engine": 0, "severity": 0, "certain": 0, "sensor_suspect": 0,
   "start_s": 0, "end_s": 0, "channel": 0, "peak": 0, "unit": 0, "level": 0, "duration_s": 0,
   "duration_low_s": 0, "duration_high_s": 0, "allowed_s": 0, "limit_id": 0, "levels": 0, "band": 0,
   "reference": 0, "start_number": 0, "reason": 0, "message": 0}],
 "limits": [{"id": 0, "result": 0, "nearest_level": 0, "margin_seconds": 0, "margin_value": 0, "why": 0}],
 "phases": [{"name": 0, "start_s": 0, "end_s": 0}], "flight": {"measures": 0},
 "not_judged": [{"what": 0, "limit_id": 0, "channel": 0, "start_s": 0, "end_s": 0, "why": 0}],
 "verdict": 0, "sentence": 0}"""
)


def assert_holds(document: object, contract: object, where: str = "") -> None:
    """Every key of the contract is in the document, at every depth."""
    if isinstance(contract, dict):
        assert isinstance(document, dict), where
        for key, below in contract.items():
            assert key in document, f"{where}.{key}"
            assert_holds(document[key], below, f"{where}.{key}")
    elif isinstance(contract, list):
        assert isinstance(document, list), where
        assert document, where
        for item in document:
            assert_holds(item, contract[0], f"{where}[]")


def test_the_published_fields_are_all_there() -> None:
    assert_holds(assessment_document(hot_start()), CONTRACT)


def test_numbers_are_those_of_the_assessment_unrounded() -> None:
    assessment = hot_start()
    document = assessment_document(assessment)
    assert document["starts"][0]["ng_at_fuel_pct"] == assessment.starts[0].ng_at_fuel_pct
    assert document["events"][0]["peak"] == assessment.events[0].peak
    assert document["recording"]["channels"]["itt"]["interval_s"] == 0.125


def test_questions_and_repairs_come_from_the_provenance() -> None:
    document = assessment_document(hot_start())
    assert document["recording"]["repairs"] == ["2 identical rows dropped at 0:31.0"]
    assert "T5" in document["recording"]["questions"][0]


def _with_start(assessment: Assessment, **changes: object) -> Assessment:
    start: Start = replace(assessment.starts[0], **changes)
    return replace(assessment, starts=(start, *assessment.starts[1:]))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_a_number_that_is_not_finite_becomes_null(bad: float) -> None:
    assessment = _with_start(hot_start(), peak_itt_c=bad, measures={"oat": Measure(bad, "degC")})
    document = assessment_document(assessment)
    assert document["starts"][0]["peak_itt_c"] is None
    assert document["starts"][0]["measures"]["oat"]["value"] is None
    assert "NaN" not in dumps(document)


def test_zero_stays_zero_and_unknown_stays_null() -> None:
    document = assessment_document(_with_start(hot_start(), residual_itt_c=0.0, rest_bus_volts=None))
    assert document["starts"][0]["residual_itt_c"] == 0.0
    assert document["starts"][0]["rest_bus_volts"] is None


def test_numpy_scalars_become_json_numbers() -> None:
    assessment = _with_start(hot_start(), peak_itt_c=np.float64(800.5), ng_stable_at_fuel=np.bool_(True))
    read_back = json.loads(dumps(assessment_document(assessment)))
    assert read_back["starts"][0]["peak_itt_c"] == 800.5
    assert read_back["starts"][0]["ng_stable_at_fuel"] is True


def test_one_line_and_ascii_forms_say_the_same() -> None:
    document = assessment_document(hot_start())
    line = dumps(document, indent=None, ascii_only=True)
    assert "\n" not in line
    assert line.isascii()
    assert json.loads(line) == json.loads(dumps(document))


def test_dumps_refuses_nan() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        dumps({"x": math.nan})


def test_no_field_of_the_values_is_left_out() -> None:
    """A field that is added to a value type later must reach the document, or be named here with its reason."""
    from dataclasses import fields

    from debrief.analysis.model import (
        Event,
        Evidence,
        Factor,
        FuelPeriod,
        LevelResult,
        LimitResult,
        NotJudged,
        StarterRun,
        TimeAbove,
    )

    document = assessment_document(hot_start(starts=2))
    start, event = document["starts"][0], document["events"][0]
    renamed = {"event_class": "class"}
    for kind, found in (
        (Start, start),
        (Event, event),
        (Evidence, event["evidence"]),
        (LevelResult, event["levels"][0]),
        (Factor, start["factors"][0]),
        (FuelPeriod, start["fuel_periods"][0]),
        (StarterRun, start["starter_runs"][0]),
        (TimeAbove, start["time_above"]),
        (LimitResult, document["limits"][0]),
        (NotJudged, document["not_judged"][0]),
        (Measure, next(iter(start["measures"].values()))),
    ):
        # What was counted is for drawing: the windows, events and levels tell it.
        drawn = {"counted", "base", "levels"} if kind is LimitResult else set()
        # Whether it is a difference says how it is shown in other units; the document has none.
        drawn |= {"is_difference"} if kind is Measure else set()
        names = {renamed.get(field.name, field.name) for field in fields(kind)} - drawn
        assert names == set(found), kind.__name__


def test_no_field_of_the_lists_of_a_flight_is_left_out() -> None:
    from dataclasses import fields

    from debrief.analysis.flight_model import Change, LoadStep, MarginPoint, SteadyWindow, TwinDifference

    (path,) = (path for path in DEMOS if path.stem.startswith("20_"))
    found = replace(assessed(path).flight, twins=(TwinDifference(60.0, 900.0, (1, 2), 15.5, 0.8),))
    flight = assessment_document(replace(assessed(path), flight=found))["flight"]
    for kind, name in (
        (SteadyWindow, "steady"),
        (LoadStep, "load_steps"),
        (MarginPoint, "margin_curve"),
        (TwinDifference, "twins"),
    ):
        assert {field.name for field in fields(kind)} == set(flight[name][0]), name
        assert len(flight[name]) == len(getattr(found, name)), name
    changed = next(step["changes"] for step in flight["load_steps"] if step["changes"])
    assert {field.name for field in fields(Change)} == set(changed["itt"])
    assert flight["twins"] == [
        {"start_s": 60.0, "end_s": 900.0, "engines": [1, 2], "referred_itt": 15.5, "referred_ng": 0.8}
    ]


@pytest.mark.parametrize("path", DEMOS[:8], ids=lambda path: path.stem)
def test_the_document_in_pieces_is_the_document(path):
    assert "".join(assessment_pieces(assessed(path))) == dumps(assessment_document(assessed(path)))


def test_thousands_of_starts_are_written_one_by_one():
    """What each was read from is made when its turn comes, and not kept."""
    found = assessed(DEMOS[1])
    made: list[int] = []

    def evidence(number):
        made.append(number)
        return {}

    starts = tuple(
        replace(found.starts[0], number=n, evidence=Later(lambda n=n: evidence(n))) for n in range(1, 6)
    )
    pieces = assessment_pieces(replace(found, starts=starts))
    first = next(pieces)
    assert "".join((first, *pieces)) == dumps(assessment_document(replace(found, starts=starts)))
    assert made == [1, 2, 3, 4, 5] * 2  # once by each way: the pieces kept none
