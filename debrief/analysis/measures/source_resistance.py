"""What battery and cables resist, by voltage and current while the starter turns the engine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.model import Measure
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

UNIT = "mohm"
VARYING = 0.2
"""The slope needs a current that varies by this part of itself."""

AGREE_WITHIN = 0.2
"""Slope and drop from rest may differ by this part of the drop; common practice, no source."""

LAG_STEP_S = 0.05
NEAR = 14.0
BESIDE_IT = 4.0
"""A fit is as good as the best where its readings lie beside it by little more than chance makes of so many."""

LAGS_S = np.arange(-6, 17) * LAG_STEP_S
"""By how much the ammeter may be late, [s]."""

TIME_CONSTANTS_S = np.geomspace(0.5, 30.0, 13)
"""Of the resistor and capacitor that stand for what a battery loses as it cranks, [s]."""

MOST_SLOW = 3.0
"""The slow resistance is at most so many times the quick one; common practice, no source."""

SLOW_UNSURE = 0.1
LEAST_SAMPLES = 5
FITS = 2.0
"""Readings that lie beside a line by more than so many times their noise are on no line."""

MOVES = 0.1
"""With a steady current the voltage scatters by no more than this part of the drop."""

WIDEST = 0.4
"""With wider bounds than this part of it no value is given."""

JUMP = 0.25
"""Between two readings of a current that jumps by this part of the strongest nothing is known of it."""

ONSET_S = 1.0
ONSET_NEAR = 0.04
ONSET_UNTOLD = 0.15
"""By such parts of the deepest drop the voltage may lie beside what the current asks as it comes on."""

NOT_PROVEN = (
    "volts do not follow the battery's current: a source that is not recorded, or a change while cranking"
)

SLOPE = "−slope of volts on amperes"
DROP = "(volts at rest − median volts) / (median amperes − amperes at rest)"
FADING = "the quick resistance of two in a row, fitted from rest on: the slow one has a capacitor beside it"
"""How the value follows from the samples: where the current varies, where it does not, and of a battery that fades."""


class _Fit(NamedTuple):
    """A resistance, [ohm], its standard error, how far readings lie beside the fit, [V], how many are free, the slow one.

    `slow` is None of a line, which has no slow one.
    """

    value: float
    error: float
    beside: float
    free: int
    slow: float | None = None

    @property
    def wide(self) -> float:
        """Half the bounds of 95 %, [ohm]; one capacitor stands for what is slow, but for a part of it."""
        return student(self.free) * self.error + SLOW_UNSURE * (self.slow or 0.0)


@dataclass(frozen=True, eq=False)
class _Cranking:
    """Voltage and current given, from 1 s after starter on until fuel, and what both were at rest."""

    t: FloatArray
    volts: FloatArray
    amps: Trace
    sign: float
    rest_volts: float | None
    rest_amps: float | None
    top: float
    noise_volts: float
    on_s: float

    @cached_property
    def slow(self) -> tuple[FloatArray, FloatArray]:
        """What each slow resistor of 1 shows, at the ammeter's own times."""
        part = self.amps.between(self.on_s - 5.0, float(self.t[-1]) + 2.0)
        t, extra = self.amps.time_s[part], self.sign * self.amps.values[part] - (self.rest_amps or 0.0)
        return t, _filtered(t, extra, TIME_CONSTANTS_S)

    def given(self, t: FloatArray, late_s: float) -> FloatArray:
        """Return the current given at these instants, if the ammeter is late by so much; NaN where it jumps."""
        a = self.amps
        current = self.sign * a.at_each(t + late_s)
        k = np.clip(np.searchsorted(a.time_s, t + late_s, side="right") - 1, 0, a.time_s.size - 2)
        jumps = np.abs(a.values[k + 1] - a.values[k]) > JUMP * self.top
        exact = np.abs(a.time_s[k] - t - late_s) < 1e-6
        return np.where(jumps & ~exact, np.nan, current)


def source_resistance(
    c: StartContext, volts: Trace, amps: Trace, rest: float | None, stretch: tuple[float, float]
) -> tuple[Measure, str]:
    """Return the resistance of battery and cables with its bounds of 95 %, [mohm], and the formula that gave it.

    Notes
    -----
    The slope of volts on discharge current from 1 s after starter on until fuel, where the current varies
    at least 20 %; else (V_rest - V) / (I - I_rest) from medians: r = (E - V)/I, the definition of
    internal resistance. Where slope and drop from rest disagree, a battery that fades: the quick one of two resistors, the
    slow one with a capacitor beside it, if such a battery would show what was recorded. All are fitted for an ammeter that
    is late by each of several times; bounds take in all that fit nearly as well. None with external power or the generator
    on, at an ammeter's stop, and where nothing of this fits.
    """
    on = c.on_s
    assert on is not None
    seen = _cranking(c, volts, amps, on, rest, stretch)
    if isinstance(seen, str):
        return missing(UNIT, seen), SLOPE
    current = seen.given(seen.t, 0.0)
    current = current[np.isfinite(current)]
    if current.size < LEAST_SAMPLES:
        return missing(UNIT, "too few voltage samples before fuel"), SLOPE
    if float(np.median(current)) <= 0:
        return missing(UNIT, "the battery was charged while cranking: external power"), SLOPE
    drop = _drop(seen, current)
    if float(np.ptp(current)) < VARYING * float(current.max()):
        return _of_drop(seen, drop), DROP
    return _of_slopes(seen, volts, drop)


def _cranking(
    c: StartContext, volts: Trace, amps: Trace, on: float, rest: float | None, stretch: tuple[float, float]
) -> _Cranking | str:
    """Return what is fitted, or why there is nothing to fit."""
    for name in ("external_power", "generator_on"):
        if c.view.held(name, on + 1.0):
            return f"{name.replace('_', ' ')} on"
    if c.attempt.runs[0].power == "external":
        return "external power, by the battery's current"
    k = int(np.searchsorted(volts.time_s, on, side="right")) - 1
    if 0 <= k < volts.gap.size and volts.gap[k]:
        return "voltage lost at starter on"
    part = amps.between(*stretch)
    current = amps.values[part]
    if current.size < LEAST_SAMPLES - 1:
        return "too few current samples before fuel"
    before = amps.values[amps.between(on - 5.0, on - 1e-6 if c.on_low_s is None else c.on_low_s)]
    rest_amps = float(np.median(before)) if before.size else None
    sign = 1.0 if float(np.median(current)) - (rest_amps or 0.0) >= 0 else -1.0
    top = float(np.abs(current).max())
    begin, end = stretch
    stuck = np.abs(current) >= top - 2.0 * amps.half_resolution
    if int(stuck.sum()) > max(3, current.size // 3):
        begin = float(np.nextafter(amps.time_s[part][stuck][-1], np.inf))
        if int((amps.time_s[part] > begin).sum()) < LEAST_SAMPLES - 1:
            return "the ammeter stood at its stop"
    here = volts.between(begin, end)
    noise = max(volts.noise_seen.quick, 2.0 * volts.half_resolution / math.sqrt(12.0))
    return _Cranking(
        volts.time_s[here], volts.values[here], amps, sign, rest, None if rest_amps is None else sign * rest_amps, top,
        noise * volts.noise_seen.lasting * math.sqrt(volts.noise_seen.held), on,
    )  # fmt: skip


def _drop(seen: _Cranking, current: FloatArray) -> float | None:
    """Return the drop from rest over the current that it came with, [ohm]."""
    if seen.rest_volts is None or seen.rest_amps is None:
        return None
    flow = float(np.median(current)) - seen.rest_amps
    return (seen.rest_volts - float(np.median(seen.volts))) / flow if flow > 0 else None


def _of_drop(seen: _Cranking, drop: float | None) -> Measure:
    if drop is None or seen.rest_volts is None:
        return missing(UNIT, "no resting voltage, or no discharge current seen")
    given = seen.given(seen.t, 0.0)
    there = np.isfinite(given)
    own = seen.volts[there] + drop * given[there]
    sank = seen.rest_volts - float(np.median(seen.volts))
    if drop <= 0 or float(own.std()) > max(FITS * seen.noise_volts, MOVES * sank):
        return missing(UNIT, NOT_PROVEN)
    return Measure(1000.0 * drop, UNIT)


def _of_slopes(seen: _Cranking, volts: Trace, drop: float | None) -> tuple[Measure, str]:
    """Return the value from the fits for each lag of the ammeter, and the formula of the one that gives it."""
    fits: list[tuple[float, _Fit]] = []
    for late in LAGS_S.tolist():
        fit = _line(seen, late)
        if (
            fit is not None
            and drop is not None
            and abs(fit.value - drop) > max(AGREE_WITHIN * drop, 2.0 * fit.error)
        ):
            fits += [(late, one) for one in _with_capacitor(seen, late)]
        elif fit is not None and fit.value > 0:
            fits.append((late, fit))
    if not fits:
        return missing(UNIT, NOT_PROVEN), SLOPE
    least = min(fit.beside for _, fit in fits)
    # Between the lags that are looked at lies the true one.
    lags = np.array([late for late, f in fits if f.beside**2 <= least**2 * (1.0 + NEAR / f.free) + 1e-12])
    near = [
        (late, f)
        for late, f in fits
        if float(np.abs(lags - late).min()) < 1.5 * LAG_STEP_S
        and f.beside**2 <= least**2 * (1.0 + BESIDE_IT * NEAR / f.free) + 1e-12
    ]
    near = _by_onset(seen, volts, near)
    # An ammeter that need not be late is not.
    best = min(near, key=lambda one: (abs(one[0]), one[1].beside))[1]
    formula = SLOPE if best.slow is None else FADING
    low = min(f.value - f.wide for _, f in near)
    high = max(f.value + f.wide for _, f in near)
    if low <= 0 or best.beside > FITS * max(seen.noise_volts, 1e-9 * abs(best.value)) + 1e-9:
        return missing(UNIT, NOT_PROVEN), formula
    if high - low > 2.0 * WIDEST * best.value:
        return missing(UNIT, "the recording leaves it open by more than two fifths"), formula
    return Measure(1000.0 * best.value, UNIT, 1000.0 * low, 1000.0 * high), formula


def _line(seen: _Cranking, late: float) -> _Fit | None:
    """Return the slope of volts on current."""
    current = seen.given(seen.t, late)
    there = np.isfinite(current)
    return _solved(seen.volts[there], -current[there][:, None], seen.noise_volts)


def _with_capacitor(seen: _Cranking, late: float) -> list[_Fit]:
    """Return the quick resistance of two, the slow one with a capacitor beside it, from rest on: for each time constant."""
    if seen.rest_volts is None or seen.rest_amps is None:
        return []
    current = seen.given(seen.t, late)
    there = np.isfinite(current)
    found = []
    t, slow = seen.slow
    for k in range(slow.shape[1]):
        own = np.column_stack((seen.rest_amps - current, -np.interp(seen.t + late, t, slow[:, k])))[there]
        found.append(_solved(seen.volts[there] - seen.rest_volts, own, seen.noise_volts, level=False))
    return [fit for fit in found if fit is not None and fit.value > 0]


def _filtered(t: FloatArray, x: FloatArray, constants: FloatArray) -> FloatArray:
    """Return what resistors of 1 with a capacitor beside each show of a current, straight between its readings, (n, m)."""
    out = np.zeros((t.size, constants.size))
    spans = np.diff(t)
    kept = np.exp(-spans[:, None] / constants)
    lost = 1.0 - kept
    added = lost * x[:-1, None] + (np.diff(x) / spans)[:, None] * (spans[:, None] - constants * lost)
    for k in range(t.size - 1):
        out[k + 1] = kept[k] * out[k] + added[k]
    return out


def _solved(v: FloatArray, own: FloatArray, noise: float, level: bool = True) -> _Fit | None:
    """Return the first coefficient of a least-squares fit; None where another is not what a battery can have."""
    columns = np.column_stack((own, np.ones(v.size))) if level else own
    free = v.size - columns.shape[1]
    if free < LEAST_SAMPLES - 2:
        return None
    square = columns.T @ columns
    if np.linalg.cond(square) > 1e14:
        return None
    inverse = np.linalg.inv(square)
    found = inverse @ (columns.T @ v)
    left = v - columns @ found
    beside = math.sqrt(float(left @ left) / free)
    if own.shape[1] > 1 and not 0 <= float(found[1]) <= MOST_SLOW * float(found[0]):
        return None
    return _Fit(
        float(found[0]),
        max(beside, noise) * math.sqrt(float(inverse[0, 0])),
        beside,
        free,
        None if level else float(found[1]),
    )


def _by_onset(seen: _Cranking, volts: Trace, fits: list[tuple[float, _Fit]]) -> list[tuple[float, _Fit]]:
    """Return the fits whose lag lets the current come with the drop of the voltage, as far as readings tell.

    Where the voltage does not drop by what the current asks at any lag, the onset tells nothing.
    """
    here = volts.between(seen.on_s - ONSET_S, seen.on_s + ONSET_S)
    t, v = volts.time_s[here], volts.values[here]
    if not fits or seen.rest_volts is None or seen.rest_amps is None or not t.size:
        return fits
    deepest = seen.rest_volts - float(v.min())
    if deepest <= 0:
        return fits
    a, given = seen.amps.time_s, seen.sign * seen.amps.values
    beside = []
    for late, fit in fits:
        k = np.clip(np.searchsorted(a, t + late + 1e-6, side="right") - 1, 0, a.size - 2)
        exact = np.abs(a[k] - t - late) < 1e-5
        first, second = given[k], np.where(exact, given[k], given[k + 1])
        low, high = (
            seen.rest_volts - fit.value * (x - seen.rest_amps)
            for x in (np.maximum(first, second), np.minimum(first, second))
        )
        off = np.maximum(np.maximum(low - v, v - high), 0.0) / deepest
        beside.append(float(np.sqrt(np.mean(off**2))))
    least = min(beside)
    if least > ONSET_UNTOLD:
        return fits
    lags = np.array([late for (late, _), off in zip(fits, beside, strict=True) if off <= least + ONSET_NEAR])
    return [(late, fit) for late, fit in fits if float(np.abs(lags - late).min()) < 1.5 * LAG_STEP_S]


def student(free: int) -> float:
    """Return between how many standard errors 95 % lie, with so many degrees of freedom.

    References
    ----------
    The expansion of Student's t by the normal quantile, Abramowitz and Stegun 26.7.5.
    """
    z, n = 1.959964, float(max(free, 1))
    return (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )
