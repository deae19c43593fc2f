"""What was present at a bad start that is outside its reference. Present, never "the cause"."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.analysis.model import Event, Factor, Start
from debrief.analysis.signal.engine_view import EngineView
from debrief.words.events import event_spec
from debrief.words.sentence import Quantity, sentence

BAD_OUTCOMES = frozenset({"hung", "aborted", "no_light_off", "flamed_out"})

_PROOFS = {
    "early_fuel": ("ng_at_fuel", "start.min_fuel_ng_pct"),
    "ng_not_stable": ("ng_rate_at_fuel", "start.stable_ng_rate_pct_per_s"),
    "tailwind": ("headwind", "factors.tailwind_kt"),
    "oat": ("oat", "factors.oat_c"),
    "density_altitude": ("density_altitude", "factors.density_altitude_ft"),
    "low_rest_voltage": ("rest_bus_volts", "start.min_bus_volts_before"),
    "low_voltage": ("min_bus_volts", "start.min_bus_volts"),
    "residual_heat": ("residual_itt_fuel_on", "start.max_residual_itt_c"),
}
"""The measure that each factor is, which has the samples, and where its reference stands in the profile."""


def is_bad(start: Start, events: Sequence[Event]) -> bool:
    """Return whether the start failed, or has an event of the engine."""
    own = [e for e in events if e.start_number == start.number and e.engine == start.engine]
    return start.outcome in BAD_OUTCOMES or any(
        event_spec(e.kind).makes_bad or (e.event_class == "engine" and e.severity in ("limit", "possible"))
        for e in own
    )


def factors_of(view: EngineView, start: Start, aloft: bool = False) -> tuple[Factor, ...]:
    """Return the factors of one start, each with its reference from the profile.

    Without a reference a value is a measure, not a factor; of a start `aloft` the references of the ground are none.
    """
    rules, limits = view.profile.start, view.profile.factors
    manual = rules.fuel_control != "automatic"
    head = start.measures["headwind"].value
    rate = start.measures["ng_rate_at_fuel"].value
    dense = start.measures["density_altitude"].value
    oat = start.measures["oat"].value
    checks: list[tuple[str, str, float | None, float | None, str, bool]] = [
        ("early_fuel", "Fuel before the minimum Ng", start.ng_at_fuel_pct, rules.min_fuel_ng_pct, "%", False),
        ("ng_not_stable", "Ng not stable at fuel", rate, rules.stable_ng_rate_pct_per_s, "%/s", True),
        ("tailwind", "Tailwind", None if head is None else -head, limits.tailwind_kt, "kt", True),
        ("oat", "Outside air temperature", oat, limits.oat_c, "degC", True),
        ("density_altitude", "Density altitude", dense, limits.density_altitude_ft, "ft", True),
        ("low_rest_voltage", "Resting voltage", start.rest_bus_volts, rules.min_bus_volts_before, "V", False),
        (
            "low_voltage",
            "Lowest voltage (after the first second)",
            start.min_bus_volts,
            rules.min_bus_volts,
            "V",
            False,
        ),
        (
            "residual_heat",
            "Residual heat at fuel",
            start.residual_itt_c,
            rules.max_residual_itt_c,
            "degC",
            True,
        ),
    ]
    out = []
    for kind, words, value, reference, unit, above in checks:
        if value is None or reference is None or (not manual and kind in ("early_fuel", "ng_not_stable")):
            continue
        if aloft and kind in ("early_fuel", "ng_not_stable", "residual_heat"):
            continue
        if kind == "ng_not_stable" and start.ng_stable_at_fuel is not False:
            continue
        if kind == "residual_heat" and start.fuel_on_s is None:
            continue
        outside = value >= reference if above and kind in ("tailwind", "oat", "density_altitude") else (
            value > reference if above else value < reference
        )  # fmt: skip
        if outside:
            said = sentence(
                "{words}: {value}, reference {reference}.",
                words=words,
                value=Quantity(value, unit, beside=reference),
                reference=Quantity(reference, unit, is_given=True),
            )
            measure, key = _PROOFS[kind]
            line = view.profile.lines.get(key)
            out.append(Factor(kind, value, reference, unit, said, measure, key, line))
    return tuple(out)
