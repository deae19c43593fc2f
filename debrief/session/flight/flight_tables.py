"""The flight in tables: steady windows, loads, taxi, shutdown, counts, power check, two engines. Screen and paper show them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from debrief.analysis.flight_model import (
    Change,
    CycleClass,
    LoadStep,
    PowerCheck,
    SteadyWindow,
    TwinDifference,
)
from debrief.analysis.model import Assessment
from debrief.session.evidence.measure_tables import flight_rows
from debrief.session.texts.definitions import phase_title
from debrief.words.channels import ChannelNames
from debrief.words.clock import ELAPSED, Clock
from debrief.words.display_units import ShownUnits
from debrief.words.engines import engine_named, measure_of_engine
from debrief.words.loads import change_text, load_title
from debrief.words.numbers import decimals_for, length_text, number, plain, signed, unit_words

STEADY, LOADS, TAXI, SHUTDOWN, COUNTS, POWER, TWINS = (
    "Steady running", "Loads", "Taxi and propeller", "Shutdown", "Counts", "Power check", "Both engines",
)  # fmt: skip

_TAXI = (
    "taxi_time", "taxi_highest_speed", "taxi_beta_time", "taxi_reverse_time", "idle_acceleration",
    "propeller_lag", "propeller_lag_median", "time_np_avoided",
)  # fmt: skip
_SHUTDOWN = ("idle_before_cut", "run_down", "soak_peak_itt", "cooling_time_constant", "cut_to_residual_itt")
_COUNTS = (
    "starts_completed", "flights", "touch_and_goes", "go_arounds", "equivalent_cycles", "hot_section_use",
)  # fmt: skip
_CHANGED = (("itt", "degC"), ("ng", "%"), ("torque", "%"), ("bus_volts", "V"))
_FIELDS = {
    "bleed": "bleed", "separator": "separator", "generator": "generator", "generator_load": "generator load",
    "oat_c": "OAT", "pressure_altitude_ft": "altitude", "isa_deviation_c": "off standard",
    "density_altitude_ft": "density altitude", "ias_kt": "IAS", "fuel_flow": "fuel", "torque": "torque", "ng": "Ng",
    "np": "Np", "itt_margin_c": "margin", **dict.fromkeys(
        ("referred", "referred_itt", "referred_ng", "referred_torque", "referred_fuel_flow"), "referred values"
    ),
}  # fmt: skip
_POWER_NAMES = {"itt": "degC", "ng": "%"}


@dataclass(frozen=True)
class FlightColumn:
    """A column: its title, of two lines at most, whether its cells are numbers, and its part of a table's width on paper."""

    title: str
    is_number: bool = False
    share: float = 1.0


@dataclass(frozen=True)
class FlightRow:
    """One row. `time_s` is the moment that it is about, `measure` whose evidence may be asked for."""

    cells: tuple[str, ...]
    time_s: float | None = None
    measure: str = ""


@dataclass(frozen=True)
class FlightTable:
    """One table; `about` says how it is read, or why it has no rows."""

    title: str
    about: str
    columns: tuple[FlightColumn, ...]
    rows: tuple[FlightRow, ...]


def flight_tables(assessment: Assessment, clock: Clock = ELAPSED) -> tuple[FlightTable, ...]:
    """Return all tables of a flight; of two engines, of a power check and of taxiing only where there is something."""
    told, units = assessment.canonical.flight, assessment.units
    several, names = len(assessment.recording.engines) > 1, assessment.recording.shared_names
    tables = [
        _steady(told.steady, units, clock, several, names.itt),
        _loads(told.load_steps, units, clock, several, names),
        _measures(assessment, TAXI, _TAXI, "Braking is not recorded and not inferred."),
        _measures(
            assessment, SHUTDOWN, _SHUTDOWN, "What was recorded after the cut; no advice to start again."
        ),
        _counts(assessment, told.cycles, units, several),
    ]
    if assessment.profile is not None and assessment.profile.power_checks:
        tables.append(_power(told.power_checks, units, clock, several))
    if several:
        tables.append(_twins(told.twins, units, clock, names.itt))
    return tuple(tables)


def _shown(value: float | None, unit: str, units: ShownUnits) -> str:
    if value is None:
        return ""
    return number(units.value(value, unit), decimals_for(units.of(unit)))


def _difference(
    value: float | None, unit: str, units: ShownUnits, said: Callable[[float, int], str] = signed
) -> str:
    if value is None:
        return ""
    return said(units.value(value, unit, is_difference=True), decimals_for(units.of(unit)))


def _titled(words: str, unit: str, units: ShownUnits, share: float = 1.0) -> FlightColumn:
    return FlightColumn(f"{words}, {unit_words(units.of(unit))}", True, share)


def _named(engine: int, several: bool) -> tuple[str, ...]:
    return (engine_named(engine, begins=True),) if several else ()


def _of_engine(several: bool) -> tuple[FlightColumn, ...]:
    return (FlightColumn("engine", share=1.1),) if several else ()


def _steady(
    windows: Sequence[SteadyWindow], units: ShownUnits, clock: Clock, several: bool, itt: str
) -> FlightTable:
    columns = (
        FlightColumn("from", share=1.2), FlightColumn("lasting", True, 1.2), *_of_engine(several), FlightColumn("phase", share=1.1),
        _titled("altitude", "ft", units, 1.25), _titled("OAT", "degC", units), _titled("off\nstandard", "degC", units, 1.35),
        _titled("IAS", "kt", units), _titled("torque", "%", units, 1.15), _titled("Ng", "%", units),
        _titled(itt, "degC", units), _titled("margin", "degC", units, 1.2), _titled("fuel", "kg/h", units),
        _titled(f"referred\n{itt}", "degC", units, 1.4), _titled("referred\nNg", "%", units, 1.4), FlightColumn("on", share=1.8),
    )  # fmt: skip
    rows = tuple(
        FlightRow(
            (
                clock.text(one.start_s, 0), length_text(one.end_s - one.start_s), *_named(one.engine, several),
                "" if one.phase is None else phase_title(one.phase),
                _shown(one.pressure_altitude_ft, "ft", units), _shown(one.oat_c, "degC", units),
                _difference(one.isa_deviation_c, "degC", units), _shown(one.ias_kt, "kt", units),
                _shown(one.torque, "%", units), _shown(one.ng, "%", units), _shown(one.itt, "degC", units),
                _difference(one.itt_margin_c, "degC", units, number), _shown(one.fuel_flow, "kg/h", units),
                _shown(one.referred_itt, "degC", units), _shown(one.referred_ng, "%", units), on_words(one),
            ),
            one.start_s,
        )
        for one in windows
    )  # fmt: skip
    if not rows:
        about = "No stretch of three minutes after the first minute in which power, altitude, speed and loads stood still."
    else:
        about = f"Means. The first minute of each stretch is left out. Margin: to the lowest limit of a running {itt}."
        about += _reasons(windows, itt)
    return FlightTable(STEADY, about, columns, rows)


def _reasons(windows: Sequence[SteadyWindow], itt: str) -> str:
    """Return why something is not known, or what it rests on, each reason once with what it is about."""
    about: dict[str, list[str]] = {}
    for one in windows:
        for field, why in one.why.items():
            words = _FIELDS.get(field, itt)
            named = about.setdefault(why, [])
            if words not in named:
                named.append(words)
    told = (f"{', '.join(words)}: {why}." for why, words in about.items())
    return "".join(f" {one[0].upper()}{one[1:]}" for one in told)


def on_words(window: SteadyWindow) -> str:
    """Return which loads were on: ``bleed, 190 A``; ``none`` where all are known to be off."""
    known = [(window.bleed, "bleed"), (window.separator, "separator"), (window.generator, "generator")]
    if window.generator_load is not None and window.generator is not False:
        known[2] = (True, f"generator {number(window.generator_load, 0)} A")
    on = [words for is_on, words in known if is_on]
    if on:
        return ", ".join(on)
    return "none" if all(is_on is False for is_on, _ in known) else ""


def _changed(change: Change, unit: str, units: ShownUnits) -> str:
    return change_text(change.value, change.low, change.high, unit, units)


def _loads(
    steps: Sequence[LoadStep], units: ShownUnits, clock: Clock, several: bool, names: ChannelNames
) -> FlightTable:
    columns = (
        FlightColumn("at"), *_of_engine(several), FlightColumn("what", share=1.6),
        *(FlightColumn(f"{names.symbol(name)}, {unit_words(units.of(unit))}", True, 1.3) for name, unit in _CHANGED),
        FlightColumn("why not", share=2.2),
    )  # fmt: skip
    rows = tuple(
        FlightRow(
            (
                clock.text(one.time_s, 0),
                *_named(one.engine, several),
                load_title(one.kind, one.on),
                *(
                    _changed(one.changes[name], unit, units) if name in one.changes else ""
                    for name, unit in _CHANGED
                ),
                one.why or "",
            ),
            one.time_s,
        )
        for one in steps
    )
    about = (
        "The change from ten seconds before to ten seconds from the fifth second after; in brackets its 95 % interval."
        if rows
        else "No bleed, separator or generator was switched while the engine ran, or none of them is recorded."
    )
    return FlightTable(LOADS, about, columns, rows)


def _rows_of(assessment: Assessment, names: Sequence[str]) -> Iterator[FlightRow]:
    measures = assessment.flight_measures
    wanted = {name: measures[name] for own in names for name in measures if measure_of_engine(name)[0] == own}
    for row, name in zip(flight_rows(wanted, assessment.recording.names), wanted, strict=True):
        yield FlightRow((row.title, row.value), measure=name)


_MEASURED = (FlightColumn("measure", share=1.0), FlightColumn("value, or why it is not known", share=2.0))


def _measures(assessment: Assessment, title: str, names: Sequence[str], about: str) -> FlightTable:
    return FlightTable(title, about, _MEASURED, tuple(_rows_of(assessment, names)))


def _counts(
    assessment: Assessment, cycles: Sequence[CycleClass], units: ShownUnits, several: bool
) -> FlightTable:
    rows = list(_rows_of(assessment, _COUNTS))
    by_channel: dict[tuple[int, str], list[CycleClass]] = {}
    for one in cycles:
        by_channel.setdefault((one.engine, one.channel), []).append(one)
    for (engine, name), classes in by_channel.items():
        unit = _POWER_NAMES[name]
        title = f"Cycles of {assessment.names(engine).symbol(name)}" + (
            f", {engine_named(engine)}" if several else ""
        )
        rows.append(FlightRow((title, "; ".join(_class_words(one, unit, units) for one in classes))))
    about = "Cycles by rainflow counting (ASTM E1049); a half cycle counts one half."
    return FlightTable(COUNTS, about, _MEASURED, tuple(rows))


def _class_words(one: CycleClass, unit: str, units: ShownUnits) -> str:
    low, high = (units.value(x, unit, is_difference=True) for x in (one.range_from, one.range_to))
    return f"{plain(one.cycles)} of {number(low, 0)} to {number(high, 0)} {unit_words(units.of(unit))}"


def _power(checks: Sequence[PowerCheck], units: ShownUnits, clock: Clock, several: bool) -> FlightTable:
    columns = (
        FlightColumn("from", share=1.2), *_of_engine(several), FlightColumn("chart", share=1.8), _titled("torque", "%", units, 1.15),
        _titled("altitude", "ft", units, 1.25), _titled("OAT", "degC", units), FlightColumn("measured", True),
        FlightColumn("highest\nin the chart", True, 1.4), FlightColumn("margin", True), FlightColumn("why not", share=2.2),
    )  # fmt: skip

    def valued(value: float | None, unit: str) -> str:
        text = _shown(value, unit, units)
        return f"{text} {unit_words(units.of(unit))}" if text else ""

    rows = []
    for one in checks:
        unit = _POWER_NAMES[one.channel]
        margin = _difference(one.margin, unit, units)
        rows.append(
            FlightRow(
                (
                    clock.text(one.start_s, 0), *_named(one.engine, several), one.name, _shown(one.torque, "%", units),
                    _shown(one.pressure_altitude_ft, "ft", units), _shown(one.oat_c, "degC", units),
                    valued(one.measured, unit), valued(one.allowed, unit),
                    f"{margin} {unit_words(units.of(unit))}" if margin else "", one.why or "",
                ),
                one.start_s,
            )
        )  # fmt: skip
    about = (
        "Each steady stretch against the chart of the profile; outside the chart nothing is read. "
        "The approved manual's own procedure decides."
        if rows
        else "No steady stretch to hold against the chart of the profile."
    )
    return FlightTable(POWER, about, columns, tuple(rows))


def _twins(twins: Sequence[TwinDifference], units: ShownUnits, clock: Clock, itt: str) -> FlightTable:
    columns = (
        FlightColumn("from"), FlightColumn("lasting", True, 1.2), FlightColumn("engines"),
        _titled(f"referred\n{itt}", "degC", units, 1.4), _titled("referred\nNg", "%", units, 1.4),
    )  # fmt: skip
    rows = tuple(
        FlightRow(
            (
                clock.text(one.start_s, 0), length_text(one.end_s - one.start_s), f"{one.engines[1]} less {one.engines[0]}",
                _difference(one.referred_itt, "degC", units), _difference(one.referred_ng, "%", units),
            ),
            one.start_s,
        )
        for one in twins
    )  # fmt: skip
    about = (
        "Differences in stretches that are steady for both engines."
        if rows
        else "No stretch is steady for both engines."
    )
    return FlightTable(TWINS, about, columns, rows)
