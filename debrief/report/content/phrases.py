"""Sentences and lists that the text form and the paper share, made from an assessment."""

from __future__ import annotations

from collections.abc import Sequence

from debrief import __version__
from debrief.analysis.model import Assessment, Event, Factor, LevelResult, LimitResult, NotJudged, Start
from debrief.profile.model import EngineProfile
from debrief.profile.naming import full_name
from debrief.session.texts.definitions import definition_of
from debrief.session.texts.highest_itt import above_levels
from debrief.session.texts.plain_names import (
    FROM_ONE_SECOND,
    after_words,
    bound_words,
    fuel_words,
    itt_unit,
    not_judged_title,
)
from debrief.words.cautions import TELL_MAINTENANCE
from debrief.words.channels import within_sentence
from debrief.words.events import (
    FINDINGS,
    OUTCOME_WORDS,
    event_in_list,
    event_spec,
    event_title,
    finding,
    finding_key,
    is_failed_start,
)
from debrief.words.numbers import (
    beside,
    clock_text,
    duration_text,
    length_text,
    number,
    plain,
    reference_beside,
    unit_words,
    value_text,
)

RESULT_WORDS = {
    "within": "Within",
    "caution": "Caution",
    "possible": "Possibly exceeded",
    "exceeded": "Exceeded",
    "not_judged": "Not judged",
}

KIND_WORDS = {
    "ground": "On the ground",
    "assisted_air": "In the air, with the starter",
    "windmilling": "Windmilling",
    "relight": "Relight",
}

_FIELD_WORDS = {
    "starter_on_s": "starter on",
    "starter_off_s": "starter off",
    "fuel_on_s": "fuel on",
    "fuel_off_s": "fuel off",
    "light_off_s": "light-off",
    "idle_s": "idle",
    "ng_at_fuel_pct": "Ng at fuel",
    "peak_itt_c": "peak {itt}",
    "power_source": "power source",
}

SOURCE_WORDS = {
    "preamble": "from the file",
    "column": "from the file",
    "option": "given on the command line",
    "entered": "entered by hand",
}

OFF_CHART = "off the chart"
"""What the analysis names a point beyond the chart's own ends."""

NO_PROFILE = "No engine profile was named, so nothing was judged."

PROGRAM = f"Turbine Debrief {__version__}"


def who(assessment: Assessment) -> str:
    """Return aircraft and engine in a line, saying what is not known."""
    identity = assessment.recording.identity
    parts = [identity.aircraft or "Aircraft not named"]
    engine = " ".join(
        part
        for part in (
            identity.engine_model,
            f"no. {identity.engine_serial}" if identity.engine_serial else None,
        )
        if part
    )
    parts.append(f"engine {engine}" if engine else "engine not named")
    parts += (f"engine {n} no. {serial}" for n, serial in identity.engine_serials.items())
    return ", ".join(parts)


def when(assessment: Assessment) -> str:
    """Return the start instant as recorded, with its source, or that it is not known."""
    identity = assessment.recording.identity
    if identity.start is None:
        return "date not known"
    text = identity.start.strftime("%Y-%m-%d %H:%M:%S")
    offset = identity.start.strftime("%z")
    if not offset:
        zone = " (time zone not stated)"
    elif offset in ("+0000", "-0000"):
        zone = " UTC"
    else:
        zone = f" UTC{offset[:3]}:{offset[3:5]}".replace("-", "\N{MINUS SIGN}")
    source = (
        f", {SOURCE_WORDS.get(identity.start_source, identity.start_source)}" if identity.start_source else ""
    )
    return f"{text}{zone}{source}"


def profile_line(assessment: Assessment) -> str:
    """Return name, revision, the file unless it is a shipped one, and whether it is approved data."""
    profile = assessment.profile
    if profile is None:
        return "none"
    approved = "entered as approved data" if profile.approved_data else "not from approved data"
    return f"{full_name(profile)}, {approved}"


def profile_hands(profile: EngineProfile) -> list[tuple[str, str]]:
    """Return who entered the profile's numbers and who checked them, with the date; no row where it is not said."""
    hands = (
        ("Profile entered", profile.entered_by, profile.entered_on),
        ("Profile checked", profile.checked_by, profile.checked_on),
    )
    return [
        (title, ", ".join(part for part in (f"by {who}" if who else "", on) if part))
        for title, who, on in hands
        if who or on
    ]


def start_headline(start: Start) -> str:
    """Return what a pilot asks first about one start, in one line."""
    parts = []
    if start.starter_on_s is not None:
        parts.append(f"starter on at {clock_text(start.starter_on_s)}")
    if start.ng_at_fuel_pct is not None:
        parts.append(f"fuel at {fuel_words(start)} Ng")
    elif start.fuel_on_s is None and start.outcome == "motoring":
        parts.append("no fuel")
    if light_off := after_words(start, "fuel_to_light_off", "fuel"):
        parts.append(f"light-off {light_off}")
    if start.peak_itt_c is not None:
        peak = f"peak {bound_words(start, 'peak_itt')}{value_text(start.peak_itt_c, itt_unit(start))}"
        peak += "" if start.peak_itt_s is None else f" at {clock_text(start.peak_itt_s)}"
        above = above_levels(start)
        parts.append(f"{peak} ({above})" if above else peak)
    if idle := after_words(start, "light_off_to_idle", "light-off"):
        parts.append(f"idle {idle}")
    elif start.fuel_off_s is not None:
        parts.append(f"fuel cut-off at {clock_text(start.fuel_off_s)}")
    if start.min_bus_volts is not None:
        parts.append(
            f"lowest {bound_words(start, 'min_bus_volts')}{value_text(start.min_bus_volts, 'V')} {FROM_ONE_SECOND}"
        )
    return ", ".join(parts) if parts else "nothing more was recorded"


def outcome_words(start: Start) -> str:
    """Return the outcome in words."""
    return OUTCOME_WORDS.get(start.outcome, start.outcome)


def how_it_went(events: Sequence[Event], start: Start) -> str:
    """Return how a start went for its title: what was exceeded in it, or possibly, stands first, then the outcome.

    A start in which something was exceeded is not called completed: it came to idle.
    """
    order = list(FINDINGS)
    grave = [event for event in events if finding(event).shown_as in ("limit", "possible")]
    if not grave:
        return outcome_words(start)
    worst = min(grave, key=lambda event: (order.index(finding_key(event)), event_spec(event.kind).rank))
    named = event_title(worst.kind) if worst.severity == "limit" else f"Possible {event_in_list(worst.kind)}"
    ended = "idle reached" if start.outcome == "completed" else within_sentence(outcome_words(start))
    same = is_failed_start(worst) and start.outcome in ("hung", "no_light_off")
    return named if same else f"{named}, {ended}"


def event_value(event: Event) -> str:
    """Return what is held beside the event's level: its extreme value, or how far it rose; a dash where it has none."""
    if event.rise is None or event.level is None:
        return peak_value(event)
    return f"{beside(event.rise, event.level, event.unit)} rise to {value_text(event.peak, event.unit)}"


def peak_value(event: Event) -> str:
    """Return the extreme value of an event, or a dash where it has none."""
    if event.peak is None:
        return "—"
    if event.level is None or event_spec(event.kind).is_rise:
        return value_text(event.peak, event.unit)
    return beside(event.peak, event.level, event.unit)


def event_limit(event: Event) -> str:
    """Return the level and the seconds allowed, such as ``1030 °C: never``, ``830 °C: 20 s`` or ``150 °C rise``."""
    if event.level is None or event.unit == "s":
        # A rule about seconds alone, such as a starter's rest: the level is these seconds.
        return "—" if event.allowed_s is None else f"{plain(event.allowed_s)} s"
    words = level_words(event.level, event.unit, event.allowed_s)
    return f"{words} rise" if event_spec(event.kind).is_rise else words


def level_words(level: float, unit: str, allowed_s: float | None) -> str:
    """Return a level with what is allowed beyond it."""
    words = f"{plain(level, unit)} {unit_words(unit)}".rstrip()
    if allowed_s is None:
        return words
    return f"{words}: never" if allowed_s == 0 else f"{words}: {plain(allowed_s)} s"


def level_duration(level: LevelResult) -> str:
    """Return how long a level was passed, with bounds."""
    return duration_text(level.duration_s, level.duration_low_s, level.duration_high_s)


def event_duration(event: Event) -> str:
    """Return the event's duration with its bounds, or a dash where it has none."""
    if event.duration_s is None:
        return "—"
    return duration_text(event.duration_s, event.duration_low_s, event.duration_high_s)


def result_words(limit: LimitResult) -> str:
    """Return a limit's result in words; a limit with nothing to apply to is not called "within"."""
    if limit.result == "within" and limit.why:
        return "Did not apply"
    return RESULT_WORDS[limit.result]


def limit_margin(limit: LimitResult, below: bool = False) -> str:
    """Return the distance to the nearest level in words; empty where it is not known. `below`: the limit is a minimum."""
    if limit.nearest_level is None:
        return ""
    words = f"nearest level {plain(limit.nearest_level, limit.unit)} {unit_words(limit.unit)}".rstrip()
    if limit.result not in ("within", "caution"):
        return words
    distance, used = level_distance(limit, below), time_used(limit)
    return "; ".join(filter(None, (f"{words}: {distance}" if distance else words, used)))


def is_minimum(assessment: Assessment, limit: LimitResult) -> bool:
    """Whether a limit of the profile is a minimum."""
    profile = assessment.profile
    return profile is not None and any(one.id == limit.id and one.below for one in profile.limits)


def level_distance(limit: LimitResult, below: bool = False) -> str:
    """Return how far what was recorded was from the nearest level: ``16 °C below the level``, ``peak 54 °C above the level``."""
    if limit.margin_value is None:
        return ""
    if limit.margin_value == 0:
        return "level just reached"
    words = value_text(abs(limit.margin_value), limit.unit)
    passed = limit.margin_value < 0
    side = "below" if passed == below else "above"
    extreme = "" if not passed else "lowest " if below else "peak "
    return f"{extreme}{words} {side} the level"


def time_used(limit: LimitResult) -> str:
    """Return how much was used of the time allowed beyond a level; empty where nothing was beyond it, or for too long."""
    left, allowed = time_left(limit), _allowed_s(limit)
    if not left or allowed is None or limit.margin_seconds is None:
        return f"{left} left" if left else ""
    return f"{number(allowed - limit.margin_seconds, 1)} of {plain(allowed)} s used"


def time_left(limit: LimitResult) -> str:
    """Return what was left of the time allowed beyond a level; empty where nothing was beyond it, or for too long."""
    if limit.margin_seconds is None or limit.margin_value is None:
        return ""
    return value_text(limit.margin_seconds, "s") if limit.margin_value < 0 <= limit.margin_seconds else ""


def time_over(limit: LimitResult) -> str:
    """Return by how much the time allowed beyond a level was passed, or that it never is; empty where it was kept."""
    if limit.margin_seconds is None or limit.margin_seconds >= 0:
        return ""
    return "never allowed" if _allowed_s(limit) == 0 else f"{value_text(-limit.margin_seconds, 's')} too long"


def _allowed_s(limit: LimitResult) -> float | None:
    """Return the seconds allowed beyond the nearest level; None where they are not known."""
    return next((one.allowed_s for one in limit.levels if one.level == limit.nearest_level), None)


def not_judged_line(item: NotJudged) -> str:
    """Return what was not judged, where, and why."""
    place = ""
    if item.start_s is not None and item.end_s is not None:
        place = f" from {clock_text(item.start_s)} to {clock_text(item.end_s)}"
    limit = f" ({item.limit_id})" if item.limit_id and item.limit_id not in item.what else ""
    return f"{not_judged_title(item)}{limit}{place}: {item.why}"


def inferred_words(start: Start, assessment: Assessment) -> str:
    """Return what of a start was inferred."""
    itt = assessment.names(start.engine).itt
    return ", ".join(_FIELD_WORDS.get(name, name).format(itt=itt) for name in start.inferred)


def recorded_line(assessment: Assessment) -> str:
    """Return how much was recorded and how often, such as ``800 rows, 1 min 40 s recorded``."""
    recording = assessment.recording
    return f"{recording.provenance.rows} rows, {length_text(recording.duration_s)} recorded"


def rate_text(interval_s: float | None) -> str:
    """Return a sample rate such as ``8 per s``; slower than once a second as an interval."""
    if interval_s is None or interval_s <= 0:
        return "not known"
    rate = 1.0 / interval_s
    if rate >= 1:
        return f"{number(rate, 0 if abs(rate - round(rate)) < 0.05 else 1)} per s"
    return f"every {number(interval_s, 1)} s"


def channel_list(assessment: Assessment) -> str:
    """Return the recorded channels by their short names."""
    return ", ".join(map(assessment.recording.names.symbol, assessment.recording.channels))


def factor_line(factor: Factor) -> str:
    """Return a contributing factor beside its reference."""
    name = factor_title(factor)
    return (
        f"{name} {beside(factor.value, factor.reference, factor.unit)}, reference {factor_reference(factor)}"
    )


def factor_title(factor: Factor) -> str:
    """Return the factor's name in words."""
    found = definition_of(factor.kind, "factor")
    return found.title if found is not None else factor.kind.replace("_", " ").capitalize()


def factor_reference(factor: Factor) -> str:
    """Return the factor's reference as the profile has it."""
    return (
        f"{reference_beside(factor.value, factor.reference, factor.unit)} {unit_words(factor.unit)}".rstrip()
    )


def factor_value(factor: Factor) -> str:
    """Return the factor's measured value, not rounded onto its reference."""
    return beside(factor.value, factor.reference, factor.unit)


def band_lines(event: Event) -> tuple[str, ...]:
    """Return the band of the profile's chart and its action, as the profile's text and not as advice."""
    if not event.band:
        return ()
    if event.band == OFF_CHART:
        return (f"Beyond the profile's chart; nothing is extrapolated. {TELL_MAINTENANCE}",)
    past = [
        words
        for words in (
            None
            if event.band_past_edge_value is None
            else f"the peak by {value_text(event.band_past_edge_value, event.unit)}",
            None
            if event.band_past_edge_s is None
            else f"the time by {value_text(event.band_past_edge_s, 's')}",
        )
        if words is not None
    ]
    beyond = f"; beyond its lower edge: {', '.join(past)}" if past else ""
    lines = [f"Band {event.band} of the profile's chart{beyond}."]
    if event.band_action:
        lines.append(f"Profile text, confirm in the manual: “{event.band_action}”")
    return tuple(lines)


_UNITS = frozenset(
    (
        "%",
        "V",
        "A",
        "s",
        "kt",
        "ft",
        "rpm",
        "psi",
        "mΩ",
        "kg/h",
        "ft/min",
        "%/s",
        "°C",
        "°C/s",
        "°F",
        "°F/s",
        "bar",
        "kPa",
        "lb/h",
        "m",
        "m/s",
        "km/h",
        "mph",
        "lbf·ft",
        "N·m",
    )
)


def words_of(text: str) -> list[str]:
    """Return the words of a line; a number and its unit are one, so that no line ends between them."""
    out: list[str] = []
    for word in text.split(" "):
        if out and out[-1][-1:].isdigit() and word.rstrip(".,;:)") in _UNITS:
            out[-1] += f" {word}"
        else:
            out.append(word)
    return out


def units_line(assessment: Assessment) -> str:
    """Return in which units the paper is, and in which everything was computed."""
    pairs = assessment.units.pairs
    shown = ", ".join(unit_words(to) for _, to in pairs)
    computed = ", ".join(unit_words(unit) for unit, _ in pairs)
    return f"shown in {shown}, limits rounded like values; data, exact limits and verdict are in {computed}"
