"""How an abort was flown: the first cue, each level crossing to the cut, motoring kept."""

from __future__ import annotations

from dataclasses import dataclass, field

from debrief.analysis.attempts import Attempt
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import stretches_above
from debrief.analysis.hung import Hang
from debrief.analysis.intervals import from_pairs, intersect
from debrief.analysis.light_off import Fuel
from debrief.analysis.model import Measure
from debrief.analysis.start_reading import missing, samples_beside
from debrief.recording.sentence import Quantity, Sentence, sentence


def abort_measures(view: EngineView, attempt: Attempt, cut: Fuel, until: float) -> dict[str, Measure]:
    """Return how the abort was flown: each level crossing to the cut, motoring kept, ITT at release."""
    out: dict[str, Measure] = {}
    itt = view.trace("itt")
    off = cut.off_s
    if off is None:
        return out
    off_low = off if cut.off_low_s is None else cut.off_low_s
    for limit in view.profile.limits:
        if itt is None or limit.channel != "itt" or limit.when != "start" or limit.below:
            continue
        for row in limit.allowed:
            part = itt.clip(attempt.begin_s, off)
            rows = intersect(stretches_above(part, row.level), from_pairs([(attempt.begin_s, off)]))
            if len(rows):
                first = float(rows[0, 0])
                before, after = samples_beside(itt, first)
                out[f"cut_after_{row.level:g}"] = Measure(
                    off - first, "s", max(off_low - after, 0.0), off - before
                )
    if not attempt.starter_inferred and view.channel("starter") is not None:
        kept = low = 0.0
        for run in attempt.runs:
            end = view.end_s if run.end_s is None else run.end_s
            kept += max(end - max(run.start_s, off), 0.0)
            low += max(run.start_s + run.duration_low_s - max(run.start_s, off), 0.0)
        high = kept + (off - off_low)
        cut_by_edge = any(r.end_s is None for r in attempt.runs)
        out["motored_after_cut"] = Measure(kept, "s", low, None if cut_by_edge else high)
        released = attempt.runs[-1].end_s if attempt.runs else None
        if itt is not None and released is not None and released > off:
            value = itt.at(released)
            out["itt_at_starter_release"] = (
                Measure(value, "degC") if value is not None else missing("degC", "no ITT sample there")
            )
        else:
            out["itt_at_starter_release"] = missing("degC", "the starter was not motoring after the cut")
    return out


@dataclass(frozen=True, order=True)
class Cue:
    """A sign that an attempt goes wrong: when, its bounds, in words, the channel that shows it and the profile's key."""

    at_s: float
    low_s: float
    high_s: float
    words: Sentence = field(compare=False)
    channel: str
    key: str


def first_cue(view: EngineView, attempt: Attempt, hang: Hang | None) -> Cue | None:
    """Return the first sign that the attempt goes wrong; None without one.

    Notes
    -----
    The earliest of: ITT passing the lowest level of a start limit; the hang; the light-off wait running out;
    the bus below the cranking minimum from 1 s after starter on. A cue is what the profile names, not what a
    crew should have seen: gauges lag and eyes move.
    """
    rules = view.profile.start
    cues: list[Cue] = []
    itt, volts = view.trace("itt"), view.trace("bus_volts")
    window = from_pairs([(attempt.begin_s, attempt.end_s)])
    levels = [
        (limit.allowed[0].level, f"limits.{limit.id}.allowed[1]")
        for limit in view.profile.limits
        if limit.channel == "itt" and limit.when == "start" and not limit.below
    ]
    if itt is not None and levels:
        level, key = min(levels)
        rows = intersect(stretches_above(itt.clip(attempt.begin_s, attempt.end_s), level), window)
        if len(rows):
            at = float(rows[0, 0])
            passed = sentence("ITT passed {level}", level=Quantity(level, "degC", is_given=True))
            cues.append(Cue(at, *samples_beside(itt, at), passed, "itt", key))
    if hang is not None and hang.start_s is not None:
        # A hang is seen once it has lasted as long as the rule asks, not when it begins.
        stood = hang.reason == "stagnated"
        seen = hang.start_s + ((rules.hung_for_s or 0.0) if stood else 0.0)
        words = sentence("Ng had stopped gaining" if stood else "idle was late")
        key = "start.hung_ng_rate_pct_per_s" if stood else "start.idle_within_s"
        cues.append(Cue(seen, seen, seen, words, "ng", key))
    fuel = attempt.last_fuel
    if (
        fuel is not None
        and rules.light_off_within_s is not None
        and fuel.source != "light_off"
        and itt is not None
    ):
        due = fuel.on_s + rules.light_off_within_s
        stop = view.end_s if fuel.off_s is None else fuel.off_s
        if (fuel.light_off_s is None or fuel.light_off_s > due) and due <= stop:
            low = due if fuel.on_low_s is None else fuel.on_low_s + rules.light_off_within_s
            words = sentence("no light-off in the time the profile allows")
            cues.append(Cue(due, low, due, words, "fuel_on", "start.light_off_within_s"))
    if (
        volts is not None
        and rules.min_bus_volts is not None
        and attempt.runs
        and not attempt.starter_inferred
    ):
        run = attempt.runs[0]
        end = view.end_s if run.end_s is None else run.end_s
        low_rows = intersect(
            stretches_above(volts.clip(run.start_s, end).negated(), -rules.min_bus_volts),
            from_pairs([(run.start_s + 1.0, end)]),
        )
        if len(low_rows):
            at = float(low_rows[0, 0])
            words = sentence(f"the bus fell below {rules.min_bus_volts:g} V")
            cues.append(Cue(at, *samples_beside(volts, at), words, "bus_volts", "start.min_bus_volts"))
    return min(cues, default=None)
