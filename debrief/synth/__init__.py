"""Invented flights from a small physical model, for the demo and the tests. Shares no code with analysis/."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from debrief.synth.flight import Simulation
    from debrief.synth.scenario import Scenario


def build(scenario_path: str | Path, out_csv: str | Path) -> bool:
    """Write a scenario's recording to `out_csv` and its truth beside it; see `builder.build`."""
    from debrief.synth import builder

    return builder.build(scenario_path, out_csv)


def simulate(scenario: Scenario | str | Path) -> Simulation:
    """Return the states at 1 kHz of a scenario or scenario file; see `builder.simulate`."""
    from debrief.synth import builder

    return builder.simulate(scenario)


__all__ = ["build", "simulate"]
