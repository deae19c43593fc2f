"""What stands on every screen and page: the program informs and never approves."""

CAUTION = (
    "For information only: this program informs and never approves. The approved flight manual, the "
    "maintenance manual, local regulations and licensed persons decide."
)
"""Printed on every page of the report and shown on the start page of the window."""

AFTER_LIMIT = "Do not attempt another start before consulting the manual."
"""Said after an event of severity ``limit`` or ``possible`` in a start."""

TELL_MAINTENANCE = "Tell maintenance: the manual decides what has to be done."
"""Said after any other limit of the engine that was, or may have been, exceeded."""

AFTER_PROCEDURE = "See the manual: it decides what has to be done."
"""Said after a rule of procedure alone that was not kept."""

NOT_APPROVED = "Limits not from approved data"
"""Said on screen and on every page while the profile is not approved data."""

RANGE_COUNTS = "The normal range counts every completed start, also one that exceeded a limit, unless a person left it out."
"""Said where a trend is shown: the range tells what is normal of this engine, not what is good."""
