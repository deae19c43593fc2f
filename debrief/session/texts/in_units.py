"""An assessment in the units that a person wants to read: a copy for the eyes, in which nothing is judged again.

The window and the paper show numbers with the unit that stands beside them, so they follow the choice by being
given this copy. Files, the history and every computation take `Assessment.canonical`; `assessment_document`
refuses a copy. The names of fields keep their canonical unit (``peak_itt_c``): here they hold the unit shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from debrief.analysis.flight_model import FlightLists
from debrief.analysis.model import (
    Assessment,
    Event,
    Evidence,
    Factor,
    FuelPeriod,
    LevelResult,
    LimitResult,
    Measure,
    MeasureEvidence,
    Reading,
    Start,
    TimeAbove,
)
from debrief.profile.model import (
    AllowedRow,
    Band,
    EngineProfile,
    Gauge,
    Limit,
    PowerChart,
    PowerPoint,
    WhereCondition,
)
from debrief.recording.model import Channel, QualityFlag, Recording
from debrief.session.texts.definitions import level_name, level_of
from debrief.words.channels import CANONICAL, base_name
from debrief.words.display_units import ShownUnits
from debrief.words.events import event_spec
from debrief.words.sentence import shown_text

_TEMPERATURE = "degC"
_OF_WINDOW = {
    "pressure_altitude_ft": "ft", "density_altitude_ft": "ft", "oat_c": _TEMPERATURE, "ias_kt": "kt", "np": "rpm",
    "itt": _TEMPERATURE, "fuel_flow": "kg/h", "referred_itt": _TEMPERATURE, "referred_fuel_flow": "kg/h",
}  # fmt: skip
_OF_CHECK = {"pressure_altitude_ft": "ft", "oat_c": _TEMPERATURE}


def in_units(assessment: Assessment, units: ShownUnits) -> Assessment:
    """Return the assessment with its numbers and sentences in the units to show; the same where none differs.

    Parameters
    ----------
    assessment : Assessment
        As assessed, canonical.

    Raises
    ------
    ValueError
        It is such a copy already: converting twice would be a fault of the program.
    """
    if units.are_canonical:
        return assessment
    if not assessment.units.are_canonical:
        raise ValueError("an assessment that is shown in chosen units is not converted again")
    return _Shown(units).assessment(assessment)


class _Shown:
    """Puts one assessment into the units to show."""

    def __init__(self, units: ShownUnits) -> None:
        self._units = units

    def _value(self, value: float | None, unit: str, *, is_difference: bool = False) -> float | None:
        return None if value is None else self._units.value(value, unit, is_difference=is_difference)

    def assessment(self, found: Assessment) -> Assessment:
        """Return the copy."""
        profile = None if found.profile is None else self.profile(found.profile)
        events = tuple(self._event(event) for event in found.events)
        starts = tuple(self._start(start) for start in found.starts)
        open_points = tuple(replace(one, why=shown_text(one.why, self._units)) for one in found.not_judged)
        return replace(
            found,
            recording=self._recording(found.recording),
            profile=profile,
            starts=starts,
            events=events,
            limits=tuple(self._limit_result(limit) for limit in found.limits),
            flight_measures={name: self._measure(one) for name, one in found.flight_measures.items()},
            flight_evidence=self._proofs(found.flight_evidence),
            flight=self._flight_lists(found.flight),
            not_judged=open_points,
            quality=tuple(self._flag(flag) for flag in found.quality),
            levels_asked=tuple(
                replace(
                    one,
                    unit=self._units.of(one.unit),
                    level=self._units.value(one.level, one.unit),
                    highest=self._value(one.highest, one.unit),
                )
                for one in found.levels_asked
            ),
            sentence=found.sentence.shown(self._units),
            units=self._units,
            original=found,
        )

    # --- what was recorded ----------------------------------------------------------------------------

    def _recording(self, recording: Recording) -> Recording:
        channels = {name: self._channel(channel) for name, channel in recording.channels.items()}
        quality = tuple(self._flag(flag) for flag in recording.quality)
        return replace(recording, channels=channels, quality=quality)

    def _channel(self, channel: Channel) -> Channel:
        to = self._units.of(channel.unit)
        if to == channel.unit:
            return channel
        return replace(
            channel,
            unit=to,
            values=self._units.values(channel.values, channel.unit),
            resolution=self._value(channel.resolution, channel.unit, is_difference=True),
        )

    def _flag(self, flag: QualityFlag) -> QualityFlag:
        return replace(flag, message=flag.message.shown(self._units))

    # --- what is allowed ------------------------------------------------------------------------------

    def profile(self, profile: EngineProfile) -> EngineProfile:
        """Return the profile in the units to show."""
        start, abort, factors = profile.start, profile.abort, profile.factors
        return replace(
            profile,
            start=replace(
                start,
                max_residual_itt_c=self._value(start.max_residual_itt_c, _TEMPERATURE),
                light_off_rise_c=self._value(start.light_off_rise_c, _TEMPERATURE, is_difference=True),
                after_cut_rise_c=self._value(start.after_cut_rise_c, _TEMPERATURE, is_difference=True),
            ),
            abort=replace(abort, motor_until_itt_c=self._value(abort.motor_until_itt_c, _TEMPERATURE)),
            factors=replace(
                factors,
                tailwind_kt=self._value(factors.tailwind_kt, "kt"),
                oat_c=self._value(factors.oat_c, _TEMPERATURE),
                density_altitude_ft=self._value(factors.density_altitude_ft, "ft"),
            ),
            flight=replace(profile.flight, airborne_ias_kt=self._value(profile.flight.airborne_ias_kt, "kt")),
            shutdown=replace(
                profile.shutdown, settle_itt_c=self._value(profile.shutdown.settle_itt_c, _TEMPERATURE)
            ),
            life=replace(
                profile.life, reference_itt_c=self._value(profile.life.reference_itt_c, _TEMPERATURE)
            ),
            power_checks=tuple(self._power_chart(chart) for chart in profile.power_checks),
            gauges={name: self._gauge(gauge) for name, gauge in profile.gauges.items()},
            limits=tuple(self._limit(limit) for limit in profile.limits),
            max_rate={
                name: self._units.value(rate, CANONICAL[base_name(name)], is_difference=True)
                for name, rate in profile.max_rate.items()
            },
            units=self._units,
        )

    def _power_chart(self, chart: PowerChart) -> PowerChart:
        return replace(
            chart,
            unit=self._units.of(chart.unit),
            points=tuple(
                PowerPoint(
                    point.torque,
                    self._units.value(point.pressure_altitude_ft, "ft"),
                    self._units.value(point.oat_c, _TEMPERATURE),
                    self._units.value(point.highest, chart.unit),
                )
                for point in chart.points
            ),
        )

    def _gauge(self, gauge: Gauge) -> Gauge:
        def one(value: float) -> float:
            return self._units.value(value, gauge.unit)

        def arcs(pairs: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
            return tuple((one(a), one(b)) for a, b in pairs)

        return replace(
            gauge,
            unit=self._units.of(gauge.unit),
            range=(one(gauge.range[0]), one(gauge.range[1])),
            green=arcs(gauge.green),
            yellow=arcs(gauge.yellow),
            red=arcs(gauge.red),
            red_lines=tuple(one(line) for line in gauge.red_lines),
        )

    def _limit(self, limit: Limit) -> Limit:
        def one(level: float) -> float:
            return self._units.value(level, limit.unit)

        return replace(
            limit,
            unit=self._units.of(limit.unit),
            allowed=tuple(AllowedRow(one(row.level), row.seconds, row.severity) for row in limit.allowed),
            where=tuple(self._where(row) for row in limit.where),
            band_base=None if limit.band_base is None else one(limit.band_base),
            bands=tuple(
                Band(band.name, tuple((one(level), s) for level, s in band.points), band.action)
                for band in limit.bands
            ),
        )

    def _where(self, row: WhereCondition) -> WhereCondition:
        unit = CANONICAL.get(base_name(row.channel), "")
        return WhereCondition(
            row.channel, *(self._value(value, unit) for value in (row.above, row.below, row.equals))
        )

    # --- what was found -------------------------------------------------------------------------------

    def _measure(self, measure: Measure) -> Measure:
        value, low, high = (
            self._value(x, measure.unit, is_difference=measure.is_difference)
            for x in (measure.value, measure.low, measure.high)
        )
        return replace(measure, value=value, unit=self._units.of(measure.unit), low=low, high=high)

    def _name(self, name: str) -> str:
        """Return a measure's name; one that holds a level of the profile names the level as it is shown."""
        found = level_of(name)
        if found is None:
            return name
        kind, level = found
        return level_name(kind, self._units.value(level, _TEMPERATURE), self._units.of(_TEMPERATURE))

    def _start(self, start: Start) -> Start:
        return replace(
            start,
            peak_itt_c=self._value(start.peak_itt_c, _TEMPERATURE),
            residual_itt_c=self._value(start.residual_itt_c, _TEMPERATURE),
            fuel_periods=tuple(self._fuel_period(period) for period in start.fuel_periods),
            measures={self._name(name): self._measure(one) for name, one in start.measures.items()},
            evidence=self._proofs(start.evidence),
            factors=tuple(self._factor(factor) for factor in start.factors),
            time_above=None if start.time_above is None else self._time_above(start.time_above),
            notes=tuple(note.shown(self._units) for note in start.notes),
        )

    def _proofs(self, evidence: Mapping[str, MeasureEvidence]) -> dict[str, MeasureEvidence]:
        return {
            self._name(name): replace(proof, readings=tuple(self._reading(r) for r in proof.readings))
            for name, proof in evidence.items()
        }

    def _flight_lists(self, lists: FlightLists) -> FlightLists:
        def named(one: Any, units: Mapping[str, str], *, is_difference: bool = False) -> Any:
            return replace(
                one,
                **{
                    name: self._value(getattr(one, name), unit, is_difference=is_difference)
                    for name, unit in units.items()
                },
            )

        difference = partial(named, is_difference=True)
        margin = {"itt_margin_c": _TEMPERATURE}
        steady = (named(one, _OF_WINDOW) for one in lists.steady)
        return replace(
            lists,
            steady=tuple(difference(one, margin | {"isa_deviation_c": _TEMPERATURE}) for one in steady),
            load_steps=tuple(
                replace(
                    step,
                    changes={
                        name: difference(change, dict.fromkeys(("value", "low", "high"), CANONICAL[name]))
                        for name, change in step.changes.items()
                    },
                )
                for step in lists.load_steps
            ),
            margin_curve=tuple(
                named(difference(one, margin), {"density_altitude_ft": "ft"}) for one in lists.margin_curve
            ),
            cycles=tuple(
                difference(one, dict.fromkeys(("range_from", "range_to"), CANONICAL[one.channel]))
                for one in lists.cycles
            ),
            twins=tuple(difference(one, {"referred_itt": _TEMPERATURE}) for one in lists.twins),
            power_checks=tuple(
                difference(
                    named(one, _OF_CHECK | dict.fromkeys(("measured", "allowed"), unit)), {"margin": unit}
                )
                for one in lists.power_checks
                for unit in (CANONICAL[one.channel],)
            ),
        )

    def _fuel_period(self, period: FuelPeriod) -> FuelPeriod:
        return replace(period, peak_itt_c=self._value(period.peak_itt_c, _TEMPERATURE))

    def _reading(self, reading: Reading) -> Reading:
        return replace(
            reading,
            unit=self._units.of(reading.unit),
            values=tuple(self._units.value(value, reading.unit) for value in reading.values),
        )

    def _factor(self, factor: Factor) -> Factor:
        return replace(
            factor,
            value=self._units.value(factor.value, factor.unit),
            reference=self._units.value(factor.reference, factor.unit),
            unit=self._units.of(factor.unit),
            message=factor.message.shown(self._units),
        )

    def _time_above(self, above: TimeAbove) -> TimeAbove:
        levels = tuple(self._units.value(level, above.unit) for level in above.levels)
        return replace(above, unit=self._units.of(above.unit), levels=levels)

    def _event(self, event: Event) -> Event:
        unit = event.unit
        is_rise = event_spec(event.kind).is_rise
        return replace(
            event,
            peak=self._value(event.peak, unit),
            peak_low=self._value(event.peak_low, unit),
            peak_high=self._value(event.peak_high, unit),
            rise=self._value(event.rise, unit, is_difference=True),
            level=self._value(event.level, unit, is_difference=is_rise),
            levels=tuple(self._level(level, unit) for level in event.levels),
            unit=self._units.of(unit),
            band_past_edge_value=self._value(event.band_past_edge_value, unit, is_difference=True),
            message=event.message.shown(self._units),
            evidence=None if event.evidence is None else self._evidence(event.evidence),
        )

    def _level(self, level: LevelResult, unit: str) -> LevelResult:
        return replace(level, level=self._units.value(level.level, unit))

    def _evidence(self, evidence: Evidence) -> Evidence:
        unit = CANONICAL.get(base_name(evidence.channel or ""), "")
        return replace(
            evidence,
            rule=evidence.rule.shown(self._units),
            formula=shown_text(evidence.formula, self._units),
            values=tuple(self._units.value(value, unit) for value in evidence.values),
        )

    def _limit_result(self, limit: LimitResult) -> LimitResult:
        return replace(
            limit,
            unit=self._units.of(limit.unit),
            nearest_level=self._value(limit.nearest_level, limit.unit),
            margin_value=self._value(limit.margin_value, limit.unit, is_difference=True),
            levels=tuple(self._level(level, limit.unit) for level in limit.levels),
            why=None if limit.why is None else shown_text(limit.why, self._units),
        )
