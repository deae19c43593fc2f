"""What really happened, from the states at 1 kHz alone.

The definitions are those that the documentation gives for the engine, applied to the states: the flame itself is
known here, so light-off is when it lights, not when a temperature shows it. Steps are milliseconds of the
simulation.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.synth.flight import Simulation
from tests.study.dense import Bools, Floats, edges, runs, seconds

IDLE_PCT = 57.0
IDLE_HELD_MS = 3000
LIT_FIRST_MS = 3000
HUNG_FOR_MS = 5000
COLD_C = 300.0
STANDS_PCT = 5.0
BURN_C_PER_S = 5.0
REJOIN_S = 2.0


@dataclass
class FuelTime:
    """Fuel from `on` until `off` (the end of the states where it stays on), and when it lit."""

    on: int
    off: int
    lit: int | None
    cut: bool


@dataclass
class Attempt:
    """One attempt to start."""

    begin: int
    starter: list[tuple[int, int]]
    fuels: list[FuelTime] = field(default_factory=list)
    idle: int | None = None
    end: int = 0

    @property
    def lit(self) -> int | None:
        """When it first lit."""
        return next((fuel.lit for fuel in self.fuels if fuel.lit is not None), None)


class Truth:
    """Everything that is known about one simulation."""

    def __init__(self, simulation: Simulation) -> None:
        self.states = simulation.states
        self.size = simulation.time_s.size
        states = self.states
        self.starter = edges(states["starter"] > 0.5)
        flames = edges(states["lit"] > 0.5)
        self.fuels = []
        for on, off in edges(states["fuel_on"] > 0.5):
            lit = next((a for a, b in flames if on <= a < off), None)
            self.fuels.append(FuelTime(on, off, lit, off < self.size))
        self.attempts = self._attempts()
        self.running = self._running()

    def _attempts(self) -> list[Attempt]:
        lit = self.states["lit"] > 0.5
        found: list[Attempt] = []
        for on, off in self.starter:
            if on > 0 and lit[on - 1]:
                if found and not self._idle_between(found[-1].begin, on):
                    found[-1].starter.append((on, off))
                continue
            found.append(Attempt(on, [(on, off)]))
        for fuel in self.fuels:
            owner = [a for a in found if a.begin <= fuel.on]
            owner[-1].fuels.append(fuel)
        for n, attempt in enumerate(found):
            attempt.end = found[n + 1].begin if n + 1 < len(found) else self.size
            for fuel in attempt.fuels:
                if fuel.lit is not None and attempt.idle is None:
                    attempt.idle = self._idle_between(fuel.lit, min(fuel.off, attempt.end))
        return found

    def _idle_between(self, begin: int, end: int) -> int | None:
        for a, b in edges(self.states["ng"][begin:end] >= IDLE_PCT):
            if b - a >= IDLE_HELD_MS:
                return begin + a
        return None

    def _running(self) -> Bools:
        """Return where the running limits hold: from idle until the fuel is cut."""
        out = np.zeros(self.size, dtype=bool)
        for attempt in self.attempts:
            if attempt.idle is not None:
                fuel = next(f for f in attempt.fuels if f.on <= attempt.idle < f.off)
                out[attempt.idle : fuel.off] = True
        return out

    def start_window(self, attempt: Attempt) -> Bools:
        """Return where the start limits hold.

        From the opening to idle; after a cut until it stands and is cold, or is tried again.
        """
        out = np.zeros(self.size, dtype=bool)
        end = attempt.end if attempt.idle is None else attempt.idle
        if attempt.idle is None and attempt.fuels and attempt.lit is not None:
            off = attempt.fuels[-1].off
            cold = np.flatnonzero(self.states["itt"][off:end] < COLD_C)
            # The attempt itself goes on until the engine stands, with the starter off.
            let_go = max([off, *(b for _, b in attempt.starter)])
            stands = np.flatnonzero(self.states["ng"][let_go:end] < STANDS_PCT)
            if cold.size and stands.size:
                end = max(off + int(cold[0]), let_go + int(stands[0]))
        out[attempt.begin : end] = True
        return out

    def start_window_with(self, attempt: Attempt, level: float) -> Bools:
        """Return the same, and to its end a stretch above the level that goes on past idle."""
        out = self.start_window(attempt)
        last = int(np.flatnonzero(out)[-1])
        above = self.states["itt"] > level
        if attempt.idle is not None and above[last]:
            below = np.flatnonzero(~above[last : attempt.end])
            out[last : last + (int(below[0]) if below.size else attempt.end - last)] = True
        return out

    def least_gain(self, attempt: Attempt, late_ms: int = 0) -> float | None:
        """Return the smallest gain of Ng over five seconds, [%], while lit for 3 s and below idle.

        `late_ms` moves the beginning and, the other way, the end.
        """
        lit = [fuel for fuel in attempt.fuels if fuel.lit is not None]
        if not lit:
            return None
        fuel = lit[-1]
        assert fuel.lit is not None
        begin = fuel.lit + LIT_FIRST_MS + HUNG_FOR_MS + late_ms
        end = (min(fuel.off, attempt.end) if attempt.idle is None else attempt.idle) - late_ms
        end = min(end, self.size)
        if end <= begin:
            return None
        ng = self.states["ng"]
        at = np.arange(begin, end)
        at = at[ng[at] < IDLE_PCT]
        return float((ng[at] - ng[at - HUNG_FOR_MS]).min()) if at.size else None

    def to_idle_s(self, attempt: Attempt) -> float | None:
        """Return from light-off to idle, or to the cut where idle never came, [s]."""
        lit = [fuel for fuel in attempt.fuels if fuel.lit is not None]
        if not lit or lit[-1].lit is None:
            return None
        end = min(lit[-1].off, attempt.end) if attempt.idle is None else attempt.idle
        return (end - lit[-1].lit) / 1000.0

    def fast_rise_c(self, fuel: FuelTime, rate_c_per_s: float = BURN_C_PER_S) -> tuple[float, int]:
        """Return the largest rise of ITT after a cut that came faster than the rate, [degC], and when.

        A rise is counted from the lowest temperature since the cut to the next fuel.
        """
        stop = min((f.on for f in self.fuels if f.on > fuel.off), default=self.size)
        itt: Floats = self.states["itt"][fuel.off : stop]
        if itt.size < 2:
            return 0.0, fuel.off
        least = np.minimum.accumulate(itt)
        new = np.concatenate(([True], itt[1:] < least[:-1]))
        foot = np.maximum.accumulate(np.where(new, np.arange(itt.size), 0))
        taken = (np.arange(itt.size) - foot) / 1000.0
        rise = np.where(itt - least > rate_c_per_s * taken, itt - least, 0.0)
        top = int(np.argmax(rise))
        return float(rise[top]), fuel.off + top

    def longest(self, channel: str, level: float, inside: Bools, below: bool) -> tuple[float, int, int]:
        """Return the longest run beyond a level, [s], and its first and last step; breaks under 2 s rejoin."""
        values = self.states[channel]
        beyond = (values < level if below else values > level) & inside
        found = runs(beyond, REJOIN_S)
        if not found:
            return 0.0, 0, 0
        a, b, length = max(found, key=lambda run: run[2])
        return length, a, b

    def total(self, channel: str, level: float, inside: Bools) -> float:
        """Return the total time above a level, [s]."""
        return seconds((self.states[channel] > level) & inside)
