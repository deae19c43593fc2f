"""What the program tells of a whole flight, held against what is true of it."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Measure
from debrief.profile import find
from debrief.recording.model import Channel, Identity, Recording
from debrief.recording.quality.data_quality import resolution
from debrief.words.channels import CANONICAL, DISCRETE
from tests.study.whole_flights.flying import RATES_HZ, SETTLE_C, Floats, Flying, fly, states

NOISE = {
    "ng": 0.06, "itt": 1.2, "torque": 0.25, "np": 2.0, "fuel_flow": 0.4, "palt": 4.0, "ias": 0.4, "oat": 0.2,
    "bus_volts": 0.02, "generator_amps": 0.8,
}  # fmt: skip
STEPS = {
    "ng": 0.1, "itt": 1.0, "torque": 0.1, "np": 1.0, "fuel_flow": 0.1, "palt": 10.0, "ias": 1.0, "oat": 0.5,
    "power_lever": 0.5, "bus_volts": 0.05, "generator_amps": 1.0,
}  # fmt: skip
AIRBORNE = {"takeoff", "climb", "cruise", "descent", "manoeuvring", "landing"}


@dataclass(frozen=True)
class Answer:
    """One thing asked of one flight: its name, whether it was right, and by how much it was off where that is a number."""

    what: str
    right: bool
    off: float | None = None
    said: str = ""


@dataclass
class Tally:
    """All answers, with the name of the flight of each."""

    answers: list[tuple[str, Answer]] = field(default_factory=list)


def recorded(f: Flying, rng: np.random.Generator) -> tuple[Recording, str]:
    """Return the flight as some recorder wrote it, and in a word how."""
    t, true = states(f)
    rate = float(rng.choice(RATES_HZ))
    noise = float(rng.choice((0.3, 1.0, 1.6)))
    # By wheels; by airspeed and altitude; by airspeed alone.
    left_out = [set(), {"weight_on_wheels"}, {"weight_on_wheels", "palt", "oat"}][
        int(rng.choice(3, p=(0.5, 0.3, 0.2)))
    ]
    if rng.random() < 0.15:
        left_out = left_out | {"power_lever"}
    rows = np.arange(0, t.size, round(20.0 / rate))
    channels: dict[str, Channel] = {}
    for name, whole in true.items():
        if name in left_out:
            continue
        values: Floats = whole[rows].copy()
        if name in NOISE:
            values += noise * NOISE[name] * rng.standard_normal(values.size)
        if name in STEPS:
            values = np.round(values / STEPS[name]) * STEPS[name]
        if name in ("ng", "torque", "np", "fuel_flow", "ias", "generator_amps"):
            values = np.maximum(values, 0.0)
        channels[name] = Channel(
            name,
            CANONICAL[name],
            t[rows],
            values,
            resolution=None if name in DISCRETE else resolution(values),
        )
    how = f"{rate:g} Hz, noise {noise:g}, without {', '.join(sorted(left_out)) or 'nothing'}"
    return Recording(channels, float(t[rows[-1]]), identity=Identity(engine_model="TG-7")), how


def _measure(a: Assessment, name: str) -> Measure | None:
    return a.flight_measures.get(name)


def _held(what: str, measure: Measure | None, true: float, slack: float = 0.0) -> Iterator[Answer]:
    """Yield whether the bounds of a measure hold what is true, and by how much its value is off."""
    if measure is None or measure.value is None:
        yield Answer(f"{what}: told", False, said="" if measure is None else str(measure.why))
        return
    yield Answer(f"{what}: told", True)
    low = measure.value if measure.low is None else measure.low
    high = measure.value if measure.high is None else measure.high
    said = f"{measure.value:.2f} ({low:.2f} to {high:.2f}), true {true:.2f}"
    yield Answer(f"{what}: bounds hold it", low - slack <= true <= high + slack, measure.value - true, said)


def phases(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield whether the phases in the air are those flown, in their order, none too many."""
    has_height = "palt" in a.recording.channels
    got = [p for p in a.phases if p.name in AIRBORNE]
    if not has_height:
        lift = next(b for n, b, _ in f.told.phases if n == "takeoff")
        down = max(e for n, _, e in f.told.phases if n == "landing")
        off = abs(got[0].start_s - lift) + abs(got[-1].end_s - down) if got else 1e9
        yield Answer("airborne by airspeed alone, ends within 40 s in all", off < 40.0, off)
        return
    true = [name for name, _ in groupby(n for n, _, _ in f.told.phases if n in AIRBORNE)]
    told = [name for name, _ in groupby(p.name for p in got)]
    yield Answer(
        "phases: at most two more than flown",
        len(told) <= len(true) + 2,
        len(told) - len(true),
        f"{told} for {true}",
    )
    seconds = same = 0.0
    for name, begin, end in f.told.phases:
        if name in AIRBORNE:
            seconds += end - begin
            same += sum(max(0.0, min(end, p.end_s) - max(begin, p.start_s)) for p in got if p.name == name)
    yield Answer(
        "phases: 85 % of the time is called as flown",
        same / seconds >= 0.85,
        same / seconds,
        f"{told} for {true}",
    )


def steady(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield whether steady stretches are found where they are and nowhere else."""
    found = [(w.start_s, w.end_s) for w in a.flight.steady]
    for begin, end in f.told.steady:
        length = end - begin - 60.0
        if length < 200.0 or "palt" not in a.recording.channels:
            continue  # too short; or nothing shows that the height stood still
        overlap = max((min(e, end) - max(b, begin + 60.0) for b, e in found), default=0.0)
        yield Answer(
            "steady: found to 80 %",
            overlap >= 0.8 * length,
            overlap / length,
            f"{begin:.0f} to {end:.0f}: {found}",
        )
    quiet = [*f.told.steady, *((b, e) for n, b, e in f.told.phases if n in ("ground", "cruise"))]
    quiet.append((f.told.cut_s - 200.0, f.told.cut_s))
    for b, e in found:
        outside = e - b - max((min(e, y) - max(b, x) for x, y in quiet), default=0.0)
        yield Answer("steady: nowhere else", outside <= 10.0, outside, f"{b:.0f} to {e:.0f}")
    for one in a.flight.load_steps:
        crossed = any(b < one.time_s - 2.0 and one.time_s + 2.0 < e for b, e in found)
        if one.kind in ("bleed", "separator"):
            yield Answer("steady: no window across a switch", not crossed)


def loads(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield whether each load is listed, nothing else is, and its interval holds the true change."""
    told = [x for x in a.flight.load_steps if x.kind != "generator_on"]
    t, true = states(f)
    for kind, at, on in f.told.loads:
        near = [x for x in told if x.kind == kind and abs(x.time_s - at) <= 2.5]
        yield Answer(
            "loads: listed", bool(near), said=f"{kind} at {at:.0f}: {[(x.kind, x.time_s) for x in told]}"
        )
        if not near:
            continue
        step = near[0]
        if isinstance(on, bool):
            yield Answer("loads: on or off", step.on is on)
        yield Answer("loads: has its numbers", "itt" in step.changes, said=f"{kind} at {at:.0f}: {step.why}")
        if "itt" in step.changes:
            c = step.changes["itt"]
            # As defined: the ten seconds from the fifth after, less the ten seconds to one before.
            means = [true["itt"][(t >= at + b) & (t < at + b + 10.0)].mean() for b in (-11.0, 5.0)]
            change = float(means[1] - means[0])
            yield Answer(
                "loads: interval of ITT holds it", c.low <= change <= c.high, c.value - change,
                f"{kind} {c.value:.2f} ({c.low:.2f} to {c.high:.2f}), true {change:.2f}",
            )  # fmt: skip
            n = step.changes.get("ng")
            if n is not None:
                yield Answer("loads: interval of Ng holds none", n.low <= 0.0 <= n.high, n.value)
    extra = [x for x in told if all(abs(x.time_s - at) > 2.5 for _, at, _ in f.told.loads) and not x.why]
    yield Answer("loads: none that was not", not extra, said=str([(x.kind, x.time_s, x.on) for x in extra]))


def ground(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield what was told of taxi and propeller."""
    if "power_lever" not in a.recording.channels:
        return
    true = f.told
    yield from _held("beta time", _measure(a, "taxi_beta_time"), sum(e - b for b, e in true.beta))
    yield from _held("reverse time", _measure(a, "taxi_reverse_time"), sum(e - b for b, e in true.reverse))
    yield from _held("propeller lag", _measure(a, "propeller_lag"), max(true.lags_s))


def shutdown(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield what was told of the shutdown."""
    yield from _held("idle before the cut", _measure(a, "idle_before_cut"), f.told.settled_s, 3.0)
    yield from _held("soak peak", _measure(a, "soak_peak_itt"), f.told.soak_peak_c, 2.0)
    constant = _measure(a, "cooling_time_constant")
    if constant is not None and constant.value is not None:
        off = constant.value / f.told.cooling_s - 1.0
        yield Answer("cooling constant within 15 %", abs(off) <= 0.15, off)


def counts(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield whether the counts are right."""
    has = "palt" in a.recording.channels
    for name, true in (
        ("starts_completed", 1),
        ("flights", 1),
        *((("touch_and_goes", f.told.touch_and_goes),) if has else ()),
        *((("go_arounds", f.told.go_arounds),) if has else ()),
    ):
        measure = _measure(a, name)
        if measure is None:
            yield Answer(f"{name}: measured", False)
        elif measure.value is not None:
            low = measure.value if measure.low is None else measure.low
            high = measure.value if measure.high is None else measure.high
            yield Answer(f"{name}: right", low <= true <= high, measure.value - true)
        else:
            low, high = measure.low or 0.0, measure.high
            yield Answer(
                f"{name}: bounds hold it",
                low <= true and (high is None or true <= high),
                None,
                str(measure.why),
            )


def margin(f: Flying, a: Assessment) -> Iterator[Answer]:
    """Yield whether the smallest margin is that of the highest true ITT in flight."""
    measure = _measure(a, "itt_margin_smallest")
    if measure is None or measure.value is None:
        yield Answer("smallest margin: told", False, said="" if measure is None else str(measure.why))
        return
    t, true = states(f)
    at = [(t >= b) & (t <= e) for n, b, e in f.told.phases if n in AIRBORNE]
    highest = float(true["itt"][np.logical_or.reduce(at)].max())
    off = measure.value - (830.0 - highest)
    yield Answer(
        "smallest margin within 6 degC",
        abs(off) <= 6.0,
        off,
        f"{measure.value:.1f}, true {830.0 - highest:.1f}",
    )


JUDGES: tuple[Callable[[Flying, Assessment], Iterator[Answer]], ...] = (
    phases, steady, loads, ground, shutdown, counts, margin,
)  # fmt: skip


def one(arguments: tuple[int, int]) -> Tally:
    """Return all answers of one flight."""
    seed, number = arguments
    f = fly(seed, number)
    recording, how = recorded(f, np.random.default_rng([seed, number, 1]))
    profile = find("tarn-tg7")
    assert profile.shutdown.settle_itt_c == SETTLE_C
    assessment = assess(recording, profile)
    name = f"{number} ({how})"
    out = Tally()
    for judge in JUDGES:
        out.answers += [(name, answer) for answer in judge(f, assessment)]
    wrong = [event.kind for event in assessment.events if event.severity in ("limit", "possible")]
    if f.told.settled_s < 62.0:
        wrong = [kind for kind in wrong if kind != "cut_without_settling"]
    out.answers.append((name, Answer("no limit exceeded that was not", not wrong, said=str(wrong))))
    return out


def study(flights: int, seed: int, processes: int = 2) -> Tally:
    """Return the answers of so many flights."""
    todo = [(seed, number) for number in range(flights)]
    out = Tally()
    if processes == 1:
        for arguments in todo:
            out.answers += one(arguments).answers
        return out
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        for tally in pool.imap(one, todo, chunksize=4):
            out.answers += tally.answers
    return out


LEAST_SHARE = {
    "phases: 85 % of the time is called as flown": 0.95,
    "steady: found to 80 %": 0.95,
    "steady: nowhere else": 0.97,
    "loads: listed": 0.99,
    "loads: interval of ITT holds it": 0.93,
    "beta time: bounds hold it": 0.93,
    "propeller lag: bounds hold it": 0.93,
    "idle before the cut: bounds hold it": 0.95,
    "soak peak: bounds hold it": 0.95,
    "flights: right": 0.98,
}
"""How often each is to be right at least; what is not named here is only told."""


def missed(tally: Tally) -> list[str]:
    """Return the questions whose share is below its target."""
    by_what: dict[str, list[bool]] = {}
    for _, answer in tally.answers:
        by_what.setdefault(answer.what, []).append(answer.right)
    return [what for what, least in LEAST_SHARE.items() if np.mean(by_what.get(what, [False])) < least]


def lines(tally: Tally, faults: bool = False) -> Iterator[str]:
    """Yield a line for each question: how often it was right, and the spread of what it was off by."""
    by_what: dict[str, list[tuple[str, Answer]]] = {}
    for name, answer in tally.answers:
        by_what.setdefault(answer.what, []).append((name, answer))
    width = max(map(len, by_what))
    yield f"{'':{width}}  right   of    share   off: median, 95 % of them within"
    for what, answers in by_what.items():
        right = sum(answer.right for _, answer in answers)
        off = np.array([answer.off for _, answer in answers if answer.off is not None], float)
        spread = f"{np.median(off):9.2f} {np.quantile(np.abs(off), 0.95):9.2f}" if off.size else ""
        yield f"{what:{width}}  {right:5d} {len(answers):5d}  {100 * right / len(answers):6.1f} %  {spread}"
    if faults:
        for name, answer in tally.answers:
            if not answer.right:
                yield f"{answer.what}: flight {name}: {answer.said} {answer.off if answer.off is not None else ''}"
