"""Time above a level that a person types: counted as every limit is, on any channel, without a profile."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from debrief.analysis.level_time import level_time
from debrief.cli import main
from debrief.errors import UserError
from debrief.recording.model import Channel
from debrief.session.assessing.file_assessment import assess_file
from debrief.session.limits.typed_level import level_in, level_words, with_levels

DEMO = Path(__file__).parents[3] / "demo_flights"
HOT = DEMO / "02_early_fuel_hot.csv"
SCHEMA = json.loads((Path(__file__).parents[3] / "resources" / "assessment.schema.json").read_text())


def channel(values, unit: str = "degC") -> Channel:
    return Channel("itt", unit, [float(t) for t in range(len(values))], [float(v) for v in values])


@pytest.mark.parametrize(
    ("text", "unit", "level"),
    [
        ("800", "degC", 800.0), (" 800,5 ", "degC", 800.5), ("800 °C", "degC", 800.0), ("1472 degF", "degC", 800.0),
        ("1472:F", "degC", 800.0), ("800 degC", "degF", 1472.0), ("-10", "degC", -10.0), ("4 bar", "psi", 58.0150951),
    ],
)  # fmt: skip
def test_a_level_is_understood_with_and_without_a_unit(text, unit, level):
    assert level_in(text, channel([1, 2], unit)) == pytest.approx(level)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no level of ITT"),
        ("hot", "no level of ITT"),
        ("700 psi", "does not measure"),
        ("7 xyz", "not a unit"),
    ],
)
def test_what_is_no_level_is_said(text, why):
    with pytest.raises(UserError, match=why):
        level_in(text, channel([1, 2]))


def test_total_longest_run_and_when_by_hand():
    """Two triangles: above 5 from 0.5 to 1.5 s, and from 3.5 to 6.5 s."""
    one = level_time(channel([0, 10, 0, 0, 10, 10, 10, 0, 0]), 5.0, 0.0, 8.0)
    assert (one.total_s, one.runs, one.longest_s) == (pytest.approx(4.0), 2, pytest.approx(3.0))
    assert (one.longest_begin_s, one.longest_end_s, one.highest) == (3.5, 6.5, 10.0)
    assert one.total_low_s <= one.total_s <= one.total_high_s
    part = level_time(channel([0, 10, 0, 0, 10, 10, 10, 0, 0]), 5.0, 0.0, 4.0)
    assert (part.total_s, part.runs) == (pytest.approx(1.5), 2)


def test_nothing_above_and_a_run_cut_by_the_edge_are_said_as_such():
    assert (
        level_words(level_time(channel([1, 2, 1]), 5.0, 0.0, 2.0)) == "ITT was never above 5 °C, highest 2 °C"
    )
    cut = level_time(channel([9, 9, 9]), 5.0, 0.0, 2.0)
    assert cut.total_high_s is None
    assert "for at least" in level_words(cut)


def test_it_is_the_number_that_the_limits_count():
    assessment = with_levels(assess_file(HOT), ["itt=830", "ITT=920", "oil_temp=15"])
    (start,) = assessment.starts
    assert [(one.channel, one.start_number) for one in assessment.levels_asked] == [
        ("itt", None), ("itt", 1), ("itt", None), ("itt", 1), ("oil_temp", None), ("oil_temp", 1),
    ]  # fmt: skip
    for index, level in ((1, 830), (3, 920)):
        counted = start.measures[f"time_above_{level}"]
        one = assessment.levels_asked[index]
        assert (one.total_s, one.total_low_s, one.total_high_s) == pytest.approx(
            (counted.value, counted.low, counted.high)
        )
    with pytest.raises(UserError, match="has no egt; it has: ng, itt"):
        with_levels(assessment, ["egt=800"])


def test_the_command_line_says_it_without_a_profile_in_text_and_json(tmp_path, capsys):
    file = tmp_path / "bare.csv"
    file.write_text(HOT.read_text(encoding="utf-8").replace("engine-profile", "nothing"), encoding="utf-8")
    assert main(["assess", str(file), "--time-above", "itt=1472 degF"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert (
        "Whole recording: ITT was above 800 °C for 5.8 s (5.6 to 6.0), in one run from 0:20.8 to 0:26.6"
        in text
    )
    assert main(["assess", str(file), "--time-above", "itt=800", "--format", "json"]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.validate(document, SCHEMA)
    (one, *_) = document["time_above"]
    assert (one["channel"], one["level"], one["unit"], one["start_number"]) == ("itt", 800.0, "degC", None)
    assert main(["assess", str(file), "--time-above", "800"]) == 2
    assert "names no level: write CHANNEL=LEVEL" in capsys.readouterr().err
