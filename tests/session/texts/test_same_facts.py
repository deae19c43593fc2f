"""Every text of an assessment holds the same facts in other units: none is lost, none keeps its unit."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.model import AllowedRow, FlightRules, Limit
from debrief.recording.model import Channel, Recording
from debrief.recording.quality.data_quality import flags
from debrief.recording.quality.probes import low_probes
from debrief.session.texts.in_units import in_units
from debrief.words.channels import CANONICAL
from debrief.words.display_units import parse_units
from debrief.words.events import EVENTS
from debrief.words.numbers import unit_words
from debrief.words.sentence import Quantity, Sentence, joined, sentence
from tests.analysis.recording_making import PROFILE, normal_start, recording
from tests.demo_assessing import DEMOS, assessed

UNITS = parse_units("degF,bar,lb/h,m,km/h")
# NIST SP 811, appendix B.8: t/°F = 1.8 t/°C + 32; 1 psi = 6.894757 E+03 Pa; 1 lb = 0.4535924 kg; 1 ft = 0.3048 m;
# 1 kn = 1.852 km/h. Of each: its words, factor, and the zero that a difference has not.
BY_HAND = {
    "degC": ("°F", 1.8, 32.0),
    "degC/s": ("°F/s", 1.8, 0.0),
    "psi": ("bar", 0.06894757, 0.0),
    "kg/h": ("lb/h", 1 / 0.4535924, 0.0),
    "ft": ("m", 0.3048, 0.0),
    "ft/min": ("m/s", 0.3048 / 60, 0.0),
    "kt": ("km/h", 1.852, 0.0),
}
LEFT = re.compile(r"°C|\d\s?(?:psi|kt|ft|ft/min|kg/h)\b")
NUMBER = r"([-\N{MINUS SIGN}]?\d+(?:\.\d+)?(?:e[-+]?\d+)?)"
KINDS = ("gap", "dropout", "stuck", "spike", "out_of_range", "saturated", "coarse", "ramped_discrete", "signal_lost",
         "open_thermocouple", "low_probe", "sensor_sense")  # fmt: skip
"""The flags of the page of definitions."""


def texts(value: object, place: str = "") -> Iterator[tuple[str, str]]:
    """Yield all texts below a value, with their place; what was read, the profile and the original are not said here."""
    if isinstance(value, str):
        yield place, value
    elif is_dataclass(value):
        for field in fields(value):
            if field.name in ("recording", "profile", "original", "units", "unit"):
                continue
            yield from texts(getattr(value, field.name), f"{place}.{field.name}")
    elif isinstance(value, Mapping):
        # Names of measures that hold a level follow the units: one for one, in the same order.
        for name, one in value.items():
            yield from texts(one, f"{place}[{re.sub('[0-9].*', 'N', name)}]")
    elif isinstance(value, tuple | list):
        for one in value:
            yield from texts(one, place)


def printed(text: Sentence, like: Sentence, foreign: bool) -> list[tuple[float, float]]:
    """Return each quantity of a sentence as it is printed, with its last place, between the words of `like`."""
    pattern = ""
    for part in like.parts:
        if isinstance(part, str):
            pattern += re.escape(part)
            continue
        unit = BY_HAND[part.unit][0] if foreign and part.unit in BY_HAND else unit_words(part.unit)
        pattern += NUMBER + (re.escape(f" {unit}") if part.has_unit and unit else "")
    found = re.fullmatch(pattern, text)
    assert found is not None, (str(text), str(like))
    out = []
    for word in found.groups():
        number, _, power = word.replace("\N{MINUS SIGN}", "-").partition("e")
        out.append(
            (
                float(number + (f"e{power}" if power else "")),
                10.0 ** (int(power or 0) - len(number.partition(".")[2])),
            )
        )
    return out


def holds_the_same(text: Sentence, shown: Sentence) -> None:
    """Each quantity, converted by hand, is the one printed, within half of both last places."""
    quantities = [part for part in text.parts if isinstance(part, Quantity)]
    own, others = printed(text, text, False), printed(shown, text, True)
    assert len(own) == len(others) == len(quantities)
    for part, (value, step), (other, other_step) in zip(quantities, own, others, strict=True):
        _, factor, zero = BY_HAND.get(part.unit, ("", 1.0, 0.0))
        wanted = value * factor + (0.0 if part.is_difference else zero)
        within = 0.51 * (step * factor + other_step)
        if part.digits is not None:  # the last of six digits, also where zeros at the end are not printed
            within = 1e-5 * max(abs(wanted), abs(other), abs(value * factor))
        assert abs(other - wanted) <= within + 1e-6 * abs(wanted), (str(text), str(shown))


def holds_all(assessment: Assessment) -> int:
    """Check all texts of an assessment; return how many hold a quantity that is converted."""
    shown = in_units(assessment, UNITS)
    pairs = list(zip(texts(assessment), texts(shown), strict=True))
    converted = 0
    for (place, text), (other_place, other) in pairs:
        assert place == other_place
        assert not LEFT.search(other), (place, other)
        if isinstance(text, Sentence):
            assert isinstance(other, Sentence)
            holds_the_same(text, other)
            converted += text != other
        else:
            assert text == other, place
    return converted


def limit(event: str, channel: str, level: float, unit: str, below: bool = False) -> Limit:
    """Return a limit that is judged while the engine runs."""
    return Limit(event, event, channel, "running", unit, "longest", (AllowedRow(level, 1.0),), below=below)


def channel_of(name: str, values: np.ndarray, time_s: np.ndarray) -> Channel:
    """Return a channel as the reader gives it."""
    step = np.diff(np.unique(values))
    return Channel(name, CANONICAL[name], time_s, values, name, CANONICAL[name], resolution=float(step.min()))


@cache
def faulty() -> Assessment:
    """Return a start and a run in which each kind of flag and an excess in each convertible unit are planted."""
    made = recording(normal_start(), 400.0, 4.0)
    time_s = next(iter(made.channels.values())).time_s
    noise = np.random.default_rng(7)

    def lively(level: float, step: float) -> np.ndarray:
        return level + step * noise.integers(-3, 4, time_s.size)

    itt = np.where(time_s < 80, made.channels["itt"].values, lively(540.0, 1.0))
    itt = np.where(time_s >= 300, 1200.0, itt)  # open
    itt[600:602] = 0.0
    ng = np.where(time_s < 60, made.channels["ng"].values, lively(59.0, 0.1))
    oil = lively(60.0, 0.5)
    oil[(time_s > 150) & (time_s < 200)] = 12.5  # stands still
    oil[900] = 380.0
    oil_c = lively(95.0, 0.5)
    oil_c[time_s > 200] = 0.0  # lost
    speed, height = lively(150.0, 1.0), lively(1000.0, 40.0)
    speed[700] = 900.0
    torque = lively(40.0, 0.5)
    torque[800:810] = 95.0
    flow = lively(80.0, 1.0)
    flow[1000] = -2000.0
    rows = {"itt": itt, "ng": ng, "oil_press": oil, "oil_temp": oil_c, "ias": speed, "palt": height, "torque": torque,
            "fuel_flow": flow, "oat": lively(20.0, 10.0), "vs": lively(100.0, 50.0)}  # fmt: skip
    channels = dict(made.channels) | {name: channel_of(name, values, time_s) for name, values in rows.items()}
    ramp = np.interp(time_s, [0, 10, 12, 46, 48, 400], [0, 0, 1, 1, 0, 0])
    channels["ignition"] = Channel("ignition", "0/1", time_s, ramp)
    late = np.concatenate([time_s[:1100], time_s[1100:] + 60.0])
    channels["gs"] = channel_of("gs", lively(150.0, 1.0), late)
    probes = {
        f"EGT {n}": Channel(
            f"EGT {n}", "degC", time_s, itt * (0.8 if n == 3 else 1.0) + n, f"EGT {n}", "degC"
        )
        for n in (1, 2, 3, 4)
    }
    steps = flags(channels, 460.0, low_probes(probes))
    while True:
        try:
            next(steps)
        except StopIteration as done:
            found = done.value
            break
    limits = (
        *PROFILE.limits,
        limit("oil_press_low", "oil_press", 40.0, "psi", below=True),
        limit("oil_temp_high", "oil_temp", 90.0, "degC"),
        limit("own_speed", "ias", 140.25, "kt"),
        limit("own_height", "palt", 900.0, "ft"),
        limit("own_flow", "fuel_flow", 75.0, "kg/h"),
    )
    profile = replace(PROFILE, limits=limits, flight=FlightRules(airborne_ias_kt=60.0))
    return assess(Recording(channels, float(late[-1]), quality=found), profile)


def without_speed() -> Assessment:
    """Return a hot start of which the end is not known, since Ng was not recorded."""
    traces = {name: corners for name, corners in normal_start(1100.0).items() if name != "ng"}
    return assess(recording(traces, 80.0), PROFILE)


def burning() -> Assessment:
    """Return residual heat at fuel on, and a temperature that rises after the cut."""
    traces = normal_start()
    traces["itt"] = [
        (0, 260),
        (23, 250),
        (30, 700),
        (48, 560),
        (80, 540),
        (90, 300),
        (95, 300),
        (100, 620),
        (140, 200),
    ]
    traces["ng"] = [*traces["ng"], (110, 0), (140, 0)]
    traces["fuel_on"] = [(0, 0), (22, 1), (80, 0)]
    return assess(recording(traces, 140.0), PROFILE)


def stands_still() -> Assessment:
    """Return a temperature that stands while the speed moves."""
    traces = normal_start()
    traces["itt"] = [(0, 15), (22, 15), (25, 610), (80, 610)]
    return assess(recording(traces, 80.0), PROFILE)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_demo_flight_says_the_same_facts_in_other_units(path) -> None:
    holds_all(assessed(path))


@pytest.mark.parametrize("made", [faulty, without_speed, burning, stands_still])
def test_what_is_planted_is_said_the_same_in_other_units(made) -> None:
    assert holds_all(made()) > 0


def test_no_kind_of_flag_and_no_kind_of_event_is_left_out() -> None:
    all_of_them = [*(assessed(path) for path in DEMOS), faulty(), without_speed(), burning(), stands_still()]
    assert {flag.kind for one in all_of_them for flag in one.quality} == set(KINDS)
    found = {event.kind for one in all_of_them for event in one.events}
    assert found >= {"own_speed", "own_height", "own_flow"}
    # Of these no sentence has a unit that can be chosen.
    assert set(EVENTS) - found <= {"overtorque", "overspeed_ng", "overspeed_np", "beta_in_flight"}


def test_what_is_said_because_ng_was_not_recorded_stays_in_other_units() -> None:
    (hot,) = (event for event in in_units(without_speed(), UNITS).events if event.kind == "hot_start")
    assert "1886 °F" in hot.message
    assert hot.message.endswith("When the start was over is not known: Ng was not recorded.")
    assert "not known" in in_units(without_speed(), UNITS).sentence


def test_a_lost_signal_is_told_in_the_units_chosen() -> None:
    (lost,) = (flag for flag in in_units(faulty(), UNITS).quality if flag.kind == "signal_lost")
    assert re.search(r"fell from 20\d\.\d* to 32 °F at", lost.message), lost.message


quantities = st.builds(
    Quantity,
    st.floats(-1e5, 1e5),
    st.sampled_from(["degC", "psi", "kg/h", "ft", "kt", "degC/s", "%", "s", "V"]),
    is_difference=st.booleans(),
    digits=st.sampled_from([None, 6]),
)


@given(
    st.lists(
        st.tuples(st.sampled_from(["ITT was ", "then {x} ", " to "]), quantities), min_size=1, max_size=5
    )
)
def test_any_sentence_holds_the_same_facts(rows) -> None:
    made = joined("; ", [words + sentence("{q}.", q=quantity) for words, quantity in rows])
    assert sum(isinstance(part, Quantity) for part in made.parts) == len(rows)
    holds_the_same(made, made.shown(UNITS))
