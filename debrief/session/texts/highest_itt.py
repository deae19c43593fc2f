"""What a person asks first: how hot it became, and when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.session.texts.definitions import level_of
from debrief.session.texts.plain_names import itt_unit
from debrief.words.numbers import clock_text, number, plain, value_text


@dataclass(frozen=True)
class Highest:
    """The highest ITT of one engine's recording: when, and how high in which unit."""

    engine: int
    time_s: float
    value: float
    unit: str
    symbol: str

    @property
    def words(self) -> str:
        """In one line."""
        return f"Highest {self.symbol} {value_text(self.value, self.unit)} at {clock_text(self.time_s)}"


def highest_itt(assessment: Assessment) -> tuple[Highest, ...]:
    """Return the highest sample of ITT of each engine that no start tells of: without a profile none is looked for."""
    out = []
    for engine in assessment.recording.engines:
        channel = assessment.recording.get("itt", engine)
        if channel is None or any(s.engine == engine and s.peak_itt_c is not None for s in assessment.starts):
            continue
        known = np.flatnonzero(np.isfinite(channel.values))
        if known.size:
            top = known[int(channel.values[known].argmax())]
            out.append(
                Highest(
                    engine,
                    float(channel.time_s[top]),
                    float(channel.values[top]),
                    channel.unit,
                    assessment.names(engine).symbol(channel.name),
                )
            )
    return tuple(out)


def above_levels(start: Start) -> str:
    """Return how long ITT was above each start level that it passed, such as ``above 830 for 15.0 s, 920 for 2.9 s``."""
    passed = []
    for name, measure in start.measures.items():
        found = level_of(name)
        if found is not None and found[0] == "time_above" and measure.value:
            passed.append((found[1], f"{plain(found[1], itt_unit(start))} for {number(measure.value, 1)} s"))
    return "above " + ", ".join(text for _, text in sorted(passed)) if passed else ""
