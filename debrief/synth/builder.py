"""From a scenario file to a recording and the truth beside it."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from debrief.output import Kind, Output, check_output, is_stream, write_outputs
from debrief.output.kinds import truth_path
from debrief.synth.flight import Simulation
from debrief.synth.flight import simulate as _simulate
from debrief.synth.recorder import csv_bytes
from debrief.synth.scenario import Scenario
from debrief.synth.scenario_file import read_scenario
from debrief.synth.truth import truth_of


def simulate(scenario: Scenario | str | Path) -> Simulation:
    """Return the states at 1 kHz of a scenario, or of a scenario file."""
    return _simulate(scenario if isinstance(scenario, Scenario) else read_scenario(scenario))


def build(scenario_path: str | Path, out_csv: str | Path) -> bool:
    """Write the recording of a scenario file, and its truth as ``OUT.truth.json`` beside it: both or neither.

    Returns
    -------
    bool
        Whether the truth was written: there is nothing beside standard output or a device.

    Raises
    ------
    UserError
        The scenario is not understood, or a file cannot be written or is something else.
    """
    sources = {str(scenario_path): "the scenario"}
    with_truth = not is_stream(out_csv)
    check_output(out_csv, Kind.INVENTED, sources=sources)
    if with_truth:
        check_output(truth_path(out_csv), Kind.TRUTH, sources=sources)
    simulation = simulate(scenario_path)
    data = csv_bytes(simulation)
    outputs = [Output(out_csv, data, Kind.INVENTED)]
    if with_truth:
        told = truth_of(simulation)
        # By this the recording is known again as invented, and as unchanged.
        told = {"format": told.pop("format"), "recording_sha256": hashlib.sha256(data).hexdigest(), **told}
        text = json.dumps(told, indent=1, allow_nan=False) + "\n"
        outputs.append(Output(truth_path(out_csv), text.encode("utf-8"), Kind.TRUTH))
    write_outputs(outputs, sources=sources)
    return with_truth
