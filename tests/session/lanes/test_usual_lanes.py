"""Which lanes a recording has at first: what was recorded is seen, what was not is said once."""

import pytest

from debrief.session.opening.opening_steps import open_recording
from debrief.session.session import Session


def opened(tmp_path, header, columns) -> Session:
    rows = "".join(
        ",".join([f"{i / 2:g}", *(f"{20 + (i + 7 * c) % 50}" for c in range(columns))]) + "\n"
        for i in range(60)
    )
    file = tmp_path / "bare.csv"
    file.write_text(f"Time (s),{header}\n{rows}")
    steps = open_recording(str(file))
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def lanes_of(session):
    return [lane.names for lane in session.lanes if lane.envelope is not None]


def missing_of(session):
    return [lane.names for lane in session.lanes if lane.envelope is None]


@pytest.mark.parametrize(
    ("header", "recorded"),
    [
        ("Oil Temp (degC),Oil Press (psi),OAT (degC)", [("oil_temp",), ("oil_press",), ("oat",)]),
        ("OAT (degC),Gearbox Alpha,Gearbox Beta", [("oat",), ("Gearbox Alpha",), ("Gearbox Beta",)]),
        ("ITT (degC),Oil Temp (degC)", [("itt",), ("oil_temp",)]),
    ],
)
def test_a_bare_recording_shows_what_it_has_and_says_once_what_is_missing(tmp_path, header, recorded):
    session = opened(tmp_path, header, header.count(",") + 1)
    assert sorted(lanes_of(session)) == sorted(recorded)
    (missing,) = missing_of(session)
    assert set(missing) == {"ng", "itt", "torque", "bus_volts"} - {name for (name,) in recorded}
    choices = session.lane_choices()
    assert len(set(choices)) == len(choices)
    assert session.lane_stack.is_usual


def test_a_bare_recording_shows_four_lanes_at_most(tmp_path):
    session = opened(tmp_path, "OAT (degC)," + ",".join(f"Gearbox {letter}" for letter in "ABCDEF"), 7)
    assert len(lanes_of(session)) == 4


def test_a_recording_with_usual_channels_keeps_the_usual_lanes(tmp_path):
    session = opened(tmp_path, "Ng (%),ITT (degC),Oil Temp (degC)", 3)
    assert [lane.names for lane in session.lanes] == [("ng",), ("itt",), ("torque",), ("bus_volts",)]
