"""Assessments made by hand from the value types, for views that only show them. All of it is invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.analysis.limits.chart_bands import base_level
from debrief.analysis.limits.counted_runs import Unit, counted_above, counted_runs
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
)
from debrief.analysis.signal.exceedance import time_above
from debrief.analysis.signal.interval_sets import Window, from_pairs
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import (
    AllowedRow,
    DutyRow,
    EngineProfile,
    Gauge,
    Limit,
    StarterRules,
    StartRules,
)
from debrief.recording.model import Channel, Identity, Provenance, QualityFlag, Recording
from debrief.words.sentence import words


def profile() -> EngineProfile:
    gauges = {
        "itt": Gauge("itt", "degC", (0, 1200), ((400, 780),), ((780, 830),), (), (830,)),
        "ng": Gauge("ng", "%", (0, 110), ((58, 101.5),), (), (), (101.5,)),
        "torque": Gauge("torque", "%", (0, 120), ((0, 95),), ((95, 100),), (), (100,)),
        "bus_volts": Gauge("bus_volts", "V", (12, 32), ((24, 29.5),), ((18, 24),), (), (18, 30.5)),
        "ias": Gauge("ias", "kt", (0, 240), ((68, 185),), ((185, 210),), (), (210,)),
        "np": Gauge("np", "rpm", (0, 2200), ((1500, 1900),), (), (), (1900,)),
    }
    limits = (
        Limit("itt-start", "hot_start", "itt", "start", "degC", "total",
              (AllowedRow(830, 20), AllowedRow(920, 6), AllowedRow(1030, 0)),
              reference="Training manual 3-12"),
        Limit("itt-running", "overtemp", "itt", "running", "degC", "longest",
              (AllowedRow(780, 300, "caution"), AllowedRow(830, 5))),
    )  # fmt: skip
    return EngineProfile(
        name="Tarn TG-7 (training example)",
        revision="A",
        aircraft="Marrow 440",
        source="Invented for training.",
        start=StartRules(
            min_fuel_ng_pct=15.0, advised_fuel_ng_pct=18.0, min_bus_volts=18.0, idle_ng_pct=58.0
        ),
        starter=StarterRules((DutyRow(45, 90),)),
        gauges=gauges,
        limits=limits,
    )


def _first_order(t: np.ndarray, begin: float, from_: float, to: float, tau: float) -> np.ndarray:
    return to + (from_ - to) * np.exp(-np.clip(t - begin, 0, None) / tau)


def hot_start_recording(duration_s: float = 110.0, rate_hz: float = 10.0) -> Recording:
    t = np.arange(0.0, duration_s + 1e-9, 1.0 / rate_hz)
    rng = np.random.default_rng(7)
    ng = np.zeros_like(t)
    motoring = t >= 10
    ng[motoring] = _first_order(t[motoring], 10, 0, 16, 5.2)
    lit = t >= 15.2
    at_light = float(np.interp(15.2, t, ng))
    ng[lit] = _first_order(t[lit], 15.2, at_light, 55, 8.5)
    cut = t >= 27
    at_cut = float(np.interp(26.9, t, ng))
    ng[cut] = _first_order(t[cut], 27, at_cut, 18.5, 4.5)
    off = t >= 47
    ng[off] = _first_order(t[off], 47, float(np.interp(46.9, t, ng)), 0, 9.0)
    itt = np.full_like(t, 15.0)
    itt[lit] = 15 + 1077 * (1 - np.exp(-np.clip(t[lit] - 15.2, 0, None) / 1.1))
    fall = t >= 18.4
    itt[fall] = _first_order(t[fall], 18.4, 1087, 640, 6.0)
    itt[cut] = _first_order(t[cut], 27, float(np.interp(26.9, t, itt)), 80, 9.0)
    volts = np.full_like(t, 25.4)
    on = (t >= 10) & (t < 47)
    volts[on] = _first_order(t[on], 10, 19.6, 24.2, 9.0)
    volts[(t >= 27) & (t < 47)] = 23.0
    noise = rng.normal(size=(3, t.size))
    starter = on.astype(float)
    fuel = ((t >= 14) & (t < 27)).astype(float)

    def channel(name: str, unit: str, values: np.ndarray, column: str) -> Channel:
        return Channel(name, unit, t, values, column, unit)

    channels = {
        "ng": channel("ng", "%", np.clip(ng + 0.08 * noise[0] * (ng > 0.5), 0, None).round(1), "Ng"),
        "itt": channel("itt", "degC", (itt + 0.6 * noise[1]).round(0), "ITT"),
        "bus_volts": channel("bus_volts", "V", (volts + 0.04 * noise[2]).round(2), "Bus V"),
        "starter": channel("starter", "0/1", starter, "Starter"),
        "fuel_on": channel("fuel_on", "0/1", fuel, "Fuel"),
        "ias": channel("ias", "kt", np.zeros_like(t), "IAS"),
    }
    return Recording(
        channels,
        duration_s,
        identity=Identity(aircraft="ZZ-TRN", aircraft_source="preamble"),
        provenance=Provenance(file_name="hot_start.csv", rows=t.size, sha256="0" * 64),
        quality=(QualityFlag("coarse", "itt", 0.0, duration_s, words("ITT is recorded in whole degrees.")),),
        profile_name="tarn-tg7",
    )


def hot_start(recording: Recording | None = None) -> Assessment:
    recording = recording if recording is not None else hot_start_recording()
    itt = recording.channels["itt"]
    levels = tuple(
        _level(itt, level, allowed, severity)
        for level, allowed, severity in ((830, 20.0, "limit"), (920, 6.0, "limit"), (1030, 0.0, "limit"))
    )
    worst = levels[-1]
    peak = float(itt.values.max())
    peak_s = float(itt.time_s[int(itt.values.argmax())])
    hot = Event(
        kind="hot_start",
        event_class="engine",
        engine=1,
        severity="limit",
        start_s=levels[0].start_s or 0.0,
        end_s=levels[0].end_s or 0.0,
        message=words("Start 1 was above 1030 °C for 3.0 s; the profile allows none."),
        channel="itt",
        peak=peak,
        peak_s=peak_s,
        unit="degC",
        level=1030.0,
        duration_s=worst.duration_s,
        duration_low_s=worst.duration_low_s,
        duration_high_s=worst.duration_high_s,
        allowed_s=0.0,
        limit_id="itt-start",
        levels=levels,
        band="I",
        reference="Training manual 3-12",
        start_number=1,
        spans=((worst.start_s or 0.0, worst.end_s or 0.0),),
        evidence=Evidence(words("Time above the level, summed over the attempt."), "limits.itt-start", 104,
                          channel="itt"),
    )  # fmt: skip
    early = Event(
        kind="early_fuel",
        event_class="procedure",
        engine=1,
        severity="limit",
        start_s=14.0,
        end_s=14.0,
        message=words("Fuel came in at 8.6 % Ng; the profile's minimum is 15 %."),
        channel="ng",
        start_number=1,
    )
    start = Start(
        number=1,
        engine=1,
        kind="ground",
        outcome="aborted",
        begin_s=10.0,
        end_s=63.0,
        window_end_s=45.0,
        starter_on_s=10.0,
        starter_off_s=47.0,
        fuel_on_s=14.0,
        fuel_off_s=27.0,
        light_off_s=15.2,
        peak_itt_c=peak,
        peak_itt_s=peak_s,
        ng_at_fuel_pct=8.6,
        ng_stable_at_fuel=False,
        max_motoring_ng_pct=10.1,
        min_bus_volts=19.6,
        rest_bus_volts=25.4,
        residual_itt_c=15.0,
        fuel_periods=(FuelPeriod(14.0, 13.9, 27.0, 26.9, 15.2, peak, peak_s, 8.6, 8.4, 8.7, "fuel_on"),),
        starter_runs=(StarterRun(10.0, 47.0, 37.0, 36.9, 37.1, "battery", 1),),
        measures={
            "time_above_830": Measure(
                levels[0].duration_s, "s", levels[0].duration_low_s, levels[0].duration_high_s
            )
        },
        factors=(
            Factor("early_fuel", 8.6, 15.0, "%", words("Fuel at 8.6 % Ng; minimum 15 %")),
            Factor(
                "ng_not_stable", 1.6, 0.3, "%/s", words("Ng still gaining 1.6 %/s at fuel; stable below 0.3")
            ),
        ),
    )
    made = Assessment(
        recording=recording,
        profile=profile(),
        starts=(start,),
        events=(early, hot),
        limits=(
            LimitResult(
                "itt-start",
                "hot_start",
                "itt",
                1,
                "degC",
                "exceeded",
                1030.0,
                -3.0,
                -57.0,
                windows=(LimitWindow(10.0, 45.0, 9.9, 10.0, 44.9, 45.0, 1),),
            ),
            LimitResult("itt-running", "overtemp", "itt", 1, "degC", "within"),
        ),
        phases=(
            Phase("off", 0.0, 10.0),
            Phase("start", 10.0, 63.0),
            Phase("off", 63.0, recording.duration_s),
        ),
        flight_measures={},
        not_judged=(NotJudged("Overtorque", "torque is not recorded", "torque-max", "torque"),),
        quality=recording.quality,
        verdict="exceeded",
        sentence=words(
            "Exceeded. Start 1 was above 1030 °C for 3.0 s; the profile allows none. Fuel came in at "
            "8.6 % Ng, below 15 %. Not judged: overtorque (torque is not recorded)."
        ),
    )
    return counted(made)


def counted(assessment: Assessment) -> Assessment:
    """Count anew what lies beyond each level where the results say that their limits applied."""
    assert assessment.profile is not None
    limits = {limit.id: limit for limit in assessment.profile.limits}
    results = []
    for result in assessment.limits:
        limit, channel = limits.get(result.id), assessment.recording.channels.get(result.channel)
        if limit is None or channel is None:
            results.append(result)
            continue
        windows: dict[int | None, list[tuple[float, float]]] = {w.start_number: [] for w in result.windows}
        for window in result.windows:
            windows[window.start_number].append((window.start_s, window.end_s))
        trace, sign = Trace.of(channel), 1.0
        if limit.below:
            trace, sign = trace.negated(), -1.0
        units = [Unit(number, Window.exactly(from_pairs(at))) for number, at in windows.items()]
        base = base_level(limit)
        above = (time_above(trace, sign * row.level) for row in limit.allowed)
        levels = [
            counted_runs(limit, [(unit.start_number, unit.counts(limit, one)) for unit in units])
            for one in above
        ]
        above_base = None if base is None else counted_above(limit, trace, base, units)
        results.append(replace(result, counted=tuple(levels), base=above_base))
    return replace(assessment, limits=tuple(results))


def _level(channel: Channel, level: float, allowed_s: float, severity: str) -> LevelResult:
    above = channel.values > level
    first, last = np.flatnonzero(above)[[0, -1]]
    t, v = channel.time_s, channel.values
    begin = float(
        t[first - 1] + (level - v[first - 1]) / (v[first] - v[first - 1]) * (t[first] - t[first - 1])
    )
    end = float(t[last] + (level - v[last]) / (v[last + 1] - v[last]) * (t[last + 1] - t[last]))
    low, high = float(t[last] - t[first]), float(t[last + 1] - t[first - 1])
    result = "exceeded" if end - begin > allowed_s else "within"
    return LevelResult(level, allowed_s, severity, end - begin, low, high, result, begin, end)  # type: ignore[arg-type]


def without_profile() -> Assessment:
    recording = replace(hot_start_recording(), profile_name=None)
    return replace(
        hot_start(recording),
        profile=None,
        events=(),
        limits=(),
        verdict="undetermined",
        sentence=words("Undetermined. No engine profile was named, so nothing was judged."),
        not_judged=(NotJudged("All limits", "no engine profile was named"),),
    )


def many_events(count: int = 40) -> Assessment:
    """A long run with an overtemperature each minute: for crowding."""
    duration = 60.0 * count + 60.0
    t = np.arange(0.0, duration, 0.5)
    itt = 700 + 180 * np.exp(-(((t % 60) - 30) ** 2) / 50)
    ng = np.full_like(t, 92.0)
    recording = Recording(
        {"itt": Channel("itt", "degC", t, itt.round(0), "ITT"), "ng": Channel("ng", "%", t, ng, "Ng")},
        float(t[-1]),
        provenance=Provenance(file_name="many.csv", rows=t.size),
    )
    events = tuple(
        Event(
            kind="overtemp", event_class="engine", engine=1,
            severity=("limit", "possible", "caution")[i % 3],  # type: ignore[arg-type]
            start_s=60.0 * i + 26, end_s=60.0 * i + 34,
            message=words("ITT was above 830 °C for 8.0 s; 5 s allowed."),
            channel="itt", peak=880.0, peak_s=60.0 * i + 30, unit="degC", level=830.0, duration_s=8.0,
            duration_low_s=7.5, duration_high_s=8.5, allowed_s=5.0, limit_id="itt-running",
            spans=((60.0 * i + 26, 60.0 * i + 34),),
        )
        for i in range(count)
    )  # fmt: skip
    return Assessment(
        recording, profile(), (), events, (), (Phase("cruise", 0.0, float(t[-1])),), {}, (), (), "exceeded",
        words("Exceeded. ITT was above 830 °C for longer than 5 s 14 times."), began_running=True,
    )  # fmt: skip
