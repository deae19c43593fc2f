"""Every mark in a row has a name, beside its own dot or with its neighbour's."""

from hypothesis import given
from hypothesis import strategies as st

from debrief.session.drawing.mark_names import place_names
from debrief.session.drawing.placing import Box

ROOM = Box(0.0, 0.0, 600.0, 18.0)
WORDS = ("starter", "fuel", "light-off", "peak", "cut", "idle")


def width_of(words):
    return 6.0 * len(words)


def test_a_name_without_room_is_told_with_that_of_the_nearer_neighbour():
    marks = [(60.0, "starter"), (210.0, "fuel"), (222.0, "light-off"), (250.0, "peak"), (500.0, "idle")]
    placed = dict(place_names(marks, ROOM, 0.0, 16.0, width_of))
    assert list(placed) == ["starter", "fuel, light-off", "peak", "idle"]
    assert placed["fuel, light-off"].right <= 210.0 - 3.0  # before both dots


def test_names_with_room_stand_alone():
    marks = [(60.0, "starter"), (200.0, "fuel"), (300.0, "peak")]
    assert [words for words, _ in place_names(marks, ROOM, 0.0, 16.0, width_of)] == [
        "starter",
        "fuel",
        "peak",
    ]


@given(st.lists(st.floats(60, 540), min_size=1, max_size=6))
def test_no_mark_is_left_without_a_name_and_no_two_names_meet(places):
    marks = list(zip(sorted(places), WORDS, strict=False))
    placed = place_names(marks, Box(-600.0, 0.0, 1800.0, 18.0), 0.0, 16.0, width_of)
    told = [word for words, _ in placed for word in words.split(", ")]
    assert told == [word for _, word in marks]
    boxes = [box for _, box in placed]
    assert not any(a.meets(b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_a_name_that_has_room_left_of_its_dot_is_not_told_with_two_neighbours():
    """The peak stands close behind light-off: fuel has room of its own all the same."""
    marks = [(120.0, "starter"), (210.0, "fuel"), (222.0, "light-off"), (250.0, "peak"), (500.0, "idle")]
    placed = dict(place_names(marks, ROOM, 0.0, 16.0, width_of))
    assert list(placed) == ["starter", "fuel", "light-off, peak", "idle"]
    assert placed["fuel"].right <= 210.0 - 3.0
    assert placed["light-off, peak"].left >= 250.0 + 3.0


def test_a_crowd_without_room_for_its_names_takes_none_from_the_others() -> None:
    """Five dots so near each other that no two of their names fit, nor all in one, and two far away."""
    crowd = [(20.0 + 4.0 * i, "a long name of a moment") for i in range(5)]
    marks = [*crowd, (700.0, "idle"), (900.0, "off")]
    told = place_names(marks, Box(10.0, 0.0, 940.0, 18.0), 0.0, 16.0, width_of)
    words = [words for words, _ in told]
    assert words[-2:] == ["idle", "off"]
    assert sum(one.count("a long name of a moment") for one in words) < 5
