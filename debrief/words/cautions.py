"""What stands on every screen and page: the program informs and never approves."""

CAUTION = (
    "For information only: this program informs and never approves. The approved flight manual, the "
    "maintenance manual, local regulations and licensed persons decide."
)
"""Printed on every page of the report and shown on the start page of the window."""

AFTER_LIMIT = "Do not attempt another start before consulting the manual."
"""Said after an event of severity ``limit`` or ``possible`` in a start."""

NOT_APPROVED = "Limits not from approved data"
"""Said on screen and on every page while the profile is not approved data."""

RANGE_COUNTS = "The normal range counts every completed start, also one that exceeded a limit, unless a person left it out."
"""Said where a trend is shown: the range tells what is normal of this engine, not what is good."""
