"""A profile whose numbers lie just inside or just outside what really happened in one flight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.profile.model import (
    AbortRules,
    AllowedRow,
    DutyRow,
    EngineProfile,
    Limit,
    StarterRules,
    StartRules,
    WhereCondition,
)
from tests.study.items import Item, Row, hot_item, running_item, start_items
from tests.study.recorders import Taken
from tests.study.truth import HUNG_FOR_MS, Truth

RUNNING = (
    ("overtemp", "itt-running", "itt", False),
    ("overtorque", "torque-max", "torque", False),
    ("overspeed_ng", "ng-max", "ng", False),
    ("overspeed_np", "np-max", "np", False),
    ("oil_temp_high", "oil-temp-max", "oil_temp", False),
    ("oil_press_low", "oil-press-min", "oil_press", True),
)
"""Kind, limit id, channel, and whether the limit is a minimum."""

LEAST = {"after_cut": 20.0, "engage_ng": 2.0}
"""Truths up to this are nothing that a number could lie near to."""

USUAL = {"after_cut": 150.0, "engage_ng": 8.0}
"""What the profile says where nothing in the flight is near it."""

FLOOR = {"residual": -1000.0, "hung_gain": -1000.0, "after_cut": 15.0, "engage_ng": 1.0}


def _margin(rng: np.random.Generator, row: Row) -> float:
    """Return a signed margin: mostly just past what the recording leaves open, sometimes inside of that."""
    blur = row.blur if np.isfinite(row.blur) else 1.0
    size = blur * rng.uniform(0.1, 0.9) if rng.random() < 0.2 else blur * rng.uniform(1.05, 2.0)
    size += 0.002 + 0.03 * abs(row.value) * rng.random()
    return float(size if rng.random() < 0.5 else -size)


def place_items(items: list[Item], rng: np.random.Generator) -> dict[str, float]:
    """Give each knob a number near the truth of one of its questions; returns the numbers."""
    knobs: dict[str, float] = {}
    for knob in sorted({item.knob for item in items}):
        least = LEAST.get(knob, -np.inf)
        mine = [
            i for i in items if i.knob == knob and np.isfinite(i.rows[0].value) and i.rows[0].value > least
        ]
        if not mine:
            knobs[knob] = USUAL.get(knob, float("nan"))
            continue
        # A fuel period that never lit is rarer than one that lit: look at it first.
        mine = [i for i in mine if i.kind == "no_light_off" and i.reason is None] or mine
        focus = mine[int(rng.integers(len(mine)))].rows[0]
        knobs[knob] = max(focus.value + _margin(rng, focus), FLOOR.get(knob, 0.05))
    for item in items:
        for row in item.rows:
            row.allowed = knobs.get(item.knob, float("nan"))
    return knobs


def placed(
    shipped: EngineProfile, truth: Truth, taken: Taken, rng: np.random.Generator
) -> tuple[EngineProfile, list[Item]]:
    """Return a profile made for this flight, and the questions to it."""
    items = start_items(truth, taken)
    knobs = place_items(items, rng)
    limits: list[Limit] = []
    hot = _place_hot(truth, taken, rng)
    if hot is not None:
        limits.append(hot)
        items += [
            hot_item(truth, taken, a, [(r.level, r.seconds) for r in hot.allowed]) for a in truth.attempts
        ]
    for kind, knob, channel, below in RUNNING:
        limit = _place_running(truth, taken, rng, kind, knob, channel, below)
        if limit is not None:
            limits.append(limit)
            rows = [(r.level, r.seconds) for r in limit.allowed]
            items.append(running_item(truth, taken, kind, knob, channel, below, rows, limit.where))
    rules = shipped.start
    return replace(
        shipped,
        start=_rules(rules, knobs),
        abort=AbortRules(knobs.get("motor_for")),
        starter=StarterRules(
            (DutyRow(knobs.get("run_s", 600.0), knobs.get("rest_s", 0.1)),), reset_after_s=None
        ),
        limits=tuple(limits),
    ), items


def _rules(rules: StartRules, knobs: dict[str, float]) -> StartRules:
    gain = knobs.get("hung_gain")
    return replace(
        rules,
        advised_fuel_ng_pct=None,
        min_fuel_ng_pct=knobs.get("fuel_ng"),
        max_residual_itt_c=knobs.get("residual"),
        light_off_within_s=knobs.get("light_off"),
        hung_ng_rate_pct_per_s=None if gain is None else gain / (HUNG_FOR_MS / 1000.0),
        idle_within_s=knobs.get("idle_within"),
        min_bus_volts_before=knobs.get("rest_volts"),
        min_bus_volts=knobs.get("crank_volts"),
        purge_s=knobs.get("purge"),
        after_cut_rise_c=knobs.get("after_cut"),
        max_engage_ng_pct=knobs.get("engage_ng"),
    )


def _place_hot(truth: Truth, taken: Taken, rng: np.random.Generator) -> Limit | None:
    """Return a start limit near the truth of one attempt that lit."""
    lit = [a for a in truth.attempts if a.lit is not None]
    if not lit:
        return None
    attempt = lit[int(rng.integers(len(lit)))]
    top = float(truth.states["itt"][truth.start_window(attempt)].max())
    # A start limit lies above what the engine has at idle, as in every manual.
    least = max((float(truth.states["itt"][a.idle]) for a in lit if a.idle is not None), default=300.0) + 15.0
    if rng.random() < 0.35 or top - 10.0 < least:
        row = hot_item(truth, taken, attempt, [(top, 0.0)]).rows[0]
        level = top - _margin(rng, row)
        allowed = (AllowedRow(level, 0.0),)
    else:
        level = max(top - float(rng.uniform(3.0, 180.0)), least)
        row = hot_item(truth, taken, attempt, [(level, 1.0)]).rows[0]
        # A second, harmless row above: the answer is that of the first.
        allowed = (AllowedRow(level, max(row.value + _margin(rng, row), 0.05)), AllowedRow(top + 200.0, 0.0))
    return Limit("itt-start", "hot_start", "itt", "start", "degC", "total", allowed)


def _place_running(
    truth: Truth, taken: Taken, rng: np.random.Generator, kind: str, knob: str, channel: str, below: bool
) -> Limit | None:
    if seconds_of(truth) < 8.0:
        return None
    where = (WhereCondition("ng", above=float(rng.uniform(50.0, 58.5))),) if below else ()
    values = truth.states[channel][truth.running]
    low, high = float(np.quantile(values, 0.5)), float(values.max())
    if below:
        low, high = float(values.min()), float(np.quantile(values, 0.5))
    if high - low < 6.0 * taken.sampling[channel].half_step + 1e-3:
        return None
    unit = {"itt": "degC", "np": "rpm", "oil_temp": "degC", "oil_press": "psi"}.get(channel, "%")
    if not below and rng.random() < 0.3:
        row = running_item(truth, taken, kind, knob, channel, below, [(high, 0.0)], where).rows[0]
        allowed = (AllowedRow(high - _margin(rng, row), 0.0),)
    else:
        level = low + (high - low) * float(rng.uniform(0.15, 0.9))
        row = running_item(truth, taken, kind, knob, channel, below, [(level, 1.0)], where).rows[0]
        if row.value <= 0.05:
            return None
        allowed = (AllowedRow(level, max(row.value + _margin(rng, row), 0.05)),)
    return Limit(knob, kind, channel, "running", unit, "longest", allowed, below=below, where=where)


def seconds_of(truth: Truth) -> float:
    """Return how long the engine ran, [s]."""
    return float(np.count_nonzero(truth.running)) / 1000.0


def as_shipped(shipped: EngineProfile, truth: Truth, taken: Taken) -> list[Item]:
    """Return the questions to the shipped profile."""
    rules = shipped.start
    numbers = {
        "fuel_ng": rules.min_fuel_ng_pct, "residual": rules.max_residual_itt_c,
        "light_off": rules.light_off_within_s, "idle_within": rules.idle_within_s,
        "rest_volts": rules.min_bus_volts_before, "crank_volts": rules.min_bus_volts, "purge": rules.purge_s,
        "motor_for": shipped.abort.motor_for_s,
        "after_cut": rules.after_cut_rise_c, "engage_ng": rules.max_engage_ng_pct, "run_s": 45.0, "rest_s": 90.0,
        "hung_gain": (rules.hung_ng_rate_pct_per_s or 0.0) * HUNG_FOR_MS / 1000.0,
    }  # fmt: skip
    items = start_items(truth, taken)
    for item in items:
        for row in item.rows:
            row.allowed = float(numbers[item.knob] or 0.0)
    for limit in shipped.limits:
        rows = [(r.level, r.seconds) for r in limit.allowed if r.severity == "limit"]
        if limit.when == "start":
            items += [hot_item(truth, taken, a, rows) for a in truth.attempts]
        else:
            items.append(
                running_item(
                    truth, taken, limit.event, limit.id, limit.channel, limit.below, rows, limit.where
                )
            )
    return items
