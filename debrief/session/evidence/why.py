"""Why a measure has its value: the evidence of one number as lines of words, for the window and the paper."""

from __future__ import annotations

import re
from dataclasses import dataclass

from debrief.analysis.model import Assessment, Factor, Measure, Reading, Start
from debrief.session.evidence.file_rows import file_rows
from debrief.session.texts.definitions import Definition, definition_of, measure_title, source_text
from debrief.session.texts.plain_names import KeySaid, key_said, keys_in_words
from debrief.words.channels import ChannelNames
from debrief.words.clock import ELAPSED, Clock
from debrief.words.display_units import ShownUnits
from debrief.words.engines import measure_of_engine
from debrief.words.numbers import (
    bounded,
    clock_text,
    decimals_for,
    duration_text,
    long_time_text,
    plain,
    unit_words,
    value_text,
)


@dataclass(frozen=True)
class Why:
    """The evidence of one measure in words.

    Attributes
    ----------
    name, title, value : str
        The measure, its title, and its value with bounds, or why it has none.
    rule, source, validity : str
        What the page of definitions says: how it is meant, where that comes from, where it holds.
    formula : str
        How the value follows from the samples.
    keys : tuple of (KeySaid, str)
        Each number of the profile in words, with its line, and the key path itself.
    samples : tuple of (str, tuple of str)
        What the samples are, and each with its time; the last with the unit of all.
    definition : Definition or None
        The entry on the page, to link to.
    """

    name: str
    title: str
    value: str
    rule: str = ""
    source: str = ""
    validity: str = ""
    formula: str = ""
    keys: tuple[tuple[KeySaid, str], ...] = ()
    samples: tuple[tuple[str, tuple[str, ...]], ...] = ()
    rows: tuple[tuple[int, ...], ...] = ()
    """Of each of `samples` the rows of the file; empty where there are none."""
    definition: Definition | None = None

    @property
    def profile(self) -> tuple[tuple[str, str], ...]:
        """Each number of the profile as one text, and its key path."""
        return tuple((str(said), key) for said, key in self.keys)


def measure_why(assessment: Assessment, start: Start | None, name: str, clock: Clock = ELAPSED) -> Why:
    """Return the evidence of one measure of a start, or of the whole recording where no start is given."""
    measures = assessment.flight_measures if start is None else start.measures
    evidence = assessment.flight_evidence if start is None else start.evidence
    measure, proof = measures[name], evidence.get(name)
    names = assessment.names(1 if start is None else start.engine)
    own = measure_of_engine(name)[0]
    entry = definition_of(name, "measure", names)
    profile = assessment.profile
    return Why(
        name,
        measure_title(name, names),
        value_and_bounds(measure, is_instant=own in INSTANTS, is_long=own in LONG_TIMES, clock=clock),
        ""
        if entry is None
        else _unit_in_words(keys_in_words(entry.formula, profile, names), assessment.units),
        "" if entry is None else source_text(entry),
        "" if entry is None else keys_in_words(entry.validity, profile, names),
        "" if proof is None else proof.formula,
        ()
        if proof is None
        else tuple((_key_line(assessment, key, line, names), key) for key, line in proof.profile),
        () if proof is None else tuple(samples_line(reading, names) for reading in proof.readings),
        ()
        if proof is None
        else tuple(file_rows(assessment.recording.lines, reading.times_s) for reading in proof.readings),
        entry,
    )


def flight_whys(assessment: Assessment) -> list[Why]:
    """Return the evidence of each measure of the whole recording that has samples."""
    return [
        measure_why(assessment, None, name)
        for name, proof in assessment.flight_evidence.items()
        if proof.readings
    ]


def factor_why(assessment: Assessment, start: Start, factor: Factor) -> Why | None:
    """Return the evidence of a contributing factor: that of its measure, against its reference."""
    if factor.measure is None or factor.measure not in start.measures:
        return None
    names = assessment.names(start.engine)
    own = measure_why(assessment, start, factor.measure)
    held = (
        ()
        if factor.profile_key is None
        else ((_key_line(assessment, factor.profile_key, factor.profile_line, names), factor.profile_key),)
    )
    entry = definition_of(factor.kind, "factor", names)
    return Why(
        own.name,
        own.title if entry is None else entry.title,
        factor.message,
        own.rule
        if entry is None
        else _unit_in_words(keys_in_words(entry.formula, assessment.profile, names), assessment.units),
        own.source,
        own.validity,
        own.formula,
        held or own.keys,
        own.samples,
        own.rows,
        entry or own.definition,
    )


INSTANTS = frozenset({"fuel_on", "first_cue", "itt_margin_smallest_at"})
"""Measures that are a moment of the recording, shown as the clock shows it."""


LONG_TIMES = frozenset(
    {
        "running_time", "airborne_time", "hot_section_use", "taxi_time", "cooling_time_constant", "cut_to_residual_itt",
    }
)  # fmt: skip
"""Measures that are hours of a flight, said in hours and minutes; as data they are seconds."""


def value_and_bounds(
    measure: Measure, *, is_instant: bool = False, is_long: bool = False, clock: Clock = ELAPSED
) -> str:
    """Return the value with its bounds, or why it is not known."""
    if measure.value is None and measure.low is None and measure.high is None:
        return "not known" + (f": {measure.why}" if measure.why else "")
    if is_instant:
        said = clock.text(measure.value, 2)
        if measure.low is not None and measure.high is not None:
            said += f" ({' to '.join(clock.bounds(measure.low, measure.high, 2))})"
    elif is_long and measure.value is not None:
        said = long_time_text(measure.value, measure.low, measure.high)
    elif measure.unit == "s" and measure.value is not None:
        said = duration_text(measure.value, measure.low, measure.high)
    else:
        said = bounded(
            value_text(measure.value, measure.unit), measure.low, measure.high, decimals_for(measure.unit)
        )
    if measure.why:
        said += f": {measure.why}"
    return "; ".join((said, *measure.marks))


OUTSIDE = "outside"
"""Of a neighbour that lies before or after the stretch that is looked at, so that it does not count."""


def samples_line(reading: Reading, names: ChannelNames) -> tuple[str, tuple[str, ...]]:
    """Return what the samples are, and the samples: ``0:29.00 20.1``, ``0:29.12 20.2 %``; what did not count is marked."""
    many = "" if reading.span is None else f", of {reading.count} samples"
    unit = unit_words(reading.unit)
    pairs = [
        f"{clock_text(t, 2)} {plain(round(v, 4))}"
        for t, v in zip(reading.times_s, reading.values, strict=True)
    ]
    if pairs:
        pairs[-1] = f"{pairs[-1]}°" if unit == "°" else f"{pairs[-1]} {unit}".rstrip()
    outside = [not reading.counts(k) for k in reading.index]
    pairs = [f"{pair} ({OUTSIDE})" if out else pair for pair, out in zip(pairs, outside, strict=True)]
    return f"{names.symbol(reading.channel)}, {reading.what}{many}", tuple(pairs)


def _unit_in_words(formula: str, units: ShownUnits) -> str:
    """Return a formula of the page with a temperature's unit, which stands in brackets, as it is shown.

    Other formulas hold constants in the unit of their result: these are left as they are.
    """
    shown = unit_words(units.of("degC"))
    return formula.replace("[°C]", f"[{shown}]").replace("[°C/s]", f"[{shown}/s]")


_ALLOWED = re.compile(r"^limits\.(.+)\.allowed\[(\d+)\]$")


def _key_line(assessment: Assessment, key: str, line: int | None, names: ChannelNames) -> KeySaid:
    """Return a key of the profile in words, its value and line."""
    found = _ALLOWED.match(key)
    said = key_said(key, assessment.profile, line, names)
    if found and assessment.profile is not None:
        limit = next(one for one in assessment.profile.limits if one.id == found[1])
        row = limit.allowed[int(found[2]) - 1]
        side = "below" if limit.below else "above"
        words = f"limit {limit.id}: {side} {plain(row.level, limit.unit)} {unit_words(limit.unit)} for {plain(row.seconds)} s"
        said = KeySaid(words, line=line)
    return said
