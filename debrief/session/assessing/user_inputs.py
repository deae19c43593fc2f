"""What a person, the file or the history said beside the samples, so that a result can be had again."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.analysis.model import Assessment, EarlierRun
from debrief.words.numbers import length_text

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
    ``(("Starter rest", "10 min before the recording, as entered"),)``
    """
    out: list[tuple[str, str]] = []
    for engine in assessment.recording.engines:
        runs = [run for run in assessment.context if run.engine in (None, engine)]
        if runs:
            label = (
                "Starter rest" if len(assessment.recording.engines) == 1 else f"Starter rest, engine {engine}"
            )
            out.append((label, _rest_words(runs)))
    identity = assessment.recording.identity
    if identity.altimeter_setting_hpa is not None:
        who = _SAID_BY.get(identity.altimeter_setting_source or "", "as stated")
        out.append(("Altimeter", f"{identity.altimeter_setting_hpa:.6g} hPa, {who}"))
    return tuple(out)


_TOLD_BY = {
    "entered": "as entered",
    "preamble": "from the file",
    "caller": "as known to the program that asked",
}


def _rest_words(runs: Sequence[EarlierRun]) -> str:
    """Return how long the starter had rested when the recording began, and who says so."""
    last = max(runs, key=lambda run: run.start_s if run.end_s is None else run.end_s)
    rest = length_text(-(last.start_s if last.end_s is None else last.end_s))
    who = _TOLD_BY.get(last.source, "")
    kept = [run for run in runs if run.source == "history"]
    if last in kept:
        of = f"the last run in {last.file_name}" if last.file_name else "the last run"
        many = f", {len(kept)} runs" if len(kept) > 1 else ""
        doubt = (
            f", the clocks may differ by {length_text(last.clock_doubt_s)}"
            if last.clock_doubt_s >= 60
            else ""
        )
        who = f"by the flights kept ({of}{many}{doubt})"
    return f"{rest} before the recording, {who}"
