"""The assessment as a JSON document: the fields that other programs read.

Fields are never renamed or removed, only added: ``_NAMES`` lists them, ``resources/assessment.schema.json`` describes
them. What a field becomes in JSON follows from the annotation of its attribute.
Unknown is ``null``, never 0, and there is no NaN or Infinity.
"""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from itertools import islice
from operator import attrgetter
from types import NoneType, UnionType
from typing import Any, Literal, cast, get_args, get_origin, get_type_hints

from debrief.analysis.evidence.lazy_mapping import Later
from debrief.analysis.flight_model import (
    Change,
    CycleClass,
    LoadStep,
    MarginPoint,
    PowerCheck,
    SteadyWindow,
    TwinDifference,
)
from debrief.analysis.model import (
    Assessment,
    EarlierRun,
    Event,
    Evidence,
    Factor,
    FuelPeriod,
    LeftOut,
    LevelResult,
    LevelTime,
    LimitResult,
    LimitWindow,
    Measure,
    MeasureEvidence,
    NotJudged,
    Phase,
    Reading,
    Start,
    StarterRun,
    TimeAbove,
)
from debrief.profile.model import EngineProfile
from debrief.recording.model import Channel, Identity, QualityFlag
from debrief.words.sentence import Sentence
from debrief.words.visible import inert_json

WORDS_AT_ONCE = 10_000

SCHEMA_NAME = "turbine-debrief.assessment/1"

Document = dict[str, Any]


def assessment_document(assessment: Assessment) -> Document:
    """Return the assessment as a dictionary that holds JSON types only.

    Parameters
    ----------
    assessment : Assessment
        As `debrief.analysis` returned it.

    Returns
    -------
    dict
        In the order of the published fields. Numbers are as computed, not rounded: what a person reads is
        rounded in one place, `debrief.words.numbers`. Times are seconds from the recording's first
        sample.

    Notes
    -----
    A value that is not finite becomes ``null``: nothing may be computed from it.

    Raises
    ------
    ValueError
        It is a copy that was made to be shown in chosen units: a fault of the program.
    """
    if not assessment.units.are_canonical:
        raise ValueError("the data are in canonical units; this assessment is a copy in units to show")

    def told(names: str) -> Document:
        return _walker(Assessment, names)(assessment)

    return {
        "schema": SCHEMA_NAME,
        "recording": told(_RECORDING),
        **told("profile starts events limits phases"),
        "flight": told(
            """measures=flight_measures evidence=flight_evidence cycles=flight.cycles steady=flight.steady
            load_steps=flight.load_steps margin_curve=flight.margin_curve twins=flight.twins
            power_checks=flight.power_checks"""
        ),
        **told("not_judged"),
        "context": told("earlier_runs=context"),
        **told("verdict sentence events_left_out=left_out time_above=levels_asked"),
    }


def assessment_pieces(assessment: Assessment, *, ascii_only: bool = False) -> Iterator[str]:
    """Yield `assessment_document` as indented JSON text, piece by piece; see `json_pieces`.

    Each start is put into its form when its turn comes, and what it was read from is not kept: a recording of
    noise has thousands.
    """
    document = assessment_document(replace(assessment, starts=()))
    document["starts"] = _OneByOne(assessment.starts)
    return json_pieces(document, ascii_only=ascii_only)


class _OneByOne(list[Any]):
    """Starts that become documents as they are gone through."""

    def __iter__(self) -> Iterator[Document]:
        own = _NAMES[Start].removesuffix(" evidence")
        for start in super().__iter__():
            proofs = start.evidence.once() if isinstance(start.evidence, Later) else start.evidence
            yield {**_walker(Start, own)(start), "evidence": _proofs(proofs)}


def serial_in(document: Mapping[str, Any], engine: int | None) -> str | None:
    """Return the serial number that a document has of an engine; of the recording, the first one's."""
    identity = document["recording"]["identity"]
    found: str | None = (
        identity["engine_serial"]
        if engine in (None, 1)
        else identity.get("engine_serials", {}).get(str(engine))
    )
    return found


def dumps(document: Mapping[str, Any], *, indent: int | None = 2, ascii_only: bool = False) -> str:
    """Return the document as JSON text without a final line end; see `json_pieces`."""
    return "".join(json_pieces(document, indent=indent, ascii_only=ascii_only))


def json_pieces(
    document: Mapping[str, Any], *, indent: int | None = 2, ascii_only: bool = False
) -> Iterator[str]:
    """Yield the document as JSON text, piece by piece, without a final line end; characters that act are escaped.

    All at once the text of many findings would take as much memory again as the findings, and its parts more.

    Parameters
    ----------
    document : mapping
        From `assessment_document`, or any mapping of JSON types.
    indent : int or None
        None puts everything on one line, as JSON Lines wants.
    ascii_only : bool
        Escape everything that is not ASCII, for a terminal or pipe that is not UTF-8.

    Raises
    ------
    ValueError
        A number is NaN or infinite: a bug, since such JSON is not JSON.
    """
    separators = (",", ":") if indent is None else None
    encoder = json.JSONEncoder(indent=indent, allow_nan=False, ensure_ascii=ascii_only, separators=separators)
    if indent is None:  # quicker at once, and kept by the history as one text
        yield inert_json(encoder.encode(document))
        return
    words = encoder.iterencode(document)
    while piece := "".join(islice(words, WORDS_AT_ONCE)):
        yield inert_json(piece)


def _number(value: float) -> float | None:
    """Return a plain float; None for what is not finite."""
    out = float(value)
    return out if math.isfinite(out) else None


_RECORDING = """
    path=recording.provenance.path sha256=recording.provenance.sha256 rows=recording.provenance.rows
    duration_s=recording.duration_s began_running channels=recording.channels quality
    repairs=recording.provenance.repairs questions=recording.provenance.questions identity=recording.identity
    fingerprint=recording.provenance.fingerprint
    file_name=recording.provenance.file_name byte_count=recording.provenance.byte_count
    encoding=recording.provenance.encoding delimiter=recording.provenance.delimiter
    decimal=recording.provenance.decimal time_source=recording.provenance.time_source
    decisions=recording.provenance.decisions profile_named=recording.profile_name unmapped=recording.unmapped
"""
_NAMES: Mapping[type, str] = {
    Channel: "column unit samples=time_s interval_s map_source column_unit confidence resolution",
    EngineProfile: "name revision sha256 approved_data aircraft source entered_by entered_on checked_by checked_on",
    Event: """kind class=event_class engine severity certain sensor_suspect start_s end_s channel peak unit level
        duration_s duration_low_s duration_high_s allowed_s limit_id levels band reference start_number reason message
        peak_s peak_low peak_high rise band_action band_past_edge_value band_past_edge_s recovered during_abort spans
        evidence""",
    Evidence: "rule profile_key profile_line formula channel times_s values",
    Factor: "kind value reference unit message measure profile_key profile_line",
    FuelPeriod: """on_s on_low_s off_s off_low_s light_off_s peak_itt_c peak_itt_s ng_at_fuel_pct ng_at_fuel_low_pct
        ng_at_fuel_high_pct source""",
    Identity: """aircraft aircraft_source engine_serial engine_serial_source engine_serials engine_model altimeter_setting_hpa
        altimeter_setting_source start start_source""",
    LeftOut: "kind class=event_class engine severity limit_id start_number reason count start_s end_s",
    LevelTime: """channel unit level begin_s end_s start_number total_s total_low_s total_high_s runs longest_s
        longest_begin_s longest_end_s highest""",
    LevelResult: "level allowed_s severity duration_s duration_low_s duration_high_s result start_s end_s",
    LimitResult: "id result nearest_level margin_seconds margin_value why event channel engine unit windows",
    LimitWindow: "start_s end_s start_low_s start_high_s end_low_s end_high_s start_number",
    Measure: "value unit low high inferred why sensor_suspect",
    MeasureEvidence: "formula profile readings",
    NotJudged: "what limit_id channel start_s end_s why engine core",
    Phase: "name start_s end_s",
    PowerCheck: """engine name channel start_s end_s torque pressure_altitude_ft oat_c measured allowed margin
        why""",
    QualityFlag: "kind channel start_s end_s message",
    Reading: "channel what index times_s values span",
    Start: """number engine kind outcome starter_on_s starter_off_s fuel_on_s fuel_off_s light_off_s idle_s peak_itt_c
        peak_itt_s ng_at_fuel_pct ng_stable_at_fuel max_motoring_ng_pct min_bus_volts rest_bus_volts residual_itt_c
        fuel_periods measures inferred factors begin_s end_s window_end_s starter_runs time_above notes evidence""",
    StarterRun: """start_s end_s duration_s duration_low_s duration_high_s power start_number inferred
        start_low_s power_inferred""",
    Change: "value low high",
    LoadStep: "engine kind time_s on changes why",
    MarginPoint: "engine density_altitude_ft itt_margin_c time_s",
    SteadyWindow: """engine start_s end_s phase pressure_altitude_ft oat_c isa_deviation_c density_altitude_ft ias_kt
        torque ng np itt fuel_flow referred_ng referred_itt referred_torque referred_fuel_flow itt_margin_c bleed
        separator generator generator_load samples why""",
    TwinDifference: "start_s end_s engines referred_itt referred_ng",
    CycleClass: "engine channel range_from range_to cycles",
    EarlierRun: """start_s end_s duration_s duration_low_s duration_high_s power start_number inferred
        start_low_s engine source file_name sha256 clock_doubt_s""",
    TimeAbove: "channel unit levels total_s longest_s",
}
"""The published fields of each class in their order, with ``published=attribute`` where the two differ."""


def _proofs(evidence: Mapping[str, MeasureEvidence]) -> Document:
    return {name: _converter(MeasureEvidence)(one) for name, one in evidence.items() if one.readings}


_SPECIAL: Mapping[tuple[type, str], Callable[[Any], Any]] = {
    (Assessment, "evidence"): _proofs,
    (Start, "evidence"): _proofs,
    (MeasureEvidence, "profile"): lambda keys: [{"key": key, "line": line} for key, line in keys],
    (LoadStep, "on"): lambda on: on if isinstance(on, bool) else _number(on),
    (Channel, "samples"): lambda times: int(times.size),
    (Channel, "interval_s"): lambda seconds: None if seconds is None else _number(seconds),
}
"""Fields that are not simply what their attribute's type says."""

_ONLY_WHERE_KNOWN = frozenset({(Reading, "span")})
"""It stands only where it says more."""


@functools.cache
def _walker(kind: type, names: str) -> Callable[[Any], Document]:
    """Return what makes a dictionary of the named attributes of an object, each as its annotation has it."""
    fields = []
    for name in names.split():
        published, _, path = name.partition("=")
        convert = _SPECIAL.get((kind, published))
        if convert is None:
            hint: Any = kind
            for attribute in (path or published).split("."):
                # It is not everywhere imported where it is named.
                hint = get_type_hints(hint, localns={"Sentence": Sentence})[attribute]
            convert = _converter(hint)
        fields.append((published, attrgetter(path or published), convert))
    optional = {name for owner, name in _ONLY_WHERE_KNOWN if owner is kind}

    def walk(one: Any) -> Document:
        made = {name: convert(get(one)) for name, get, convert in fields}
        for name in optional:
            if made[name] is None:
                del made[name]
        return made

    return walk


@functools.cache
def _converter(hint: Any) -> Callable[[Any], Any]:
    """Return what makes a JSON type of a value with this annotation."""
    kind, inside = get_origin(hint), get_args(hint)
    if hint in _NAMES:
        return _walker(hint, _NAMES[hint])
    if hint is float:
        return _number
    if hint in (int, bool):
        return cast("Callable[[Any], Any]", hint)
    if hint is str or kind is Literal:
        return lambda text: text
    if hint is Sentence:
        return str  # without its numbers
    if hint is datetime:
        return datetime.isoformat
    if kind is UnionType and NoneType in inside:
        (known,) = (_converter(one) for one in inside if one is not NoneType)
        return lambda value: None if value is None else known(value)
    if kind is tuple:
        each = _converter(inside[0])
        return lambda values: [each(value) for value in values]
    if kind is Mapping:
        of = _converter(inside[1])
        return lambda values: {name: of(value) for name, value in values.items()}
    raise TypeError(f"{hint} has no form in JSON")
