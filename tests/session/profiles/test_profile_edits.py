"""Edits of a profile with undo: every order of steps can be taken back to the byte, and done again."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.resources import resource
from debrief.session.profiles.edit_history import EditHistory
from debrief.session.profiles.limit_rows import corners_of, drawn_rows
from debrief.session.profiles.profile_edits import ProfileEdits
from debrief.session.profiles.profile_form import FieldError, ProfileForm

ROWS = (("830", "", "20", "caution"), ("920", "", "6", ""), ("hot", "", "1", ""))
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("type"), st.integers(0, 40), st.text("0123456789.x ", max_size=4)),
        st.tuples(st.just("limit"), st.just(0), st.just("")),
        st.tuples(st.just("gauge"), st.just(0), st.just("")),
        st.tuples(st.just("power check"), st.just(0), st.just("")),
        st.tuples(st.just("remove"), st.integers(0, 40), st.just("")),
    ),
    max_size=12,
)


def do(edits, what, which, text):
    sections = edits.form.sections()
    section = sections[which % len(sections)]
    if what == "type":
        numbers = [field for field in section.fields if field.kind in ("number", "text", "numbers")]
        edits.set(section, numbers[which % len(numbers)], text) if numbers else None
    elif what == "limit":
        edits.add_limit()
    elif what == "power check":
        edits.add_power_check()
    elif what == "gauge":
        try:
            edits.add_gauge("fuel_flow")
        except FieldError:
            return
    elif section.removable:
        edits.remove(section)
    edits.pause()


@settings(max_examples=40, deadline=None)
@given(STEPS)
def test_all_steps_are_taken_back_to_the_byte_and_done_again(steps):
    edits = ProfileEdits(ProfileForm.open(resource("profiles/tarn-tg7.toml")))
    first = edits.form.text, edits.check().words
    for step in steps:
        do(edits, *step)
    last = edits.form.text, edits.check().words
    while edits.undo() is not None:
        pass
    assert (edits.form.text, edits.check().words) == first
    assert not edits.is_unsaved
    while edits.redo() is not None:
        pass
    assert (edits.form.text, edits.check().words) == last


def test_a_number_that_is_typed_is_one_step_and_another_place_begins_one():
    history = EditHistory("")
    for text in ("5", "58"):
        history.record(text, "idle", "a")
    history.record("58!", "name", "b")
    history.record("58!?", "name", "b")
    assert history.undo() == "b"
    assert history.state == "58"
    assert history.undo() == "a"
    assert history.state == ""
    assert history.undo() is None


def test_what_is_left_of_a_profile_that_was_opened_refused_is_said_with_its_part():
    lines = ('format = "engine-profile/1"', 'name = "X"', "[start]", 'idle_ng_pct = "high"')
    text = "\n".join(lines)
    edits = ProfileEdits(ProfileForm(text, Path("x.toml")))
    checked = edits.check()
    assert checked.place == (("start",), "idle_ng_pct")
    assert checked.words.startswith("Start, idle Ng, % (line 4): must be a number")


def test_each_corner_that_is_drawn_keeps_what_its_row_says():
    assert corners_of(ROWS) == ((830, 20), (920, 6))
    assert drawn_rows(ROWS, ((840, 20), (920, 6))) == (("840", "", "20", "caution"), ROWS[1], ROWS[2])
    assert drawn_rows(ROWS, ((830, 20), (900, 9), (920, 6))) == (
        ROWS[0], ("900", "", "9", ""), ROWS[1], ROWS[2],
    )  # fmt: skip
    assert drawn_rows(ROWS, ((920, 6),)) == (ROWS[1], ROWS[2])
    assert corners_of((("", "80", "5", ""),)) is None  # a minimum
