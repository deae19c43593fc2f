"""The analysis' answers beside the truth: right or wrong, errors in time and height, and whether bounds hold."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from debrief.analysis.model import Assessment, Event, Measure, Start
from tests.study.dense import Bools, Floats, Sampling, edges
from tests.study.items import Item, Row
from tests.study.recorders import Taken
from tests.study.truth import Attempt, Truth


@dataclass(frozen=True)
class Answer:
    """How one question was answered: TP, FN, FP, TN where the margin decides, else ``open``."""

    kind: str
    reason: str | None
    flight: str
    result: str
    near: bool
    happened: bool
    value: float
    allowed: float
    blur: float
    found: tuple[str, ...]
    missing: bool


@dataclass(frozen=True)
class Bound:
    """A stated pair of bounds, and the truth."""

    name: str
    flight: str
    truth: float
    low: float | None
    high: float | None
    slack: float
    noisy: bool

    @property
    def holds(self) -> bool:
        """Whether the truth lies inside, but for the recorder's noise, which bounds do not cover."""
        low = -np.inf if self.low is None else self.low
        high = np.inf if self.high is None else self.high
        return bool(low - self.slack <= self.truth <= high + self.slack)


@dataclass
class Tally:
    """Everything that was compared."""

    flights: int = 0
    simulations: int = 0
    answers: list[Answer] = field(default_factory=list)
    spurious: list[Answer] = field(default_factory=list)
    bounds: list[Bound] = field(default_factory=list)
    errors: dict[str, list[tuple[str, float, float]]] = field(default_factory=lambda: defaultdict(list))
    attempts: list[tuple[str, int, int]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Take in another tally."""
        self.flights += other.flights
        self.simulations += other.simulations
        self.answers += other.answers
        self.spurious += other.spurious
        self.bounds += other.bounds
        self.attempts += other.attempts
        for name, rows in other.errors.items():
            self.errors[name] += rows


def _pick(event: Event, item: Item) -> float:
    return event.end_s if item.pick == "end" else event.start_s


def _missing(item: Item, taken: Taken) -> bool:
    """Return whether a channel that the question needs was not recorded, or the starter or fuel only inferred."""
    gone = set(taken.recorder.missing)
    return bool(gone & {*item.needs, *item.also})


def judge(flight: str, truth: Truth, taken: Taken, items: list[Item], got: Assessment) -> Tally:
    """Return how the assessment of one flight compares with its truth."""
    out = Tally(flights=1)
    used: set[int] = set()
    unclear: dict[str, bool] = {}
    for item in items:
        if item.kind == "early_fuel":
            item.rows[0].blur = max(item.rows[0].blur, _stated_at_fuel(item, got, taken))
        matching = [
            e
            for e in got.events
            if e.kind == item.kind
            and (
                item.kind not in ("starter_overrun", "low_start_voltage", "hung_start")
                or e.reason == item.reason
            )
            and taken.time_of(item.low) - 1e-6 <= _pick(e, item) <= taken.time_of(item.high) + 1e-6
        ]
        used |= {id(e) for e in matching}
        if item.knob == "hung_gain":
            unclear["hung_gain"] = item.happened or _open(item, matching)
        if item.blocked_by is not None and unclear.get(item.blocked_by, False):
            continue  # the other reason comes first where it holds, so this one is not asked
        out.answers.append(_answer(flight, item, matching, taken))
        if len(matching) == 1 and not _missing(item, taken):
            event_bounds(flight, truth, taken, item, matching[0], out)
    needs: dict[str, set[str]] = {}
    for item in items:
        needs.setdefault(item.kind, set()).update(item.needs, item.also)
    for event in got.events:
        # Without ITT or Ng the attempts are told apart otherwise.
        known = event.kind in needs and not {*needs[event.kind], "itt", "ng"} & set(taken.recorder.missing)
        if id(event) not in used and known and event.severity in ("limit", "caution"):
            if event.severity == "caution" and event.limit_id is not None:
                continue
            out.spurious.append(
                Answer(
                    event.kind, event.reason, flight, "spurious", False, False, event.duration_s or event.peak or 0.0,
                    event.allowed_s or event.level or 0.0, 0.0, (event.severity, f"{event.start_s:.2f}"), bool(taken.recorder.missing),
                )
            )  # fmt: skip
    _compare_starts(flight, truth, taken, got, out)
    return out


def event_bounds(flight: str, truth: Truth, taken: Taken, item: Item, event: Event, out: Tally) -> None:
    """Compare the bounds that an event states for its duration and its peak."""
    noisy = taken.recorder.noise > 0

    def add(name: str, value: float, low: float | None, high: float | None, slack: float) -> None:
        out.bounds.append(Bound(f"event: {name}", flight, value, low, high, slack + 1.1e-3, noisy))

    if event.limit_id is None:
        value = item.rows[0].value
        # The questions about a hang and about voltage are not about how long.
        timed = item.kind not in ("hung_start", "low_start_voltage")
        if event.duration_s is not None and timed and np.isfinite(value):
            add(
                f"{item.kind} {item.reason or ''}".strip(),
                value,
                event.duration_low_s,
                event.duration_high_s,
                0.0,
            )
        return
    assert event.level is not None
    assert event.channel is not None
    sampling = taken.sampling[event.channel]
    states = truth.states[event.channel]
    noise = 4.0 * sampling.noise
    sign = -1.0 if item.below else 1.0
    if item.kind == "hot_start":
        attempt = min(truth.attempts, key=lambda a: abs(a.begin - item.begin))
        inside = truth.start_window_with(attempt, event.level)
    else:
        low, high = (taken.first_step + round(1000 * x) for x in (event.start_s, event.end_s))
        inside = item.inside & _around(truth.size, low - 3000, high + 3000)
    if not inside.any() or _unseen(states * sign, event.level * sign, inside, sampling):
        return
    if item.kind == "hot_start":
        durations = [truth.total(event.channel, event.level + d, inside) for d in (0.0, -noise, noise)]
    else:
        durations = [
            truth.longest(event.channel, event.level + sign * d, inside, item.below)[0]
            for d in (0.0, -noise, noise)
        ]
    cut = "" if item.kind == "hot_start" else _cut_by_window(states * sign > event.level * sign, inside)
    add(
        f"time beyond a level{cut}",
        durations[0],
        event.duration_low_s,
        event.duration_high_s,
        durations[1] - durations[2],
    )
    if event.peak is not None and event.peak_high is not None:
        top = float((states * sign)[inside].max())
        slow = ", at 1 or 2 Hz" if sampling_hz(sampling) < 2.5 and not cut else ""
        low = None if event.peak_low is None else event.peak_low * sign
        add(f"peak{cut}{slow}", top, low, event.peak_high * sign, noise)


def sampling_hz(sampling: Sampling) -> float:
    """Return the usual rate of a channel, [Hz]."""
    return 1000.0 / float(np.median(np.diff(sampling.steps)))


def _cut_by_window(beyond: Bools, inside: Bools) -> str:
    """Return what to add to the name where it was beyond the level already outside the limit's window."""
    return (
        ", cut by idle, cut or condition"
        if (beyond[1:-1] & inside[1:-1] & (~inside[:-2] | ~inside[2:])).any()
        else ""
    )


def _around(size: int, low: int, high: int) -> Bools:
    out = np.zeros(size, dtype=bool)
    out[max(low, 0) : max(high, 0)] = True
    return out


def _unseen(values: Floats, level: float, inside: Bools, sampling: Sampling) -> bool:
    """Return whether a crossing or the top lies in a long break between samples."""
    beyond = (values > level) & inside
    top = int(np.argmax(np.where(inside, values, -np.inf)))
    return sampling.gap_at(top) or any(sampling.gap_at(s) for pair in edges(beyond) for s in pair)


def _stated_at_fuel(item: Item, got: Assessment, taken: Taken) -> float:
    """Return the width of the bounds that the assessment gives for Ng when fuel came; 0 where it gives none."""
    if item.kind != "early_fuel":
        return 0.0
    low, high = taken.time_of(item.low) - 1e-6, taken.time_of(item.high) + 1e-6
    for start in got.starts:
        for period in start.fuel_periods:
            known = period.ng_at_fuel_low_pct is not None and period.ng_at_fuel_high_pct is not None
            if known and low <= period.on_s <= high:
                return float(period.ng_at_fuel_high_pct - period.ng_at_fuel_low_pct)  # type: ignore[operator]
    return 0.0


def _stated(matching: list[Event]) -> float:
    """Return the width of the bounds that the events state, the widest; 0 where they state none."""
    widths = [0.0]
    for e in matching:
        if e.duration_low_s is not None and e.kind != "low_start_voltage":
            widths.append(np.inf if e.duration_high_s is None else e.duration_high_s - e.duration_low_s)
    return max(widths)


def _open(item: Item, matching: list[Event]) -> bool:
    """Return whether the margin is smaller than the uncertainty, so that either answer is right."""
    stated = _stated(matching)
    if item.happened:
        return not any(
            item.beyond(row)
            > max(row.blur, _in_seconds(row.level, row.allowed, stated), _undecided(item, row))
            for row in item.rows
        )
    return any(
        -item.beyond(row) <= max(row.blur, _in_seconds(row.level, row.allowed, stated)) for row in item.rows
    )


def _undecided(item: Item, row: Row) -> float:
    """Return how far below the rule a gain of Ng may lie and need not be called hung: from half the rule on it must."""
    return 0.5 * abs(row.allowed) if item.reason == "stagnated" else 0.0


def _in_seconds(level: float | None, allowed: float, stated: float) -> float:
    """Return the stated width where the row is about time; a row about height has no width in seconds."""
    return 0.0 if level is not None and level == allowed else stated


def _answer(flight: str, item: Item, matching: list[Event], taken: Taken) -> Answer:
    severities = tuple(sorted({e.severity for e in matching}))
    said = item.severity in severities
    missing = _missing(item, taken)
    row = max(item.rows, key=item.beyond)
    # Flow tells fuel otherwise than the lever does: it runs on after the cut.
    by_flow = "fuel_on" in taken.recorder.missing and "fuel_on" in {*item.needs, *item.also}
    if any(np.isnan(r.allowed) for r in item.rows) or by_flow or _open(item, matching):
        result = "open"
    elif missing:
        # What was not recorded cannot be found; what is then claimed for sure must still be true.
        result = "open" if item.happened else ("FP" if said else "withheld")
    elif item.happened:
        result = "TP" if said else "FN"
    else:
        result = "FP" if said else "TN"
    near = not item.happened and -item.beyond(row) <= max(4.0 * row.blur, 0.15 * abs(row.allowed))
    return Answer(
        item.kind, item.reason, flight, result, near, item.happened, row.value, row.allowed, row.blur, severities, missing
    )  # fmt: skip


def _nearest(starts: tuple[Start, ...], taken: Taken, attempt: Attempt) -> Start | None:
    at = taken.time_of(attempt.begin)
    close = [s for s in starts if abs(s.begin_s - at) < 6.0]
    return min(close, key=lambda s: abs(s.begin_s - at), default=None)


def _compare_starts(flight: str, truth: Truth, taken: Taken, got: Assessment, out: Tally) -> None:
    full = not taken.recorder.missing
    if full:
        out.attempts.append((flight, len(truth.attempts), len(got.starts)))
    for attempt in truth.attempts:
        start = _nearest(got.starts, taken, attempt)
        if start is None:
            continue
        _times(flight, truth, taken, attempt, start, out, full)
        _measures(flight, truth, taken, attempt, start, out)


def _times(
    flight: str, truth: Truth, taken: Taken, attempt: Attempt, start: Start, out: Tally, full: bool
) -> None:  # fmt: skip
    fuel = attempt.fuels[-1] if attempt.fuels else None
    off = attempt.starter[-1][1]
    cut = fuel.off if fuel is not None and fuel.cut and attempt.idle is None else None
    pairs = (
        ("starter on", attempt.begin, start.starter_on_s, "starter"),
        ("starter off", off if off < truth.size else None, start.starter_off_s, "starter"),
        ("fuel on", None if fuel is None else fuel.on, start.fuel_on_s, "fuel_on"),
        ("fuel off", cut, start.fuel_off_s, "fuel_on"),
        ("light-off", None if fuel is None else fuel.lit, start.light_off_s, "itt"),
        ("idle", attempt.idle, start.idle_s, "ng"),
    )
    for name, step, seen, channel in pairs:
        if not full or step is None or seen is None or taken.sampling[channel].gap_at(step):
            continue
        error = seen - taken.time_of(step)
        out.errors[name].append((flight, error, error / taken.sampling[channel].wait_s(step)))


def _measures(flight: str, truth: Truth, taken: Taken, attempt: Attempt, start: Start, out: Tally) -> None:
    noise = {name: s.noise for name, s in taken.sampling.items()}
    noisy = taken.recorder.noise > 0
    states = truth.states

    def bound(name: str, value: float | None, measure: Measure | None, slack: float) -> None:
        if (
            value is not None
            and measure is not None
            and (measure.low is not None or measure.high is not None)
        ):
            out.bounds.append(Bound(name, flight, value, measure.low, measure.high, slack + 1e-6, noisy))

    def told(channel: str, *steps: int) -> bool:
        return not any(taken.sampling[channel].gap_at(step) for step in steps)

    m = start.measures
    on, off = attempt.starter[0]
    fuel = attempt.fuels[-1] if attempt.fuels else None
    window = truth.start_window(attempt)
    # Without Ng idle is not seen: peak and time above then go on past it, and are not those of the start.
    if attempt.lit is not None and "ng" not in taken.recorder.missing:
        top = int(np.argmax(np.where(window, states["itt"], -np.inf)))
        if told("itt", top):
            bound("peak ITT", float(states["itt"][top]), m.get("peak_itt"), 4.0 * noise["itt"])
            peak = m["peak_itt"].value
            if peak is not None and not taken.recorder.missing:
                error = peak - float(states["itt"][top])
                out.errors["peak ITT, °C"].append((flight, error, error))
        for name, measure in m.items():
            if name.startswith("time_above_") and measure.value is not None:
                _time_above(flight, truth, taken, attempt, float(name[11:]), measure, out)
    if told("starter", on) and "starter" not in taken.recorder.missing:
        bound("Ng at starter on", float(states["ng"][on]), m.get("ng_at_starter_on"), 4.0 * noise["ng"])
        if on > 5500:
            rest = float(np.median(states["bus_volts"][on - 5000 : on]))
            bound("resting volts", rest, m.get("rest_bus_volts"), 3.0 * noise["bus_volts"])
        if off - on > 1500 and told("bus_volts", on + 1000, off - 1):
            low = float(states["bus_volts"][on + 1000 : off].min())
            if told("bus_volts", on + 1000 + int(np.argmin(states["bus_volts"][on + 1000 : off]))):
                bound("cranking volts", low, m.get("min_bus_volts"), 4.0 * noise["bus_volts"])
            motored = int(min(attempt.lit if attempt.lit is not None else off, off))
            speed = float(states["ng"][on:motored].max())
            if told("ng", motored):
                bound("motored Ng", speed, m.get("max_motoring_ng"), 4.0 * noise["ng"])
        whole = "itt" not in taken.recorder.missing or len(attempt.starter) == 1
        if whole and all(b < truth.size and told("starter", a, b) for a, b in attempt.starter):
            total = sum(b - a for a, b in attempt.starter) / 1000.0
            bound("starter time", total, m.get("starter_total"), 0.0)
    if fuel is None or taken.sampling["fuel_on"].gap_at(fuel.on):
        return
    if told("ng", fuel.on):
        bound("Ng at fuel", float(states["ng"][fuel.on]), m.get("ng_at_fuel"), 4.0 * noise["ng"])
    if told("itt", fuel.on) and "fuel_on" not in taken.recorder.missing:
        bound("ITT at fuel", float(states["itt"][fuel.on]), m.get("residual_itt_fuel_on"), 4.0 * noise["itt"])
    if fuel.lit is not None and told("itt", fuel.lit):
        bound("fuel to light-off", (fuel.lit - fuel.on) / 1000.0, m.get("fuel_to_light_off"), 0.0)
        if attempt.idle is not None and told("ng", attempt.idle):
            slope = max(float(states["ng"][attempt.idle + 50] - states["ng"][attempt.idle - 50]) * 10.0, 0.1)
            slack = 4.0 * noise["ng"] / slope
            bound("light-off to idle", (attempt.idle - fuel.lit) / 1000.0, m.get("light_off_to_idle"), slack)
    if (
        attempt.idle is None
        and fuel.cut
        and told("fuel_on", fuel.off)
        and "fuel_on" not in taken.recorder.missing
    ):
        _abort(flight, truth, taken, attempt, start, out, bound)


def _abort(
    flight: str, truth: Truth, taken: Taken, attempt: Attempt, start: Start, out: Tally, bound
) -> None:  # type: ignore[no-untyped-def]
    states, noise = truth.states, taken.sampling["itt"].noise
    fuel = attempt.fuels[-1]
    for name, measure in start.measures.items():
        if name.startswith("cut_after_"):
            level = float(name[10:])
            above = np.flatnonzero(states["itt"][attempt.begin : fuel.off] > level)
            if above.size:
                first = attempt.begin + int(above[0])
                if taken.sampling["itt"].gap_at(first):
                    continue
                slope = float(states["itt"][first + 20] - states["itt"][max(first - 20, 0)]) * 25.0
                bound("crossing to cut", (fuel.off - first) / 1000.0, measure, 4.0 * noise / max(slope, 1.0))
    ends = [b for _, b in attempt.starter]
    if all(b < truth.size for b in ends) and not any(taken.sampling["starter"].gap_at(b) for b in ends):
        kept = sum(max(b - max(a, fuel.off), 0) for a, b in attempt.starter) / 1000.0
        bound("motored after cut", kept, start.measures.get("motored_after_cut"), 0.0)


def _time_above(
    flight: str, truth: Truth, taken: Taken, attempt: Attempt, level: float, measure: Measure, out: Tally
) -> None:
    window = truth.start_window(attempt)
    value = truth.total("itt", level, window)
    sampling = taken.sampling["itt"]
    above = np.flatnonzero((truth.states["itt"] > level) & window)
    if above.size:
        changes = above[np.flatnonzero(np.diff(above) > 1)]
        if any(sampling.gap_at(int(s)) for s in (above[0], above[-1], *changes)):
            return
    noise = 4.0 * sampling.noise
    slack = (
        truth.total("itt", level - noise, window) - truth.total("itt", level + noise, window)
        if noise
        else 0.0
    )
    if value == 0.0 and measure.low == 0.0 and measure.high == 0.0:
        return  # nothing there, and nothing said
    out.bounds.append(
        Bound(
            "time above a start level",
            flight,
            value,
            measure.low,
            measure.high,
            slack + 1e-3,
            taken.recorder.noise > 0,
        )
    )
