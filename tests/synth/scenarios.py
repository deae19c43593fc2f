"""Small scenarios for the tests, written as the files that people write."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from debrief.synth.flight import Simulation, simulate
from debrief.synth.scenario import Scenario
from debrief.synth.scenario_file import read_scenario

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_flights"

START = """
[[actions]]
at_s = 5.0
starter = "on"

[[actions]]
at_s = 12.0
ignition = "on"

[[actions]]
at_s = 19.0
fuel = "on"
"""

RECORDER = """
[recorder]
rate_hz = 4
columns = [
  {channel = "ng", header = "Ng (%)", unit = "%", resolution = 0.1, noise = 0.03},
  {channel = "itt", header = "ITT (degC)", unit = "degC", resolution = 1, noise = 0.3},
  {channel = "starter", header = "Starter"},
  {channel = "oil_temp", header = "Oil temp (degC)", unit = "degC", rate_hz = 1, resolution = 1},
]
"""


def text(
    body: str = START,
    *,
    duration_s: float = 60.0,
    seed: int = 1,
    recorder: str = RECORDER,
    head: str = "",
) -> str:
    return (
        'format = "synth-scenario/1"\ntitle = "Test"\nabout = "For a test."\n'
        f"seed = {seed}\nduration_s = {duration_s}\nstart = 2031-01-02T03:04:05Z\n{head}\n{body}\n{recorder}"
    )


def scenario(folder: Path, body: str = START, **options: object) -> Scenario:
    path = folder / "scenario.toml"
    path.write_text(text(body, **options), encoding="utf-8")  # type: ignore[arg-type]
    return read_scenario(path)


def run(body: str = START, **options: object) -> Simulation:
    """Return what the scenario gives; each is simulated once, and its states can only be read."""
    return _simulated(text(body, **options))  # type: ignore[arg-type]


@lru_cache(maxsize=8)  # ten to twenty megabytes each
def _simulated(content: str) -> Simulation:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "scenario.toml"
        path.write_text(content, encoding="utf-8")
        simulation = simulate(read_scenario(path))
    for states in (simulation.time_s, *simulation.states.values()):
        states.flags.writeable = False
    return simulation
