"""One finding of a limit, turned into the event that is reported."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from debrief.analysis.evidence.evidence_samples import event_samples
from debrief.analysis.limits.chart_bands import band_of, past_edge
from debrief.analysis.limits.counted_runs import Unit, counted_above, most_used_s
from debrief.analysis.model import CountedRuns, Event, Evidence, LevelResult, Result, Severity
from debrief.analysis.quality.doubt import Doubt
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S, Run
from debrief.analysis.signal.interval_sets import Window, from_pairs, intersect, union
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import FloatArray
from debrief.words import numbers
from debrief.words.sampling import highest_bound, lowest_bound
from debrief.words.sentence import Quantity, Sentence, joined, sentence, words
from debrief.words.starts import start_named

CURVE_LEVELS = 200
"""At how many levels a time-at-temperature curve is held against the bands."""


@dataclass(frozen=True, eq=False)
class Finding:
    """What was found in one start, one unbroken run or one engine cycle.

    `levels` pairs each row (level in the upright trace's sign) with its run; `unit` is what was judged by itself;
    `begin_s`..`end_s` spans the runs. `severity` is that of the rows it was found by, None for both.
    """

    unit: Unit
    begin_s: float
    end_s: float
    levels: tuple[tuple[AllowedRow, Run], ...]
    worst: Result
    severity: Literal["limit", "caution"] | None = None

    @property
    def start_number(self) -> int | None:
        """Of a limit for starts the start's number."""
        return self.unit.start_number

    @property
    def window(self) -> Window:
        """Where the limit applied."""
        return self.unit.window

    @property
    def counted(self) -> FloatArray:
        """Where it counted: the stretch, and a run that went on beyond the end of a start window."""
        runs = from_pairs((run.start_s, run.end_s) for _, run in self.levels)
        return union(np.concatenate((self.window.rows, runs)))


def result_of(run: Run, row: AllowedRow) -> Result:
    """Return how one run or sum compares with what its row allows.

    Exceeded when the estimate, as far as noise lets it be told, is longer than allowed (for zero seconds: when any sample
    is above), possible when only the upper bound is. A caution row is never more than a caution.
    """
    over = run.clear_s is not None and (row.seconds == 0 or run.clear_s > row.seconds + TOLERANCE_S)
    maybe = run.may_s is None or run.may_s > row.seconds + TOLERANCE_S
    if row.severity == "caution":
        return "caution" if over else "within"
    return "exceeded" if over else "possible" if maybe else "within"


def softened(levels: tuple[LevelResult, ...]) -> tuple[LevelResult, ...]:
    """Return the levels of an event that is only possible: none of them is firmer than the event."""
    return tuple(replace(one, result="possible") if one.result == "exceeded" else one for one in levels)


def event_from(
    view: EngineView,
    limit: Limit,
    finding: Finding,
    row_severity: Literal["limit", "caution"],
    trace: Trace,
    suspect: bool,
    above_base: CountedRuns | None,
    doubts: Sequence[Doubt] = (),
) -> Event | None:
    """Return the event of this severity, or None when no row of it was passed.

    The headline is the highest level exceeded, else the highest that may have been. `trace` is upright; `above_base` is
    what was counted above the base of the limit's chart, None without one.
    """
    sign = -1.0 if limit.below else 1.0
    passed = [
        (row, run)
        for row, run in finding.levels
        if row.severity == row_severity and result_of(run, row) != "within"
    ]
    if not passed:
        return None
    exceeded = [p for p in passed if result_of(p[1], p[0]) in ("exceeded", "caution")]
    row, run = (exceeded or passed)[-1]
    result = result_of(run, row)
    severity: Severity = "caution" if row_severity == "caution" else "limit" if exceeded else "possible"
    if suspect and severity == "limit":
        severity = "possible"
    own = [x for r, x in finding.levels if r.severity == row_severity]
    peak = _peak(trace, finding, own)
    band, seconds_above_base = _band(limit, trace, finding, above_base, peak.value)
    chosen = next((b for b in limit.bands if b.name == band), None)
    past = (None, None) if chosen is None else past_edge(chosen, peak.value, seconds_above_base)
    levels = tuple(
        LevelResult(
            sign * r.level,
            r.seconds,
            r.severity,
            x.duration_s,
            x.duration_low_s,
            x.duration_high_s,
            result_of(x, r),
            x.start_s,
            x.end_s,
        )
        for r, x in finding.levels
    )
    if suspect:
        levels = softened(levels)
    times, values = event_samples(view, limit.channel, run.start_s, run.end_s)
    key = f"limits.{limit.id}"
    decides = result == "possible"
    hides = "" if suspect else _hidden(limit, sign * peak.value, sign * peak.high)
    message = _message(view, limit, finding, row, run, (hides, sign * peak.value), sign, decides)
    if suspect:
        message += _suspicion(trace, row, run, doubts)
    rule = sentence(
        "{channel} {side} {level} at no time."
        if row.seconds == 0
        else "{channel} {side} {level} for no longer than {seconds} s ({count}).",
        channel=view.names.symbol(limit.channel),
        side="below" if limit.below else "above",
        level=Quantity(sign * row.level, limit.unit, is_given=True),
        seconds=numbers.plain(row.seconds),
        count="in total" if limit.count == "total" else "in one run",
    )
    return Event(
        kind=limit.event,
        event_class="engine",
        engine=view.engine,
        severity=severity,
        certain=result in ("exceeded", "caution")
        and not suspect
        and run.duration_low_s > row.seconds + TOLERANCE_S,
        sensor_suspect=suspect,
        start_s=run.start_s,
        end_s=run.end_s,
        channel=view.name_of(limit.channel),
        peak=sign * peak.value,
        peak_s=peak.time_s,
        peak_low=None if peak.low is None else sign * peak.low,
        peak_high=sign * peak.high,
        unit=limit.unit,
        level=sign * row.level,
        duration_s=run.duration_s,
        duration_low_s=run.duration_low_s,
        duration_high_s=run.duration_high_s,
        allowed_s=row.seconds,
        limit_id=limit.id,
        levels=levels,
        band=band,
        band_action=None if chosen is None else chosen.action,
        band_past_edge_value=past[0],
        band_past_edge_s=past[1],
        reference=limit.reference,
        start_number=finding.start_number,
        spans=tuple((float(a), float(b)) for a, b in run.pieces),
        message=message,
        evidence=Evidence(
            rule=rule,
            profile_key=key,
            profile_line=_line(view, limit, sign * row.level, row.seconds),
            formula=(
                "Straight lines between samples; the crossings are interpolated. Low: only stretches between "
                "samples both beyond the level by half a step of the recorder and two deviations of the noise. High: "
                "out to the samples just outside, and on to where the line comes within these of the level, or a "
                "tip between samples may have passed it. What decides is what the noise leaves beyond doubt."
            ),
            channel=view.name_of(limit.channel),
            times_s=times,
            values=values,
        ),
    )


def _line(view: EngineView, limit: Limit, level: float, seconds: float) -> int | None:
    """Return the line of the numbers that decide, as the measures have it; else where the limit begins."""
    key, lines = f"limits.{limit.id}", view.profile.lines
    places = [n for n, row in enumerate(limit.allowed, 1) if (row.level, row.seconds) == (level, seconds)]
    return next(
        (lines[f"{key}.allowed[{n}]"] for n in places if f"{key}.allowed[{n}]" in lines), lines.get(key)
    )


@dataclass(frozen=True)
class _Peak:
    """Time and value of the highest sample, and how low and high it may have been, in the upright trace's sign."""

    time_s: float
    value: float
    low: float | None
    high: float


def _peak(trace: Trace, finding: Finding, own: list[Run]) -> _Peak:
    """Return the highest sample with its bounds: of the whole start, else of the runs of this severity.

    Low: the highest sample where the limit surely applied. High: as high as it may have gone where the limit
    may have applied.
    """
    window = finding.window
    reach = from_pairs([(min(x.reach[0] for x in own), max(x.reach[1] for x in own))])
    span = from_pairs([(min(x.start_s for x in own), max(x.end_s for x in own))])
    if finding.start_number is None:
        counted, sure = span, intersect(window.inner, span)
        widest = intersect(window.outer, reach)
    else:
        counted = finding.counted
        begun = [x for x in own if len(window.inner) and x.start_s < window.inner[-1, 1]]
        sure = union(np.concatenate((window.inner, from_pairs((x.start_s, x.end_s) for x in begun))))
        sure = intersect(sure, counted)
        widest = union(np.concatenate((window.outer, counted, reach)))
    peak = trace.peak(counted)
    if peak is None:
        # The run lies between two samples: the higher of them is the highest that was recorded.
        k = int(np.searchsorted(trace.time_s, float(reach[0, 0]), side="right"))
        beside = trace.time_s[max(k - 1, 0)], trace.time_s[min(k, trace.time_s.size - 1)]
        peak = trace.peak(from_pairs([(float(beside[0]), float(beside[1]))]))
    assert peak is not None
    # Between the last sample of the run and the next one the signal may have gone higher still.
    around, least = trace.peak(widest), trace.peak(sure)
    low = None if least is None else least.low
    return _Peak(peak.time_s, peak.value, low, peak.high if around is None else max(peak.high, around.high))


def _band(
    limit: Limit, trace: Trace, finding: Finding, above_base: CountedRuns | None, peak: float
) -> tuple[str | None, float]:
    """Return the band's name and the seconds above the chart's base, as they were judged, [s]."""
    if above_base is None:
        return None, 0.0
    seconds = _used_s(above_base, finding)
    return band_of(limit, peak, seconds, _curve(limit, trace, finding)), seconds


def _used_s(counted: CountedRuns, finding: Finding) -> float:
    return most_used_s(counted, finding.start_number, finding.begin_s, finding.end_s)


def _curve(limit: Limit, trace: Trace, finding: Finding) -> Iterator[tuple[float, float]]:
    """Yield each level of the samples, [unit], that may lie in a band, with its seconds, counted as those of the limit."""
    part = trace.clip(float(finding.counted[0, 0]), float(finding.counted[-1, 1]))
    levels = np.unique(
        part.values[part.values >= min(level for band in limit.bands for level, _ in band.points)]
    )
    if levels.size > CURVE_LEVELS:
        levels = levels[np.linspace(0, levels.size - 1, CURVE_LEVELS).astype(int)]
    for level in levels.tolist():
        yield level, _used_s(counted_above(limit, part, level, [finding.unit]), finding)


def _hidden(limit: Limit, peak: float, furthest: float) -> str:
    """Return what stands before an extreme that may lie further than its sample by more than matters."""
    if limit.below:
        return lowest_bound(peak, furthest, None, limit.unit)
    return highest_bound(peak, None, furthest, limit.unit)


def _suspicion(trace: Trace, row: AllowedRow, run: Run, doubts: Sequence[Doubt]) -> Sentence:
    """Return why the sensor is suspect."""
    why = next((d.why for d in doubts if d.start_s < run.end_s and run.start_s < d.end_s), None)
    if why is None:
        beyond = np.count_nonzero(trace.values[trace.between(run.start_s, run.end_s)] > row.level)
        count = "one sample" if beyond == 1 else "single samples"
        return words(f" It rests on {count} that no engine can make: sensor suspect.")
    return joined("", [" Sensor suspect: ", why, "."])


def _message(
    view: EngineView,
    limit: Limit,
    finding: Finding,
    row: AllowedRow,
    run: Run,
    extreme: tuple[str, float],
    sign: float,
    bounds_decide: bool,
) -> Sentence:
    """Return the finding in words: with the bounds of its duration only where these decide.

    Before the `extreme` stands whether samples may have missed it.
    """
    bound, peak = extreme
    number = finding.start_number
    template = "{who} was {side} {level} for {length}{where}, {allowed}; {extreme} {peak}."
    length = numbers.brief_duration(run.duration_s, run.duration_low_s, run.duration_high_s, row.seconds)
    if bounds_decide:
        length = numbers.duration_text(run.duration_s, run.duration_low_s, run.duration_high_s)
        if not run.measured:
            template = (
                "{who} may have been {side} {level} between samples{where}, {allowed}; {extreme} {peak}."
            )
        elif row.seconds > 0 and (run.clear_s or 0.0) < run.duration_s:
            template = (
                "{who} stood at {level}{where} as far as its readings tell, {side} it for {length}, "
                "{allowed}; {extreme} {peak}."
            )
    return sentence(
        template,
        who=view.names.symbol(limit.channel),
        side="below" if limit.below else "above",
        level=Quantity(sign * row.level, limit.unit, is_given=True),
        length=length,
        where="" if number is None else f" in {start_named(number, view.start_count)}",
        allowed="not allowed at any time" if row.seconds == 0 else f"{numbers.plain(row.seconds)} s allowed",
        extreme=f"{'lowest' if limit.below else 'peak'} {bound}".rstrip(),
        peak=Quantity(peak, limit.unit, beside=sign * row.level),
    )
