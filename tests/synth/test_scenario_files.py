"""Scenario files: what is read, and the one clear sentence for everything that is not understood."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.synth.scenario import Action
from debrief.synth.scenario_file import read_scenario
from tests.synth.scenarios import DEMO, START, scenario, text


def line_of(content: str, part: str) -> int:
    return next(i for i, line in enumerate(content.splitlines(), start=1) if part in line)


def test_a_scenario_is_read_with_its_defaults(tmp_path: Path) -> None:
    found = scenario(tmp_path)
    assert found.start == datetime(2031, 1, 2, 3, 4, 5, tzinfo=UTC)
    assert found.actions == (
        Action(5.0, "starter", 1.0),
        Action(12.0, "ignition", 1.0),
        Action(19.0, "fuel", 1.0),
    )
    assert found.ambient.oat_c == 15.0
    assert [c.rate_hz for c in found.recorder.columns] == [4.0, 4.0, 4.0, 1.0]
    assert found.aircraft == "ZZ-TRN"


@pytest.mark.parametrize(
    ("old", "new", "where", "why"),
    [
        ("seed = 1", "seed = 1.5", "seed", "whole number"),
        ("seed = 1", "seed = true", "seed", "whole number"),
        ("seed = 1", "seed = 1\nsped = 2", "sped", "unknown key"),
        ("duration_s = 60.0", 'duration_s = "long"', "duration_s", "must be a number"),
        ("duration_s = 60.0", "duration_s = nan", "duration_s", "must be a number"),
        ("duration_s = 60.0", "duration_s = 1e9", "duration_s", "outside"),
        ("2031-01-02T03:04:05Z", "2031-01-02T03:04:05", "start", "offset"),
        ("2031-01-02T03:04:05Z", '"soon"', "start", "offset"),
        ('format = "synth-scenario/1"', 'format = "synth-scenario/9"', "format", "must be"),
        ('starter = "on"', 'starter = "maybe"', "actions[0].starter", "not one of on, off"),
        ('starter = "on"', 'startr = "on"', "actions[0].startr", "unknown key"),
        ('starter = "on"', "", "actions[0]", "nothing is done"),
        ('ignition = "on"', "power_lever = 120", "actions[1].power_lever", "outside"),
        ("at_s = 12.0", "at_s = 2.0", "actions[1]", "in order"),
        ("at_s = 19.0", "at_s = 99.0", "actions[2].at_s", "outside"),
        ('channel = "itt"', 'channel = "egt"', "recorder.columns[1].channel", "not one of"),
        ('unit = "degC", resolution = 1, noise', 'unit = "K", resolution = 1, noise', "columns[1].unit", "known for"),
        ("rate_hz = 1,", "rate_hz = 3,", "recorder.columns[3].rate_hz", "divide"),
        ("rate_hz = 4", "rate_hz = 7", "recorder.rate_hz", "0.1 ms"),
        ("rate_hz = 4", 'rate_hz = 4\ndecimal = ","', "recorder.delimiter", "decimal comma"),
        ("rate_hz = 4", 'rate_hz = 4\ntime_format = "roman"', "recorder.time_format", "not one of"),
        ("rate_hz = 4", "rate_hz = 4\nbom = 1", "recorder.bom", "true or false"),
        ("rate_hz = 4", "rate_hz = 4\npreamble = [1]", "recorder.preamble", "list of texts"),
        ('header = "Starter"', 'header = "Starter", words = ["no"]', "columns[2].words", "two texts"),
        ('header = "Starter"', 'header = "Starter", blank = [1, 2]', "columns[2].blank", "[from, to]"),
        ('header = "Starter"', 'header = "Starter", spikes = [[1.0, 2.0]]', "columns[2].spikes", "on/off"),
        ("noise = 0.3}", "noise = 0.3, spikes = [[1.0]]}", "columns[1].spikes", "time in seconds, value"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_with_its_key_and_line(
    tmp_path: Path, old: str, new: str, where: str, why: str
) -> None:
    content = text()
    assert old in content
    content = content.replace(old, new, 1)
    path = tmp_path / "wrong.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(UserError) as raised:
        read_scenario(path)
    message = str(raised.value)
    assert message.startswith("wrong.toml: line ")
    assert where in message
    assert why in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("extra", "where", "why"),
    [
        ('[[faults]]\nkind = "gremlins"\n', "faults[0].kind", "not one of"),
        ('[[faults]]\nkind = "metering"\n', "faults[0]", "factor is missing"),
        ('[[faults]]\nkind = "no_light_off"\nfactor = 2.0\n', "faults[0].factor", "no meaning"),
        ('[[faults]]\nkind = "leaking_valve"\n', "faults[0]", "flow_kg_h is missing"),
        ('[[faults]]\nkind = "metering"\nfactor = 1.2\nflow_kg_h = 3.0\n', "flow_kg_h", "no meaning"),
        ('[[faults]]\nkind = "no_light_off"\nfrom_s = 9.0\nto_s = 3.0\n', "faults[0]", "later than"),
        ("[[track]]\nat_s = 0.0\nias_kt = 0.0\npalt_ft = 0.0\n", "track[0]", "heading_deg is missing"),
        ("[truth.start_levels]\negt = [1.0]\n", "truth.start_levels.egt", "not a channel"),
        ("[truth.start_levels]\nitt = [true]\n", "truth.start_levels.itt", "list of numbers"),
        ("[ambient]\noat_c = 99.0\n", "ambient.oat_c", "outside"),
        ("[battery]\nvolts = 24.0\n", "battery.volts", "unknown key"),
        ("[engine]\nidle_ng_pct = 10.0\n", "engine.idle_ng_pct", "outside"),
    ],
)
def test_a_wrong_table_is_named(tmp_path: Path, extra: str, where: str, why: str) -> None:
    content = text(extra + START)
    path = tmp_path / "wrong.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(UserError) as raised:
        read_scenario(path)
    assert where in str(raised.value)
    assert why in str(raised.value)


@pytest.mark.parametrize("part", ["startr", "fule"])
def test_the_line_is_the_one_in_the_file(tmp_path: Path, part: str) -> None:
    name = {"startr": "starter", "fule": "fuel"}[part]
    content = text().replace(f"{name} = ", f"{part} = ", 1)
    path = tmp_path / "wrong.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(UserError, match=rf"line {line_of(content, part)}, "):
        read_scenario(path)


def test_the_line_of_a_column_is_its_own(tmp_path: Path) -> None:
    content = text().replace('channel = "starter"', 'channel = "startr"')
    path = tmp_path / "wrong.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(UserError, match=rf"line {line_of(content, 'startr')}, recorder.columns\[2\]"):
        read_scenario(path)


def test_the_line_is_found_of_a_key_with_its_table_before_a_point(tmp_path: Path) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text("# by hand\nambient.oat_c = 99.0\n" + text(), encoding="utf-8", newline="\r\n")
    with pytest.raises(UserError, match=r"line 2, ambient.oat_c: "):
        read_scenario(path)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "format"),
        (b"seed = = 1", "not valid TOML"),
        (b"\xff\xfe\x00", "cannot be read"),
        (text(recorder="").encode(), "columns are missing"),
        (text().replace("seed = 1\n", "").encode(), "seed"),
        (b'format = "synth-scenario/1"\n[[recorder]]\n', "duration_s is missing"),
        (text(recorder="[[recorder]]\n").encode(), "must be a table"),
        (text(body="actions = 3\n").encode(), "list of tables"),
    ],
)
def test_a_broken_file_gives_one_sentence(tmp_path: Path, content: bytes, why: str) -> None:
    path = tmp_path / "broken.toml"
    path.write_bytes(content)
    with pytest.raises(UserError, match=why):
        read_scenario(path)


def test_an_absent_file_gives_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be read"):
        read_scenario(tmp_path / "absent.toml")


def test_a_recording_that_cannot_be_written_gives_one_sentence(tmp_path: Path) -> None:
    from debrief.synth import build

    path = tmp_path / "short.toml"
    path.write_text(text("", duration_s=2.0), encoding="utf-8")
    with pytest.raises(UserError, match="could not be written: there is no folder"):
        build(path, tmp_path / "no such folder" / "out.csv")


def test_every_demo_scenario_names_what_it_shows_and_its_own_day() -> None:
    found = [read_scenario(path) for path in sorted((DEMO / "scenarios").glob("*.toml"))]
    assert len({s.start for s in found}) == len(found)
    assert len({s.seed for s in found}) == len(found)
    assert len({s.title for s in found}) == len(found)
    assert all(len(s.about.split()) >= 15 for s in found)
    assert {s.profile for s in found} == {"tarn-tg7"}
