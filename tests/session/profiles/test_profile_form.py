"""A profile under a person's hands: written key by key, comments kept, judged by its own reader alone."""

import os
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.profile.fields import ProfileError
from debrief.profile.limits import GAUGE_KEYS, LIMIT_KEYS
from debrief.profile.loader import _START_CHOICES, find, load
from debrief.profile.model import StartRules
from debrief.resources import resource
from debrief.session.profiles import profile_fields as known
from debrief.session.profiles.profile_form import FieldError, ProfileForm, number_of, own_folder

SHIPPED = ("tarn-tg7", "quill-b2")


def shipped(name="tarn-tg7"):
    return ProfileForm.open(resource(f"profiles/{name}.toml"))


def at(form, title, key):
    section = next(one for one in form.sections() if one.name == title)
    return section, next(field for field in section.fields if field.key == key)


def put(form, title, key, value):
    form.set(*at(form, title, key), value)


def checked(form):
    """The profile, or why it is refused."""
    try:
        return form.check(), None
    except ProfileError as error:
        return None, error


@pytest.mark.parametrize("name", SHIPPED)
def test_writing_back_what_is_shown_changes_no_byte(name):
    form = shipped(name)
    for section in form.sections():
        for field in section.fields:
            form.set(section, field, form.value(section, field))
    assert form.text == resource(f"profiles/{name}.toml").read_text(encoding="utf-8")
    assert not form.is_changed


@pytest.mark.parametrize("name", SHIPPED)
def test_every_key_of_the_shipped_profiles_has_a_field(name):
    form = shipped(name)
    shown = {
        (section.path, field.key.split(".")[0])
        for section in form.sections()
        for field in section.fields
        if form.value(section, field) not in ("", (), False)
    }
    tree = tomllib.loads(form.text)

    def keys(table, path=()):
        for key, value in table.items():
            if isinstance(value, dict) and key not in ("reference_rpm", "reference_torque"):
                yield from keys(value, (*path, key))
            elif key in ("limits", "power_check"):
                for index, one in enumerate(value):
                    yield from keys(one, (key, index))
            elif value is not False and key != "format":
                yield path, key

    assert set(keys(tree)) <= shown


def test_a_changed_number_keeps_every_other_line_and_the_comments():
    form = shipped("quill-b2")
    put(form, "Start", "hung_for_s", "14")
    before = resource("profiles/quill-b2.toml").read_text(encoding="utf-8").splitlines()
    after = form.text.splitlines()
    assert len(before) == len(after)
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert changed == [
        (
            "hung_for_s = 12.0  # its control steps through stages: Ng may pause or dip for some seconds",
            "hung_for_s = 14  # its control steps through stages: Ng may pause or dip for some seconds",
        )
    ]
    assert form.check().start.hung_for_s == 14


def test_a_key_of_the_top_that_is_given_again_stands_above_the_tables():
    form = shipped()
    put(form, "Profile", "source", "")
    assert form.check().source == ""
    put(form, "Profile", "source", "Manual 7, revision 3")
    assert form.check().source == "Manual 7, revision 3"
    assert form.text.index("source =") < form.text.index("[engine]")


def test_an_emptied_field_takes_its_key_out_so_that_it_is_not_judged():
    form = shipped()
    put(form, "Start", "min_bus_volts", "")
    assert form.check().start.min_bus_volts is None
    assert "min_bus_volts =" not in form.text


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([f for f in known.START if f.key not in _START_CHOICES]), st.floats(-1e3, 1e4))
def test_any_number_is_either_in_the_profile_or_refused_at_its_own_key(field, value):
    form = shipped()
    section = next(one for one in form.sections() if one.path == ("start",))
    form.set(section, field, f"{value:.6g}")
    profile, refused = checked(form)
    if refused is None:
        assert getattr(profile.start, field.key) == pytest.approx(float(f"{value:.6g}"))
        return
    found = form.locate(refused.key)
    assert found is not None
    assert found[0].path == ("start",)
    assert refused.line is not None


def test_every_key_of_start_has_a_field():
    assert {field.key for field in known.START} == set(StartRules.__dataclass_fields__)


@pytest.mark.parametrize(
    ("title", "key", "typed", "words"),
    [
        ("Start", "idle_ng_pct", "fifty", '"fifty" is not a number'),
        ("Start", "idle_ng_pct", "nan", "is not a number"),
        ("Gauge itt", "green", "400", 'two numbers with "to" between'),
        ("Gauge itt", "range", "0 to 10, 20 to 30", "one pair is wanted"),
        ("Gauge itt", "red_lines", "830, x", '"x" is not a number'),
        ("Limit itt-start", "allowed", (("830", "", "x", ""),), "row 1, seconds"),
        ("Limit itt-start", "bands", (("I", "930", ""),), 'with "at" between'),
    ],
)
def test_what_cannot_be_written_is_said_and_changes_nothing(title, key, typed, words):
    form = shipped()
    before = form.text
    with pytest.raises(FieldError, match=words):
        put(form, title, key, typed)
    assert form.text == before


def test_a_refusal_names_its_line_and_leads_to_its_field():
    form = shipped()
    section, field = at(form, "Limit itt-start", "allowed")
    rows = form.value(section, field)
    form.set(section, field, (rows[0], ("800", "", "6", ""), rows[2]))
    with pytest.raises(ProfileError) as refused:
        form.check()
    assert refused.value.line == next(
        n for n, line in enumerate(form.text.splitlines(), 1) if "above = 800" in line
    )
    assert form.locate(refused.value.key) == (section, field)


def test_a_power_check_is_added_filled_refused_at_its_field_and_removed():
    form = ProfileForm()
    put(form, "Profile", "name", "My engine")
    form.add_power_check()
    section = form.add_power_check()
    assert section.title == "Power check: chart 2"
    with pytest.raises(ProfileError) as refused:
        form.check()
    assert form.locate(refused.value.key) == (
        next(s for s in form.sections() if s.path == ("power_check", 0)),
        None,
    )
    form.remove(next(s for s in form.sections() if s.path == ("power_check", 0)))
    corners = tuple((t, a, o, "700", "") for t in ("60", "90") for a in ("0", "8000") for o in ("0", "30"))
    put(form, "Power check chart 2", "points", corners)
    assert {p.highest for p in form.check().power_checks[0].points} == {700}
    put(form, "Power check chart 2", "points", (*corners[:-1], ("90", "8000", "31", "700", "")))
    with pytest.raises(ProfileError, match="on a grid") as refused:
        form.check()
    assert form.locate(refused.value.key) == at(form, "Power check chart 2", "points")
    form.remove(section := form.sections()[-1])
    assert section.own == "chart 2"
    assert form.check().power_checks == ()


def test_gauges_and_limits_are_added_filled_and_removed():
    form = ProfileForm()
    put(form, "Profile", "name", "My engine")
    form.add_gauge("itt", "degC")
    put(form, "Gauge itt", "range", "0 to 1000")
    put(form, "Gauge itt", "green", "400 to 700")
    limit = form.add_limit()
    with pytest.raises(ProfileError, match="allowed"):
        form.check()
    form.set(
        limit,
        next(f for f in limit.fields if f.key == "allowed"),
        (("700", "", "5", ""), ("750", "", "0", "")),
    )
    profile = form.check()
    assert profile.gauges["itt"].green == ((400, 700),)
    assert [row.level for row in profile.limits[0].allowed] == [700, 750]
    with pytest.raises(FieldError, match="already"):
        form.add_gauge("itt", "degC")
    for section in reversed([one for one in form.sections() if one.removable]):
        form.remove(section)
    assert form.check().limits == ()


def test_every_kind_of_field_is_written_as_the_reader_wants_it():
    form = ProfileForm()
    put(form, "Profile", "name", "X")
    put(form, "Profile", "engines", "A-1; A-2")
    put(form, "Engine", "reference_rpm.ng", "38600")
    put(form, "Engine", "reference_torque.value", "2100,5")
    put(form, "Engine", "reference_torque.unit", "lbf ft")
    put(form, "Starter", "duty", (("45", "90"), ("", ""), ("45", "2400")))
    put(form, "Start", "fuel_control", "automatic")
    put(form, "Fastest changes", "itt", "500")
    limit = form.add_limit()
    for key, value in {
        "id": "hot", "event": "hot_start", "when": "start", "count": "total",
        "allowed": (("830", "", "20", "caution"), ("920", "", "6", "")),
        "where": (("np", "", "1000", "", "rpm"),), "phases": "climb, cruise",
        "band_method": "curve", "bands": (("I", "830 at 20, 1030 at 0", "Tell the workshop."),),
    }.items():  # fmt: skip
        form.set(limit, next(f for f in limit.fields if f.key == key), value)
    profile = form.check()
    assert profile.engines == ("A-1", "A-2")
    assert profile.reference_rpm == {"ng": 38600}
    assert profile.reference_torque == (2100.5, "lbf ft")
    assert [(row.run_s, row.rest_s) for row in profile.starter.duty] == [(45, 90), (45, 2400)]
    assert profile.start.fuel_control == "automatic"
    assert profile.limits[0].allowed[0].severity == "caution"
    assert profile.limits[0].where[0].below == 1000
    assert profile.limits[0].phases == ("climb", "cruise")
    assert profile.limits[0].bands[0].points == ((830, 20), (1030, 0))
    put(form, "Engine", "reference_rpm.ng", "")
    assert "reference_rpm" not in form.text


def test_a_saved_profile_is_found_by_its_name_and_the_file_is_whole(debrief_home):
    form = shipped()
    put(form, "Profile", "name", "My own engine")
    form.save(own_folder() / "mine")
    assert find("mine").name == "My own engine"
    assert not form.is_changed
    assert [file.name for file in own_folder().iterdir()] == ["mine.toml"]
    assert load(form.path).start == find("tarn-tg7").start


@pytest.mark.parametrize("name", [*SHIPPED, "a-new-one"])
def test_nothing_is_ever_saved_among_the_shipped_profiles(name):
    folder = resource("profiles")
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    form = shipped()
    with pytest.raises(UserError, match="never changed"):
        form.save(folder / f"{name}.toml")
    with pytest.raises(UserError, match="never changed"):
        form.save(folder / "inner" / ".." / f"{name}.toml")
    assert {file.name: file.read_bytes() for file in folder.iterdir()} == before


def test_a_refused_profile_is_not_saved_and_what_was_there_stays(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text("old")
    form = shipped()
    put(form, "Start", "idle_ng_pct", "3")
    with pytest.raises(ProfileError):
        form.save(file)
    assert file.read_text() == "old"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(UserError, match="could not be written"):
        shipped().save(tmp_path / "mine.toml")


def test_a_place_below_a_file_is_said_and_leaves_nothing(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(UserError, match="could not be written: there is no folder"):
        shipped().save(tmp_path / "file" / "mine.toml")


def test_what_is_no_toml_is_refused_in_words(tmp_path):
    file = tmp_path / "x.toml"
    for content in (b"name = ", b"\xff\xfe\x00", b"[[a]\n"):
        file.write_bytes(content)
        with pytest.raises(UserError, match=r"x\.toml"):
            ProfileForm.open(file)
    with pytest.raises(UserError, match="cannot be read"):
        ProfileForm.open(tmp_path / "absent.toml")


def test_a_profile_that_is_refused_can_be_opened_and_mended(tmp_path):
    file = tmp_path / "x.toml"
    file.write_text('format = "engine-profile/1"\nname = "X"\n[start]\nidle_ng_pct = "high"\n')
    form = ProfileForm.open(file)
    with pytest.raises(ProfileError):
        form.check()
    put(form, "Start", "idle_ng_pct", "60")
    assert form.check().start.idle_ng_pct == 60


def test_numbers_may_have_a_decimal_comma_and_a_true_minus():
    assert number_of("61,5", "x") == 61.5
    assert number_of("\N{MINUS SIGN}40", "x") == -40
    assert isinstance(number_of("40", "x"), int)


def test_every_key_of_every_table_has_a_field_in_the_form():
    assert [field.key for field in known.GAUGE] == list(GAUGE_KEYS)
    assert {field.key for field in known.LIMIT} == set(LIMIT_KEYS)
