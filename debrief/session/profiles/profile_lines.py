"""What a profile holds, in words, to be held against the manual."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields

from debrief.profile.model import DutyRow, EngineProfile, Limit, PowerChart
from debrief.session.profiles.profile_fields import choice_words
from debrief.words.channels import channel_symbol
from debrief.words.display_units import AS_COMPUTED, ShownUnits
from debrief.words.events import event_title
from debrief.words.numbers import length_text, plain, unit_words
from debrief.words.profile_keys import key_title

NOTHING = "Nothing yet."


def profile_lines(profile: EngineProfile, units: ShownUnits = AS_COMPUTED) -> tuple[str, ...]:
    """Return each number of a profile in words, a subject on a line.

    Parameters
    ----------
    profile : EngineProfile
    units : ShownUnits
        To read in.
    """
    lines = [
        *(_limit_line(limit, units) for limit in profile.limits),
        *_duty_line("Starter", profile.starter.duty),
        *_duty_line("Starter, from external power", profile.starter.external_duty),
    ]
    if profile.starter.reset_after_s is not None:
        lines.append(f"Rest after which the cycle restarts: {length_text(profile.starter.reset_after_s)}")
    for rules in (profile.start, profile.abort, profile.flight, profile.shutdown, profile.life):
        for one in fields(rules):
            held = getattr(rules, one.name)
            if held is not None:
                lines.append(_number_line(one.name, held, units))
    lines += (_power_check_line(chart) for chart in profile.power_checks)
    return tuple(lines) or (NOTHING,)


def _limit_line(limit: Limit, units: ShownUnits) -> str:
    side, unit = "below" if limit.below else "above", units.of(limit.unit)
    levels = ", ".join(
        f"{plain(units.value(row.level, limit.unit), unit)} {unit_words(unit)} "
        + ("not at any time" if row.seconds == 0 else f"{plain(row.seconds)} s")
        + (" (caution)" if row.severity == "caution" else "")
        for row in limit.allowed
    )
    when = choice_words(limit.when)
    return f"{event_title(limit.event)}, {when}: {channel_symbol(limit.channel)} {side} {levels}"


def _duty_line(title: str, rows: Sequence[DutyRow]) -> Iterator[str]:
    if rows:
        runs = "; ".join(f"{length_text(row.run_s)}, then rest {length_text(row.rest_s)}" for row in rows)
        yield f"{title}: {runs}" + ("; the last repeats" if len(rows) > 1 else "")


def _power_check_line(chart: PowerChart) -> str:
    count = len(chart.points)
    return f"Power check, {chart.name}: highest {channel_symbol(chart.channel)} at {count} points"


def _number_line(name: str, held: object, units: ShownUnits) -> str:
    words, unit = key_title(name)
    title = words[:1].upper() + words[1:]
    if isinstance(held, tuple):
        bands = ", ".join(f"{plain(low)} to {plain(high)}" for low, high in held)
        return f"{title}: {bands} {unit_words(unit)}"
    if not isinstance(held, float):
        return f"{title}: {choice_words(str(held))}"
    # The zero of a rise does not move with the unit.
    value = units.value(held, unit, is_difference="rise" in name)
    return f"{title}: {plain(value, units.of(unit))} {unit_words(units.of(unit))}".rstrip()
