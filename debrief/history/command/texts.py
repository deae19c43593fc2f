"""What the history's commands print: one place for its words and its JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from debrief.analysis.model import Assessment
from debrief.history.model import Flight
from debrief.history.trends.series import Trend
from debrief.history.usual.baseline import MIN_STARTS, OF_FLIGHTS, USUAL_IS_NOT_A_LIMIT
from debrief.history.usual.comparing import Comparison
from debrief.session.texts.definitions import measure_title
from debrief.words.cautions import RANGE_COUNTS
from debrief.words.numbers import value_text
from debrief.words.visible import visible


def flight_lines(flight: Flight) -> tuple[str, str]:
    """Return the two lines of a kept flight: whose it is, then what was found, in the assessment's own words."""
    whose = " ".join(filter(None, (flight.aircraft, flight.engine_serial))) or "unnamed"
    when = "undated" if flight.start is None else _short(flight.start)
    starts = f"{flight.starts} start{'' if flight.starts == 1 else 's'}"
    head = f"{flight.file_name} ({flight.sha256[:12]}), {whose}, {when}, {starts}"
    return head, f"  {flight.sentence}"


def _short(start: str) -> str:
    """Return an instant to the minute, with its zone as it was given."""
    instant = datetime.fromisoformat(start)
    zone = instant.strftime("%z")
    return instant.strftime("%Y-%m-%d %H:%M") + {"": " (no zone)", "+0000": "Z"}.get(zone, f" {zone}")


def trend_document(one: Trend) -> dict[str, object]:
    """Return a trend as JSON types."""
    band = one.band
    return {
        "engine": one.engine,
        "measure": one.measure,
        "unit": one.unit,
        "usual": {
            **{
                name: getattr(band, name)
                for name in ("enough", "count", "centre", "spread", "low", "high", "frozen", "power")
            },
            "left_out": dict(band.left_out),
        },
        "points": [
            {
                "at_epoch_s": point.at_epoch_s,
                "value": point.value,
                "sha256": point.sha256,
                "start_number": point.start_number,
                "excluded": point.excluded,
                "outside": point.outside,
            }
            for point in one.points
        ],
        "shifts": [
            {
                "direction": shift.direction,
                "since_epoch_s": one.points[one.charted[shift.since]].at_epoch_s,
                "size": shift.size,
                "lasting": shift.lasting,
                "message": sentence,
            }
            for shift, sentence in one.changes
        ],
        "message": one.words,
    }


def nothing_to_compare(assessment: Assessment) -> str:
    """Return why no start of a recording could be compared."""
    identity = assessment.recording.identity
    if not assessment.starts:
        return "No start in this recording: nothing to compare."
    if not (identity.aircraft or identity.engine_serial):
        return "Not compared: no engine is named. Name it with --aircraft or --engine-serial."
    return "Not compared: nothing of these starts could be measured."


def trend_lines(found: Sequence[Trend], *, with_points: bool = False) -> list[str]:
    """Return the trends as text, under the name of each engine.

    Measures of one engine that share one sentence ("Not enough history ...") share one line.
    """
    out: list[str] = []
    for engine, group in groupby(found, key=lambda one: one.engine):
        out.append(visible(f"Engine {engine}"))
        shared: dict[str, list[str]] = {}
        for one in group:
            if not one.points and not with_points:
                continue
            if one.points and not one.band.enough:
                shared.setdefault(one.band.words, []).append(one.title)
            else:
                out.append(f"  {one.said}")
            out += [
                f"    left out: {left.file_name}, start {left.start_number}: {left.reason}"
                for left in one.band.excluded
            ]
            if with_points:
                out += [f"    {line}" for line in point_words(one)]
        out += [f"  {'; '.join(names)}: {words}" for words, names in shared.items()]
    if any(one.band.enough for one in found):
        out.append(USUAL_IS_NOT_A_LIMIT)
    if any(one.band.enough and one.band.kind != OF_FLIGHTS for one in found):
        out.append(RANGE_COUNTS)
    return out


def comparison_words(comparisons: Sequence[Comparison]) -> list[str]:
    """Return one line for each comparison; those without enough history share one for each start."""
    out: list[str] = []
    for (engine, start), group in groupby(comparisons, key=lambda one: (one.engine, one.start_number)):
        which = f"Start {start}" if engine == 1 else f"Engine {engine}, start {start}"
        shared: dict[str, list[str]] = {}
        for one in group:
            if one.outside is not None or one.band.count >= MIN_STARTS:
                out.append(f"{which}: {one.said}")
            else:
                shared.setdefault(one.band.words, []).append(measure_title(one.measure, one.band.names))
        out += [f"{which}: {'; '.join(names)}: {words}" for words, names in shared.items()]
    if any(one.band.enough for one in comparisons):
        out.append(USUAL_IS_NOT_A_LIMIT)
    return out


def point_words(one: Trend) -> list[str]:
    """Return one line for each start of a trend."""
    out = []
    for point in one.points:
        marks = "  outside the normal range" if point.outside else ""
        marks += f"  left out: {point.excluded}" if point.excluded is not None else ""
        value = value_text(point.value, one.unit)
        which = f"{point.file_name}, start {point.start_number}" if point.start_number else point.file_name
        out.append(f"{point.date}  {value:>10}  {which}{marks}")
    return out
