"""One measure of one engine over time: its points, charts and shifts, from what the history keeps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from debrief.history.display_units import History
from debrief.history.model import Maintenance, PastStart
from debrief.history.trends.control_charts import Ewma, Shift, ewma, shifts
from debrief.history.usual.baseline import OF_FLIGHTS, OUTSIDE_SPREADS, Band, usual_band
from debrief.session.texts.definitions import measure_title
from debrief.words.channels import ChannelNames
from debrief.words.numbers import value_text

SLACK, DECISION, WEIGHT = 0.5, 8.0, 0.2
"""Of the cumulative sums, in spreads, and of the moving average: they look for a shift by one spread.

The textbook's decision value of 5 raises a false signal once in some 470 values. An owner looks at six
measures of each engine, with a spread learnt from thirty starts: 8 makes that one in some thousands and says
a shift by one spread after some sixteen starts instead of ten.
"""


@dataclass(frozen=True)
class Point:
    """One completed start in a trend, or one flight. `outside` is None while nothing is called usual."""

    at_epoch_s: float
    value: float
    sha256: str
    start_number: int
    """0 where the point is a whole flight."""
    file_name: str
    excluded: str | None
    outside: bool | None

    @property
    def date(self) -> str:
        """The day, as a person writes it."""
        return date_text(self.at_epoch_s)


@dataclass(frozen=True, eq=False)
class Trend:
    """One measure of one engine since its last maintenance action.

    Attributes
    ----------
    points : tuple of Point
        Completed starts in order of time.
    charted : tuple of int
        Indices into `points` of those in the charts: all that no person excluded.
    average : Ewma or None
        Over the charted points; None when there is not enough history.
    changes : tuple of (Shift, str)
        Lasting changes, indices into the charted points, each with its sentence.
    band : Band
        What is usual: centre and spread of every chart.
    """

    engine: str
    measure: str
    unit: str
    points: tuple[Point, ...]
    charted: tuple[int, ...]
    band: Band
    average: Ewma | None = None
    changes: tuple[tuple[Shift, str], ...] = ()
    maintenance: tuple[Maintenance, ...] = ()

    @property
    def title(self) -> str:
        """The measure in words."""
        return measure_title(self.measure, self.band.names)

    def named(self, names: ChannelNames) -> Trend:
        """Return the same, said with a recording's names of its channels."""
        return replace(self, band=replace(self.band, names=names))

    @property
    def words(self) -> str:
        """What a person needs to know first, in one or two sentences."""
        return self._words(self.band.words)

    @property
    def said(self) -> str:
        """The same where several stand together and what a normal range is not is said once."""
        return self._words(self.band.said)

    def _words(self, band: str) -> str:
        if not self.points:
            what = "flight" if self.band.kind == OF_FLIGHTS else "completed start"
            return f"{self.title}: no dated {what} has it."
        head = f"{self.title}: {band}"
        if not self.band.enough:
            return head
        if not self.changes:
            many = len(self.charted)
            return f"{head} No lasting shift in {many} {self.band.noun(many)}."
        return " ".join([head, *(sentence for _, sentence in self.changes)])


def date_text(epoch_s: float) -> str:
    """Return the day of an instant in UTC, as ``2031-04-01``; outside the years 1 to 9999 that it is not known."""
    try:
        # Not from a time stamp: on some systems that goes no further back than 1970.
        return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=epoch_s)).date().isoformat()
    except (OverflowError, ValueError):
        return "date not known"


def trend(store: History, engine: str, measure: str, *, power: str | None = None) -> Trend:
    """Return the trend of one measure of an engine's starts since its last maintenance action.

    Parameters
    ----------
    store : History
        The open history.
    engine, measure : str
        As `Store.engines` and `start_values` name them.
    power : str, optional
        Only starts with this power source; that of most starts when not given.

    Notes
    -----
    Centre and spread of all charts are the normal range's, learnt from the first starts and then frozen, so
    that a slow drift is seen. Excluded starts are shown but not charted.
    """
    past = store.starts(engine)
    chosen = power or _usual_power(past)
    return trend_of(past, store.maintenance(engine), engine, measure, power=chosen)


def trend_of(
    past: Sequence[PastStart],
    actions: tuple[Maintenance, ...],
    engine: str,
    measure: str,
    *,
    power: str,
    kind: str = "ground",
) -> Trend:
    """Return the trend of one measure of starts of one power source and kind; see `trend`.

    Parameters
    ----------
    past : sequence of PastStart
        In order of time.
    actions : tuple of Maintenance
        Of the engine, in order of time.
    """
    begin = actions[-1].at_epoch_s if actions else float("-inf")
    band = usual_band(past, measure, engine=engine, power=power, kind=kind, maintenance=actions)
    points = tuple(
        Point(
            at_epoch_s=start.at_epoch_s,
            value=start.values[measure].value,
            sha256=start.sha256,
            start_number=start.number,
            file_name=start.file_name,
            excluded=start.excluded,
            outside=None
            if band.low is None or band.high is None
            else not band.low <= start.values[measure].value <= band.high,
        )
        for start in past
        if start.at_epoch_s is not None
        and start.at_epoch_s >= begin
        and start.outcome == "completed"
        and (start.power, start.kind) == (power, kind)
        and measure in start.values
        and start.values[measure].unit == band.unit
    )
    charted = tuple(index for index, point in enumerate(points) if point.excluded is None)
    if band.centre is None or band.spread is None:
        return Trend(engine, measure, band.unit, points, charted, band, maintenance=actions)
    values = [points[index].value for index in charted]
    found = shifts(values, target=band.centre, sigma=band.spread, slack=SLACK, decision=DECISION)
    return Trend(
        engine=engine,
        measure=measure,
        unit=band.unit,
        points=points,
        charted=charted,
        band=band,
        average=ewma(values, target=band.centre, sigma=band.spread, weight=WEIGHT, width=OUTSIDE_SPREADS),
        changes=tuple(
            (shift, _shift_words(shift, points, charted, band)) for shift in found if _shows(shift, band)
        ),
        maintenance=actions,
    )


def _usual_power(past: Sequence[PastStart]) -> str:
    powers = Counter(start.power for start in past if start.outcome == "completed")
    return powers.most_common(1)[0][0] if powers else "unknown"


def _shows(shift: Shift, band: Band) -> bool:
    """Return whether a shift is one as printed: a change that rounds to zero is none."""
    return value_text(abs(shift.size), band.unit) != value_text(0.0, band.unit)


def _shift_words(shift: Shift, points: Sequence[Point], charted: Sequence[int], band: Band) -> str:
    first, last = points[charted[shift.since]], points[charted[shift.until]]
    many = shift.until - shift.since + 1
    where = "higher" if shift.size > 0 else "lower"
    one_day = f"on {first.date}" if first.date == last.date else f"from {first.date} to {last.date}"
    when = f"since {first.date}" if shift.lasting else one_day
    starts = f"{'median of ' if many > 1 else ''}{many} {band.counted(many)}"
    return (
        f"Shifted: {value_text(abs(shift.size), band.unit)} {where} than normal "
        f"({value_text(band.centre, band.unit)}) {when} ({starts})."
    )
