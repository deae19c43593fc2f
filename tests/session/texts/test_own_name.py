"""A recording's own name of the temperature stands in everything that is said of it; one that says ITT reads as before."""

from __future__ import annotations

import ast
import re
from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.gui.starts.starts_table import start_columns
from debrief.history.service.history_service import paper_values
from debrief.history.storage.store import Store
from debrief.history.usual.comparing import compare
from debrief.profile.loader import find
from debrief.recording.lexicon import load, match_name, own_sign
from debrief.recording.model import Channel, Recording
from debrief.recording.reader import read
from debrief.report.content.options import ReportOptions
from debrief.report.content.reference_start import other_recording
from debrief.report.content.whole_report import build
from debrief.report.formats.text import assessment_text
from debrief.session.assessing.file_assessment import assess_file
from debrief.session.charts.start_charts import plane_chart, time_chart
from debrief.session.charts.start_overlay import difference_rows, overlay
from debrief.session.charts.trend_chart import trend_chart
from debrief.session.comparing.start_curves import start_curves
from debrief.session.document import assessment_document
from debrief.session.evidence.why_page import subjects, why_page
from debrief.session.flight.flight_charts import flight_chart, margin_chart
from debrief.session.flight.flight_tables import flight_tables
from debrief.session.lanes.lane_plan import standard_lanes
from debrief.session.limits.instrument_readings import instruments
from debrief.session.limits.trial import level_title
from debrief.session.limits.typed_level import level_in, level_words, with_levels
from debrief.session.texts.definitions import measure_title
from debrief.session.texts.in_units import in_units
from debrief.session.texts.plain_words import plain_words
from debrief.session.texts.story import story
from debrief.words.channels import CHANNELS, channel_words, within_sentence
from debrief.words.display_units import parse_units
from tests.demo_assessing import DEMOS, assessed, often
from tests.history.usual.test_history_adjust import flight, keep_a_year

ITT = re.compile(r"\bITT\b|[Ii]nterturbine")
OTHERS = CHANNELS["itt"].others


def called(assessment: Assessment, sign: str, channel: str = "itt") -> Recording:
    """Return the recording of an assessment as if its temperature's column had another name."""
    recording = assessment.recording
    one = replace(recording.channels[channel], column=f"{sign} (degC)", sign=sign)
    return recording.with_channels({**recording.channels, channel: one})


def renamed(path: Path, folder: Path, sign: str) -> Path:
    """Return a copy of a demo flight whose header calls the temperature so."""
    out = folder / path.name
    out.write_text(path.read_text(encoding="utf-8").replace("ITT", sign, 1), encoding="utf-8")
    return out


def texts(value: Any, seen: set[int] | None = None) -> list[str]:
    """Return every text inside values of values; what was recorded and its profile are not said."""
    seen = set() if seen is None else seen
    if isinstance(value, str):
        return [value]
    if id(value) in seen or isinstance(value, Assessment | Recording | Channel):
        return []
    seen.add(id(value))
    if isinstance(value, dict):
        return [text for one in value.values() for text in texts(one, seen)]
    if isinstance(value, list | tuple | set | frozenset):
        return [text for one in value for text in texts(one, seen)]
    if is_dataclass(value) and not isinstance(value, type):
        return [text for one in fields(value) for text in texts(getattr(value, one.name), seen)]
    return []


def said(assessment: Assessment) -> list[str]:
    """Return all that is said of an assessment: verdict, story, starts, gauges, lanes, charts, Why, text and papers.

    The profile's own text, which the appendix quotes, is taken away.
    """
    if assessment.profile is not None:
        assessment = replace(assessment, profile=replace(assessment.profile, text=""))
    out: list[Any] = [assessment.sentence, assessment_text(assessment), story(assessment)]
    for subject, title in subjects(assessment):
        page = why_page(assessment, subject)
        out += [title, page.title, page.said, page.tables, page.words, page.open_points, page.entry]
    for one in instruments(assessment):
        out += [one.symbol, one.words]
    for plan in standard_lanes(assessment):
        out += [plan.symbol, plan.full_title, plan.label]
    out += start_columns(assessment)
    out += [flight_tables(assessment), flight_chart(assessment), margin_chart(assessment)]
    for start in assessment.starts:
        curves = start_curves(assessment, start)
        both = overlay(curves, curves, "fuel_on", {})
        out += [plain_words(assessment, start), plane_chart(assessment, start), time_chart(assessment, start)]
        out += [
            [lane.symbol for lane in both.lanes],
            difference_rows(start.measures, start.measures, curves.names),
        ]
    for reader in ("pilot", "student", "technician"):
        if reader == "student" and not assessment.starts:
            continue
        reference = other_recording(assessment, 1) if reader == "student" else None
        paper = build(assessment, ReportOptions(reader=reader), reference=reference)  # type: ignore[arg-type]
        out.append(paper)
    return texts(out)


@cache
def all_egt(folder: Path) -> dict[str, Assessment]:
    return {path.name: assess_file(renamed(path, folder, "EGT")) for path in DEMOS}


@pytest.mark.parametrize("name", [pytest.param(path.name, marks=often(path)) for path in DEMOS])
def test_nothing_says_itt_of_a_recording_that_says_egt(
    name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.getbasetemp() / "egt"
    folder.mkdir(exist_ok=True)
    assessment = all_egt(folder)[name]
    everything = said(assessment)
    assert [text for text in everything if ITT.search(text)] == []
    assert any(re.search(r"\bEGT\b", text) for text in everything)
    usual = next(path for path in DEMOS if path.name == name)
    assert said(assessed(usual)) != everything


@pytest.mark.parametrize(("sign", "words"), OTHERS)
def test_every_other_sign_is_said_in_short_and_in_full(sign: str, words: str) -> None:
    usual = assessed(next(path for path in DEMOS if path.name.startswith("06")))
    named = assess(called(usual, sign), usual.profile)
    assert f"{sign} was above 1030 °C" in named.sentence
    assert named.names().words("itt") == words
    assert within_sentence(f"{sign} at fuel on") == f"{sign} at fuel on"  # an abbreviation keeps its letters
    for told in said(named):
        assert not ITT.search(told.replace("Temperature T4.5", ""))


def test_data_keep_their_keys_whatever_the_temperature_is_called() -> None:
    usual = assessed(next(path for path in DEMOS if path.name.startswith("06")))
    named = assess(called(usual, "TGT"), usual.profile, usual.context)
    one, other = assessment_document(usual), assessment_document(named)
    assert one["starts"][0].keys() == other["starts"][0].keys()
    assert one["starts"][0]["measures"].keys() == other["starts"][0]["measures"].keys()
    assert [event["channel"] for event in one["events"]] == [event["channel"] for event in other["events"]]
    assert "TGT was above" in other["events"][0]["message"]


def test_another_unit_keeps_the_name() -> None:
    usual = assessed(next(path for path in DEMOS if path.name.startswith("06")))
    shown = in_units(assess(called(usual, "EGT"), usual.profile), parse_units("degF"))
    everything = said(shown)
    assert [text for text in everything if ITT.search(text)] == []
    assert any("EGT was above 1886 °F" in text for text in everything)


def test_each_of_two_engines_has_its_own_name() -> None:
    first, second = (assessed(next(p for p in DEMOS if p.name.startswith(one))) for one in ("06", "05"))
    one, two = called(first, "EGT"), called(second, "TIT")
    others = {
        f"{name}.2": replace(channel, name=f"{name}.2")
        for name, channel in two.channels.items()
        if CHANNELS[name].per_engine
    }
    both = assess(one.with_channels({**one.channels, **others}), find("tarn-tg7"))
    messages = {engine: " ".join(e.message for e in both.events if e.engine == engine) for engine in (1, 2)}
    assert ["EGT was above" in messages[1], "TIT was above" in messages[2]] == [True, True]
    assert ["TIT" in messages[1], "EGT" in messages[2]] == [False, False]
    assert (both.names().symbol("itt.1"), both.names().symbol("itt.2")) == ("EGT 1", "TIT 2")
    assert measure_title("highest_itt_running.2", both.names()) == "Highest TIT, running"
    papers = texts(build(both, ReportOptions()))
    assert {text for text in papers if text in ("Peak TIT", "Peak EGT", "Peak ITT")} == {
        "Peak TIT",
        "Peak EGT",
    }


# --- from the column's header to the name ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "sign"),
    [
        ("EGT", "EGT"),
        ("EGT (°C)", "EGT"),
        ("Eng 1 EGT [degF]", "EGT"),
        ("exhaust_gas_temperature", "EGT"),
        ("Abgastemperatur", "EGT"),
        ("TIT_degC", "TIT"),
        ("Turbine Inlet Temp", "TIT"),
        ("T45", "T4.5"),
        ("T4.5 (C)", "T4.5"),
        ("TOT", "TOT"),
        ("Turbine_Exit", "TOT"),
        ("TGT", "TGT"),
        ("MGT_R", "MGT"),
        ("JPT", "JPT"),
        ("T5", "T5"),
        ("ITT", ""),  # the usual name
        ("Interturbine temp", ""),
        ("Turbine temperature", ""),  # which, it does not say
        ("Temp 3", ""),
        ("EGT limit", ""),  # nothing that was measured
        ("Oil temp", ""),
    ],
)
def test_the_name_comes_from_the_header(header: str, sign: str) -> None:
    assert own_sign("itt", [header]) == sign


def test_the_lexicon_spells_the_signs_that_are_known_and_each_is_a_name_of_the_channel() -> None:
    for channel, row in CHANNELS.items():
        entry = load().channels[channel]
        assert set(entry.signs.values()) == {sign for sign, _ in row.others}
        for key in entry.signs:
            assert key in entry.names
    for sign, _ in OTHERS:
        assert any(match.channel == "itt" and match.sign == sign for match in match_name(sign))


HEADS = "Time (s),Ng (%),{heads}\n"
ROWS = "".join(
    f"{i},{min(62, i)},{value},{value + 2}\n"
    for i, value in enumerate([20] * 20 + [20 + 30 * i for i in range(24)])
)


@pytest.mark.parametrize(
    ("heads", "maps", "sign"),
    [
        ("EGT 1 (°C),EGT 2 (°C)", ("itt.mean=EGT 1 (°C)", "itt.mean=EGT 2 (°C)"), "EGT"),
        ("EGT probe 1 (°C),EGT probe 2 (°C)", ("itt.highest=EGT probe 1 (°C)", "itt.highest=EGT probe 2 (°C)"), "EGT"),
        ("EGT (°C),TIT (°C)", ("itt.mean=EGT (°C)", "itt.mean=TIT (°C)"), "ITT"),  # no common name
        ("Hot A (°C),Hot B (°C)", ("itt=Hot A (°C)",), "ITT"),  # a name that nobody knows
        ("TIT (°C),Hot B (°C)", ("itt=Hot B (°C)",), "ITT"),  # the name of another column
        ("TIT (°C),Hot B (°C)", ("itt=TIT (°C)",), "TIT"),
        ("TIT (°C),ITT (°C)", (), "ITT"),
        ("TIT (°C),Oil temp (°C)", (), "TIT"),
    ],
)  # fmt: skip
def test_the_name_is_that_of_the_columns_that_were_taken(
    heads: str, maps: tuple[str, ...], sign: str, tmp_path: Path
) -> None:
    file = tmp_path / "made.csv"
    file.write_text(HEADS.format(heads=heads) + ROWS, encoding="utf-8")
    recording = read(file, maps=maps)
    assert recording.names.itt == sign
    if sign != "ITT":
        reading = [*recording.provenance.decisions, *recording.provenance.repairs]
        assert not any(ITT.search(text) for text in reading), reading


def test_what_was_left_out_of_a_column_is_told_without_calling_it_itt(tmp_path: Path) -> None:
    file = tmp_path / "made.csv"
    file.write_text(HEADS.format(heads="EGT (°C),x") + ROWS.replace(",80,", ",9e30,"), encoding="utf-8")
    told = read(file).provenance.repairs
    assert [ITT.search(text) is None for text in told] == [True]


# --- typed levels, trials, the history ------------------------------------------------------------------


def test_levels_and_limits_are_asked_for_by_the_recordings_name() -> None:
    usual = assessed(next(path for path in DEMOS if path.name.startswith("06")))
    named = assess(called(usual, "EGT"), usual.profile)
    level = with_levels(named, ["itt=800"]).levels_asked[0]
    assert level_words(level, names=named.recording.names).startswith("EGT was above 800 °C")
    with pytest.raises(UserError, match="is no level of EGT"):
        level_in("hot", named.recording.channels["itt"])
    assert named.profile is not None
    limit = next(one for one in named.profile.limits if one.channel == "itt")
    assert level_title(limit, 0, named.names()).startswith("EGT above")


def test_what_the_history_says_of_a_start_has_the_recordings_name(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "history.sqlite")) as store:
        keep_a_year(store)
        judged = flight("b.csv", 51, 2.0, 786.0)
        channel = Channel("itt", "degC", np.arange(3.0), np.array([20.0, 30.0, 40.0]), sign="EGT")
        named = replace(judged, recording=judged.recording.with_channels({"itt": channel}))
        told = {one.measure: one.message for one in compare(named, store)}
        usual = {one.measure: one.message for one in compare(judged, store)}
        trends = [trend_chart(one).title + one.words for one in paper_values(named, store)[2]]
    assert told["peak_itt"].startswith("Peak EGT 786 °C")
    assert told["peak_itt_adjusted"].startswith("Peak EGT, conditions allowed for")
    assert not any(ITT.search(text) for text in (*told.values(), *trends))
    assert sum("Peak EGT" in text for text in trends) == 1
    assert usual["peak_itt"] == told["peak_itt"].replace("EGT", "ITT")


def test_names_without_a_recording_are_the_usual_ones() -> None:
    assert channel_words("itt.2") == "Interturbine temperature, engine 2"


# --- that it stays so -----------------------------------------------------------------------------------

PACKAGE = Path(__file__).parents[3] / "debrief"
USUAL = ("channel_words", "channel_in_text", "channel_symbol")
WITHOUT_A_RECORDING = (
    "words/",  # where the names are
    "recording/",  # until the columns are matched there are no names
    "session/importing/",
    "session/profiles/",  # a profile is of an engine, not of a recording
    "profile/",
    "session/charts/limit_table_chart.py",  # of a profile's table
    "gui/profiles/",
    "gui/help/remedies.py",  # of a channel that was not recorded
    "history/storage/",  # what is kept, for those who mend a file
    "synth/",
)
NOT_RECORDED = "whether the engine was running is not known: neither Ng nor ITT was recorded"


def test_who_speaks_beside_a_recording_asks_it_for_its_names() -> None:
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        if module.startswith(WITHOUT_A_RECORDING):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        comments = {
            id(node.value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Name) and node.id in USUAL:
                found.append(f"{module}: {node.id}")
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in comments:
                found += [f"{module}: {node.value}"] if ITT.search(node.value) else []
    assert found == [f"analysis/starts/unknown_running.py: {NOT_RECORDED}"]
