"""Everything that a profile is refused for, with the key, the line and the reason."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.profile import EngineProfile, ProfileError, load
from debrief.profile.loader import parse

BASE = """\
format = "engine-profile/1"
name = "A test engine"
[engine]
reference_rpm = {ng = 40000}
[start]
min_fuel_ng_pct = 15
advised_fuel_ng_pct = 18
idle_ng_pct = 58
fuel_control = "manual"
[starter]
duty = [ {run_s = 45, rest_s = 90} ]
[gauges.itt]
unit = "degC"
range = [0, 1200]
green = [[400, 780]]
yellow = [[780, 830]]
red_lines = [830]
[[limits]]
id = "hot"
event = "hot_start"
channel = "itt"
when = "start"
unit = "degC"
count = "total"
allowed = [ {above = 830, seconds = 20}, {above = 920, seconds = 6} ]
band_method = "peak_vs_time_above"
band_base = 830
bands = [
  {name = "I", points = [[830, 20], [920, 6]]},
  {name = "II", points = [[830, 40], [920, 20]]},
]
[[limits]]
id = "oil"
event = "oil_press_low"
channel = "oil_press"
when = "running"
unit = "psi"
count = "longest"
where = [ {channel = "ng", above = 72} ]
phases = ["climb"]
allowed = [ {below = 80, seconds = 30, severity = "caution"}, {below = 45, seconds = 5} ]
"""


def read(text: str) -> EngineProfile:
    return parse(text.encode(), file_name="test.toml")


def changed(old: str, new: str) -> str:
    assert BASE.count(old) == 1, "the replaced text must be there once"
    return BASE.replace(old, new)


def test_the_base_of_these_cases_is_itself_accepted() -> None:
    assert [limit.id for limit in read(BASE).limits] == ["hot", "oil"]


# old text, new text, key path, line, words of the reason
CASES = {
    "unknown top key": ('name = "A', 'nmae = "x"\nname = "A', "nmae", 2, 'did you mean "name"'),
    "unknown table": ("[starter]", "[startre]", "startre", 10, 'did you mean "starter"'),
    "unknown start key": ("min_fuel_ng_pct", "min_fuel_ng", "start.min_fuel_ng", 6, '"min_fuel_ng_pct"'),
    "unknown engine key": ("reference_rpm", "reference_speed", "engine.reference_speed", 4, "unknown key"),
    "unknown speed": ("{ng = 40000}", "{n1 = 40000}", "engine.reference_rpm.n1", 4, "known here: ng, np"),
    "unknown duty key": ("run_s = 45", "run = 45", "starter.duty[1].run", 11, 'did you mean "run_s"'),
    "unknown gauge key": ("red_lines", "red_line", "gauges.itt.red_line", 17, 'did you mean "red_lines"'),
    "unknown limit key": ("band_base", "bandbase", "limits.hot.bandbase", 27, 'did you mean "band_base"'),
    "unknown row key": ("{above = 830, seconds", "{above = 830, second", "limits.hot.allowed[1].second", 25, ""),
    "unknown where key": ("above = 72", "over = 72", "limits.oil.where[1].over", 39, "unknown key"),
    "unknown band key": ('"I", points', '"I", point', "limits.hot.bands[1].point", 29, 'mean "points"'),
    "text for a number": ("idle_ng_pct = 58", 'idle_ng_pct = "58"', "start.idle_ng_pct", 8, 'the text "58"'),
    "true for a number": ("idle_ng_pct = 58", "idle_ng_pct = true", "start.idle_ng_pct", 8, "not true"),
    "number for a text": ('"A test engine"', "7", "name", 2, "must be a text in quotes, not the number 7"),
    "empty text": ('"A test engine"', '" "', "name", 2, "empty text"),
    "date for a number": ("idle_ng_pct = 58", "idle_ng_pct = 2026-01-01", "start.idle_ng_pct", 8, "a date"),
    "number for a table": ('name = "A', 'abort = 3\nname = "A', "abort", 2, "must be a table, not the number 3"),
    "list for a table": ("[start]\n", "[[start]]\n", "start", 5, "must be a table, not a list"),
    "table for a list": (
        "duty = [ {run_s = 45, rest_s = 90} ]",
        "duty = {run_s = 45, rest_s = 90}",
        "starter.duty",
        11,
        "must be a list in square brackets, not a table",
    ),
    "text for a flag": (
        'name = "A',
        'approved_data = "no"\nname = "A',
        "approved_data",
        2,
        "must be true or false without quotes",
    ),
    "number for a person": ('name = "A', 'checked_by = 7\nname = "A', "checked_by", 2, "must be a text"),
    "number for a date": ('name = "A', 'checked_on = 2026\nname = "A', "checked_on", 2, "must be a date"),
    "a time for a date": (
        'name = "A',
        'entered_on = 2026-01-01T10:00:00\nname = "A',
        "entered_on",
        2,
        "must be a date",
    ),
    "a date that is none": (
        'name = "A',
        'entered_on = "2026-02-30"\nname = "A',
        "entered_on",
        2,
        'the text "2026-02-30" is not a date: write it as "2026-11-30"',
    ),
    "number in a list of texts": ('name = "A', 'engines = [7]\nname = "A', "engines[1]", 2, "in quotes"),
    "nan": ("idle_ng_pct = 58", "idle_ng_pct = nan", "start.idle_ng_pct", 8, "finite"),
    "infinity": ("seconds = 20}, {", "seconds = inf}, {", "limits.hot.allowed[1].seconds", 25, "finite"),
    "beyond a float": (
        "idle_ng_pct = 58",
        "idle_ng_pct = 1" + "0" * 400,
        "start.idle_ng_pct",
        8,
        "finite",
    ),
    "negative time": ("seconds = 6}", "seconds = -6}", "limits.hot.allowed[2].seconds", 25, "less than 0"),
    "no time to run": ("run_s = 45", "run_s = 0", "starter.duty[1].run_s", 11, "more than 0"),
    "unknown unit": (
        'unit = "degC"\ncount',
        'unit = "degX"\ncount',
        "limits.hot.unit",
        23,
        'not a unit known here; values of "itt" are in',
    ),
    "unit of another quantity": (
        'unit = "psi"',
        'unit = "degC"',
        "limits.oil.unit",
        37,
        'is not a unit of "oil_press", whose values are in "psi"',
    ),
    "missing unit": ('unit = "degC"\nrange', "range", "gauges.itt", 12, '"unit" is missing'),
    "unit without its reference": (
        'channel = "itt"\nwhen = "start"\nunit = "degC"',
        'channel = "np"\nwhen = "start"\nunit = "%"',
        "limits.hot.unit",
        23,
        "needs engine.reference_rpm",
    ),
    "levels that do not rise": ("above = 920", "above = 830", "limits.hot.allowed[2].above", 25, "must rise"),
    "seconds that do not fall": (
        "seconds = 6}",
        "seconds = 20}",
        "limits.hot.allowed[2].seconds",
        25,
        "must fall",
    ),
    "levels below that do not fall": (
        "below = 45",
        "below = 85",
        "limits.oil.allowed[2].below",
        41,
        "levels must fall",
    ),
    "above and below in a row": (
        "{above = 920,",
        "{above = 920, below = 3,",
        "limits.hot.allowed[2]",
        25,
        'both "above" and "below"',
    ),
    "above and below in a limit": (
        "{above = 920,",
        "{below = 920,",
        "limits.hot.allowed[2].below",
        25,
        "cannot be mixed",
    ),
    "row without a level": ("{above = 920, ", "{", "limits.hot.allowed[2]", 25, '"above" is missing'),
    "row without seconds": (
        "{below = 45, seconds = 5}",
        "{below = 45}",
        "limits.oil.allowed[2]",
        41,
        '"seconds" is missing',
    ),
    "no row": (
        "allowed = [ {above = 830, seconds = 20}, {above = 920, seconds = 6} ]",
        "allowed = []",
        "limits.hot.allowed",
        25,
        "at least one row",
    ),
    "unknown severity": (
        'severity = "caution"',
        'severity = "possible"',
        "limits.oil.allowed[1].severity",
        41,
        "caution, limit",
    ),
    "fuel at idle": ("min_fuel_ng_pct = 15", "min_fuel_ng_pct = 58", "start.min_fuel_ng_pct", 6, "idle"),
    "advised fuel above idle": (
        "advised_fuel_ng_pct = 18",
        "advised_fuel_ng_pct = 60",
        "start.advised_fuel_ng_pct",
        7,
        "below idle Ng, 58",
    ),
    "advised below minimum": (
        "advised_fuel_ng_pct = 18",
        "advised_fuel_ng_pct = 12",
        "start.advised_fuel_ng_pct",
        7,
        "must not be below the least Ng for fuel, 15",
    ),
    "rating of no time": (
        'phases = ["climb"]', "after_takeoff_s = 60\noutside_takeoff_s = 60", "limits.oil.outside_takeoff_s", 41, "below after_takeoff_s, 60",
    ),
    "standing at idle": ("idle_ng_pct = 58", "idle_ng_pct = 58\nstopped_ng_pct = 58", "start.stopped_ng_pct", 9, "idle"),
    "unknown fuel control": ('"manual"', '"mixed"', "start.fuel_control", 9, "automatic, manual"),
    "range that falls": ("[0, 1200]", "[1200, 0]", "gauges.itt.range", 14, "must rise"),
    "range of three": ("[0, 1200]", "[0, 600, 1200]", "gauges.itt.range", 14, "pair of numbers"),
    "arc that falls": ("[[400, 780]]", "[[780, 400]]", "gauges.itt.green[1]", 15, "must rise"),
    "overlapping arcs": (
        "[[780, 830]]",
        "[[770, 830]]",
        "gauges.itt.yellow[1]",
        16,
        "overlaps gauges.itt.green[1], 400 to 780",
    ),
    "overlapping red arc": (
        "red_lines = [830]",
        "red = [[820, 900]]",
        "gauges.itt.red[1]",
        17,
        "overlaps gauges.itt.yellow[1]",
    ),
    "arc outside the range": (
        "[[780, 830]]",
        "[[780, 1201]]",
        "gauges.itt.yellow[1]",
        16,
        "outside the range 0 to 1200",
    ),
    "mark outside the range": ("[830]", "[830, 1201]", "gauges.itt.red_lines[2]", 17, "outside the range"),
    "gauge of no channel": ("[gauges.itt]", "[gauges.egt]", "gauges.egt", 12, "not a channel known here"),
    "empty duty": ("[ {run_s = 45, rest_s = 90} ]", "[]", "starter.duty", 11, "is empty"),
    "duty without rest": (", rest_s = 90", "", "starter.duty[1]", 11, '"rest_s" is missing'),
    "unsorted bands": ("[[830, 40], [920, 20]]", "[[830, 10], [920, 5]]", "limits.hot.bands[2].points", 30, "mildest"),
    "crossing bands": ("[[830, 40], [920, 20]]", "[[830, 40], [920, 5]]", "limits.hot.bands[2].points", 30, "mildest"),
    "equal bands": ("[[830, 40], [920, 20]]", "[[830, 20], [920, 6]]", "limits.hot.bands[2].points", 30, "mildest"),
    "band edge that turns back": (
        "[[830, 20], [920, 6]]",
        "[[920, 20], [830, 6]]",
        "limits.hot.bands[1].points[2]",
        29,
        "points must be sorted",
    ),
    "band edge that rises": (
        "[[830, 20], [920, 6]]",
        "[[830, 6], [920, 20]]",
        "limits.hot.bands[1].points[2]",
        29,
        "points must be sorted",
    ),
    "band of one point": ("[[830, 20], [920, 6]]", "[[830, 20]]", "limits.hot.bands[1].points", 29, "two points"),
    "band name twice": ('name = "II"', 'name = "I"', "limits.hot.bands[2].name", 30, "used already"),
    "bands without their base": ("band_base = 830\n", "", "limits.hot.band_method", 26, "band_base"),
    "method without bands": (
        'phases = ["climb"]',
        'phases = ["climb"]\nband_method = "curve"',
        "limits.oil.band_method",
        41,
        '"bands" is missing',
    ),
    "bands of a minimum": (
        'phases = ["climb"]',
        'phases = ["climb"]\nbands = [{name = "I", points = [[40, 5], [80, 2]]}]',
        "limits.oil.bands",
        41,
        'this one has "below"',
    ),
    "negative seconds in a band": (
        "[[830, 20], [920, 6]]",
        "[[830, 20], [920, -6]]",
        "limits.hot.bands[1].points[2][2]",
        29,
        "less than 0",
    ),
    "band point twice": (
        "[[830, 20], [920, 6]]",
        "[[830, 20], [830, 20], [920, 6]]",
        "limits.hot.bands[1].points[2]",
        29,
        "same point",
    ),
    "worse band at milder levels": (
        "[[830, 40], [920, 20]]",
        "[[700, 40], [800, 20]]",
        "limits.hot.bands[2].points",
        30,
        "mildest",
    ),
    "torque in a unit that the reference is not in": (
        '[start]\nmin_fuel_ng_pct = 15\nadvised_fuel_ng_pct = 18\nidle_ng_pct = 58\nfuel_control = "manual"',
        'reference_torque = {value = 40, unit = "psi"}\n[gauges.torque]\nunit = "N m"\nrange = [0, 9]',
        "gauges.torque.unit",
        7,
        "engine.reference_torque, \"psi\"",
    ),
    "unknown band method": ('"peak_vs_time_above"', '"area"', "limits.hot.band_method", 26, "curve"),
    "id twice": ('id = "oil"', 'id = "hot"', "limits[2].id", 33, "used already, in the limit at line 18"),
    "no id": ('id = "oil"\n', "", "limits[2]", 32, '"id" is missing'),
    "no event": ('event = "hot_start"\n', "", "limits.hot", 18, '"event" is missing'),
    "event in words": ('"hot_start"', '"Hot start!"', "limits.hot.event", 20, "small letters"),
    "unknown channel": ('channel = "itt"', 'channel = "tit"', "limits.hot.channel", 21, 'did you mean "itt"'),
    "numbered channel": ('channel = "itt"', 'channel = "itt.2"', "limits.hot.channel", 21, "engine number"),
    "unknown channel in where": ('"ng", above', '"n1", above', "limits.oil.where[1].channel", 39, "not a channel"),
    "where without a comparison": (", above = 72", "", "limits.oil.where[1]", 39, "exactly one"),
    "where with two": ("above = 72", "above = 72, below = 80", "limits.oil.where[1]", 39, "exactly one"),
    "unknown when": ('when = "start"', 'when = "flight"', "limits.hot.when", 22, "airborne, any, ground"),
    "unknown count": ('"total"', '"sum"', "limits.hot.count", 24, "longest, total"),
    "unknown phase": ('["climb"]', '["climbing"]', "limits.oil.phases[1]", 40, 'did you mean "climb"'),
    "missing format": ('format = "engine-profile/1"', "", "", None, 'format = "engine-profile/1" is missing'),
    "other format": ("engine-profile/1", "engine-profile/2", "format", 1, "engine-profile/1"),
    "missing name": ('name = "A test engine"', "", "", None, '"name" is missing'),
    "approved from nowhere": ('name = "A', 'approved_data = true\nname = "A', "approved_data", 2, '"source"'),
    "rate of no channel": ("[start]", "[max_rate]\nitt2 = 5\n[start]", "max_rate.itt2", 6, 'did you mean "itt"'),
    "rate of zero": ("[start]", "[max_rate]\nitt = 0\n[start]", "max_rate.itt", 6, "more than 0"),
    "rate of a switch": ("[start]", "[max_rate]\nstarter = 1\n[start]", "max_rate.starter", 6, "on/off"),
    "unit of no reference torque": (
        'channel = "itt"\nwhen = "start"\nunit = "degC"',
        'channel = "torque"\nwhen = "start"\nunit = "N m"',
        "limits.hot.unit",
        23,
        "needs engine.reference_torque",
    ),
    "torque unit": (
        "[start]",
        'reference_torque = {value = 9, unit = "kg"}\n[start]',
        "engine.reference_torque.unit",
        5,
        "unit of torque",
    ),
    "key twice": ("idle_ng_pct = 58", "idle_ng_pct = 58\nidle_ng_pct = 59", "", 9, "not correct TOML"),
    "open quote": ('"A test engine"', '"A test engine', "", 2, "not correct TOML, column"),
    "open bracket": ("below = 45, seconds = 5} ]", "below = 45, seconds = 5}", "", None, "not correct TOML"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=list(CASES))
def test_refused_with_key_line_and_reason(case: str) -> None:
    old, new, key, line, words = CASES[case]
    with pytest.raises(ProfileError) as refusal:
        read(changed(old, new))
    error = refusal.value
    assert error.key == key
    if line is not None:
        assert error.line == line
    assert words in error.reason
    sentence = str(error)
    assert sentence.startswith("test.toml")
    assert "\n" not in sentence
    assert sentence.endswith((".", "?"))
    if error.line is not None:
        assert f"line {error.line}" in sentence


def test_text_that_is_not_utf_8_is_refused_with_its_line() -> None:
    data = BASE.replace("A test", "A t\u00e9st").encode("latin-1")
    with pytest.raises(ProfileError, match=r"test\.toml, line 2: is not UTF-8") as refusal:
        parse(data, file_name="test.toml")
    assert refusal.value.line == 2


def test_utf_16_is_refused_and_a_utf_8_byte_order_mark_is_not() -> None:
    with pytest.raises(ProfileError, match="not UTF-8"):
        parse(BASE.encode("utf-16"))
    assert parse(BASE.encode("utf-8-sig")).name == "A test engine"


def test_windows_line_ends_count_as_one_line() -> None:
    assert dict(parse(BASE.replace("\n", "\r\n").encode()).lines) == dict(read(BASE).lines)


@pytest.mark.parametrize("text", ["x = " + "[" * 5000, "x = " + "9" * 5000], ids=["depth", "digits"])
def test_what_no_reader_can_hold_is_refused(text: str) -> None:
    with pytest.raises(ProfileError):
        read(text)


@pytest.mark.parametrize("name", ["absent.toml", "", "a\0b"])
def test_a_file_that_cannot_be_read_is_refused_in_words(tmp_path: Path, name: str) -> None:
    with pytest.raises(UserError, match=r"no such|folder|cannot be read"):
        load(tmp_path / name)


def test_a_file_far_too_large_is_not_read(tmp_path: Path) -> None:
    file = tmp_path / "recording.csv"
    file.write_bytes(b"a" * 5_000_000)
    with pytest.raises(UserError, match="larger than any engine profile"):
        load(file)


def test_limits_with_one_bracket_are_told_to_have_two() -> None:
    with pytest.raises(ProfileError, match=r"line 3: limits: is one table: write \[\[limits\]\]"):
        read('format = "engine-profile/1"\nname = "x"\n[limits]\nid = "one"\n')


LIMIT = (
    '[[limits]]\nid = "{id}"\nevent = "e"\nchannel = "itt"\nwhen = "start"\nunit = "degC"\ncount = "total"\n'
)
MANY = ", ".join(f"{{above = {800 + k}, seconds = {999 - k}}}" for k in range(201))
LONG_KEYS = {
    "key": ".".join(["a"] * 20_000) + " = 1\n",
    "spaced key": " . ".join(["a"] * 20_000) + " = 1\n",
    "quoted key": ".".join(['"a"', "'b'"] * 10_000) + " = 1\n",
    "header": "[" + ".".join(["a"] * 20_000) + "]\n",
    "header of a list": "[[" + ".".join(["a"] * 20_000) + "]]\n",
    "key in a table": "x = {" + ".".join(["a"] * 20_000) + " = 1}\n",
}


@pytest.mark.parametrize("text", LONG_KEYS.values(), ids=LONG_KEYS)
def test_a_key_of_thousands_of_parts_is_refused_before_it_costs_anything(text: str) -> None:
    with pytest.raises(ProfileError, match=r"line 3: a key of more than 16 parts") as refused:
        read('format = "engine-profile/1"\nname = "x"\n' + text)
    # Nothing of it was read by the standard reader, whose memory grows with the square of the parts.
    assert refused.value.__context__ is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            LIMIT.format(id="a") + f"allowed = [{MANY}]\n",
            r"line 10: limits\.a\.allowed: has 201 rows, may have 200",
        ),
        ("[starter]\nduty = [" + "{run_s = 1, rest_s = 1}, " * 201 + "]\n", r"starter\.duty: has 201 rows"),
        ("engines = [" + '"a", ' * 201 + "]\n", r"engines: has 201 rows"),
        ("[[limits]]\n" * 201, r"limits: has 201 rows"),
        (
            "".join(
                LIMIT.format(id=f"a{k}") + f"allowed = [{MANY[: MANY.index('{above = 970')]}]\n"
                for k in range(3)
            ),
            r"limits: have 510 levels in all, may have 500",
        ),
        ("[factors]\noat_c = 1e300\n", r"oat_c: is 1e\+300, which no engine has"),
        ("[engine]\nreference_rpm = {ng = 1e-300}\n", r"ng: is 1e-300, which no engine has"),
    ],
)
def test_what_would_take_minutes_or_overflow_is_refused(text: str, said: str) -> None:
    with pytest.raises(ProfileError, match=said):
        read('format = "engine-profile/1"\nname = "x"\n' + text)


def test_a_long_text_with_points_is_no_key() -> None:
    sentence = "Section 3. " * 40 + "e.g. a.b.c.d"
    made = read(BASE.replace('name = "A test engine"', f'name = "x"\nsource = "{sentence}"'))
    assert made.source == sentence


CHART = """\
[flight]
flight_gate_power_lever_pct = 22
reverse_gate_power_lever_pct = 9
avoided_np_rpm = [[450, 900], [1180, 1320]]
[life]
cycle_factor = 0.4
[[power_check]]
name = "climb"
points = [
  {torque = 60, pressure_altitude_ft = 0, oat_c = 0, itt = 600}, {torque = 60, pressure_altitude_ft = 0, oat_c = 30, itt = 650},
  {torque = 60, pressure_altitude_ft = 8000, oat_c = 0, itt = 640}, {torque = 60, pressure_altitude_ft = 8000, oat_c = 30, itt = 700},
  {torque = 90, pressure_altitude_ft = 0, oat_c = 0, itt = 690}, {torque = 90, pressure_altitude_ft = 0, oat_c = 30, itt = 740},
  {torque = 90, pressure_altitude_ft = 8000, oat_c = 0, itt = 730}, {torque = 90, pressure_altitude_ft = 8000, oat_c = 30, itt = 790},
]
"""
OF_FLIGHT = {
    "reverse above the gate": ("pct = 9", "pct = 30", "flight.reverse_gate_power_lever_pct", "below the flight gate, 22"),
    "reverse at the gate": ("pct = 9", "pct = 22", "flight.reverse_gate_power_lever_pct", "below the flight gate, 22"),
    "band that falls": ("[450, 900]", "[900, 450]", "flight.avoided_np_rpm[1]", "must rise"),
    "band below zero": ("[450, 900]", "[-1, 900]", "flight.avoided_np_rpm[1]", "must rise from 0"),
    "bands that touch": ("[1180, 1320]", "[900, 1320]", "flight.avoided_np_rpm[2]", "do not touch"),
    "oat of no kind": ("pct = 9", "pct = 9\noat_is = 'hot'", "flight.oat_is", "static_air, total_air"),
    "no band": ("[[450, 900], [1180, 1320]]", "[]", "flight.avoided_np_rpm", "is empty"),
    "more than a cycle": ("factor = 0.4", "factor = 1.5", "life.cycle_factor", "must not be more than 1"),
    "chart of one bracket": ("[[power_check]]", "[power_check]", "power_check", "two brackets"),
    "chart without points": ("points = [", "points = []\nmore = [", "power_check[1].more", "unknown key"),
    "a bleed that is neither": ('"climb"', '"climb"\nbleed = "false"', "power_check[1].bleed", 'not one of the words'),
    "chart in a wrong unit": ('"climb"', '"climb"\nunit = "psi"', "power_check[1].unit", 'not a unit of "itt"'),
    "torque without a reference": (
        '"climb"', '"climb"\ntorque_unit = "N m"', "power_check[1].torque_unit", "needs engine.reference_torque"),
    "neither": ("itt = 650", "oil = 650", "power_check[1].points[2].oil", "unknown key"),
    "no highest": (", itt = 650", "", "power_check[1].points[2]", 'one of "itt" and "ng"'),
    "both": ("itt = 650", "itt = 650, ng = 98", "power_check[1].points[2]", 'one of "itt" and "ng"'),
    "mixed": ("itt = 650", "ng = 98", "power_check[1].points[2].ng", 'the points before have "itt"'),
    "no place": ("{torque = 60, pressure_altitude_ft = 0, oat_c = 30", "{torque = 60, pressure_altitude_ft = 0",
                 "power_check[1].points[2]", '"oat_c" is missing'),
    "twice at a place": ("oat_c = 30, itt = 650", "oat_c = 0, itt = 650", "power_check[1].points[2]", "as point 1"),
    "off the grid": ("oat_c = 0, itt = 600", "oat_c = 7, itt = 600", "power_check[1].points", "on a grid"),
}  # fmt: skip


@pytest.mark.parametrize("case", OF_FLIGHT)
def test_what_contradicts_itself_in_flight_life_and_power_check_is_refused(case: str) -> None:
    head = 'format = "engine-profile/1"\nname = "x"\n'
    assert len(read(head + CHART).power_checks) == 1
    old, new, key, said = OF_FLIGHT[case]
    assert CHART.count(old) == 1
    with pytest.raises(ProfileError) as refused:
        read(head + CHART.replace(old, new))
    assert refused.value.key == key
    assert said in refused.value.reason
    assert refused.value.line is not None


@pytest.mark.parametrize(
    ("key", "old", "what"),
    [("torque", 90, "torques"), ("pressure_altitude_ft", 8000, "pressure altitudes"), ("oat_c", 30, "temperatures")],
)  # fmt: skip
def test_a_chart_needs_two_of_each(key: str, old: int, what: str) -> None:
    points = re.findall(r"{[^}]*}", CHART)
    left = ", ".join(point for point in points if f"{key} = {old}," not in point)
    text = f'format = "engine-profile/1"\nname = "x"\n[[power_check]]\nname = "climb"\npoints = [{left}]\n'
    with pytest.raises(ProfileError, match=f"points: must be at two {what}"):
        read(text)


def test_a_power_check_has_a_name_of_its_own() -> None:
    twice = CHART[CHART.index("[[power_check]]") :]
    with pytest.raises(ProfileError, match='"climb" is used already'):
        read(f'format = "engine-profile/1"\nname = "x"\n{CHART}{twice}')
