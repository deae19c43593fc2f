"""Checks of the evidence of measures: the samples that it names must repeat the value."""

from __future__ import annotations

from tests.analysis.fault_making import Analysis, catches, close
from tests.analysis.faults.rules import AFTER_CUT
from tests.analysis.recording_making import normal_start
from tests.analysis.repeating import repeated

SIGNALS = {
    "oat": [(0, 12)],
    "palt": [(0, 900)],
    "wind_speed": [(0, 10)],
    "wind_from": [(0, 30), (9.9, 30), (10.1, 200)],
    "heading": [(0, 90), (75, 120)],
    "battery_amps": [(0, 0), (10, 0), (10.2, 700), (20, 300), (54, 250), (55, 0)],
}


@catches(
    "evidence of measures",
    ("samples", "beside", "(k,) if alone else (k, k + 1)", "(k - 1,) if alone else (k - 1, k)"),
    ("samples", "edge", "(k - 1, k)", "(k, k + 1)"),
    ("samples", "nearest", "best = min(near", "best = max(near"),
    ("samples", "around", "(k - 1, k, k + 1)", "(k - 2, k - 1)"),
    ("samples", "around", "slice(int(first), int(last))", "slice(int(last), int(last))"),
    ("samples", "middle", "half - 1 : half + 1", "half : half + 2"),
    ("samples", "middle", "np.argsort(channel.values[rows]", "np.argsort(channel.time_s[rows]"),
    ("samples", "taken", "span.stop - 1", "span.stop - 2"),
    ("start_evidence", "_crossings", "[up, up + 1, down - 1, down]", "[up - 1, up, down - 1, down]"),
    ("start_evidence", "_crossings", "[up, up + 1, down - 1, down]", "[up, up + 1, down, down + 1]"),
    ("start_evidence", "_highest", "trace.negated() if lowest else trace", "trace"),
    ("start_evidence", "_inrush", "amps.between(on, on + 1.0)", "amps.between(on + 1.0, on + 2.0)"),
    ("start_evidence", "_slope", "fuel.on_s - over - 1e-9", "fuel.on_s - over + 0.5"),
    ("start_evidence", "_resting", '"bus_volts", begin, end', '"bus_volts", end - 0.5, end'),
    ("start_evidence", "_recovery", '"bus_volts", begin, end', '"bus_volts", begin - 1.0, begin'),
    ("start_evidence", "_cut_after", "float(rows[0, 0])", "float(rows[0, 1])"),
    ("start_evidence", "_runs", "run.end_s", "run.start_s"),
    ("start_reading", "steepest_between", "part.start + first,", "part.start + first + 1,"),
)
def the_samples_of_the_evidence_repeat_every_measure(lab: Analysis) -> None:
    # Volts that bend, so that no two places of them read the same.
    traces = normal_start() | AFTER_CUT | SIGNALS | {
        "itt": [(0, 15), (9, 20), (23, 30), (24, 630), (28, 1090), (33, 1000), (54, 160), (75, 100)],
        "bus_volts": [(0, 24), (7, 25.4), (10, 25), (10.125, 19), (53, 22), (55, 25), (60, 26), (75, 24)],
        "ng": [(0, 3), (10, 0), (17, 20), (21, 20), (22, 20.5), (33, 30), (54, 12), (75, 0)],
    }  # fmt: skip
    result = lab.judge(traces)
    start = result.starts[0]
    done = set()
    for name, measure in start.measures.items():
        if measure.value is None:
            continue
        again = repeated(name, start.evidence[name], result.recording)
        if again is not None:
            assert close(again, measure.value), name
            done.add(name)
    for name in ("peak_itt", "residual_itt_starter_on", "time_above_830", "cut_after_920", "min_bus_volts",
                 "rest_bus_volts", "bus_volts_recovery", "inrush_current", "headwind", "ng_at_fuel",
                 "ng_rate_at_fuel", "itt_rise_rate", "motored_after_cut", "starter_total"):  # fmt: skip
        assert name in done, name
