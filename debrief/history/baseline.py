"""What is usual for one engine: a robust band of its own completed starts, and how a start compares.

Usual is not a limit: nothing here changes an event or a verdict, and a start inside its usual band may have
exceeded a limit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from debrief.analysis.model import Assessment
from debrief.history.measures import (
    USUAL_MEASURES,
    engine_key,
    measure_words,
    start_epoch,
    start_power,
    start_values,
)
from debrief.history.model import Maintenance, PastStart
from debrief.recording.model import Identity
from debrief.session.wording import beside, decimals_for, number, unit_words, value_text

MIN_STARTS = 15
"""With fewer completed starts nothing is called usual."""
FROZEN_AT = 30
"""Completed starts after which the band no longer learns: else a slow drift would become usual."""
OUTSIDE_SPREADS = 3.0
MAD_TO_SIGMA = 1.4826
"""Of a normal distribution: standard deviation over median absolute deviation."""
USUAL_IS_NOT_A_LIMIT = "Usual is not a limit."


class History(Protocol):
    """What a comparison asks of the history: `debrief.history.store.Store` gives it."""

    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]:
        """Return the starts of an engine."""
        ...

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        """Return its maintenance actions in order of time."""
        ...


def robust_centre(values: ArrayLike) -> tuple[float, float]:
    """Return (median, 1.4826 x median absolute deviation) of finite values.

    Parameters
    ----------
    values : (n,) array
        At least one.

    Notes
    -----
    Up to half of the values may be wild without carrying the result away. For a normal distribution the
    second number estimates the standard deviation. It is 0 where more than half of the values are equal.

    Raises
    ------
    ValueError
        Empty, or not finite.
    """
    x = np.asarray(values, dtype=np.float64)
    if x.size == 0 or not np.all(np.isfinite(x)):
        raise ValueError("a centre needs finite values")
    centre = float(np.median(x))
    return centre, MAD_TO_SIGMA * float(np.median(np.abs(x - centre)))


@dataclass(frozen=True)
class Excluded:
    """A start that a person left out of the band, and why."""

    file_name: str
    start_number: int
    reason: str


@dataclass(frozen=True)
class Band:
    """What is usual of one measure for one engine.

    Attributes
    ----------
    count : int
        Completed starts in it.
    centre, spread, low, high : float or None
        Median, robust standard deviation, and centre -/+ 3 spreads, [unit]; None when not enough.
    power, kind
        Only starts of this power source and kind are in it: others are not comparable.
    frozen : bool
        It has all the starts that it learns from.
    since : str or None
        The maintenance action from which it learns, in words; None when from the first start.
    excluded : tuple of Excluded
        What people left out.
    left_out : tuple of (str, int)
        Every other reason for which starts are not in it, with how many.
    members : tuple of (sha256, engine, number)
    """

    engine: str
    measure: str
    unit: str
    power: str
    kind: str
    count: int
    centre: float | None = None
    spread: float | None = None
    low: float | None = None
    high: float | None = None
    frozen: bool = False
    since: str | None = None
    excluded: tuple[Excluded, ...] = ()
    left_out: tuple[tuple[str, int], ...] = ()
    members: tuple[tuple[str, int, int], ...] = ()

    @property
    def enough(self) -> bool:
        """Whether anything may be called usual."""
        return self.centre is not None

    @property
    def words(self) -> str:
        """The band in one sentence, or that there is not enough."""
        starts = f"completed {power_words(self.power)}starts"
        if self.centre is None or self.low is None or self.high is None:
            return f"Not enough history: {self.count} of the {MIN_STARTS} {starts} that a usual band needs."
        decimals = decimals_for(self.unit)
        low, high = number(self.low, decimals), number(self.high, decimals)
        return (
            f"Usual {value_text(self.centre, self.unit)}, band {low} to {high} {unit_words(self.unit)}, from "
            f"{self.count} {starts}. {USUAL_IS_NOT_A_LIMIT}"
        )


def power_words(power: str) -> str:
    """Return the power source as an adjective with a space after it; nothing where it is unknown."""
    return {"battery": "battery ", "external": "external-power ", "mixed": "mixed-power "}.get(power, "")


def usual_band(
    starts: Sequence[PastStart],
    measure: str,
    *,
    engine: str,
    power: str,
    kind: str = "ground",
    unit: str | None = None,
    judged: tuple[str, int, int] | None = None,
    judged_at: float | None = None,
    maintenance: Sequence[Maintenance] = (),
) -> Band:
    """Return the usual band of a measure.

    Parameters
    ----------
    starts : sequence of PastStart
        Of this engine.
    measure : str
        Such as ``peak_itt``.
    engine, power, kind : str
        Whose band, and of which starts.
    unit : str, optional
        Values in another unit are left out; that of most values when not given.
    judged : (sha256, engine, number), optional
        The start that is compared: it never enters its own band, nor does the same start from another file.
    judged_at : float, optional
        Its instant, [s since 1970]: the band is that of the stretch between maintenance actions in which it
        lies; the latest stretch when not given.
    maintenance : sequence of Maintenance
        In order of time.

    Notes
    -----
    Every completed start enters unless a person excluded it. It learns from the first 30 of its stretch and
    is frozen then. The spread is at least half a printed step of the unit: coarse values that repeat must not
    make every other value unusual.
    """
    begin, end, since = _stretch(maintenance, judged_at)
    reasons: Counter[str] = Counter()
    excluded: list[Excluded] = []
    entering: list[PastStart] = []
    for start in starts:
        why = _why_not(start, measure, power, kind, judged, judged_at, begin, end)
        if start.excluded is not None and why is None:
            excluded.append(Excluded(start.file_name, start.number, start.excluded))
        elif why is None:
            entering.append(start)
        else:
            reasons[why] += 1
    units = Counter(start.values[measure].unit for start in entering)
    chosen = unit if unit is not None else (units.most_common(1)[0][0] if units else "")
    alike = [start for start in entering if start.values[measure].unit == chosen]
    if len(alike) < len(entering):
        reasons["in another unit"] += len(entering) - len(alike)
    alike.sort(key=lambda start: (start.at_epoch_s or 0.0, start.sha256, start.number))
    members = alike[:FROZEN_AT]
    if len(alike) > len(members):
        reasons[f"after the first {FROZEN_AT}"] += len(alike) - len(members)
    centre = spread = low = high = None
    if len(members) >= MIN_STARTS:
        centre, spread = robust_centre([start.values[measure].value for start in members])
        spread = max(spread, 0.5 * 10.0 ** -decimals_for(chosen))
        low, high = centre - OUTSIDE_SPREADS * spread, centre + OUTSIDE_SPREADS * spread
    return Band(
        engine=engine,
        measure=measure,
        unit=chosen,
        power=power,
        kind=kind,
        count=len(members),
        centre=centre,
        spread=spread,
        low=low,
        high=high,
        frozen=len(members) >= FROZEN_AT,
        since=since,
        excluded=tuple(excluded),
        left_out=tuple(sorted(reasons.items())),
        members=tuple((start.sha256, start.engine, start.number) for start in members),
    )


def _stretch(maintenance: Sequence[Maintenance], at: float | None) -> tuple[float, float, str | None]:
    """Return (from, to, words of the action it begins with) of the stretch in which an instant lies."""
    begin, end, since = -np.inf, np.inf, None
    for action in maintenance:
        if at is not None and action.at_epoch_s > at:
            end = action.at_epoch_s
            break
        begin, since = action.at_epoch_s, action.what
    return float(begin), float(end), since


def _why_not(
    start: PastStart,
    measure: str,
    power: str,
    kind: str,
    judged: tuple[str, int, int] | None,
    judged_at: float | None,
    begin: float,
    end: float,
) -> str | None:
    """Return why a start cannot be in the band, apart from a person's exclusion; None where it can."""
    if judged is not None and (start.sha256, start.engine, start.number) == judged:
        return "the start itself"
    if start.at_epoch_s is None:
        return "undated"
    if judged_at is not None and abs(start.at_epoch_s - judged_at) < 1.0:
        return "the start itself, from another file"
    if not begin <= start.at_epoch_s < end:
        return "on the other side of a maintenance action"
    if start.outcome != "completed":
        return "not completed"
    if start.kind != kind:
        return "of another kind"
    if start.power != power:
        return "with another power source"
    if measure not in start.values:
        return "not measured"
    return None


@dataclass(frozen=True)
class Comparison:
    """How unusual one number of a start is for its engine.

    `deviation` counts spreads from the centre, above it positive; it and `outside` are None when there is
    not enough history. `message` is for a person, and always says that usual is not a limit.
    """

    engine: int
    start_number: int
    measure: str
    value: float
    unit: str
    band: Band
    deviation: float | None
    outside: bool | None
    message: str


def compare(
    assessment: Assessment,
    store: History,
    *,
    identity: Identity | None = None,
    measures: Sequence[str] = USUAL_MEASURES,
) -> tuple[Comparison, ...]:
    """Return how unusual the starts of an assessment are for their engines.

    Parameters
    ----------
    assessment : Assessment
        It need not be in the history, and is never changed.
    store : History
        The open history.
    identity : Identity, optional
        What the user entered, in place of the recording's own.
    measures : sequence of str
        Which numbers.

    Returns
    -------
    tuple of Comparison
        Empty for an unnamed engine: then there is nothing to compare with.
    """
    known = identity or assessment.recording.identity
    epoch, _ = start_epoch(known.start)
    sha = assessment.recording.provenance.sha256
    out: list[Comparison] = []
    past: dict[str, tuple[tuple[PastStart, ...], tuple[Maintenance, ...]]] = {}
    for start in assessment.starts:
        key = engine_key(known, start.engine, len(assessment.recording.engines))
        if key is None:
            continue
        if key not in past:
            past[key] = (store.starts(key), store.maintenance(key))
        begun = start.starter_on_s if start.starter_on_s is not None else start.begin_s
        at = None if epoch is None else epoch + begun
        values = start_values(start)
        for measure in measures:
            if measure not in values:
                continue
            kept = values[measure]
            band = usual_band(
                past[key][0],
                measure,
                engine=key,
                power=start_power(start),
                kind=start.kind,
                unit=kept.unit,
                judged=(sha, start.engine, start.number),
                judged_at=at,
                maintenance=past[key][1],
            )
            deviation = outside = None
            if band.centre is not None and band.spread is not None:
                deviation = (kept.value - band.centre) / band.spread
                outside = abs(deviation) > OUTSIDE_SPREADS
            out.append(
                Comparison(
                    engine=start.engine,
                    start_number=start.number,
                    measure=measure,
                    value=kept.value,
                    unit=kept.unit,
                    band=band,
                    deviation=deviation,
                    outside=outside,
                    message=_message(measure, kept.value, kept.unit, band, outside),
                )
            )
    return tuple(out)


def _message(measure: str, value: float, unit: str, band: Band, outside: bool | None) -> str:
    if outside is None or band.low is None or band.high is None:
        return f"{measure_words(measure)} {value_text(value, unit)}. {band.words}"
    # With enough decimals that a value outside does not read equal to the edge.
    edge = min((band.low, band.high), key=lambda limit: abs(limit - value))
    what = f"{measure_words(measure)} {beside(value, edge, unit)}"
    where = "outside the usual band" if outside else "within the usual band"
    return f"{what}: {where} of {band.engine}. {band.words}"
