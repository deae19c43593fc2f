"""What is known of the time before a recording: starter runs that the recording's own file tells of."""

from __future__ import annotations

from debrief.analysis.model import StarterRun
from debrief.errors import UserError
from debrief.recording.model import Recording

PREAMBLE_KEY = "starter-rest-before-s"


def rest_before(seconds: float) -> tuple[StarterRun, ...]:
    """Return earlier runs that say only this: the starter had rested for `seconds` when the recording began.

    The run itself has no length, since nobody told one; only where it ended counts.
    """
    if not seconds >= 0 or seconds == float("inf"):
        raise UserError(
            "The rest of the starter before the recording must be a number of seconds, 0 or more."
        )
    return (StarterRun(-seconds, -seconds, 0.0, 0.0, 0.0, "unknown"),)


def earlier_runs(recording: Recording) -> tuple[StarterRun, ...]:
    """Return what the file's preamble tells of earlier starter runs; empty when it tells nothing.

    A line ``# starter-rest-before-s: 86400`` says that the starter had been at rest for that long when the
    recording began.

    Raises
    ------
    UserError
        The line is there and holds no number of seconds.
    """
    for line in recording.provenance.preamble:
        key, found, value = line.lstrip("# \t").partition(":")
        if found and key.strip().lower() == PREAMBLE_KEY:
            try:
                seconds = float(value.strip().rstrip("s").strip())
            except ValueError:
                name = recording.provenance.file_name or "The recording"
                raise UserError(
                    f"{name}: the line '{PREAMBLE_KEY}: {value.strip()}' must hold a number of seconds, such as 86400."
                ) from None
            return rest_before(seconds)
    return ()
