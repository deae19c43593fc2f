"""The assessment as a JSON document: the fields that other programs read.

Fields are never renamed or removed, only added. ``resources/assessment.schema.json`` describes them.
Unknown is ``null``, never 0, and there is no NaN or Infinity.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import Any

from debrief.analysis.model import (
    Assessment,
    Event,
    Evidence,
    Factor,
    FuelPeriod,
    LeftOut,
    LevelResult,
    LimitResult,
    LimitWindow,
    Measure,
    MeasureEvidence,
    NotJudged,
    Reading,
    Start,
    StarterRun,
    TimeAbove,
)
from debrief.profile.model import EngineProfile
from debrief.recording.model import Channel, Recording
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
        rounded in one place, `debrief.words.cautions`. Times are seconds from the recording's first
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
    return {
        "schema": SCHEMA_NAME,
        "recording": _recording(assessment),
        "profile": None if assessment.profile is None else _profile(assessment.profile),
        "starts": [_start(start) for start in assessment.starts],
        "events": [_event(event) for event in assessment.events],
        "limits": [_limit(limit) for limit in assessment.limits],
        "phases": [
            {"name": phase.name, "start_s": _number(phase.start_s), "end_s": _number(phase.end_s)}
            for phase in assessment.phases
        ],
        "flight": {
            "measures": _measures(assessment.flight_measures),
            "evidence": _proofs(assessment.flight_evidence),
        },
        "not_judged": [_not_judged(item) for item in assessment.not_judged],
        "context": {"earlier_runs": [_run(run) for run in assessment.context]},
        "verdict": assessment.verdict,
        "sentence": assessment.sentence,
        "events_left_out": [_left_out(one) for one in assessment.left_out],
    }


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


def _number(value: float | None) -> float | None:
    """Return a plain float; None for unknown and for what is not finite."""
    if value is None:
        return None
    out = float(value)
    return out if math.isfinite(out) else None


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [_number(value) for value in values]


def _flag(value: object) -> bool | None:
    return None if value is None else bool(value)


def _recording(assessment: Assessment) -> Document:
    recording: Recording = assessment.recording
    provenance, identity = recording.provenance, recording.identity
    return {
        "path": provenance.path,
        "sha256": provenance.sha256,
        "rows": int(provenance.rows),
        "duration_s": _number(recording.duration_s),
        "began_running": bool(assessment.began_running),
        "channels": {name: _channel(channel) for name, channel in recording.channels.items()},
        "quality": [
            {
                "kind": flag.kind,
                "channel": flag.channel,
                "start_s": _number(flag.start_s),
                "end_s": _number(flag.end_s),
                "message": flag.message,
            }
            for flag in assessment.quality
        ],
        "repairs": list(provenance.repairs),
        "questions": list(provenance.questions),
        "identity": {
            "aircraft": identity.aircraft,
            "aircraft_source": identity.aircraft_source,
            "engine_serial": identity.engine_serial,
            "engine_serial_source": identity.engine_serial_source,
            "engine_model": identity.engine_model,
            "altimeter_setting_hpa": _number(identity.altimeter_setting_hpa),
            "altimeter_setting_source": identity.altimeter_setting_source,
            "start": None if identity.start is None else identity.start.isoformat(),
            "start_source": identity.start_source,
        },
        "file_name": provenance.file_name,
        "byte_count": int(provenance.byte_count),
        "encoding": provenance.encoding,
        "delimiter": provenance.delimiter,
        "decimal": provenance.decimal,
        "time_source": provenance.time_source,
        "decisions": list(provenance.decisions),
        "profile_named": recording.profile_name,
        "unmapped": {name: _channel(channel) for name, channel in recording.unmapped.items()},
    }


def _channel(channel: Channel) -> Document:
    return {
        "column": channel.column,
        "unit": channel.unit,
        "samples": int(channel.time_s.size),
        "interval_s": _number(channel.interval_s),
        "map_source": channel.map_source,
        "column_unit": channel.column_unit,
        "confidence": _number(channel.confidence),
        "resolution": _number(channel.resolution),
    }


def _profile(profile: EngineProfile) -> Document:
    return {
        "name": profile.name,
        "revision": profile.revision,
        "sha256": profile.sha256,
        "approved_data": bool(profile.approved_data),
        "aircraft": profile.aircraft,
        "source": profile.source,
    }


def _measures(measures: Mapping[str, Measure]) -> Document:
    return {
        name: {
            "value": _number(measure.value),
            "unit": measure.unit,
            "low": _number(measure.low),
            "high": _number(measure.high),
            "inferred": bool(measure.inferred),
            "why": measure.why,
        }
        for name, measure in measures.items()
    }


def _start(start: Start) -> Document:
    return {
        "number": int(start.number),
        "engine": int(start.engine),
        "kind": start.kind,
        "outcome": start.outcome,
        "starter_on_s": _number(start.starter_on_s),
        "starter_off_s": _number(start.starter_off_s),
        "fuel_on_s": _number(start.fuel_on_s),
        "fuel_off_s": _number(start.fuel_off_s),
        "light_off_s": _number(start.light_off_s),
        "idle_s": _number(start.idle_s),
        "peak_itt_c": _number(start.peak_itt_c),
        "peak_itt_s": _number(start.peak_itt_s),
        "ng_at_fuel_pct": _number(start.ng_at_fuel_pct),
        "ng_stable_at_fuel": _flag(start.ng_stable_at_fuel),
        "max_motoring_ng_pct": _number(start.max_motoring_ng_pct),
        "min_bus_volts": _number(start.min_bus_volts),
        "rest_bus_volts": _number(start.rest_bus_volts),
        "residual_itt_c": _number(start.residual_itt_c),
        "fuel_periods": [_fuel_period(period) for period in start.fuel_periods],
        "measures": _measures(start.measures),
        "inferred": list(start.inferred),
        "factors": [_factor(factor) for factor in start.factors],
        "begin_s": _number(start.begin_s),
        "end_s": _number(start.end_s),
        "window_end_s": _number(start.window_end_s),
        "starter_runs": [_run(run) for run in start.starter_runs],
        "time_above": None if start.time_above is None else _time_above(start.time_above),
        "notes": list(start.notes),
        "evidence": _proofs(start.evidence),
    }


def _fuel_period(period: FuelPeriod) -> Document:
    return {
        "on_s": _number(period.on_s),
        "on_low_s": _number(period.on_low_s),
        "off_s": _number(period.off_s),
        "off_low_s": _number(period.off_low_s),
        "light_off_s": _number(period.light_off_s),
        "peak_itt_c": _number(period.peak_itt_c),
        "peak_itt_s": _number(period.peak_itt_s),
        "ng_at_fuel_pct": _number(period.ng_at_fuel_pct),
        "ng_at_fuel_low_pct": _number(period.ng_at_fuel_low_pct),
        "ng_at_fuel_high_pct": _number(period.ng_at_fuel_high_pct),
        "source": period.source,
    }


def _run(run: StarterRun) -> Document:
    return {
        "start_s": _number(run.start_s),
        "end_s": _number(run.end_s),
        "duration_s": _number(run.duration_s),
        "duration_low_s": _number(run.duration_low_s),
        "duration_high_s": _number(run.duration_high_s),
        "power": run.power,
        "start_number": None if run.start_number is None else int(run.start_number),
        "inferred": bool(run.inferred),
        "start_low_s": _number(run.start_low_s),
    }


def _factor(factor: Factor) -> Document:
    return {
        "kind": factor.kind,
        "value": _number(factor.value),
        "reference": _number(factor.reference),
        "unit": factor.unit,
        "message": factor.message,
        "measure": factor.measure,
        "profile_key": factor.profile_key,
        "profile_line": None if factor.profile_line is None else int(factor.profile_line),
    }


def _proofs(evidence: Mapping[str, MeasureEvidence]) -> Document:
    return {name: _measure_evidence(one) for name, one in evidence.items() if one.readings}


def _measure_evidence(evidence: MeasureEvidence) -> Document:
    return {
        "formula": evidence.formula,
        "profile": [
            {"key": key, "line": None if line is None else int(line)} for key, line in evidence.profile
        ],
        "readings": [_reading(reading) for reading in evidence.readings],
    }


def _reading(reading: Reading) -> Document:
    """Return the samples; the unit stands with the channel, and a span only where it says more."""
    out: Document = {
        "channel": reading.channel,
        "what": reading.what,
        "index": [int(k) for k in reading.index],
        "times_s": _numbers(reading.times_s),
        "values": _numbers(reading.values),
    }
    if reading.span is not None:
        out["span"] = [int(k) for k in reading.span]
    return out


def _time_above(above: TimeAbove) -> Document:
    return {
        "channel": above.channel,
        "unit": above.unit,
        "levels": _numbers(above.levels),
        "total_s": _numbers(above.total_s),
        "longest_s": _numbers(above.longest_s),
    }


def _event(event: Event) -> Document:
    return {
        "kind": event.kind,
        "class": event.event_class,
        "engine": int(event.engine),
        "severity": event.severity,
        "certain": bool(event.certain),
        "sensor_suspect": bool(event.sensor_suspect),
        "start_s": _number(event.start_s),
        "end_s": _number(event.end_s),
        "channel": event.channel,
        "peak": _number(event.peak),
        "unit": event.unit,
        "level": _number(event.level),
        "duration_s": _number(event.duration_s),
        "duration_low_s": _number(event.duration_low_s),
        "duration_high_s": _number(event.duration_high_s),
        "allowed_s": _number(event.allowed_s),
        "limit_id": event.limit_id,
        "levels": [_level(level) for level in event.levels],
        "band": event.band,
        "reference": event.reference,
        "start_number": None if event.start_number is None else int(event.start_number),
        "reason": event.reason,
        "message": event.message,
        "peak_s": _number(event.peak_s),
        "peak_low": _number(event.peak_low),
        "peak_high": _number(event.peak_high),
        "band_action": event.band_action,
        "band_past_edge_value": _number(event.band_past_edge_value),
        "band_past_edge_s": _number(event.band_past_edge_s),
        "recovered": bool(event.recovered),
        "during_abort": bool(event.during_abort),
        "spans": [_numbers(span) for span in event.spans],
        "evidence": None if event.evidence is None else _evidence(event.evidence),
    }


def _left_out(one: LeftOut) -> Document:
    return {
        "kind": one.kind,
        "class": one.event_class,
        "engine": int(one.engine),
        "severity": one.severity,
        "limit_id": one.limit_id,
        "start_number": None if one.start_number is None else int(one.start_number),
        "reason": one.reason,
        "count": int(one.count),
        "start_s": _number(one.start_s),
        "end_s": _number(one.end_s),
    }


def _level(level: LevelResult) -> Document:
    return {
        "level": _number(level.level),
        "allowed_s": _number(level.allowed_s),
        "severity": level.severity,
        "duration_s": _number(level.duration_s),
        "duration_low_s": _number(level.duration_low_s),
        "duration_high_s": _number(level.duration_high_s),
        "result": level.result,
        "start_s": _number(level.start_s),
        "end_s": _number(level.end_s),
    }


def _evidence(evidence: Evidence) -> Document:
    return {
        "rule": evidence.rule,
        "profile_key": evidence.profile_key,
        "profile_line": None if evidence.profile_line is None else int(evidence.profile_line),
        "formula": evidence.formula,
        "channel": evidence.channel,
        "times_s": _numbers(evidence.times_s),
        "values": _numbers(evidence.values),
    }


def _limit(limit: LimitResult) -> Document:
    return {
        "id": limit.id,
        "result": limit.result,
        "nearest_level": _number(limit.nearest_level),
        "margin_seconds": _number(limit.margin_seconds),
        "margin_value": _number(limit.margin_value),
        "why": limit.why,
        "event": limit.event,
        "channel": limit.channel,
        "engine": int(limit.engine),
        "unit": limit.unit,
        "windows": [_window(window) for window in limit.windows],
    }


def _window(window: LimitWindow) -> Document:
    return {
        "start_s": _number(window.start_s),
        "end_s": _number(window.end_s),
        "start_low_s": _number(window.start_low_s),
        "start_high_s": _number(window.start_high_s),
        "end_low_s": _number(window.end_low_s),
        "end_high_s": _number(window.end_high_s),
        "start_number": None if window.start_number is None else int(window.start_number),
    }


def _not_judged(item: NotJudged) -> Document:
    return {
        "what": item.what,
        "limit_id": item.limit_id,
        "channel": item.channel,
        "start_s": _number(item.start_s),
        "end_s": _number(item.end_s),
        "why": item.why,
        "engine": int(item.engine),
    }
