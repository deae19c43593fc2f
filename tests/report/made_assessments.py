"""Assessments put together by hand: the report and the document are tested apart from the analysis."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from debrief.analysis.model import (
    Assessment,
    Event,
    Evidence,
    Factor,
    FuelPeriod,
    LevelResult,
    LimitResult,
    LimitWindow,
    Measure,
    NotJudged,
    Phase,
    Start,
    StarterRun,
    TimeAbove,
)
from debrief.profile.model import (
    AllowedRow,
    Band,
    DutyRow,
    EngineProfile,
    FactorRules,
    Gauge,
    Limit,
    StarterRules,
    StartRules,
)
from debrief.recording.model import Channel, Identity, Provenance, QualityFlag, Recording
from debrief.resources import resource

RATE_HZ = 8.0


def profile() -> EngineProfile:
    """Return the training profile, put together without the loader."""
    table = tomllib.loads(resource("profiles/tarn-tg7.toml").read_text(encoding="utf-8"))
    limits = tuple(
        Limit(
            id=row["id"],
            event=row["event"],
            channel=row["channel"],
            when=row["when"],
            unit=row["unit"],
            count=row["count"],
            below="below" in row["allowed"][0],
            allowed=tuple(
                AllowedRow(
                    float(a.get("above", a.get("below"))), float(a["seconds"]), a.get("severity", "limit")
                )
                for a in row["allowed"]
            ),
            reference=row.get("reference"),
            band_method=row.get("band_method"),
            band_base=row.get("band_base"),
            bands=tuple(
                Band(b["name"], tuple((float(x), float(y)) for x, y in b["points"]), b["action"])
                for b in row.get("bands", ())
            ),
        )
        for row in table["limits"]
    )
    gauges = {
        name: Gauge(
            name,
            row["unit"],
            tuple(row["range"]),
            tuple(map(tuple, row.get("green", ()))),
            tuple(map(tuple, row.get("yellow", ()))),
            (),
            tuple(row.get("red_lines", ())),
        )
        for name, row in table["gauges"].items()
    }
    return EngineProfile(
        name=table["name"],
        revision=table["revision"],
        aircraft=table["aircraft"],
        source=table["source"],
        engines=tuple(table["engines"]),
        start=StartRules(**table["start"]),
        starter=StarterRules(
            duty=tuple(DutyRow(**row) for row in table["starter"]["duty"]),
            external_duty=tuple(DutyRow(**row) for row in table["starter"]["external_duty"]),
        ),
        factors=FactorRules(**table["factors"]),
        gauges=gauges,
        limits=limits,
        sha256="5f" * 32,
        path=str(resource("profiles/tarn-tg7.toml")),
        lines={"limits.itt-start": 110},
    )


def start_traces(t: np.ndarray, begin_s: float, *, hot: bool) -> dict[str, np.ndarray]:
    """Return ng, itt, volts, starter and fuel of one start that opens at `begin_s`."""
    u = t - begin_s
    fuel_at = 6.0 if hot else 16.0
    cut_at = 31.0 if hot else np.inf
    ng = np.where(u < 0, 0.0, 24.0 * (1 - np.exp(-np.clip(u, 0, None) / 11.0)))
    light = fuel_at + 1.5
    gain = np.clip(u - light, 0, None)
    ng = ng + np.where(u > light, np.minimum(gain * 1.1, 60.0), 0.0)
    ng = np.minimum(ng, 59.5)
    shape = gain / 7.5 * np.exp(1 - gain / 7.5)
    itt = 22.0 + (1075.0 if hot else 640.0) * np.clip(shape, 0, None) ** 0.6
    itt = np.where(u > light, np.maximum(itt, 22.0 + 480.0 * (1 - np.exp(-gain / 4))), 22.0)
    if hot:
        after = np.clip(u - cut_at, 0, None)
        at_cut = float(np.interp(cut_at, u, itt))
        ng_cut = float(np.interp(cut_at, u, ng))
        itt = np.where(u > cut_at, 90 + (at_cut - 90) * np.exp(-after / 14.0), itt)
        ng = np.where(u > cut_at, np.maximum(ng_cut * np.exp(-after / 9.0), 20.0), ng)
    off_at = 55.0 if hot else 33.0
    starter = ((u >= 0) & (u < off_at)).astype(float)
    if hot:
        ng = np.where(u > off_at, 20.0 * np.exp(-(u - off_at) / 7.0), ng)
    fuel = ((u >= fuel_at) & (u < cut_at)).astype(float)
    volts = 24.6 - starter * (5.4 * np.exp(-np.clip(u, 0, None) / 9.0) + 1.1)
    return {"ng": ng, "itt": itt, "bus_volts": volts, "starter": starter, "fuel_on": fuel}


def _quantised(values: np.ndarray, step: float) -> np.ndarray:
    return np.round(values / step) * step


def above(t: np.ndarray, v: np.ndarray, levels: np.ndarray) -> tuple[list[float], list[float]]:
    """Return total and longest seconds above each level on a fine grid: good enough for a picture."""
    fine = np.arange(t[0], t[-1], 0.01)
    values = np.interp(fine, t, v)
    total, longest = [], []
    for level in levels:
        mask = values > level
        total.append(float(mask.sum() * 0.01))
        edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(int), [0]])))
        runs = (edges[1::2] - edges[::2]) * 0.01
        longest.append(float(runs.max()) if runs.size else 0.0)
    return total, longest


def hot_start(
    *,
    aircraft: str | None = "ZZ-TRN",
    file_name: str = "hot_start_aborted.csv",
    column_suffix: str = "",
    starts: int = 1,
    events: int | None = None,
    with_profile: bool = True,
) -> Assessment:
    """Return a hot start, aborted and motored, followed by normal starts."""
    length = 100.0 * starts
    t = np.arange(0, length, 1 / RATE_HZ)
    data: dict[str, np.ndarray] = {}
    for index in range(starts):
        begin = 12.0 + 100.0 * index
        mask = (t >= 100.0 * index) & (t < 100.0 * (index + 1))
        for name, values in start_traces(t[mask], begin, hot=index == 0).items():
            data.setdefault(name, np.zeros_like(t))[mask] = values
    steps = {"ng": 0.1, "itt": 1.0, "bus_volts": 0.1, "starter": 1.0, "fuel_on": 1.0}
    units = {"ng": "%", "itt": "degC", "bus_volts": "V", "starter": "0/1", "fuel_on": "0/1"}
    heads = {"ng": "Ng", "itt": "ITT", "bus_volts": "Bus", "starter": "STARTER", "fuel_on": "COND LEVER"}
    channels = {
        name: Channel(
            name=name,
            unit=units[name],
            time_s=t,
            values=_quantised(values, steps[name]),
            column=heads[name] + column_suffix,
            column_unit={"degC": "°C", "%": "%", "V": "V", "0/1": ""}[units[name]],
            resolution=steps[name],
        )
        for name, values in data.items()
    }
    recording = Recording(
        channels=channels,
        duration_s=float(t[-1]),
        identity=Identity(aircraft, "preamble" if aircraft else None, "118", "option", engine_model="TG-7"),
        provenance=Provenance(
            path=f"/flights/{file_name}",
            file_name=file_name,
            sha256="ab12cd34" * 8,
            byte_count=48213,
            rows=int(t.size),
            encoding="utf-8",
            delimiter=",",
            time_source="column Time (hh:mm:ss.f)",
            repairs=("2 identical rows dropped at 0:31.0",),
            questions=("Column 'T5' could be itt or oil_temp: left unmapped.",),
        ),
        profile_name="tarn-tg7",
        quality=(QualityFlag("gap", "bus_volts", 41.0, 42.5, "No bus voltage from 0:41.0 to 0:42.5."),),
    )
    made = tuple(_start(recording, index, hot=index == 0) for index in range(starts))
    prof = profile() if with_profile else None
    if prof is None:
        return Assessment(
            recording=recording,
            profile=None,
            starts=made,
            events=(),
            limits=(),
            phases=(),
            flight_measures={},
            not_judged=(NotJudged("everything", "no engine profile was named"),),
            quality=recording.quality,
            verdict="undetermined",
            sentence="Nothing was judged: no engine profile was named.",
        )
    found = _events(made[0])
    if events is not None:
        many = [
            replace(found[index % 2], start_s=18.0 + index * 2, end_s=19.0 + index * 2)
            for index in range(events)
        ]
        found = tuple(many)
    return Assessment(
        recording=recording,
        profile=prof,
        starts=made,
        events=found,
        limits=_limits(made),
        phases=(Phase("off", 0.0, 12.0), Phase("start", 12.0, 90.0)),
        flight_measures={"oat": Measure(31.0, "degC"), "density_altitude": Measure(2410.0, "ft")},
        not_judged=(
            NotJudged("oil pressure", "not recorded", "oil-press-min", "oil_press"),
            NotJudged("starter rest before the first start", "earlier runs are not known"),
        ),
        quality=recording.quality,
        verdict="exceeded" if found else "within",
        sentence=(
            "Exceeded: ITT was above 1030 °C for 6.4 s (6.2 to 6.6) in start 1, none is allowed; 1 caution. "
            "Not judged: oil pressure."
            if found
            else "Nothing exceeded in what was recorded. Not judged: oil pressure."
        ),
    )


def _start(recording: Recording, index: int, *, hot: bool) -> Start:
    begin = 12.0 + 100.0 * index
    itt = recording.channels["itt"]
    window = (itt.time_s >= begin) & (itt.time_s < begin + 85.0)
    values, times = itt.values[window], itt.time_s[window]
    top = int(np.argmax(values))
    levels = np.arange(400.0, float(values[top]), 10.0)
    total, longest = above(times, values, levels)
    ng = recording.channels["ng"]
    fuel = begin + (6.0 if hot else 16.0)
    idle = None if hot else float(ng.time_s[(ng.time_s > begin) & (ng.values >= 57.0)][0])
    ng_fuel = float(np.interp(fuel, ng.time_s, ng.values))
    volts = recording.channels["bus_volts"]
    low = float(volts.values[(volts.time_s > begin + 1) & (volts.time_s < begin + 55)].min())
    return Start(
        number=index + 1,
        engine=1,
        kind="ground",
        outcome="aborted" if hot else "completed",
        begin_s=begin,
        end_s=begin + 80.0,
        window_end_s=begin + 75.0,
        starter_on_s=begin,
        starter_off_s=begin + (55.0 if hot else 33.0),
        fuel_on_s=fuel,
        fuel_off_s=begin + 31.0 if hot else None,
        light_off_s=fuel + 1.5,
        idle_s=idle,
        peak_itt_c=float(values[top]),
        peak_itt_s=float(times[top]),
        ng_at_fuel_pct=ng_fuel,
        ng_stable_at_fuel=not hot,
        max_motoring_ng_pct=ng_fuel,
        min_bus_volts=low,
        rest_bus_volts=24.6,
        residual_itt_c=22.0,
        fuel_periods=(
            FuelPeriod(
                fuel,
                fuel - 0.1,
                begin + 31.0 if hot else None,
                None,
                fuel + 1.5,
                float(values[top]),
                float(times[top]),
                ng_fuel,
                ng_fuel - 0.2,
                ng_fuel + 0.2,
                "fuel_on",
            ),
        ),
        starter_runs=(
            StarterRun(
                begin,
                begin + (55.0 if hot else 33.0),
                55.0 if hot else 33.0,
                54.9,
                55.1,
                "battery",
                index + 1,
            ),
        ),
        measures=_start_measures(hot),
        factors=(
            Factor("ng_at_fuel", ng_fuel, 15.0, "%", "Fuel before the minimum Ng"),
            Factor("tailwind", 9.0, 8.0, "kt", "Tailwind"),
        )
        if hot
        else (),
        time_above=TimeAbove("itt", "degC", tuple(levels.tolist()), tuple(total), tuple(longest)),
        notes=("The starter bit stayed on after the machine began to generate.",) if not hot else (),
    )


def _start_measures(hot: bool) -> Mapping[str, Measure]:
    measures = {
        "oat": Measure(31.0, "degC"),
        "fuel_to_light_off": Measure(1.5, "s", 1.4, 1.6),
        "itt_rate": Measure(212.0, "degC/s"),
        "starter_total": Measure(55.0 if hot else 33.0, "s", 54.9, 55.1),
        "source_resistance": Measure(None, "mohm", why="no battery current recorded"),
        "tailwind": Measure(9.0, "kt"),
        "residual_itt_at_fuel": Measure(22.0, "degC"),
        "rest_volts": Measure(24.6, "V"),
    }
    if hot:
        measures |= {
            "abort.first_cue_to_cut": Measure(13.2, "s", 13.1, 13.3),
            "abort.motored_after_cut": Measure(24.0, "s", 23.9, 24.1),
            "abort.itt_at_release": Measure(212.0, "degC"),
        }
    else:
        measures["light_off_to_idle"] = Measure(27.4, "s", 27.3, 27.5)
    return measures


def _events(start: Start) -> tuple[Event, ...]:
    hot = Event(
        kind="hot_start",
        event_class="engine",
        engine=1,
        severity="limit",
        start_s=21.0,
        end_s=38.4,
        message="ITT was above 1030 °C for 6.4 s (6.2 to 6.6); none is allowed.",
        channel="itt",
        peak=start.peak_itt_c,
        peak_s=start.peak_itt_s,
        peak_high=1098.0,
        unit="degC",
        level=1030.0,
        duration_s=6.4,
        duration_low_s=6.2,
        duration_high_s=6.6,
        allowed_s=0.0,
        limit_id="itt-start",
        levels=(
            LevelResult(830.0, 20.0, "limit", 15.9, 15.8, 16.0, "within", 20.6, 38.4),
            LevelResult(920.0, 6.0, "limit", 11.5, 11.4, 11.7, "exceeded", 22.0, 34.0),
            LevelResult(1030.0, 0.0, "limit", 6.4, 6.2, 6.6, "exceeded", 24.0, 30.4),
        ),
        band="I",
        band_action="Record the peak and the time; ask the maintenance organisation before the next start.",
        reference="Training manual 3-12",
        start_number=1,
        spans=((24.0, 30.4),),
        evidence=Evidence(
            "Above a level longer than allowed",
            "limits.itt-start",
            110,
            "",
            "itt",
            (23.9, 24.0),
            (1028.0, 1031.0),
        ),
    )
    early = Event(
        kind="early_fuel",
        event_class="procedure",
        engine=1,
        severity="limit",
        start_s=18.0,
        end_s=18.0,
        message="Fuel came in at 10.0 % Ng (9.8 to 10.2); at least 15 % is asked.",
        channel="ng",
        peak=10.0,
        unit="%",
        level=15.0,
        start_number=1,
    )
    return hot, early


def _limits(starts: Sequence[Start]) -> tuple[LimitResult, ...]:
    windows = tuple(
        LimitWindow(s.begin_s, s.window_end_s, s.begin_s, s.begin_s, s.window_end_s, s.window_end_s, s.number)
        for s in starts
    )
    return (
        LimitResult(
            "itt-start", "hot_start", "itt", 1, "degC", "exceeded", 1030.0, -6.4, -57.0, windows=windows
        ),
        LimitResult("itt-running", "overtemp", "itt", 1, "degC", "within", 780.0, 300.0, 298.0),
        LimitResult(
            "oil-press-min", "oil_press_low", "oil_press", 1, "psi", "not_judged", why="not recorded"
        ),
    )


def climb_overtemp() -> Assessment:
    """Return a flight with an overtemperature in the climb, torque recorded, no start recorded."""
    t = np.arange(0, 1500.0, 1.0)
    itt = 690 + 60 * np.clip((t - 300) / 200, 0, 1) - 40 * np.clip((t - 900) / 300, 0, 1)
    itt = itt + 95 * np.exp(-(((t - 620) / 40) ** 2))
    made = {
        "itt": ("degC", itt, 1.0),
        "ng": ("%", 96 + 2 * np.sin(t / 300), 0.1),
        "torque": ("%", 80 + 8 * np.sin(t / 200), 0.1),
        "bus_volts": ("V", np.full_like(t, 28.1), 0.1),
        "palt": ("ft", np.clip(t * 10, 0, 9000), 1.0),
        "ias": ("kt", np.full_like(t, 120.0), 1.0),
    }
    base = hot_start()
    recording = Recording(
        channels={
            name: Channel(name, unit, t, _quantised(v, step), name.upper(), unit, resolution=step)
            for name, (unit, v, step) in made.items()
        },
        duration_s=float(t[-1]),
        identity=base.recording.identity,
        provenance=replace(base.recording.provenance, file_name="climb_overtemp.csv", rows=int(t.size)),
    )
    peak = float(itt.max().round())
    event = Event(
        kind="overtemp",
        event_class="engine",
        engine=1,
        severity="limit",
        start_s=611.2,
        end_s=629.0,
        message="ITT was above 830 °C for 17.8 s (17.0 to 19.0); 5 s are allowed.",
        channel="itt",
        peak=peak,
        peak_s=620.0,
        peak_high=peak + 0.5,
        unit="degC",
        level=830.0,
        duration_s=17.8,
        duration_low_s=17.0,
        duration_high_s=19.0,
        allowed_s=5.0,
        limit_id="itt-running",
        reference="Training manual 2-4",
        spans=((611.2, 629.0),),
    )
    return replace(
        base,
        recording=recording,
        starts=(),
        events=(event,),
        phases=(Phase("takeoff", 0, 120), Phase("climb", 120, 1000), Phase("cruise", 1000, 1499)),
        quality=(),
        began_running=True,
        sentence="Exceeded: ITT was above 830 °C for 17.8 s (17.0 to 19.0) in the climb, 5 s are allowed. "
        "Not judged: oil pressure.",
    )
