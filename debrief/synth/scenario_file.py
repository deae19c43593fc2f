"""Scenario files in TOML: read, check and refuse in one sentence with the key path and the line."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from debrief.errors import UserError
from debrief.synth.columns import CHANNELS, DISCRETES, UNITS, units_of
from debrief.synth.engine_model import Battery, Initial
from debrief.synth.scenario import (
    Action,
    Ambient,
    Column,
    Fault,
    Recorder,
    Scenario,
    TrackPoint,
    TruthRequest,
)
from debrief.synth.tables import Tables

FORMAT = "synth-scenario/1"

ACTIONS = ("starter", "fuel", "ignition", "generator", "bleed", "separator", "power_lever", "generator_load")
FAULTS = ("starter_dropout", "no_light_off", "metering", "leaking_valve")
_FAULT_VALUES = {"metering": "factor", "leaking_valve": "flow_kg_h"}
TIME_FORMATS = ("elapsed", "hms", "iso")
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}


def read_scenario(path: str | Path) -> Scenario:
    """Return the scenario of a TOML file.

    Raises
    ------
    UserError
        The file cannot be read, is not TOML, or holds a key or value that is not understood; with the
        line and the key path where they can be told.
    """
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as problem:
        raise UserError(f"{path}: the scenario cannot be read: {problem.strerror}.") from problem
    except UnicodeDecodeError as problem:
        raise UserError(f"{path.name}: the scenario cannot be read: it is not UTF-8 text.") from problem
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise UserError(f"{path.name}: not valid TOML: {problem}.") from problem
    return _scenario(Tables(path, text), data)


def _scenario(r: Tables, data: Mapping[str, Any]) -> Scenario:
    r.known(
        data,
        "",
        (
            "format", "title", "about", "seed", "duration_s", "start", "identity", "ambient", "battery",
            "initial", "engine", "actions", "faults", "track", "truth", "recorder",
        ),
    )  # fmt: skip
    if r.text(data, "", "format", "") != FORMAT:
        raise r.refuse("format", f'must be "{FORMAT}".')
    duration = r.number(data, "", "duration_s", low=1.0, high=7200.0)
    seed = data.get("seed")
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise r.refuse("seed", "must be a whole number, 0 or more.")
    start = data.get("start")
    if not isinstance(start, datetime) or start.tzinfo is None:
        raise r.refuse("start", "must be a date and time with an offset, such as 2031-05-14T09:12:00Z.")
    identity = r.table(data, "", "identity")
    r.known(identity, "identity", ("aircraft", "engine_serial", "engine_model", "profile"))
    ambient = r.table(data, "", "ambient")
    r.known(ambient, "ambient", ("oat_c", "palt_ft", "heading_deg", "wind_from_deg", "wind_speed_kt"))
    battery = r.table(data, "", "battery")
    r.known(battery, "battery", ("open_volts", "resistance_mohm", "fade_mohm"))
    initial = r.table(data, "", "initial")
    r.known(initial, "initial", ("hot_c", "case_c", "oil_c"))
    engine = r.table(data, "", "engine")
    r.known(engine, "engine", ("idle_ng_pct", "starter_cutout_ng_pct"))

    def optional(key: str) -> float | None:
        return r.number(initial, "initial", key, low=-60.0, high=900.0) if key in initial else None

    return Scenario(
        title=r.text(data, "", "title"),
        about=r.text(data, "", "about"),
        seed=seed,
        duration_s=duration,
        start=start,
        aircraft=r.text(identity, "identity", "aircraft", "ZZ-TRN"),
        engine_serial=r.text(identity, "identity", "engine_serial", "TG7-118"),
        engine_model=r.text(identity, "identity", "engine_model", "TG-7"),
        profile=r.text(identity, "identity", "profile", "tarn-tg7"),
        ambient=Ambient(
            oat_c=r.number(ambient, "ambient", "oat_c", 15.0, -60.0, 60.0),
            palt_ft=r.number(ambient, "ambient", "palt_ft", 0.0, -2000.0, 20000.0),
            heading_deg=r.number(ambient, "ambient", "heading_deg", 0.0, 0.0, 360.0),
            wind_from_deg=r.number(ambient, "ambient", "wind_from_deg", 0.0, 0.0, 360.0),
            wind_speed_kt=r.number(ambient, "ambient", "wind_speed_kt", 0.0, 0.0, 60.0),
        ),
        battery=Battery(
            open_volts=r.number(battery, "battery", "open_volts", Battery.open_volts, 10.0, 32.0),
            resistance_mohm=r.number(
                battery, "battery", "resistance_mohm", Battery.resistance_mohm, 1.0, 200.0
            ),
            fade_mohm=r.number(battery, "battery", "fade_mohm", Battery.fade_mohm, 0.0, 100.0),
        ),
        initial=Initial(hot_c=optional("hot_c"), case_c=optional("case_c"), oil_c=optional("oil_c")),
        idle_ng_pct=r.number(engine, "engine", "idle_ng_pct", 60.0, 45.0, 75.0),
        starter_cutout_ng_pct=r.number(engine, "engine", "starter_cutout_ng_pct", 42.0, 20.0, 120.0),
        actions=_actions(r, data, duration),
        faults=_faults(r, data, duration),
        track=_track(r, data),
        truth=_truth(r, data),
        recorder=_recorder(r, data),
    )


def _actions(r: Tables, data: Mapping[str, Any], duration: float) -> tuple[Action, ...]:
    found = []
    last = 0.0
    for i, item in enumerate(r.tables(data, "", "actions")):
        where = f"actions[{i}]"
        r.known(item, where, ("at_s", *ACTIONS))
        at = r.number(item, where, "at_s", low=0.0, high=duration)
        if at < last:
            raise r.refuse(where, f"at_s = {at:g} comes before the action above it; keep them in order.")
        last = at
        if len(item) < 2:
            raise r.refuse(where, f"nothing is done; give one of {', '.join(ACTIONS)}.")
        for what in ACTIONS:
            if what not in item:
                continue
            if what == "generator_load":
                value = r.number(item, where, what, low=0.0, high=400.0)
            elif what == "power_lever":
                value = r.number(item, where, what, low=0.0, high=100.0)
            else:
                value = float(r.choice(item, where, what, ("on", "off")) == "on")
            found.append(Action(at, what, value))
    return tuple(found)


def _faults(r: Tables, data: Mapping[str, Any], duration: float) -> tuple[Fault, ...]:
    found = []
    for i, item in enumerate(r.tables(data, "", "faults")):
        where = f"faults[{i}]"
        r.known(item, where, ("kind", "from_s", "to_s", "factor", "flow_kg_h"))
        kind = r.choice(item, where, "kind", FAULTS)
        begin = r.number(item, where, "from_s", 0.0, 0.0, duration)
        end = r.number(item, where, "to_s", duration + 1.0, 0.0, duration + 1.0)  # absent: for good
        if end <= begin:
            raise r.refuse(where, "to_s must be later than from_s.")
        wanted = _FAULT_VALUES.get(kind)
        if wanted is not None and wanted not in item:
            raise r.refuse(where, f"{wanted} is missing for {kind}.")
        for key in _FAULT_VALUES.values():
            if key in item and key != wanted:
                raise r.refuse(f"{where}.{key}", f"has no meaning for {kind}.")
        factor = r.number(item, where, "factor", 1.0, 0.2, 3.0)
        flow = r.number(item, where, "flow_kg_h", 0.0, 0.0, 60.0)
        found.append(Fault(kind, begin, end, factor, flow))
    return tuple(found)


def _track(r: Tables, data: Mapping[str, Any]) -> tuple[TrackPoint, ...]:
    found: list[TrackPoint] = []
    for i, item in enumerate(r.tables(data, "", "track")):
        where = f"track[{i}]"
        r.known(item, where, ("at_s", "ias_kt", "palt_ft", "heading_deg"))
        at = r.number(item, where, "at_s", low=0.0)
        if found and at <= found[-1].at_s:
            raise r.refuse(where, "at_s must be later than that of the point above it.")
        found.append(
            TrackPoint(
                at,
                r.number(item, where, "ias_kt", low=0.0, high=300.0),
                r.number(item, where, "palt_ft", low=-2000.0, high=30000.0),
                r.number(item, where, "heading_deg", low=0.0, high=360.0),
            )
        )
    return tuple(found)


def _levels(r: Tables, table: Mapping[str, Any], where: str) -> dict[str, tuple[float, ...]]:
    found = {}
    for channel, levels in table.items():
        if channel not in CHANNELS:
            raise r.refuse(f"{where}.{channel}", "is not a channel of the model.")
        if not isinstance(levels, list) or not all(
            isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v) for v in levels
        ):
            raise r.refuse(f"{where}.{channel}", "must be a list of numbers.")
        found[channel] = tuple(float(v) for v in levels)
    return found


def _truth(r: Tables, data: Mapping[str, Any]) -> TruthRequest:
    truth = r.table(data, "", "truth")
    r.known(truth, "truth", ("idle_ng_pct", "start_levels", "running_levels"))
    return TruthRequest(
        idle_ng_pct=r.number(truth, "truth", "idle_ng_pct", 57.0, 30.0, 90.0),
        start_levels=_levels(r, r.table(truth, "truth", "start_levels"), "truth.start_levels"),
        running_levels=_levels(r, r.table(truth, "truth", "running_levels"), "truth.running_levels"),
    )


def _recorder(r: Tables, data: Mapping[str, Any]) -> Recorder:
    table = r.table(data, "", "recorder")
    where = "recorder"
    r.known(
        table,
        where,
        (
            "rate_hz", "delimiter", "decimal", "time_format", "time_header", "units_row", "bom", "preamble",
            "columns",
        ),
    )  # fmt: skip
    rate = r.number(table, where, "rate_hz", 4.0, 0.1, 100.0)
    if abs(1e4 / rate - round(1e4 / rate)) > 1e-9:
        raise r.refuse("recorder.rate_hz", "the time between rows must be a whole number of 0.1 ms.")
    decimal = r.choice(table, where, "decimal", (".", ","), ".")
    delimiter = r.choice(table, where, "delimiter", tuple(DELIMITERS), "comma")
    if decimal == "," and delimiter == "comma":
        raise r.refuse("recorder.delimiter", "a decimal comma needs another delimiter than the comma.")
    preamble = table.get("preamble", [])
    if not isinstance(preamble, list) or not all(isinstance(line, str) for line in preamble):
        raise r.refuse("recorder.preamble", "must be a list of texts.")
    columns = []
    for i, item in enumerate(r.tables(table, where, "columns")):
        columns.append(_column(r, item, f"recorder.columns[{i}]", rate))
    if not columns:
        raise r.refuse("recorder", "columns are missing: nothing would be recorded.")
    return Recorder(
        columns=tuple(columns),
        rate_hz=rate,
        delimiter=DELIMITERS[delimiter],
        decimal=decimal,
        time_format=r.choice(table, where, "time_format", TIME_FORMATS, "elapsed"),
        time_header=r.text(table, where, "time_header", "Time (s)"),
        units_row=r.flag(table, where, "units_row"),
        bom=r.flag(table, where, "bom"),
        preamble=tuple(preamble),
    )


def _column(r: Tables, item: Mapping[str, Any], where: str, row_rate: float) -> Column:
    r.known(
        item,
        where,
        ("channel", "header", "unit", "rate_hz", "resolution", "noise", "words", "blank", "spikes"),
    )
    channel = r.choice(item, where, "channel", CHANNELS)
    unit = r.text(item, where, "unit", "")
    if channel not in DISCRETES and (channel, unit) not in UNITS:
        known = ", ".join(units_of(channel))
        raise r.refuse(f"{where}.unit", f"{unit!r} is not known for {channel}; known: {known}.")
    rate = r.number(item, where, "rate_hz", row_rate, 0.01, row_rate)
    if abs(row_rate / rate - round(row_rate / rate)) > 1e-9:
        raise r.refuse(f"{where}.rate_hz", f"must divide the row rate of {row_rate:g} Hz.")
    words = item.get("words", [])
    if words and (
        not isinstance(words, list) or len(words) != 2 or not all(isinstance(word, str) for word in words)
    ):
        raise r.refuse(f"{where}.words", "must be two texts: off first, then on.")
    spans = {}
    for key, meaning in (("blank", "[from, to] in seconds"), ("spikes", "[time in seconds, value]")):
        value = item.get(key, [])
        if not isinstance(value, list) or not all(
            isinstance(pair, list) and len(pair) == 2 and all(isinstance(v, int | float) for v in pair)
            for pair in value
        ):
            raise r.refuse(f"{where}.{key}", f"must be a list of {meaning}.")
        spans[key] = tuple((float(a), float(b)) for a, b in value)
    if spans["spikes"] and channel in DISCRETES:
        raise r.refuse(f"{where}.spikes", "has no meaning for an on/off channel.")
    return Column(
        channel=channel,
        header=r.text(item, where, "header"),
        unit=unit,
        rate_hz=rate,
        resolution=r.number(item, where, "resolution", 1.0 if channel in DISCRETES else 0.1, 1e-4, 100.0),
        noise=r.number(item, where, "noise", 0.0, 0.0, 100.0),
        words=tuple(words),
        blank=spans["blank"],
        spikes=spans["spikes"],
    )
