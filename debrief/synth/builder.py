"""From a scenario file to a recording and the truth beside it."""

from __future__ import annotations

import json
from pathlib import Path

from debrief.errors import UserError
from debrief.synth.flight import Simulation
from debrief.synth.flight import simulate as _simulate
from debrief.synth.recorder import write_csv
from debrief.synth.scenario import Scenario
from debrief.synth.scenario_file import read_scenario
from debrief.synth.truth import truth_of


def truth_path(out_csv: str | Path) -> Path:
    """Return where the truth of a recording lies: ``OUT.truth.json`` beside ``OUT.csv``."""
    path = Path(out_csv)
    stem = path.name[: -len(".csv")] if path.name.lower().endswith(".csv") else path.name
    return path.with_name(f"{stem}.truth.json")


def simulate(scenario: Scenario | str | Path) -> Simulation:
    """Return the states at 1 kHz of a scenario, or of a scenario file."""
    return _simulate(scenario if isinstance(scenario, Scenario) else read_scenario(scenario))


def build(scenario_path: str | Path, out_csv: str | Path) -> None:
    """Write the recording of a scenario file, and its truth as ``OUT.truth.json`` beside it.

    Raises
    ------
    UserError
        The scenario is not understood, or a file cannot be written.
    """
    simulation = simulate(scenario_path)
    out = Path(out_csv)
    text = json.dumps(truth_of(simulation), indent=1, allow_nan=False) + "\n"
    try:
        write_csv(simulation, out)
        truth_path(out).write_text(text, encoding="utf-8", newline="\n")
    except OSError as problem:
        raise UserError(f"{out}: the recording cannot be written: {problem.strerror}.") from problem
