"""What a profile says is what the program judges by."""

from __future__ import annotations

import hashlib
import math
import pickle
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.profile import EngineProfile, Limit, available, find, load
from debrief.profile.loader import find_named, parse
from debrief.profile.model import AllowedRow, DutyRow, WhereCondition
from debrief.recording.model import Channel, Recording
from debrief.resources import resource

EVERY_KEY = Path(__file__).parents[1] / "data" / "profiles" / "every_key.toml"
HEAD = 'format = "engine-profile/1"\nname = "A test engine"\n'


def read(text: str) -> EngineProfile:
    return parse((HEAD + text).encode(), file_name="test.toml")


def limit_of(unit: str, channel: str, rows: str, extra: str = "", engine: str = "") -> Limit:
    text = f"""{engine}
[[limits]]
id = "one"
event = "own_event"
channel = "{channel}"
when = "any"
unit = "{unit}"
count = "longest"
allowed = [ {rows} ]
{extra}
"""
    return read(text).limits[0]


@pytest.fixture(scope="module")
def every_key() -> EngineProfile:
    return load(EVERY_KEY)


def test_every_key_of_the_format_arrives(every_key: EngineProfile) -> None:
    assert every_key.name == "Tarn TG-7 (training example)"
    assert every_key.engines == ("TG-7",)
    assert every_key.approved_data is False
    assert (every_key.entered_by, every_key.entered_on) == ("A. Example", "2026-03-01")
    assert (every_key.checked_by, every_key.checked_on) == ("B. Example", "2026-03-02")
    assert dict(every_key.reference_rpm) == {"ng": 38600, "np": 1900}
    assert every_key.reference_torque == (2100, "lbf ft")
    tree = tomllib.loads(EVERY_KEY.read_text(encoding="utf-8"))
    for section in ("start", "abort", "factors", "flight", "shutdown", "life"):
        rules = getattr(every_key, section)
        held = {key: getattr(rules, key) for key in tree[section]}
        bands = held.pop("avoided_np_rpm", None)
        assert bands == (((450, 900), (1180, 1320)) if section == "flight" else None)
        assert held == {key: value for key, value in tree[section].items() if key != "avoided_np_rpm"}
    (chart,) = every_key.power_checks
    assert (chart.name, chart.channel, chart.unit) == ("Power assurance", "itt", "degC")
    assert (chart.reference, chart.bleed, chart.separator) == ("Training manual 5-1", "off", "off")
    assert chart.axes == ((60, 90), (0, 8000), (0, 30))
    assert {(p.torque, p.pressure_altitude_ft, p.oat_c): p.highest for p in chart.points}[90, 8000, 0] == 740
    assert every_key.starter.duty == (DutyRow(45, 90), DutyRow(45, 90), DutyRow(45, 2400))
    assert every_key.starter.external_duty == (DutyRow(30, 150),)
    assert every_key.starter.reset_after_s == 2400
    gauge = every_key.gauges["itt"]
    assert (gauge.range, gauge.green, gauge.yellow, gauge.red_lines) == (
        (0, 1200),
        ((400, 780),),
        ((780, 830),),
        (830,),
    )
    start, running = every_key.limits
    assert start.allowed == (AllowedRow(830, 20), AllowedRow(920, 6), AllowedRow(1030, 0))
    assert (start.when, start.count, start.rejoin_s, start.band_base) == ("start", "total", 2.0, 830)
    assert [band.name for band in start.bands] == ["I", "II"]
    assert start.bands[1].points == ((930, 30), (1030, 10), (1100, 10))
    assert running.allowed == (AllowedRow(780, 300, "caution"), AllowedRow(830, 5))


def test_lines_name_where_each_key_stands(every_key: EngineProfile) -> None:
    rows = EVERY_KEY.read_text(encoding="utf-8").split("\n")
    for key, text in {
        "start.min_fuel_ng_pct": "min_fuel_ng_pct = 15.0",
        "starter.duty": "duty = ",
        "abort.motor_for_s": "motor_for_s = 20.0",
        "limits.itt-start": "[[limits]]",
        "limits.itt-start.allowed": "allowed = [ {above = 830, seconds = 20}",
        "limits.itt-running.count": 'count = "longest"',
    }.items():
        assert rows[every_key.lines[key] - 1].startswith(text)
    assert rows[every_key.lines["limits.itt-running"]] == 'id = "itt-running"'


def test_the_hash_is_that_of_the_files_bytes(every_key: EngineProfile) -> None:
    assert every_key.sha256 == hashlib.sha256(EVERY_KEY.read_bytes()).hexdigest()
    assert every_key.path == str(EVERY_KEY)


def test_a_key_left_out_is_unknown_and_not_zero() -> None:
    profile = read("")
    assert all(value is None for value in vars(profile.start).values())
    assert profile.starter.duty == ()
    assert profile.flight.airborne_ias_kt is None
    assert profile.reference_torque is None
    assert profile.limits == ()
    assert profile.approved_data is False


@pytest.mark.parametrize(
    ("unit", "channel", "level", "canonical"),
    [
        # 212 degF is 100 degC and 0 degC is 273.15 K by definition.
        ("degF", "itt", 212, 100.0),
        ("°F", "oil_temp", 32, 0.0),
        ("K", "itt", 273.15, 0.0),
        ("degC", "itt", 830, 830.0),
        ("C", "itt", 830, 830.0),
        # 1 lb = 0.45359237 kg exactly (international avoirdupois pound).
        ("lb/h", "fuel_flow", 100, 45.359237),
        # 1 bar = 100 kPa = 14.5038 psi (rounded, NIST SP 811).
        ("bar", "oil_press", 1, 14.5038),
        ("kPa", "oil_press", 100, 14.5038),
        ("km/h", "ias", 1852, 1000.0),
        ("m", "palt", 0.3048, 1.0),
    ],
)
def test_a_level_in_another_unit_becomes_the_channels_own(
    unit: str, channel: str, level: float, canonical: float
) -> None:
    limit = limit_of(unit, channel, f"{{above = {level}, seconds = 1}}")
    assert limit.allowed[0].level == pytest.approx(canonical, abs=1e-4)
    assert limit.unit == {"itt": "degC", "oil_temp": "degC", "fuel_flow": "kg/h", "oil_press": "psi",
                          "ias": "kt", "palt": "ft"}[channel]  # fmt: skip


def test_speeds_and_torque_are_scaled_by_what_is_100_percent() -> None:
    engine = (
        '[engine]\nreference_rpm = {ng = 40000, np = 2000}\nreference_torque = {value = 2000, unit = "ft-lb"}'
    )
    rows = "{{above = {}, seconds = 1}}"
    assert limit_of("rpm", "ng", rows.format(40400), engine=engine).allowed[0].level == pytest.approx(101.0)
    assert limit_of("%", "np", rows.format(110), engine=engine).allowed[0].level == pytest.approx(2200.0)
    assert limit_of("lbf ft", "torque", rows.format(2100), engine=engine).allowed[0].level == pytest.approx(
        105.0
    )
    # 1 lbf ft = 1.3558179483 N m (0.3048 m times 4.4482216152605 N, both exact)
    assert limit_of("N m", "torque", rows.format(1.3558179483314 * 2000), engine=engine).allowed[
        0
    ].level == pytest.approx(100.0)


def test_a_gauge_and_bands_are_converted_like_the_levels() -> None:
    profile = read(
        """
[gauges.itt]
unit = "degF"
range = [32, 2192]
green = [[752, 1436]]
red = [[1526, 1600]]
red_lines = [1526]
[[limits]]
id = "one"
event = "hot_start"
channel = "itt"
when = "start"
unit = "degF"
count = "total"
allowed = [ {above = 1526, seconds = 20} ]
band_method = "peak_vs_time_above"
band_base = 1526
bands = [ {name = "I", points = [[1526, 20], [1688, 6]]} ]
"""
    )
    gauge = profile.gauges["itt"]
    assert gauge.unit == "degC"
    assert gauge.range == pytest.approx((0, 1200))
    assert gauge.green[0] == pytest.approx((400, 780))
    assert gauge.red_lines == pytest.approx((830,))
    assert gauge.red[0][0] == pytest.approx(830)
    limit = profile.limits[0]
    assert limit.band_base == pytest.approx(830)
    assert limit.bands[0].points[1] == pytest.approx((920, 6))


def test_where_takes_a_unit_of_its_own() -> None:
    limit = limit_of(
        "psi",
        "oil_press",
        "{below = 40, seconds = 5}",
        'where = [ {channel = "oil_temp", above = 212, unit = "degF"}, {channel = "bleed", equals = 1} ]',
    )
    assert limit.below
    assert limit.where == (WhereCondition("oil_temp", above=100.0), WhereCondition("bleed", equals=1.0))


def test_bands_may_have_a_vertical_edge_and_may_begin_where_the_milder_one_ends() -> None:
    bands = """bands = [
  {name = "I", points = [[830, 20], [920, 6], [920, 2]]},
  {name = "II", points = [[920, 60], [1000, 10]]},
  {name = "III", points = [[1001, 5], [1100, 0]]},
]"""
    limit = limit_of("degC", "itt", "{above = 830, seconds = 20}", bands)
    assert [band.name for band in limit.bands] == ["I", "II", "III"]


@given(
    st.lists(st.floats(-200, 2000).map(lambda x: round(x, 6)), min_size=1, max_size=5, unique=True),
    st.lists(st.floats(0, 4000).map(lambda x: round(x, 6)), min_size=5, max_size=5, unique=True),
    st.booleans(),
)
def test_sorted_rows_are_kept_and_any_other_order_is_refused(
    levels: list[float], seconds: list[float], below: bool
) -> None:
    side = "below" if below else "above"
    rows = list(zip(sorted(levels, reverse=below), sorted(seconds, reverse=True), strict=False))
    as_text = [f"{{{side} = {level!r}, seconds = {time!r}}}" for level, time in rows]
    limit = limit_of("degC", "itt", ", ".join(as_text))
    assert [(row.level, row.seconds) for row in limit.allowed] == rows
    assert limit.below is below
    if len(rows) > 1:
        with pytest.raises(UserError, match=r"must (rise|fall)"):
            limit_of("degC", "itt", ", ".join(reversed(as_text)))


@given(st.floats(allow_nan=True, allow_infinity=True, width=64))
def test_only_finite_numbers_that_an_engine_may_have_get_in(value: float) -> None:
    text = f"[factors]\noat_c = {value!r}"
    if value == 0 or 1e-9 <= abs(value) <= 1e9:
        assert read(text).factors.oat_c == value
    else:
        with pytest.raises(UserError, match="no engine has" if math.isfinite(value) else "finite"):
            read(text)


def test_shipped_profiles_are_found_by_file_name_by_name_and_by_path() -> None:
    by_stem = find("tarn-tg7")
    assert find("tarn-tg7.toml").sha256 == by_stem.sha256
    assert find("Tarn TG-7 (training example)").sha256 == by_stem.sha256
    assert find("tarn tg-7 (TRAINING example)").sha256 == by_stem.sha256
    assert find(resource("profiles/tarn-tg7.toml")).sha256 == by_stem.sha256
    assert dict(available()).keys() == {"tarn-tg7", "quill-b2"}


def test_the_users_own_profile_goes_before_the_shipped_one(debrief_home: Path) -> None:
    folder = debrief_home / "profiles"
    folder.mkdir()
    (folder / "tarn-tg7.toml").write_text(HEAD, encoding="utf-8")
    assert find("tarn-tg7").name == "A test engine"
    assert ("tarn-tg7", "A test engine") in available()
    assert len(available()) == 2


def test_a_broken_profile_hides_no_other_and_says_itself_what_is_wrong(debrief_home: Path) -> None:
    folder = debrief_home / "profiles"
    folder.mkdir()
    (folder / "broken.toml").write_text(HEAD + "idle = 3\n", encoding="utf-8")
    assert find("Quill B2 (bench example)").reference_rpm["ng"] == 108000
    assert "broken" not in dict(available())
    with pytest.raises(UserError, match=r"broken\.toml, line 3: idle: unknown key"):
        find("broken")


def test_a_folder_of_the_same_name_does_not_stand_in_the_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "tarn-tg7").mkdir()
    monkeypatch.chdir(tmp_path)
    assert find("tarn-tg7").name.startswith("Tarn TG-7")


def test_a_file_or_folder_in_the_working_folder_does_not_take_the_place_of_a_profile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("tarn-tg7", "tarn-tg7.toml", "lenient"):
        Path(name).write_text(HEAD, encoding="utf-8")
    assert find("tarn-tg7").name.startswith("Tarn TG-7")
    # What is written as a file is that file, and so is a name that no profile has.
    for typed in ("tarn-tg7.toml", "./tarn-tg7", "lenient", Path("tarn-tg7")):
        assert find(typed).name == "A test engine"


@pytest.mark.parametrize(
    "name",
    ["{there}/x.toml", "{there}/tarn-tg7", "../{folder}/x.toml", "./x.toml", "x.toml", "x", "~/x.toml", "C:x.toml",
     "C:\\x.toml", "..\\x.toml", "file://{there}/x.toml", "https://host/x.toml", "/dev/stdin", "/dev/zero", "a\0b",
     "..", ".", "CON", "profiles/tarn-tg7", "\\\\host\\share\\x"],
)  # fmt: skip
def test_a_recording_names_no_file(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    for file in ("x.toml", "x", "tarn-tg7", "C:x.toml"):
        Path(file).write_text(HEAD, encoding="utf-8")
    with pytest.raises(UserError, match=r"There are: .*tarn-tg7") as refused:
        find_named(name.format(there=tmp_path, folder=tmp_path.name))
    is_path = any(mark in name for mark in "/\\~:\0")
    assert ("if you want that file" in str(refused.value)) == is_path


def test_a_recording_names_a_profile_by_its_file_or_its_name(debrief_home: Path) -> None:
    (debrief_home / "profiles").mkdir()
    (debrief_home / "profiles" / "mine.toml").write_text(HEAD, encoding="utf-8")
    for name in ("mine", "mine.toml", " mine ", "A test engine", "a TEST  engine", "\uff21 test engine"):
        assert find_named(name).name == "A test engine"
    assert find_named("tarn-tg7").namesake == ""


def test_two_own_profiles_of_one_name_are_not_chosen_between(debrief_home: Path) -> None:
    folder = debrief_home / "profiles"
    folder.mkdir()
    for file in ("one.toml", "two.toml"):
        (folder / file).write_text(HEAD, encoding="utf-8")
    with pytest.raises(UserError, match=r"one\.toml and two\.toml both have the name"):
        find_named("A test engine")
    assert find_named("two").path.endswith("two.toml")


@pytest.mark.parametrize(
    ("file", "name", "mistaken"),
    [
        ("tarn-tg7", "Other", True),
        ("TARN-TG7", "Other", True),
        ("\uff54arn-tg7", "Other", True),
        ("other", "Tarn TG-7 (training example)", True),
        ("other", "tarn  tg\u200b-7 (Training example)", True),
        ("other", "Tarn TG\u20117 (training example)", True),
        ("other", "Tarn TG\u22127 (training example)", True),
        ("other", "Other", False),
    ],
)
def test_a_profile_that_may_be_taken_for_a_shipped_one_says_so(
    file: str, name: str, mistaken: bool, debrief_home: Path
) -> None:
    folder = debrief_home / "profiles"
    folder.mkdir()
    text = HEAD.replace("A test engine", name)
    (folder / f"{file}.toml").write_text(text, encoding="utf-8")
    assert find(file).namesake == ("Tarn TG-7 (training example)" if mistaken else "")


def test_a_link_or_a_copy_of_a_shipped_profile_is_that_profile(debrief_home: Path) -> None:
    folder = debrief_home / "profiles"
    folder.mkdir()
    shipped = resource("profiles/tarn-tg7.toml")
    (folder / "tarn-tg7.toml").symlink_to(shipped)
    (folder / "copy.toml").write_bytes(shipped.read_bytes())
    assert find("tarn-tg7").namesake == find("copy").namesake == ""
    (folder / "tarn-tg7.toml").unlink()
    (folder.parent / "elsewhere.toml").write_text(HEAD, encoding="utf-8")
    (folder / "tarn-tg7.toml").symlink_to(folder.parent / "elsewhere.toml")
    assert find("tarn-tg7").namesake == "Tarn TG-7 (training example)"


@pytest.mark.parametrize("name", ["tarn-tg8", "", "  ", "absent/tarn-tg7.toml", "a\0b", "x" * 5000])
def test_an_unknown_name_lists_those_there_are(name: str) -> None:
    with pytest.raises(UserError, match=r"tarn-tg7 \(Tarn TG-7 \(training example\)\)"):
        find(name)


def test_a_profile_survives_pickling_and_stays_read_only() -> None:
    profile = find("tarn-tg7")
    again = pickle.loads(pickle.dumps(profile))
    assert again == profile
    with pytest.raises(TypeError):
        again.lines["name"] = 0


def test_applying_the_bench_profile_turns_rpm_into_percent() -> None:
    times = np.array([0.0, 1.0, 2.0])
    ng = Channel("ng", "rpm", times, np.array([0.0, 54000.0, 108000.0]), resolution=10.0)
    scaled = find("quill-b2").apply(Recording({"ng": ng}, duration_s=2.0)).channels["ng"]
    assert scaled.unit == "%"
    assert scaled.values.tolist() == pytest.approx([0.0, 50.0, 100.0])
    assert scaled.resolution == pytest.approx(10 / 1080)


def test_applying_a_profile_scales_propeller_speed_and_torque_and_leaves_the_rest() -> None:
    times = np.array([0.0, 1.0])
    recording = Recording(
        {
            "np": Channel("np", "%", times, np.array([0.0, 100.0])),
            "torque.2": Channel("torque.2", "N m", times, np.array([0.0, 2100 * 1.3558179483314])),
            "itt": Channel("itt", "degC", times, np.array([15.0, 600.0])),
        },
        duration_s=1.0,
    )
    scaled = find("tarn-tg7").apply(recording).channels
    assert (scaled["np"].unit, scaled["np"].values[-1]) == ("rpm", pytest.approx(1900.0))
    assert (scaled["torque.2"].unit, scaled["torque.2"].values[-1]) == ("%", pytest.approx(100.0))
    assert scaled["itt"] is recording.channels["itt"]


def test_without_references_what_needs_them_keeps_its_unit() -> None:
    ng = Channel("ng", "rpm", np.array([0.0, 1.0]), np.array([0.0, 38600.0]))
    torque = Channel("torque", "psi", np.array([0.0, 1.0]), np.array([0.0, 40.0]))
    recording = Recording({"ng": ng, "torque": torque}, duration_s=1.0)
    assert read("").apply(recording) is recording
    # a torquemeter's pressure does not become a share of a torque
    assert find("tarn-tg7").apply(recording).channels["torque"].unit == "psi"


def test_the_invented_profiles_say_that_they_are_not_approved() -> None:
    for stem, _ in available():
        profile = find(stem)
        assert profile.approved_data is False
        assert "Invented" in profile.source
