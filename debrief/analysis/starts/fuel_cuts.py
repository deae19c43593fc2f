"""The fuel cuts of an attempt before idle: which is judged, its first cue, the motoring after it, and the notes on it."""

from __future__ import annotations

from dataclasses import dataclass, field

from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.interval_sets import from_pairs, intersect
from debrief.analysis.signal.point_readings import samples_beside
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.hang_detection import Hang
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import FloatArray
from debrief.words import numbers
from debrief.words.sentence import Quantity, Sentence, sentence


@dataclass(frozen=True)
class Cut:
    """A fuel cut before idle, with what belongs to it.

    `begin_s` is the opening of the attempt, of a later fuel when it came: what the fuel before left behind is no sign
    of this one. `again` is the fuel that came after it in the same attempt, None where none did.
    """

    fuel: Fuel
    off_s: float
    begin_s: float
    again: Fuel | None

    @property
    def low_s(self) -> float:
        """The last sample with fuel, [s]."""
        return self.off_s if self.fuel.off_low_s is None else self.fuel.off_low_s

    @property
    def window(self) -> FloatArray:
        """From where its cues count to the cut, (1, 2)."""
        return from_pairs([(self.begin_s, self.off_s)])


def cuts_of(attempt: Attempt) -> list[Cut]:
    """Return the recorded fuel cuts of an attempt before it reached idle, in order."""
    out: list[Cut] = []
    idle = attempt.idle_s
    for n, fuel in enumerate(attempt.fuels):
        off = fuel.off_s
        if off is None or fuel.off_inferred or (idle is not None and off >= idle):
            continue
        if attempt.idle_unseen is not None and fuel.light_off_s is not None:
            continue  # it may have been a shutdown
        begin = fuel.on_s if n else attempt.begin_s
        out.append(Cut(fuel, off, begin, attempt.fuels[n + 1] if n + 1 < len(attempt.fuels) else None))
    return out


def judged_cut(cuts: list[Cut]) -> Cut | None:
    """Return the cut that the measures of an abort are of: the last of fuel that burned, else the last."""
    burnt = [cut for cut in cuts if cut.fuel.light_off_s is not None]
    return (burnt or cuts)[-1] if cuts else None


def motored_after(view: EngineView, attempt: Attempt, cut: Cut) -> Measure | None:
    """Return how long the starter turned the engine after a cut, until fuel came again; None without its signal."""
    if attempt.starter_inferred or view.channel("starter") is None:
        return None
    off, again = cut.off_s, cut.again
    stop = view.end_s if again is None else again.on_s
    stop_low = stop if again is None or again.on_low_s is None else again.on_low_s
    kept = low = high = 0.0
    for run in attempt.runs:
        end = min(view.end_s if run.end_s is None else run.end_s, stop)
        kept += max(end - max(run.start_s, off), 0.0)
        low += max(min(run.start_s + run.duration_low_s, stop_low) - max(run.start_s, off), 0.0)
        first = run.start_s if run.start_low_s is None else run.start_low_s
        high += max(end - max(first, cut.low_s), 0.0)
    cut_by_edge = again is None and any(r.end_s is None for r in attempt.runs)
    return Measure(kept, "s", low, None if cut_by_edge else high)


@dataclass(frozen=True, order=True)
class Cue:
    """A sign that an attempt goes wrong: when, its bounds, in words, the channel that shows it and the profile's key."""

    at_s: float
    low_s: float
    high_s: float
    words: Sentence = field(compare=False)
    channel: str
    key: str


def first_cue(view: EngineView, attempt: Attempt, hang: Hang | None, cut: Cut) -> Cue | None:
    """Return the first sign before a cut that the attempt goes wrong; None without one.

    Notes
    -----
    The earliest of: ITT passing the lowest level of a start limit; the hang; the light-off wait running out;
    the bus below the cranking minimum from 1 s after starter on. A cue is what the profile names, not what a
    crew should have seen: gauges lag and eyes move.
    """
    rules = view.profile.start
    cues: list[Cue] = []
    itt, volts = view.trace("itt"), view.trace("bus_volts")
    if itt is not None and view.start_levels:
        level, keys = min(view.start_levels.items())
        rows = intersect(stretches_above(itt.clip(cut.begin_s, cut.off_s), level), cut.window)
        if len(rows):
            at = float(rows[0, 0])
            passed = sentence(
                "{itt} passed {level}", itt=view.names.itt, level=Quantity(level, "degC", is_given=True)
            )
            cues.append(Cue(at, *samples_beside(itt, at), passed, "itt", min(keys)))
    if hang is not None and cut.begin_s <= hang.start_s <= cut.off_s:
        # A hang is seen once it has lasted as long as the rule asks, not when it begins.
        stood = hang.reason == "stagnated"
        seen = hang.start_s + ((rules.hung_for_s or 0.0) if stood else 0.0)
        words = sentence("Ng had stopped gaining" if stood else "idle was late")
        key = "start.hung_ng_rate_pct_per_s" if stood else "start.idle_within_s"
        cues.append(Cue(seen, seen, seen, words, "ng", key))
    fuel = cut.fuel
    if rules.light_off_within_s is not None and fuel.source != "light_off" and itt is not None:
        due = fuel.on_s + rules.light_off_within_s
        if (fuel.light_off_s is None or fuel.light_off_s > due) and due <= cut.off_s:
            low = due if fuel.on_low_s is None else fuel.on_low_s + rules.light_off_within_s
            words = sentence("no light-off in the time allowed")
            cues.append(Cue(due, low, due, words, "fuel_on", "start.light_off_within_s"))
    if volts is not None and rules.min_bus_volts is not None and not attempt.starter_inferred:
        for run in attempt.runs:
            end = view.end_s if run.end_s is None else run.end_s
            low_rows = intersect(
                stretches_above(volts.clip(run.start_s, end).negated(), -rules.min_bus_volts),
                intersect(from_pairs([(run.start_s + 1.0, end)]), cut.window),
            )
            if len(low_rows):
                at = float(low_rows[0, 0])
                words = sentence(f"the bus fell below {rules.min_bus_volts:g} V")
                cues.append(Cue(at, *samples_beside(volts, at), words, "bus_volts", "start.min_bus_volts"))
    cue = min(cues, default=None)
    return None if cue is None or cue.at_s > cut.off_s else cue


def cue_to_cut(cut: Cut, cue: Cue) -> Measure:
    """Return how long after its first cue the fuel was cut, [s]."""
    low = max(cut.low_s - cue.high_s, 0.0)
    return Measure(cut.off_s - cue.at_s, "s", low, cut.off_s - cue.low_s)


def cut_notes(
    view: EngineView, attempt: Attempt, hang: Hang | None, cuts: list[Cut], judged: Cut
) -> list[Sentence]:
    """Return which cut the measures are of, and how each other was made; nothing where there was one."""
    if len(cuts) < 2:
        return []
    burned = "" if judged.fuel.light_off_s is None else " of fuel that burned"
    out = [
        sentence(
            "Fuel was cut {count} times before idle: the abort is measured from the last cut-off{burned}, at {at}.",
            count=len(cuts), burned=burned, at=numbers.clock_text(judged.off_s),
        )
    ]  # fmt: skip
    for cut in cuts:
        if cut is judged:
            continue
        cue, kept = first_cue(view, attempt, hang, cut), motored_after(view, attempt, cut)
        words = "The cut-off at {at}" + (" of fuel that had not lit" if cut.fuel.light_off_s is None else "")
        words += (
            " came with no cue before it"
            if cue is None
            else " came {length} after its first cue ({cue} at {seen})"
        )
        if kept is not None and kept.value is not None:
            words += "; the starter motored for {motored} " + (
                "after it" if cut.again is None else "until fuel came again"
            )
        values: dict[str, str | Sentence] = {"at": numbers.clock_text(cut.off_s)}
        if cue is not None:
            values["length"] = _text(cue_to_cut(cut, cue))
            values["cue"], values["seen"] = cue.words, numbers.clock_text(cue.at_s)
        if kept is not None:
            values["motored"] = _text(kept)
        out.append(sentence(words + ".", **values))
    return out


def motored_on(following: Attempt | None, number: int) -> list[Sentence]:
    """Return that the engagement after an abort motored on, where that opened an attempt of its own without fuel."""
    if following is None or following.fuels or following.starter_inferred or not following.runs:
        return []
    runs = following.runs
    high = (
        None if any(r.duration_high_s is None for r in runs) else sum(r.duration_high_s or 0.0 for r in runs)
    )
    length = numbers.brief_duration(
        sum(r.duration_s for r in runs), sum(r.duration_low_s for r in runs), high
    )
    words = "The starter engaged again at {at} and motored for {length} without fuel: that is start {number}."
    return [sentence(words, at=numbers.clock_text(runs[0].start_s), length=length, number=number)]


def _text(measure: Measure) -> str:
    return numbers.brief_duration(measure.value or 0.0, measure.low, measure.high)
