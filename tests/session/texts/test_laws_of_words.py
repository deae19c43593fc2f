"""The laws of wording, over the demo flights and over made recordings: what a headline says, and what a finding is called."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from debrief.analysis import assess
from debrief.analysis.limits.chart_bands import OFF_CHART
from debrief.analysis.model import Assessment, Event
from debrief.analysis.verdict import next_step
from debrief.history.storage.store import Store
from debrief.profile.loader import find
from debrief.profile.model import AllowedRow
from debrief.recording.reader import read
from debrief.report.blocks import Notice, Paragraph, Row, Table
from debrief.report.content.options import ReportOptions
from debrief.report.content.overview import verdict_notice
from debrief.report.content.phrases import band_lines, start_headline
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text
from debrief.session.texts.in_units import in_units
from debrief.session.texts.plain_words import plain_words
from debrief.session.texts.story import event_detail, story
from debrief.words.cautions import AFTER_LIMIT, AFTER_PROCEDURE, TELL_MAINTENANCE
from debrief.words.channels import ENGINE_CHANNELS
from debrief.words.display_units import parse_units
from debrief.words.events import EVENTS, FINDINGS, finding, finding_key, headline
from tests.analysis.recording_making import PROFILE, START_LIMIT, Corners, normal_start, recording
from tests.demo_assessing import DEMOS, assessed

RANGE = re.compile(r"\([^()]*\d [a-z°% ]*to [^()]*\d[^()]*\)|\bbetween \S*\d")
SEVERITIES = ("limit", "possible", "caution", "note")


def judge(traces: dict[str, Corners], seconds: float = 80, rate_hz: float = 8.0) -> Assessment:
    return assess(recording(traces, seconds, rate_hz), PROFILE)


def at_a_level(seconds: float) -> Assessment:
    """Return a start whose ITT stands above 920 °C for about so long, where 6 s are allowed, at two samples a second."""
    begin = 30.0
    itt = [(0, 15), (23, 15), (26, 700), (begin, 900), (begin + 0.2, 925), (begin + seconds, 925),
           (begin + seconds + 0.2, 900), (50, 560), (80, 540)]  # fmt: skip
    return judge(normal_start() | {"itt": itt}, rate_hz=2.0)


def two_engines() -> Assessment:
    first, second = (read(next(p for p in DEMOS if p.name.startswith(one))) for one in ("01", "05"))
    others = {
        f"{name}.2": replace(channel, name=f"{name}.2")
        for name, channel in second.channels.items()
        if name in ENGINE_CHANNELS
    }
    return assess(first.with_channels({**first.channels, **others}), find("tarn-tg7"))


@cache
def made() -> dict[str, Assessment]:
    cold = normal_start() | {"itt": [(0, 15)], "ng": [(0, 0), (10, 0), (17, 20), (40, 20), (55, 3)]}
    hung = normal_start() | {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), (30, 40), (75, 40.5), (80, 41)]}
    late = normal_start() | {
        "itt": [(0, 15), (34, 15), (38, 560), (42, 700), (60, 560), (80, 540)],
        "ng": [(0, 0), (10, 0), (17, 20), (34, 20), (60, 58.5), (80, 59)],
    }
    # Ng rises by 20 % from 10 to 17 s: 14.3 % at 15 s, 17.1 % at 16 s, and fuel came between.
    seldom = judge(normal_start(fuel_s=15.2), rate_hz=1.0)
    turning = normal_start() | {"ng": [(0, 20), (10, 12), (17, 20), (23, 20), (48, 58.5), (80, 59)]}
    burst = normal_start() | {
        "fuel_on": [(0, 0), (22, 1), (60, 0)], "starter": [(0, 0), (10, 1), (46, 0)],
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (48, 58.5), (60, 59), (80, 8)],
        "itt": [(0, 15), (23, 15), (30, 700), (48, 560), (60, 540), (65, 250), (75, 600), (80, 620)],
    }  # fmt: skip
    return {
        "hot": judge(normal_start(1060)),
        "cold fuel": judge(cold),
        "hung": judge(hung),
        "late": judge(late),
        "early, seldom": seldom,
        "early": judge(normal_start(fuel_s=14.0)),
        "not advised": judge(normal_start(fuel_s=16.1)),
        "turning": judge(turning),
        "burning": judge(burst),
        "two engines": two_engines(),
        "started again": judge_again(),
        "open probe": judge(
            normal_start() | {"itt": [*normal_start()["itt"][:-1], (70, 540), (70.1, 999), (800, 999)]}, 800
        ),
        "never lit": judge(normal_start() | {"fuel_on": [(0, 0)], "itt": [(0, 15)]}, 60, 4.0),
        "ends early": judge(normal_start(), 40),
    } | {f"{seconds} s": at_a_level(seconds) for seconds in (5.0, 5.6, 6.0, 6.4, 8.0)}


def judge_again() -> Assessment:
    """Return two starts, the first hot and cut, the second without a rest and too early."""
    traces = normal_start(1060) | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (35, 40), (60, 0), (70, 0), (77, 12), (110, 58.5), (140, 59)],
        "itt": [(0, 15), (23, 15), (30, 1060), (35, 1060), (60, 250), (78, 240), (85, 700), (110, 560), (140, 540)],
        "starter": [(0, 0), (10, 1), (36, 0), (70, 1), (108, 0)],
        "fuel_on": [(0, 0), (22, 1), (35, 0), (77, 1)],
    }  # fmt: skip
    return judge(traces, 140)


MADE = (
    "hot", "cold fuel", "hung", "late", "early, seldom", "early", "not advised", "turning", "burning", "two engines", "started again",
    "open probe", "never lit", "ends early", "5.0 s", "5.6 s", "6.0 s", "6.4 s", "8.0 s",
)  # fmt: skip
NAMES = (*(path.stem for path in DEMOS), *MADE)


def one_of(name: str) -> Assessment:
    """Return the assessment of a demo flight or of a made recording."""
    assert set(made()) == set(MADE)
    return made()[name] if name in MADE else assessed(next(path for path in DEMOS if path.stem == name))


def said_of_starts(assessment: Assessment) -> Iterator[str]:
    """Yield what is said of an assessment everywhere but in tables of samples."""
    yield assessment.sentence
    yield assessment_text(assessment)
    for step in story(assessment):
        yield step.spoken()
    for start in assessment.starts:
        yield from plain_words(assessment, start)
    for section in build(assessment, ReportOptions()).sections:
        yield section.title
        for block in section.blocks:
            if isinstance(block, Paragraph | Notice):
                yield block.text


def test_the_made_recordings_have_findings_of_many_kinds_and_words() -> None:
    events = [event for one in made().values() for event in one.events]
    assert {finding_key(event) for event in events} == set(FINDINGS) - {"possibly_failed"}
    assert {event.kind for event in events} >= {
        "hot_start", "hung_start", "no_light_off", "early_fuel", "starter_overrun", "burning_after_cut", "residual_heat",
        "motoring_short",
    } - ({"motoring_short"} if PROFILE.abort.motor_for_s is None else set())  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_no_headline_holds_bounds_unless_they_decide(name: str) -> None:
    one = one_of(name)
    for event in one.events:
        for text in (event.message, event_detail(one, event)):
            assert event.severity == "possible" or not RANGE.search(text), text
    if not any(event.severity == "possible" for event in one.events):
        assert not RANGE.search(one.sentence), one.sentence
    for step in story(one):
        assert (step.event is not None and step.event.severity == "possible") or not RANGE.search(step.detail)


def test_bounds_stand_where_they_decide() -> None:
    maybe = [e for one in made().values() for e in one.events if e.severity == "possible" and e.limit_id]
    assert maybe
    assert all(RANGE.search(event.message) for event in maybe if not event.sensor_suspect)


@pytest.mark.parametrize("name", NAMES)
def test_the_only_start_of_an_engine_is_not_counted(name: str) -> None:
    one = one_of(name)
    counts = {engine: one.start_count(engine) for engine in one.recording.engines}
    if max(counts.values()) == 1:
        for text in said_of_starts(one):
            assert not re.search(r"\bstart 1\b", text, re.IGNORECASE), text
    for event in one.events:
        several = counts[event.engine] > 1 and event.start_number is not None
        assert bool(re.search(r"\bstart \d", event.message)) == several, event.message


def test_of_several_engines_each_finding_names_its_own() -> None:
    one = made()["two engines"]
    assert one.events
    assert all(event.message.startswith(f"Engine {event.engine}: ") for event in one.events)


def test_a_duration_never_reads_on_the_wrong_side_of_what_is_allowed() -> None:
    for one in made().values():
        for event in one.events:
            if event.allowed_s and event.duration_s is not None and event.severity == "limit":
                numbers = re.findall(r"(\d+\.\d+) s", event.message)
                assert all(
                    (float(n) > event.allowed_s) == (event.duration_s > event.allowed_s) for n in numbers
                )


KINDS = [
    (kind, severity, reason)
    for kind in EVENTS
    for severity in SEVERITIES
    for reason in ((None, "late") if kind == "no_light_off" else (None,))
]


def event_of(kind: str, severity: str, reason: str | None) -> Event:
    """Return a hot start turned into a finding of another kind."""
    return replace(
        made()["hot"].events[0], kind=kind, event_class=EVENTS[kind].event_class, severity=severity, reason=reason,
        sensor_suspect=False,
    )  # type: ignore[arg-type]  # fmt: skip


VERDICT_OF = {"limit": "exceeded", "possible": "possible", "caution": "within", "note": "within"}


@pytest.mark.parametrize(("kind", "severity", "reason"), KINDS)
def test_a_finding_is_called_the_same_in_banner_story_history_text_and_paper(
    kind: str, severity: str, reason: str | None, debrief_home: Path
) -> None:
    event = event_of(kind, severity, reason)
    from debrief.analysis.verdict import sentence_of

    verdict = VERDICT_OF[event.severity]
    sentence = sentence_of(verdict, (event,), assessed(DEMOS[4]).starts, ())  # type: ignore[arg-type]
    whole = assessed(DEMOS[4])  # of a file, so that it can be kept
    one = replace(whole, events=(event,), verdict=verdict, sentence=sentence)  # type: ignore[arg-type]
    word = finding(event).title
    step = next(step for step in story(one) if step.event is event)
    assert word.lower() in step.spoken()
    assert f"  {word}: " in assessment_text(one)
    rows = [
        row
        for section in build(one, ReportOptions()).sections
        for block in section.blocks
        if isinstance(block, Table)
        for row in block.rows
        if isinstance(row, Row) and row.mark is not None
    ]
    assert any(cell.startswith(word) for row in rows for cell in row.cells)
    assert {row.mark for row in rows} <= {finding(event).shown_as}
    if event.severity in ("limit", "possible"):
        assert sentence.lead == f"{word}:"
        assert headline(verdict, one.events).title == word
        with Store.open() as store:
            store.keep(one)
            (listed,) = store.flights()
        assert (listed.finding.title, listed.finding.sign) == (word, step.shape)


def test_the_diamond_is_of_the_engine_and_of_starts_that_failed() -> None:
    for event in (event_of(*one) for one in KINDS):
        diamond = finding(event).sign == "diamond"
        assert diamond == (finding(event).title in ("Exceeded", "Start failed"))
        if event.event_class == "procedure" and event.reason:
            assert not diamond


def test_a_headline_keeps_its_form_in_other_units() -> None:
    shown = in_units(made()["hot"], parse_units("degF"))
    assert shown.sentence.lead == "Exceeded:"
    assert "not allowed at any time; peak 1940 °F." in shown.sentence


def test_a_level_without_time_is_said_as_one() -> None:
    limit = replace(START_LIMIT, allowed=(AllowedRow(1000, 0),))
    one = assess(recording(normal_start(1060), 80, 8.0), replace(PROFILE, limits=(limit,)))
    assert "in the start, not allowed at any time; peak 1060 °C." in one.sentence


def starts_told(assessment: Assessment) -> list[str]:
    """Return all that text, story and plain words tell of the only start, one text each."""
    (start,) = assessment.starts
    return [
        start_headline(start),
        " ".join(step.spoken() for step in story(assessment) if step.start_number == 1),
        " ".join(plain_words(assessment, start)),
    ]


def test_what_coarse_samples_leave_open_is_said_by_its_bounds_everywhere() -> None:
    dip = {"bus_volts": [(0, 25), (10, 25), (10.1, 12), (12, 12), (14.9, 20), (50, 24), (80, 28)]}
    for text in starts_told(judge(normal_start(fuel_s=24.0) | dip, rate_hz=0.2)):
        assert "within 10 s of fuel" in text
        assert re.search(r"at least \d+ °C", text), text
        assert re.search(r"at most \d+\.\d V", text), text
        assert not re.search(r"\d\.\d s after", text), text


@pytest.mark.parametrize("rate_hz", [8.0, 16.0])
def test_samples_that_are_close_enough_need_no_bounds(rate_hz: float) -> None:
    for text in starts_told(judge(normal_start(), rate_hz=rate_hz)):
        assert not re.search(r"at least|at most|within \d|\d to \d", text), text


def test_a_finding_between_coarse_samples_has_a_peak_of_at_least() -> None:
    (coarse,), (fine,) = (judge(normal_start(1100, fuel_s=23.0), rate_hz=rate).events for rate in (0.5, 8.0))
    assert re.search(r"; peak at least 10\d\d °C", coarse.message), coarse.message
    assert "; peak 1100 °C" in fine.message
    one = judge(normal_start(1100, fuel_s=23.0), rate_hz=0.5)
    assert event_detail(one, one.events[0]).startswith("peak at least ")


APPROVES = re.compile(
    r"\b(may|can|allowed to|safe to|permitted to) (be )?(fly|flown|start|continue|operate|attempt)",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", NAMES)
def test_what_was_exceeded_has_a_next_step_that_defers_to_the_manual_and_none_approves(name: str) -> None:
    one = one_of(name)
    step = next_step(one.events, one.profile)
    grave = [event for event in one.events if event.severity in ("limit", "possible")]
    assert bool(step) == bool(grave or any(event.kind == "fuel_after_cut" for event in one.events))
    assert not step or "the manual" in step
    for text in (*said_of_starts(one), step):
        assert not APPROVES.search(text), text
    if step:
        assert step in assessment_text(one).replace("\n", " ")
        assert step in verdict_notice(one).lines
    for event in one.events:
        for line in band_lines(event):
            assert "manual" in line or event.band_action, line


def test_beyond_the_chart_the_manual_decides() -> None:
    beyond = [event for name in NAMES for event in one_of(name).events if event.band == OFF_CHART]
    assert beyond
    for event in beyond:
        assert band_lines(event) == (
            f"Beyond the profile's chart; nothing is extrapolated. {TELL_MAINTENANCE}",
        )


@pytest.mark.parametrize(
    ("kind", "severity", "step"),
    [
        ("overtemp", "limit", TELL_MAINTENANCE),
        ("overspeed_ng", "possible", TELL_MAINTENANCE),
        ("motoring_short", "limit", AFTER_PROCEDURE),
        ("hot_start", "possible", AFTER_LIMIT),
        ("fuel_after_cut", "caution", AFTER_LIMIT),
        ("residual_heat", "caution", ""),
        ("early_fuel", "note", ""),
    ],
)
def test_the_next_step_is_that_of_the_gravest_finding(kind: str, severity: str, step: str) -> None:
    event = replace(event_of(kind, severity, None), limit_id=None)
    assert next_step((event,), PROFILE) == step


LONG = 12
"""Words in a row that nobody says twice by chance, but of two findings of one kind."""


def said_twice(text: str) -> str:
    """Return the first run of words that stands twice in a text; times, numbers and their units may differ."""
    words = re.findall(r"[^\s.,;:]+", text)
    seen: set[tuple[str, ...]] = set()
    for n in range(len(words) - LONG + 1):
        run = tuple(words[n : n + LONG])
        if run in seen:
            return " ".join(run)
        seen.add(run)
    return ""


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_said_twice_in_a_verdict(name: str) -> None:
    one = one_of(name)
    assert not said_twice(" ".join((one.sentence, *verdict_notice(one).lines))), one.sentence
    for event in one.events:
        assert event.message.lower().count("sensor suspect") == int(event.sensor_suspect), event.message
    for line in re.split(r"\n(?=  \S|\n)", assessment_text(one)):
        assert line.lower().count("sensor suspect") <= 1, line


def test_a_suspect_reading_leaves_no_verdict_and_its_reason_is_said_once() -> None:
    one = made()["open probe"]
    assert "as an open probe does. So there is no verdict on overtemperature in part." in one.sentence
    assert "Cannot be told" not in one.sentence


def test_one_sample_is_one() -> None:
    (event,) = one_of("18_speed_signal_spike").events
    assert "It rests on one sample that no engine can make" in event.message


ONE_OF_MANY = re.compile(
    r"\b(1|one) (samples|rows|cautions|findings|starts|runs|stretches|times|probes)\b|\b[2-9] (sample|row|caution|finding|start|run)\b"
)
NO_ARTICLE = re.compile(r"\bon (outcome|length|time) (of|from)\b")


@pytest.mark.parametrize("name", NAMES)
def test_one_is_singular_more_are_plural_and_nouns_have_their_article(name: str) -> None:
    for text in said_of_starts(one_of(name)):
        assert not ONE_OF_MANY.search(text), text
        assert not NO_ARTICLE.search(text), text
        assert not re.search(r"[^.]\.\.(?!\.)|,,| ,| \.(?!\d)", text), text


OTHER_UNITS = parse_units("degF,bar,lb/h,m,km/h")
CANONICAL_SAID = re.compile(r"\d (°C|psi|kg/h|ft|kt)\b")


@pytest.mark.parametrize("name", NAMES)
def test_no_unit_is_of_another_system(name: str) -> None:
    shown = in_units(one_of(name), OTHER_UNITS)
    for text in said_of_starts(shown):
        assert not CANONICAL_SAID.search(text), text


@pytest.mark.parametrize("name", NAMES)
def test_a_caution_in_the_verdict_has_its_number(name: str) -> None:
    one = one_of(name)
    cautions = [event for event in one.events if event.severity == "caution" and not event.sensor_suspect]
    if len(cautions) == 1:
        assert f"Caution: {cautions[0].message}" in one.sentence
    if len(cautions) > 1:
        assert f"{len(cautions)} cautions: {cautions[0].message}" in one.sentence


@pytest.mark.parametrize("name", NAMES)
def test_what_is_possible_is_said_so_once(name: str) -> None:
    for event in one_of(name).events:
        if finding_key(event) == "possible":
            assert not re.search(r"so it may|possibl", event.message), event.message
    for section in build(one_of(name), ReportOptions()).sections:
        for block in section.blocks:
            for row in block.rows if isinstance(block, Table) else ():
                assert not isinstance(row, Row) or not any(
                    "ossibl" in c and "not certain" in c for c in row.cells
                )
