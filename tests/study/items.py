"""One question to the analysis each: what the truth is, how far the recording leaves it open, what is allowed."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.profile.model import WhereCondition
from tests.study.dense import Bools, blur_s, spread
from tests.study.recorders import Taken
from tests.study.truth import Attempt, FuelTime, Truth


@dataclass
class Row:
    """A true value, what it may be, and how far sampling and resolution leave it open (all in one unit).

    `level` and `peak` tell rows of limits: the level that is counted, and whether only its height matters.
    """

    value: float
    blur: float
    allowed: float = float("nan")
    level: float | None = None


@dataclass
class Item:
    """One question: did this happen?

    `knob` names the profile's number that decides. `under` is True where less than allowed is the event.
    The event is looked for where its `pick` lies from step `low` to `high`.
    """

    kind: str
    reason: str | None
    severity: str
    knob: str
    rows: list[Row]
    under: bool
    low: int
    high: int
    pick: str
    needs: tuple[str, ...]
    also: tuple[str, ...] = ()
    blocked_by: str | None = None
    inside: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))
    below: bool = False
    begin: int = 0

    def beyond(self, row: Row) -> float:
        """Return by how much the true value passes what is allowed; negative while inside."""
        return row.allowed - row.value if self.under else row.value - row.allowed

    @property
    def happened(self) -> bool:
        """Whether the truth passes what is allowed."""
        return any(self.beyond(row) > 0 for row in self.rows)


def idle_unseen(attempt: Attempt, taken: Taken) -> bool:
    """Return whether a long break lies in the three seconds that make idle."""
    if attempt.idle is None:
        return False
    speed = taken.sampling["ng"]
    return any(speed.gap_at(attempt.idle + ms) for ms in range(-100, 3101, 200))


def start_items(truth: Truth, taken: Taken) -> list[Item]:
    """Return the questions about starts and the starter whose truth needs no level of the profile."""
    out: list[Item] = []
    for attempt in truth.attempts:
        out += _engagement(truth, taken, attempt)
        for n, fuel in enumerate(attempt.fuels):
            out += _fuel(truth, taken, attempt, n, fuel)
        out += _hung(truth, taken, attempt)
    out += _reintroduced(truth, taken)
    out += _motored(truth, taken)
    out += _burning(truth, taken)
    out += _runs(truth, taken)
    return out


def _engagement(truth: Truth, taken: Taken, attempt: Attempt) -> list[Item]:
    volts, starter = taken.sampling["bus_volts"], taken.sampling["starter"]
    state = truth.states["bus_volts"]
    on, off = attempt.starter[0]
    before, after = starter.around(on)
    wait = after - before
    rest = state[max(on - 5000, 0) : on]
    item_rest = Item(
        "low_start_voltage", "before", "caution", "rest_volts",
        [Row(float(np.median(rest)), volts.half_step + 0.5 * float(np.ptp(state[max(on - 5000 - wait, 0) : before + 1])) + volts.noise + 1e-6)],
        True, on - 3 * wait, on + 3 * wait, "end", ("bus_volts", "starter"),
    )  # fmt: skip
    if starter.gap_at(on) or any(volts.gap_at(at) for at in range(max(on - 5000, 0), on, 500)):
        item_rest.rows[0].blur = np.inf
    out = [item_rest] if on > 5500 else []
    if off - on > 1001:
        value = float(state[on + 1000 : off].min())
        samples = volts.steps[(volts.steps >= after + 1000) & (volts.steps < starter.around(off)[0])]
        blur = np.inf
        lost = any(volts.gap_at(on + ms) for ms in range(0, 2001, 250))
        if samples.size and not lost and not volts.gap_at(on + 1000 + int(np.argmin(state[on + 1000 : off]))):
            seen = float(state[samples].min())
            early = float(state[on + 1000 : after + 1000 + volts.around(after + 1000)[1] - after].min())
            blur = (
                volts.half_step + abs(seen - value) + abs(min(early, seen) - seen) + 3.0 * volts.noise + 1e-6
            )
        out.append(
            Item(
                "low_start_voltage", "cranking", "caution", "crank_volts", [Row(value, blur)], True,
                on - wait, off + wait + 1000, "start", ("bus_volts", "starter"),
            )
        )  # fmt: skip
    return out


def _fuel(truth: Truth, taken: Taken, attempt: Attempt, n: int, fuel: FuelTime) -> list[Item]:
    lever, speed, heat = (taken.sampling[k] for k in ("fuel_on", "ng", "itt"))
    before, after = lever.around(fuel.on)
    wait = after - before
    ng, itt = truth.states["ng"], truth.states["itt"]
    low, high = spread(ng, speed.around(before)[0], speed.around(after)[1])
    out = [
        Item(
            "early_fuel", None, "limit", "fuel_ng", [Row(float(ng[fuel.on]), high - low + speed.half_step + 3.0 * speed.noise)],
            True, before - 1, after + 1, "end", ("ng", "fuel_on"),
        )
    ]  # fmt: skip
    low, high = spread(itt, heat.around(before)[0], heat.around(after)[1])
    out.append(
        Item(
            "residual_heat", None, "caution", "residual", [Row(float(itt[fuel.on]), high - low + heat.half_step + 3.0 * heat.noise)],
            False, before - 1, after + 1, "end", ("itt", "fuel_on"),
        )
    )  # fmt: skip
    end = fuel.lit if fuel.lit is not None else min(fuel.off, attempt.end)
    ends = heat.wait_s(end) if fuel.lit is not None else lever.wait_s(end)
    out.append(
        Item(
            "no_light_off", None if fuel.lit is None else "late", "limit", "light_off",
            [Row((end - fuel.on) / 1000.0, wait / 1000.0 + ends + (0.1 if fuel.lit is not None else 0.0))],
            False, before - 1, after + 1, "start", ("itt", "fuel_on"),
        )
    )  # fmt: skip
    return out


def _hung(truth: Truth, taken: Taken, attempt: Attempt) -> list[Item]:
    if attempt.lit is None:
        return []
    speed, heat, lever = (taken.sampling[k] for k in ("ng", "itt", "fuel_on"))
    lit = [fuel for fuel in attempt.fuels if fuel.lit is not None][-1]
    assert lit.lit is not None
    end = attempt.idle if attempt.idle is not None else min(lit.off, attempt.end)
    severity = "limit" if attempt.idle is None else "caution"
    out = []
    gain = truth.least_gain(attempt)
    around = heat.wait_s(lit.lit) + 0.15
    usual = float(np.median(np.diff(speed.steps))) / 1000.0
    if gain is not None:
        shift = round(1000 * (around + usual))
        others = [truth.least_gain(attempt, shift), truth.least_gain(attempt, -shift)]
        known = [x for x in others if x is not None]
        blur = max((abs(x - gain) for x in known), default=np.inf) if len(known) == 2 else np.inf
        # Between samples Ng bends little: what the smallest gain changes over one sample interval.
        gaps = np.diff(speed.steps[(speed.steps > lit.lit) & (speed.steps < end)])
        if gaps.size and gaps.max() > max(2.5 * 1000 * usual, 450):
            blur = np.inf
        out.append(
            Item(
                "hung_start", "stagnated", severity, "hung_gain",
                [Row(gain, float(blur) + 2.0 * speed.half_step + 6.0 * speed.noise + 0.02)], True,
                lit.lit - 1000, end + 1000, "start", ("ng", "itt"), also=("fuel_on",),
            )
        )  # fmt: skip
    slow = truth.to_idle_s(attempt)
    assert slow is not None
    last = speed.wait_s(end) if attempt.idle is not None else lever.wait_s(end)
    if idle_unseen(attempt, taken):
        last = np.inf
    out.append(
        Item(
            "hung_start", "too_slow", severity, "idle_within", [Row(slow, around + last)], False,
            lit.lit - 1000, end + 1000, "start", ("ng", "itt"), also=("fuel_on",), blocked_by="hung_gain",
        )
    )  # fmt: skip
    return out


def _reintroduced(truth: Truth, taken: Taken) -> list[Item]:
    lever, starter = taken.sampling["fuel_on"], taken.sampling["starter"]
    out = []
    for before, after in zip(truth.fuels, truth.fuels[1:], strict=False):
        reached = any(a.idle is not None and before.on <= a.idle < before.off for a in truth.attempts)
        motored = sum(
            max(min(b, after.on) - max(a, before.off), 0) for a, b in truth.starter
        ) / 1000.0  # fmt: skip
        blur = lever.wait_s(before.off) + lever.wait_s(after.on)
        for a, b in truth.starter:
            blur += starter.wait_s(b) if before.off < b < after.on else 0.0
            blur += starter.wait_s(a) if before.off < a < after.on else 0.0
        low, high = lever.around(after.on)
        out.append(
            Item(
                "fuel_reintroduced", None, "caution", "purge", [Row(np.inf if reached else motored, blur)], True,
                low - 1, high + 1, "end", ("starter", "fuel_on"),
            )
        )  # fmt: skip
    return out


def _motored(truth: Truth, taken: Taken) -> list[Item]:
    """Return whether each abort was motored for long enough: the starter from the cut to the next fuel or its attempt."""
    lever, starter = taken.sampling["fuel_on"], taken.sampling["starter"]
    out = []
    for attempt, after in zip(truth.attempts, [*truth.attempts[1:], None], strict=True):
        if attempt.idle is not None or not attempt.fuels:
            continue
        fuel = attempt.fuels[-1]
        if fuel.lit is None or not fuel.cut:
            continue
        # An engagement without fuel that follows is motoring, too.
        runs = attempt.starter + ([] if after is None or after.fuels else after.starter)
        motored = sum(max(b - max(a, fuel.off), 0) for a, b in runs) / 1000.0
        blur = lever.wait_s(fuel.off) + sum(starter.wait_s(b) for _, b in runs if fuel.off < b < truth.size)
        blur += sum(starter.wait_s(a) for a, _ in runs if a > fuel.off)
        left = (truth.size - fuel.off) / 1000.0
        if any(b >= truth.size for _, b in runs) or left < max(1.2 * motored + 10.0, 25.0):
            blur = np.inf  # the recording may end before it can be told
        low, high = lever.around(fuel.off)
        out.append(
            Item(
                "motoring_short", None, "limit", "motor_for", [Row(motored, blur)], True,
                low - 1, high + 1, "start", ("starter", "fuel_on", "itt"), also=("ng",),
            )
        )  # fmt: skip
    return out


def _burning(truth: Truth, taken: Taken) -> list[Item]:
    heat, lever = taken.sampling["itt"], taken.sampling["fuel_on"]
    out = []
    for fuel in truth.fuels:
        if not fuel.cut:
            continue
        rise, top = truth.fast_rise_c(fuel)
        strict, loose = truth.fast_rise_c(fuel, 5.5)[0], truth.fast_rise_c(fuel, 4.5)[0]
        low, high = spread(truth.states["itt"], *heat.around(top))
        foot = truth.states["itt"][fuel.off : max(top, fuel.off + 1)]
        at = fuel.off + int(np.argmin(foot))
        dip = spread(truth.states["itt"], *heat.around(at))
        blur = (
            max(abs(rise - strict), abs(loose - rise))
            + (high - low)
            + (dip[1] - dip[0])
            + 2 * heat.half_step
            + 6 * heat.noise
        )
        stop = min((f.on for f in truth.fuels if f.on > fuel.off), default=truth.size)
        out.append(
            Item(
                "burning_after_cut", None, "limit", "after_cut", [Row(rise, blur + 0.5)], False,
                lever.around(fuel.off)[0] - 1, stop, "start", ("itt", "fuel_on"),
            )
        )  # fmt: skip
    return out


def _runs(truth: Truth, taken: Taken) -> list[Item]:
    starter, speed = taken.sampling["starter"], taken.sampling["ng"]
    out = []
    last_off: int | None = None
    for on, off in truth.starter:
        first = starter.around(on)
        if off < truth.size:
            out.append(
                Item(
                    "starter_overrun", "run_too_long", "limit", "run_s",
                    [Row((off - on) / 1000.0, starter.wait_s(on) + starter.wait_s(off))], False,
                    first[0] - 1, first[1] + 1, "start", ("starter",), also=("external_power",),
                )
            )  # fmt: skip
        if last_off is not None:
            out.append(
                Item(
                    "starter_overrun", "rest_too_short", "limit", "rest_s",
                    [Row((on - last_off) / 1000.0, starter.wait_s(on) + starter.wait_s(last_off))], True,
                    first[0] - 1, first[1] + 1, "end", ("starter",), also=("external_power",),
                )
            )  # fmt: skip
        low, high = spread(truth.states["ng"], speed.around(first[0])[0], speed.around(first[1])[1])
        out.append(
            Item(
                "starter_overrun", "engaged_while_turning", "limit", "engage_ng",
                [Row(float(truth.states["ng"][on]), high - low + speed.half_step + 3.0 * speed.noise + 1e-6)], False,
                first[0] - 1, first[1] + 1, "start", ("starter", "ng"),
            )
        )  # fmt: skip
        last_off = off
    return out


def peak_row(truth: Truth, taken: Taken, channel: str, inside: Bools, below: bool) -> Row | None:
    """Return the highest (lowest) true value inside, and how far the samples may miss it."""
    values = -truth.states[channel] if below else truth.states[channel]
    sampling = taken.sampling[channel]
    if not inside.any():
        return None
    top = float(values[inside].max())
    steps = sampling.steps[inside[sampling.steps]]
    if not steps.size:
        return None
    missed = top - float(values[steps].max())
    if sampling.gap_at(int(np.argmax(np.where(inside, values, -np.inf)))):
        missed = np.inf
    # At the window's edges a sample outside may count for one inside, and the other way round.
    grown = inside.copy()
    for edge in (int(np.flatnonzero(inside)[0]), int(np.flatnonzero(inside)[-1])):
        a, b = sampling.around(edge)
        grown[a : b + 1] = True
    extra = float(values[grown].max()) - top
    return Row(-top if below else top, missed + extra + sampling.half_step + 3.0 * sampling.noise)


def hot_item(truth: Truth, taken: Taken, attempt: Attempt, rows: list[tuple[float, float]]) -> Item:
    """Return the question about the start limit; `rows` are (level, seconds)."""
    out = []
    for level, allowed in rows:
        inside = truth.start_window_with(attempt, level)
        if allowed == 0:
            row = peak_row(truth, taken, "itt", inside, below=False)
            if row is not None:
                row.allowed, row.level = level, level
                out.append(row)
            continue
        value = truth.total("itt", level, inside)
        blur = blur_s(truth.states["itt"], level, inside, taken.sampling["itt"])
        out.append(Row(value, blur, allowed, level))
    wait = round(1000 * taken.sampling["starter"].wait_s(attempt.begin))
    return Item(
        "hot_start", None, "limit", "itt-start", out, False, attempt.begin - wait, attempt.end + wait,
        "start", ("itt", "ng"), begin=attempt.begin,
    )  # fmt: skip


def where_mask(truth: Truth, conditions: tuple[WhereCondition, ...]) -> Bools:
    """Return where the conditions hold."""
    out = np.ones(truth.size, dtype=bool)
    for condition in conditions:
        values = truth.states[condition.channel]
        if condition.above is not None:
            out &= values > condition.above
        if condition.below is not None:
            out &= values < condition.below
    return out


def running_item(
    truth: Truth, taken: Taken, kind: str, knob: str, channel: str, below: bool,
    rows: list[tuple[float, float]], where: tuple[WhereCondition, ...],
) -> Item:  # fmt: skip
    """Return the question about a running limit; `rows` are (level, seconds)."""
    inside = truth.running & where_mask(truth, where)
    sampling = taken.sampling[channel]
    out = []
    for level, allowed in rows:
        if allowed == 0 and not below:
            row = peak_row(truth, taken, channel, inside, below)
            if row is not None:
                row.allowed, row.level = level, level
                out.append(row)
            continue
        value, a, b = truth.longest(channel, level, inside, below)
        near = inside.copy()
        near[: max(a - 3000, 0)] = False
        near[b + 3000 :] = False
        blur = blur_s(truth.states[channel], level, near, sampling, below)
        for edge in (a, b):  # a run that the window cuts ends where the window's edge is seen
            if edge and (not inside[edge - 1] or edge >= truth.size or not inside[min(edge, truth.size - 1)]):
                blur += taken.sampling["fuel_on"].wait_s(min(edge, truth.size - 1))
                blur += taken.sampling["ng"].wait_s(min(edge, truth.size - 1))
        out.append(Row(value, blur, allowed, level))
    if any(idle_unseen(attempt, taken) for attempt in truth.attempts):
        for row in out:
            row.blur = np.inf
    return Item(
        kind,
        None,
        "limit",
        knob,
        out,
        False,
        0,
        truth.size,
        "start",
        (channel, "ng"),
        also=("fuel_on",),
        inside=inside,
        below=below,
    )
