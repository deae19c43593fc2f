"""How unusual a start is for its engine. It never changes an event or a verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from debrief.analysis.model import Assessment
from debrief.history.display_units import History, ShownHistory, shown_values
from debrief.history.measures import (
    ADJUSTED_PEAK,
    USUAL_MEASURES,
    Kept,
    engine_key,
    start_epoch,
    start_power,
    start_values,
)
from debrief.history.model import PastStart
from debrief.history.usual.baseline import OUTSIDE_SPREADS, USUAL_IS_NOT_A_LIMIT, Band, usual_band
from debrief.history.usual.expected_peak import expected
from debrief.recording.model import Identity
from debrief.session.texts.definitions import measure_title
from debrief.words.numbers import beside, decimals_for, value_text


@dataclass(frozen=True)
class Comparison:
    """How unusual one number of a start is for its engine.

    `deviation` counts spreads from the centre, above it positive; it and `outside` are None when there is
    not enough history. `said` is for a person, where what the normal range is not is said once for all.
    """

    engine: int
    start_number: int
    measure: str
    value: float
    unit: str
    band: Band
    deviation: float | None
    outside: bool | None
    said: str

    @property
    def message(self) -> str:
        """What is said of one alone: it always says that usual is not a limit."""
        return f"{self.said} {USUAL_IS_NOT_A_LIMIT}" if self.band.enough else self.said


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
        It need not be in the history, and is never changed. What is said is in its units.
    store : History
        The open history.
    identity : Identity, optional
        What the user entered, in place of the recording's own.
    measures : sequence of str
        Which numbers.

    Returns
    -------
    tuple of Comparison
        Empty for an unnamed engine: then there is nothing to compare with. After the peak ITT comes, where
        conditions varied in the history, the peak with them allowed for (see `debrief.history.usual.expected_peak`).
    """
    units = assessment.units
    known = identity or assessment.recording.identity
    source = ShownHistory(store, units)
    epoch, _ = start_epoch(known.start)
    sha = assessment.recording.provenance.sha256
    out: list[Comparison] = []
    for start in assessment.canonical.starts:
        key = engine_key(known, start.engine, len(assessment.recording.engines))
        if key is None:
            continue
        past, actions = source.starts(key), source.maintenance(key)
        begun = start.starter_on_s if start.starter_on_s is not None else start.begin_s
        at = None if epoch is None else epoch + begun
        values = shown_values(start_values(start), units)
        names = assessment.names(start.engine)
        for measure in measures:
            if measure not in values:
                continue
            kept = values[measure]
            band = usual_band(
                past,
                measure,
                engine=key,
                power=start_power(start),
                kind=start.kind,
                unit=kept.unit,
                judged=(sha, start.engine, start.number),
                judged_at=at,
                maintenance=actions,
            )
            band = replace(band, names=names)
            where = (start.engine, start.number)
            out.append(_compared(where, measure, kept.value, kept.unit, band))
            if measure == "peak_itt" and band.enough:
                out += _allowing(where, values, band, past)
    return tuple(out)


def _compared(where: tuple[int, int], measure: str, value: float, unit: str, band: Band) -> Comparison:
    deviation = outside = None
    if band.centre is not None and band.spread is not None:
        deviation = (value - band.centre) / band.spread
        outside = abs(deviation) > OUTSIDE_SPREADS
    message = _message(measure, value, unit, band, outside)
    return Comparison(*where, measure, value, unit, band, deviation, outside, message)


def _allowing(
    where: tuple[int, int], values: Mapping[str, Kept], band: Band, starts: Sequence[PastStart]
) -> list[Comparison]:
    """Return the comparison of the peak with what its conditions lead one to expect, if any varied."""
    members = set(band.members)
    past = [one.values for one in starts if (one.sha256, one.engine, one.number) in members]
    found = expected(past, "peak_itt", values, least=0.5 * 10.0 ** -decimals_for(band.unit))
    if not found.conditions:
        return []
    kept = values["peak_itt"]
    if found.value is None or found.spread is None:
        unlike = replace(band, measure=ADJUSTED_PEAK, centre=None, spread=None, low=None, high=None)
        message = (
            f"{measure_title(ADJUSTED_PEAK, band.names)}: not said, since {measure_title(found.why, band.names)} "
            f"{value_text(values[found.why].value, values[found.why].unit)} is outside what this engine's history "
            "covers."
        )
        return [Comparison(*where, ADJUSTED_PEAK, kept.value, kept.unit, unlike, None, None, message)]
    reach = OUTSIDE_SPREADS * found.spread
    adjusted = replace(
        band,
        measure=ADJUSTED_PEAK,
        centre=found.value,
        spread=found.spread,
        low=found.value - reach,
        high=found.value + reach,
        allowing_for=found.conditions,
    )
    return [_compared(where, ADJUSTED_PEAK, kept.value, kept.unit, adjusted)]


def _message(measure: str, value: float, unit: str, band: Band, outside: bool | None) -> str:
    if outside is None or band.low is None or band.high is None:
        return f"{measure_title(measure, band.names)} {value_text(value, unit)}. {band.said}"
    # With enough decimals that a value outside does not read equal to the edge.
    edge = min((band.low, band.high), key=lambda limit: abs(limit - value))
    what = f"{measure_title(measure, band.names)} {beside(value, edge, unit)}"
    kind = "expected" if band.allowing_for else "normal"
    where = f"{'outside' if outside else 'within'} the {kind} range"
    return f"{what}: {where} of {band.engine}. {band.said}"
