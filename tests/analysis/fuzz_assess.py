"""Throws small hostile recordings at everything that judges, words, draws or writes them.

Run as a script for a long campaign: ``python -m tests.analysis.fuzz_assess --count 20000 --seed 1``. It stops at
the first recording that makes a step raise anything but `UserError`, warn, write a document that the schema does
not describe, or take longer than three seconds, and says how to repeat it (``--only NUMBER``).
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.profile.loader import load
from debrief.profile.model import EngineProfile
from debrief.recording.model import Channel, Recording
from debrief.recording.reader import read
from debrief.report.content.options import ReportOptions, Selection
from debrief.report.content.whole_report import build
from debrief.report.formats.tables import csv_text
from debrief.report.formats.text import assessment_text
from debrief.resources import resource
from debrief.session.assessing.starter_rest import rest_before
from debrief.session.assessing.user_inputs import stated
from debrief.session.charts.start_charts import plane_chart, time_chart
from debrief.session.charts.start_overlay import difference_rows, overlay
from debrief.session.comparing.start_curves import INSTANTS, start_curves
from debrief.session.document import assessment_document, dumps
from debrief.session.evidence.deciding_samples import deciding_samples
from debrief.session.evidence.why import factor_why, flight_whys, measure_why
from debrief.session.evidence.why_page import as_html, as_text, subjects, why_page
from debrief.session.lanes.lane_stack import prepare_lane
from debrief.session.limits.instrument_readings import discretes
from debrief.session.limits.limit_clock import running_windows, windows_of
from debrief.session.limits.trial import LimitTrial
from debrief.session.session import prepare
from debrief.session.texts.in_units import in_units
from debrief.words.channels import CANONICAL, DISCRETE, ENGINE_CHANNELS, base_name
from debrief.words.display_units import shown_units

MAX_SECONDS = 3.0
OTHER_UNITS = shown_units(
    {"temperature": "degF", "pressure": "bar", "fuel flow": "lb/h", "altitude": "m", "speed": "km/h"}
)
_DATA = Path(__file__).resolve().parent.parent / "data" / "profiles"
_START = ["ng", "itt", "fuel_on", "fuel_flow", "starter", "bus_volts", "battery_amps"]
_OTHERS = [name for name in CANONICAL if name not in _START]
_MOST, _MOST_UNMAPPED = 9.9e6, 9.9e29
"""What the reader lets through at most, as a channel and as a column that matched none."""

_EDGES = [0.0, -0.0, 1.0, -1.0, 5e-324, -5e-324, 1e-300, _MOST, -_MOST, 1e5, -1e5, 0.5, 100.0]
_LEVELS = [
    2.0,
    5.0,
    15.0,
    29.5,
    30.5,
    57.0,
    58.0,
    72.0,
    101.5,
    190.0,
    300.0,
    780.0,
    830.0,
    830.1,
    920.0,
    1030.0,
]


@cache
def profiles() -> tuple[EngineProfile, ...]:
    """Return the shipped profiles and the one that uses every key."""
    files = [*sorted(resource("profiles").glob("*.toml")), _DATA / "every_key.toml"]
    return tuple(load(file) for file in files)


@cache
def _schema() -> Any:
    return jsonschema.Draft202012Validator(json.loads(resource("assessment.schema.json").read_text("utf-8")))


def _times(rng: random.Random) -> list[float]:
    """Return sample times: few, sparse, close together, far apart, long after the beginning."""
    count = rng.choice([1, 1, 2, 2, 3, 4, 5, 8, 12, 30, 80])
    step = rng.choice([0.2, 1.0, 1.0, 0.0625, 3.0, 60.0, 1e-6, 1e5])
    at = rng.choice([0.0, 0.0, 0.0, step, 7.3, 1e6])
    out = []
    for _ in range(count):
        out.append(at)
        at += step * rng.choice([1.0, 1.0, 1.0, 1.0, 0.01, 4.0, 30.0])
    return [a for a, b in pairwise(out) if b > a] + out[-1:]


def _values(name: str, count: int, rng: random.Random) -> list[float]:
    if base_name(name) in DISCRETE:
        kind = rng.randrange(5)
        if kind == 0:
            return [float(rng.random() < 0.5) for _ in range(count)]
        turn = rng.randint(0, count)
        first = float(kind % 2)
        last = first if kind == 4 else 1.0 - first
        return [first if k < turn else last for k in range(count)]
    kind = rng.randrange(7)
    if kind == 0:
        return [rng.choice(_LEVELS)] * count
    if kind == 1:
        return [rng.choice(_LEVELS + _EDGES) for _ in range(count)]
    if kind == 2:
        return [rng.choice(_EDGES) for _ in range(count)]
    if kind == 3:  # a start: it stands, rises, stays
        low, high, turn = rng.choice([0.0, 15.0, 20.0, 34.0]), rng.choice(_LEVELS), rng.randint(0, count)
        return [low if k < turn else high for k in range(count)]
    if kind == 4:
        corners = sorted((rng.randint(0, count), rng.choice(_LEVELS)) for _ in range(4))
        return [float(v) for v in np.interp(range(count), *zip(*corners, strict=True))]
    if kind == 5:
        middle, spread = rng.choice(_LEVELS), rng.choice([0.1, 5.0, 60.0, 500.0])
        return [rng.gauss(middle, spread) for _ in range(count)]
    return [rng.choice([-1.0, 1.0]) * 10.0 ** rng.uniform(-308, 7) for _ in range(count)]


def a_recording(rng: random.Random) -> Recording:
    """Return a recording such as a reader may hand over: each channel with its own finite samples."""
    names = [n for n in _START if rng.random() < 0.6] + [n for n in _OTHERS if rng.random() < 0.12]
    if rng.random() < 0.1:
        names += [f"{n}.2" for n in names if n in ENGINE_CHANNELS and rng.random() < 0.7]
    shared = _times(rng)
    channels = {}
    for name in names:
        times = shared
        if rng.random() < 0.3:
            times = _times(rng)
        elif rng.random() < 0.5:  # blank cells
            share = rng.choice([0.2, 0.5, 0.9])
            times = [t for t in shared if rng.random() > share] or shared[rng.randrange(len(shared)) :][:1]
        unit = CANONICAL[base_name(name)]
        if base_name(name) in ("ng", "np") and rng.random() < 0.1:
            unit = "rpm"
        values = np.array(_values(name, len(times), rng))
        resolution = rng.choice([None, None, 0.1, 1.0, 25.0])
        channels[name] = Channel(name, unit, np.array(times), values, column=name, resolution=resolution)
    ends = [float(c.time_s[-1]) for c in channels.values()]
    unmapped = {}
    if rng.random() < 0.1:
        values = [rng.choice([*_EDGES, _MOST_UNMAPPED, -_MOST_UNMAPPED]) for _ in shared]
        unmapped["Note"] = Channel("Note", "", np.array(shared), np.array(values), column="Note")
        ends.append(shared[-1])
    return Recording(channels, max(ends, default=0.0), unmapped)


_HEADS = [
    "time",
    "Ng (%)",
    "ITT (degC)",
    "Fuel on",
    "Starter",
    "Bus V",
    "Oil press (psi)",
    "OAT (degC)",
    "IAS (kt)",
]
_CELLS = [
    "",
    "",
    "",
    "0",
    "1",
    "34",
    "58",
    "803",
    "1030",
    "-5",
    "nan",
    "1e300",
    "-1e300",
    "4e-320",
    "ON",
    "OFF",
    "---",
]


def a_file(rng: random.Random, folder: Path) -> Recording:
    """Return what the reader makes of a small hostile file."""
    heads = rng.sample(_HEADS[1:], rng.randint(1, 6))
    timed = rng.random() < 0.5
    rows = [",".join(["time"] * timed + heads)]
    at = 0.0
    for _ in range(rng.choice([1, 2, 3, 5, 9, 40])):
        at += rng.choice([1.0, 1.0, 0.0, 0.2, 20.0])
        rows.append(",".join([f"{at:g}"] * timed + [rng.choice(_CELLS) for _ in heads]))
    path = folder / "made.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return read(path, rate_hz=None if timed else 5.0)


def _paper(rng: random.Random, shown: Assessment) -> None:
    reader = rng.choice(["pilot", "student", "technician"])
    numbers: list[int | None] = [None, None, *(s.number for s in shown.starts[:2])]
    selection = Selection(rng.random() < 0.2, rng.choice(numbers))
    content = build(shown, ReportOptions(selection, reader))  # type: ignore[arg-type]
    if rng.random() < 0.02:
        from debrief.report.formats.picture import picture
        from debrief.report.pdf.paint import pdf_bytes_steps, screen_measurer
        from debrief.steps import done

        done(pdf_bytes_steps(content, (210.0, 297.0)))
        picture(shown, selection, screen_measurer())


def _window(rng: random.Random, shown: Assessment) -> None:
    """Work out all that the window shows which needs no Qt."""
    recording = shown.recording
    moments = [rng.uniform(-1.0, recording.duration_s + 1.0) for _ in range(2)] + [0.0, recording.duration_s]
    for engine in recording.engines:
        prepared = prepare(shown, engine)
        for instrument in prepared.instruments:
            for moment in moments:
                instrument.read(moment)
            instrument.measured(moments[0], moments[1])
        for moment in moments:
            discretes(shown, moment, engine)
        for name in list(recording.channels)[:3]:
            prepare_lane(shown, base_name(name), engine)
        running_windows(shown, engine)
        if shown.profile is not None:
            for limit in shown.profile.limits:
                windows_of(shown, limit, engine)
    stated(shown)
    for event in shown.events:
        deciding_samples(shown, event)
    for start in shown.starts:
        plane_chart(shown, start)
        time_chart(shown, start)
    for one, other in pairwise(shown.starts[:3]):
        for instant in INSTANTS:
            sides = [
                start_curves(shown, side, name).shown(shown.units)
                for side, name in ((one, "one"), (other, "other"))
            ]
            if all(instant in side.moments for side in sides):
                overlay(*sides, instant)
        difference_rows(one.measures, other.measures)


def _why(shown: Assessment) -> None:
    for start in shown.starts:
        for name in start.measures:
            measure_why(shown, start, name)
        for factor in start.factors:
            factor_why(shown, start, factor)
    flight_whys(shown)
    for subject, _ in subjects(shown):
        page = why_page(shown, subject)
        assert as_text(page)
        assert as_html(page)
    for result in shown.limits:
        for row, level in enumerate(result.levels):
            trial = LimitTrial(shown, result, row)
            same = trial.judged(trial.level, trial.seconds)
            assert replace(same, level=level.level) == level, (result.id, same, level)


def _document(assessment: Assessment) -> None:
    text = dumps(assessment_document(assessment))
    _schema().validate(json.loads(text))


def steps(
    rng: random.Random, recording: Recording, profile: EngineProfile | None
) -> Iterator[tuple[str, Callable[[], object]]]:
    """Yield each step by name: what it makes is checked while it is made."""
    earlier = rest_before(40.0) if rng.random() < 0.2 else ()
    made: list[Assessment] = []
    yield "assess", lambda: made.append(assess(recording, profile, earlier))
    assessment = made[0]
    yield "document", lambda: _document(assessment)
    yield "text", lambda: assessment_text(assessment)
    yield "csv", lambda: csv_text(assessment)
    yield "why", lambda: _why(assessment)
    yield "window", lambda: _window(rng, assessment)
    yield "paper", lambda: _paper(rng, assessment)
    shown: list[Assessment] = []
    yield "units", lambda: shown.append(in_units(assessment, OTHER_UNITS))
    yield "why in other units", lambda: _why(shown[0])
    yield "text in other units", lambda: assessment_text(shown[0])
    if rng.random() < 0.3:
        yield "window in other units", lambda: _window(rng, shown[0])
        yield "paper in other units", lambda: _paper(rng, shown[0])


def try_one(rng: random.Random, folder: Path) -> str:
    """Make a recording and take it through every step; return what became of it."""
    step = "read"
    began = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            recording = a_file(rng, folder) if rng.random() < 0.2 else a_recording(rng)
            profile = rng.choice([*profiles(), *profiles(), None])
            for step, do in steps(rng, recording, profile):  # noqa: B007 (told below)
                do()
        except UserError as error:
            if step == "read":
                return "refused"
            raise AssertionError(f"{step}: refused what had been read: {error}") from error
        except Exception as error:
            raise AssertionError(f"{step}: {type(error).__name__}: {error}") from error
    took = time.process_time() - began
    assert took < MAX_SECONDS, f"took {took:.1f} s"
    if profile is None:
        return "no profile"
    return (
        "start"
        if any("starter_on_s" in s.inferred or s.fuel_periods for s in assess(recording, profile).starts)
        else "none"
    )


def campaign(
    count: int, seed: int, folder: Path, say: Callable[[str], None] = lambda text: None, first: int = 0
) -> Counter[str]:
    """Run `count` recordings of this seed; raise on the first that breaks a promise."""
    outcomes: Counter[str] = Counter()
    for number in range(first, first + count):
        try:
            outcomes[try_one(random.Random(f"{seed}/{number}"), folder)] += 1
        except AssertionError as error:
            raise AssertionError(f"seed {seed}, recording {number}: {error}") from error
        if number % 1000 == 999:
            say(f"{number + 1} recordings, {dict(outcomes)}")
    return outcomes


def main() -> int:
    """Run a campaign from the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, default=None, help="the number of one recording")
    options = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    first, count = (0, options.count) if options.only is None else (options.only, 1)
    outcomes = campaign(count, options.seed, folder, lambda text: print(text, flush=True), first)
    print(f"{count} recordings: {dict(outcomes)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
