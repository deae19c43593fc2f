"""Sensors that fail: what rests on them must not read "within", and nothing certain may rest on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import AGAIN, EVERYTHING, Made, Said
from tests.study.examiner.engine import IDLE_PCT, Air, Flight, Floats, Plan, fly, start_plan
from tests.study.examiner.recorder import ALL, Recorder, Values, text
from tests.study.examiner.rules import PROFILE

ABOUT = "a good start and a flight, with a sensor that fails; 1, 4, 16 Hz, with and without noise"
FAIL_S = 260.0
CUT_S = 640.0
PEAK_C = 728.0

Spoil = Callable[[Floats, Values], None]


@dataclass(frozen=True)
class Fault:
    """A failure: how it spoils the values, what must be seen, and the limits that then cannot read "within"."""

    spoil: Spoil
    seen: str
    limits: tuple[str, ...] = ()
    columns: tuple[str, ...] = ALL


def _from(
    channel: str, value: float | None, begin: float = FAIL_S, end: float = 1e9, drift: float = 0.0
) -> Spoil:
    """Stand at a value (None: the last good one), after a drift of so much a second for 60 s."""

    def spoil(t: Floats, values: Values) -> None:
        v = values[channel]
        slow = (t >= begin - 60.0) & (t < begin)
        v[slow] += np.round(drift * (t[slow] - begin + 60.0))
        k = int(np.searchsorted(t, begin))
        v[(t >= begin) & (t < end)] = v[k - 1] if value is None else value

    return spoil


def _shift(
    channel: str, by: float, begin: float = FAIL_S, when: Callable[[Values], np.ndarray] | None = None
) -> Spoil:  # type: ignore[type-arg]
    def spoil(t: Floats, values: Values) -> None:
        here = t >= begin
        if when is not None:
            here &= when(values)
        values[channel][here] += by

    return spoil


def _bursts(channel: str, value: float, each: float) -> Spoil:
    def spoil(t: Floats, values: Values) -> None:
        for begin in (FAIL_S, FAIL_S + 40.0, FAIL_S + 95.0):
            values[channel][(t >= begin) & (t < begin + each)] = value

    return spoil


def _row_at(time: float, rows: int, **said: float) -> Spoil:
    """Put other values into some rows from a time on."""

    def spoil(t: Floats, values: Values) -> None:
        k = int(np.searchsorted(t, time))
        for name, value in said.items():
            if name in values:
                values[name][k : k + rows] = value

    return spoil


def _bursts_at(times: Sequence[float], each: float, **said: float) -> Spoil:
    """Put other values into all rows of some stretches."""

    def spoil(t: Floats, values: Values) -> None:
        for begin in times:
            for name in said.keys() & values.keys():
                values[name][(t >= begin) & (t < begin + each)] = said[name]

    return spoil


def _dead_below_10(t: Floats, values: Values) -> None:
    values["ng"][values["ng"] < 10.0] = 0.0


ITT = ("itt-running",)
NO_STARTER = tuple(c for c in ALL if c != "starter")
BENCH = ("ng", "itt", "np", "bus_volts", "oil_temp")
FAULTS: dict[str, Fault] = {
    "no fault": Fault(lambda t, v: None, "nothing"),
    "ITT frozen to the end": Fault(_from("itt", None), "blind", ITT),
    "ITT frozen after a slow drift": Fault(_from("itt", None, drift=-0.15), "blind", ITT),
    "ITT frozen until after shutdown": Fault(_from("itt", None, end=CUT_S + 40.0), "blind", ITT),
    "ITT frozen over take-off": Fault(_from("itt", None, begin=90.0, end=220.0), "blind", ITT),
    "ITT dead, 0 °C": Fault(_from("itt", 0.0), "blind", ITT),
    "ITT dead, at OAT": Fault(_from("itt", 15.0), "blind", ITT),
    "ITT open, 999 °C": Fault(_from("itt", 999.0), "open"),
    "ITT open, 1100 °C": Fault(_from("itt", 1100.0), "open"),
    "ITT open, 1200 °C": Fault(_from("itt", 1200.0), "open"),
    "ITT open, 1300 °C": Fault(_from("itt", 1300.0), "open"),
    "ITT open for 8 s, three times": Fault(_bursts("itt", 999.0, 8.0), "open"),
    "ITT steps down 60 °C": Fault(_shift("itt", -60.0), "blind"),
    "ITT steps down 120 °C": Fault(_shift("itt", -120.0), "blind"),
    "ITT steps up 100 °C": Fault(_shift("itt", 100.0), "suspect"),
    "ITT 70 °C low throughout": Fault(_shift("itt", -70.0, 0.0), "blind"),
    "ITT 25 °C high when cold": Fault(_shift("itt", 25.0, 0.0), "doubt"),
    "Ng dead throughout": Fault(_from("ng", 0.0, 0.0), "no speed", ("ng-running",)),
    "Ng dead from mid-run": Fault(_from("ng", 0.0), "blind", ("ng-running",)),
    "Ng frozen from mid-run": Fault(_from("ng", None), "blind", ("ng-running",)),
    "Ng dead below 10 %": Fault(_dead_below_10, "pick-up"),
    "Ng dead below 10 %, no starter column": Fault(_dead_below_10, "pick-up", columns=NO_STARTER),
    "torque dead from mid-run": Fault(_from("torque", 0.0), "blind", ("torque-running",)),
    "torque frozen from mid-run": Fault(_from("torque", None), "blind", ("torque-running",)),
    "Np dead from mid-run": Fault(_from("np", 0.0), "footnote", ("np-running",)),
    "volts dead from mid-run": Fault(_from("bus_volts", 0.0), "named"),
    "oil temperature dead from mid-run": Fault(_from("oil_temp", 0.0), "footnote", ("oil-temp",)),
    "oil pressure lost": Fault(_from("oil_press", 0.0), "kept"),
    "Ng one sample of 112 %": Fault(_row_at(300.0, 1, ng=112.0), "suspect"),
    "ITT one sample of 1050 °C in the start": Fault(_row_at(24.0, 1, itt=1050.0), "kept"),
    "ITT one sample of 1050 °C in cruise": Fault(_row_at(300.0, 1, itt=1050.0), "suspect"),
    "corrupt row before the start": Fault(_row_at(3.0, 1, itt=166.0, np=2990.0), "start"),
    "3 corrupt rows before the start": Fault(_row_at(3.0, 3, itt=166.0, np=2990.0), "start"),
    "3 corrupt rows, bench columns": Fault(_row_at(3.0, 3, itt=166.0, np=2990.0), "start", columns=BENCH),
    "3 corrupt rows while motoring": Fault(_row_at(14.0, 3, itt=166.0, np=2990.0), "start"),
    "3 corrupt rows while motoring, bench columns": Fault(
        _row_at(14.0, 3, itt=166.0, np=2990.0), "start", columns=BENCH
    ),
    "corrupt second while motoring, bench columns": Fault(
        _bursts_at((12.0, 15.0), 1.0, itt=166.0, np=2990.0), "start", columns=BENCH
    ),
    "row of zeros in cruise": Fault(_row_at(300.0, 1, **dict.fromkeys(ALL, 0.0)), "start"),
}

TRUTH = {
    "nothing": Target("within"),
    "blind": Target("not within"),
    "doubt": Target("not within, or named"),
    "open": Target("at most possible"),
    "suspect": Target("at most possible"),
    "kept": Target("exceeded or possible"),
    "no speed": Target("no failed start"),
    "pick-up": Target("no false finding"),
    "footnote": Target("named as not judged"),
    "named": Target("named"),
    "start": Target("one good start"),
}


def targets() -> dict[str, Target]:
    """Return the targets: nothing may be wrong."""
    out: dict[str, Target] = {}
    for name, fault in FAULTS.items():
        out[name] = TRUTH[fault.seen]
        for limit in fault.limits:
            out[f"{name}: {limit}"] = Target("not within")
        if fault.seen == "open":
            out[f"{name}: the good start"] = Target("peak of 728 °C kept")
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings: each fault at three rates, with and without noise."""
    every = [(rate, noise) for rate in (1.0, 4.0, 16.0) for noise in (0.0, 1.0)]
    return [
        Case("sensors", name, n * len(every) + k, about)
        for name in FAULTS
        for n in range(max(round(scale * 2), 1))
        for k, about in enumerate(every)
    ]


@cache
def flight() -> Flight:
    """Return the flight that all faults spoil."""
    run, fuel = start_plan(off=CUT_S)
    power = ((100.0, 90.0), (200.0, 87.0), (400.0, 74.0), (515.0, 63.0), (540.0, IDLE_PCT))
    return fly(Plan(720.0, (run,), (fuel,), power=power, air=(Air(122.0, 520.0),)))


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    rate, noise = case.about
    fault = FAULTS[case.row]
    phase = float(np.random.default_rng([seed, case.seed]).random())
    recorder = Recorder(rate, noise, phase=phase, columns=fault.columns)
    return Made(text(flight(), recorder, (seed, case.seed), fault.spoil), PROFILE, case.row)


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return whether the fault was seen as it must be."""
    fault = FAULTS[case.row]
    out = [Answer(case.row, *_seen(fault, said))]
    for limit in fault.limits:
        result = said.limit(limit)
        out.append(Answer(f"{case.row}: {limit}", result, "missed" if result == "within" else ""))
    if fault.seen == "open":
        peak = said.starts[0]["peak_itt_c"] if said.starts else None
        kept = peak is not None and abs(peak - PEAK_C) <= 12.0
        out.append(
            Answer(
                f"{case.row}: the good start",
                "kept" if kept else "lost" if peak is None else "other",
                "" if kept else "missed",
            )
        )
    return out


def _seen(fault: Fault, said: Said) -> tuple[str, Wrong]:
    """Return what was said, and whether that is wrong."""
    verdict = said.verdict
    certain = [e for e in said.events if e["severity"] == "limit" and not e["sensor_suspect"]]
    match fault.seen:
        case "nothing":
            return verdict, "" if verdict == "within" and not said.events else "false"
        case "blind":
            return verdict, "missed" if verdict == "within" else "false" if certain else ""
        case "doubt":
            named = said.flags("itt") or said.open_points("itt")
            return verdict, "missed" if verdict == "within" and not named else ""
        case "open":
            return (
                verdict,
                "false" if verdict == "exceeded" or certain else "missed" if verdict == "within" else "",
            )
        case "suspect":
            return verdict, "false" if verdict == "exceeded" or certain else ""
        case "kept":
            # A lost oil pressure may be one; from light-off to the peak no sample is set aside for its rate alone.
            return verdict, "" if verdict in ("exceeded", "possible") else "missed"
        case "no speed":
            failed = "Start failed" in said.sentence or AGAIN in said.sentence or certain
            return (
                "start failed" if failed else verdict,
                "false" if failed else "missed" if verdict == "within" else "",
            )
        case "pick-up":
            ng = said.starts[0]["ng_at_fuel_pct"] if said.starts else None
            if said.events:
                return f"{said.events[0]['kind']}", "false"
            right = ng is None or abs(ng - 17.4) < 1.0
            return verdict if right else "other Ng at fuel", "" if right else "false"
        case "footnote":
            words = {"np-running": ("np", "propeller"), "oil-temp": ("oil-temp", "oil_temp")}[fault.limits[0]]
            return verdict, "" if said.open_points(*words) else "missed"
        case "named":
            named = said.flags("bus_volts") or said.open_points("volt")
            return verdict, "" if named and EVERYTHING not in said.sentence else "missed"
        case "start":
            outcomes = [s["outcome"] for s in said.starts]
            lit = said.starts[0]["light_off_s"] if said.starts else None
            right = outcomes == ["completed"] and lit is not None and abs(lit - 20.0) < 2.6 and not certain
            if len(outcomes) != 1 or certain:
                return f"{len(outcomes)} starts, {len(certain)} findings", "false"
            lit_at = "not lit" if lit is None else f"lit at {lit:.0f} s"
            return "right" if right else f"{outcomes[0]}, {lit_at}", "" if right else "false"
    raise ValueError(fault.seen)
