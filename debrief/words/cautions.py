"""The one wording of numbers and names, for the window, the report and the command line."""

from debrief.words.numbers import (
    beside,
    bounded,
    bounds,
    clock_bounds,
    clock_text,
    decimals_for,
    duration_text,
    length_text,
    long_time_text,
    number,
    plain,
    reference_beside,
    unit_words,
    value_text,
)

__all__ = [
    "beside",
    "bounded",
    "bounds",
    "clock_bounds",
    "clock_text",
    "decimals_for",
    "duration_text",
    "length_text",
    "long_time_text",
    "number",
    "plain",
    "reference_beside",
    "unit_words",
    "value_text",
]

CAUTION = (
    "For information only: this program informs and never approves. The approved flight manual, the "
    "maintenance manual, local regulations and licensed persons decide."
)
"""Printed on every page of the report and shown on the start page of the window."""

AFTER_LIMIT = "Do not attempt another start before consulting the manual."
"""Said after an event of severity ``limit`` or ``possible`` in a start."""

NOT_APPROVED = "Limits not from approved data"
"""Said on screen and on every page while the profile is not approved data."""
