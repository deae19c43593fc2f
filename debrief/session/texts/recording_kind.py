"""What a recording is called: a flight where it shows one, else a run."""

from __future__ import annotations

from debrief.analysis.model import Assessment
from debrief.words.engines import measure_of_engine

IN_FLIGHT = frozenset({"takeoff", "climb", "cruise", "descent", "manoeuvring", "landing"})
"""The phases of which the aircraft flies at least a part."""


def is_flight(assessment: Assessment) -> bool:
    """Whether the recording shows that the aircraft flew: a phase of flight, or time in the air by wheels or airspeed."""
    if any(phase.name in IN_FLIGHT for phase in assessment.phases):
        return True
    return any(
        measure_of_engine(name)[0] == "airborne_time" and bool(measure.value or measure.low)
        for name, measure in assessment.flight_measures.items()
    )


def recording_word(assessment: Assessment) -> str:
    """Return "flight", or "run" where nothing shows that the aircraft flew, as on a bench."""
    return "flight" if is_flight(assessment) else "run"
