"""What a person, the file or the history said beside the samples, so that a result can be had again."""

from __future__ import annotations

from debrief.analysis.model import Assessment
from debrief.session.assessing.starter_rest import earlier_runs

_SAID_BY = {
    "option": "as stated",
    "entered": "as stated",
    "preamble": "from the file",
    "column": "from the file",
}


def stated(assessment: Assessment) -> tuple[tuple[str, str], ...]:
    """Return what was said and who said it, as label and words; a result depends on each.

    Examples
    --------
    ``(("Starter rest", "600 s before the recording, as stated"),)``
    """
    out: list[tuple[str, str]] = []
    runs = assessment.context
    if runs:
        ended = max(run.start_s if run.end_s is None else run.end_s for run in runs)
        if any(run.duration_s > 0 for run in runs):
            several = f"{len(runs)} earlier runs" if len(runs) > 1 else "1 earlier run"
            who = f"by {several} in the history"
        else:
            who = "from the file" if runs == earlier_runs(assessment.recording) else "as stated"
        out.append(("Starter rest", f"{-ended:.10g} s before the recording, {who}"))
    identity = assessment.recording.identity
    if identity.altimeter_setting_hpa is not None:
        who = _SAID_BY.get(identity.altimeter_setting_source or "", "as stated")
        out.append(("Altimeter", f"{identity.altimeter_setting_hpa:.6g} hPa, {who}"))
    return tuple(out)
