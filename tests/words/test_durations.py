"""A length of time as a person types it."""

from __future__ import annotations

import pytest

from debrief.errors import UserError
from debrief.words.durations import seconds_of


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1800", 1800), ("0", 0), ("90 s", 90), ("1e3", 1000), ("30 min", 1800), ("30min", 1800), ("2 h", 7200),
        ("1 h 30 min", 5400), ("1h30m5s", 5405), ("1,5 h", 5400), ("1.5 hours", 5400), ("1:30", 90), ("0:45.5", 45.5),
        ("1:30 min", 90), ("1:30 h", 5400), ("2:00:00", 7200), ("2 days", 172800), (" 10 Min. ", 600),
        ("1 h 10", 4200), ("5 min 30", 330), ("1h10", 4200), ("1 d 12", 129600), ("2 h, 5", 7500),
    ],
)  # fmt: skip
def test_it_is_understood(text, seconds):
    assert seconds_of(text) == seconds


@pytest.mark.parametrize(
    "text",
    ["", " ", "a day", "-5", "1:75", "1:75:00", "30 min 2 h", "5 5", "5 s 5", "nan", "inf", "1:2:3:4", "1e12", "3 km", "1:00:00 h", "1 h 75", "1 h 10 5", "90 s 5"],
)  # fmt: skip
def test_what_is_no_length_of_time_is_said_with_what_would_be(text):
    with pytest.raises(UserError, match=r"is no length of time: write 30 min, 1:30"):
        seconds_of(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("30", 1800), ("90 s", 90), ("1 h 10", 4200), ("1:30", 90), ("0,5", 30), ("2 h", 7200)],
)
def test_where_minutes_stand_behind_the_field_only_a_number_alone_is_one_of_minutes(text, seconds):
    assert seconds_of(text, in_minutes=True) == seconds


def test_what_is_no_length_of_time_there_is_said_without_seconds_alone():
    with pytest.raises(
        UserError, match=r'"soon" is no length of time: write 30 \(minutes\), 1 h 10, 90 s or 1:30'
    ):
        seconds_of("soon", in_minutes=True)
