"""The verdict and the one sentence that a pilot reads first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from debrief.analysis.listed import MOST_OF_A_KIND
from debrief.analysis.model import Event, LeftOut, LimitResult, NotJudged, Start, Verdict
from debrief.profile.model import EngineProfile
from debrief.words.cautions import AFTER_LIMIT, AFTER_PROCEDURE, TELL_MAINTENANCE
from debrief.words.channels import within_sentence
from debrief.words.engines import engine_named, engines_named
from debrief.words.events import (
    EVENTS,
    FINDINGS,
    OUTCOME_WORDS,
    VERDICTS,
    event_in_list,
    event_spec,
    event_title,
    finding_key,
)
from debrief.words.sentence import Sentence, joined, led, words
from debrief.words.starts import start_named

TOLD = 2
MOST_STARTS = 6
"""Starts without an excess that the sentence names one by one."""
MOST_OPEN = 5
"""Open points that are named; the rest is counted."""

NO_PROFILE = led(f"{VERDICTS['undetermined'].title}:", "no engine profile is named, so nothing was judged.")

EVERY_LIMIT = "every limit"
"""What is not judged without a profile."""

PROFILE_FITS = "whether the profile fits"
"""What is not judged where the profile is for another engine model."""


def next_step(events: Sequence[Event], profile: EngineProfile | None) -> str:
    """Return what to do next, which always defers to the manual; empty where nothing was, or may have been, exceeded.

    No start should be attempted after what start limits, hot, failed and burning starts and starter duty found, certain or
    possible, nor after a valve that leaks. All else that was exceeded is for maintenance, a slip of procedure for the manual.
    """
    of_starts = set() if profile is None else {one.id for one in profile.limits if one.when == "start"}
    grave = [e for e in events if e.severity in ("limit", "possible")]
    leaks = any(e.severity == "caution" and event_spec(e.kind).is_leak for e in events)
    if leaks or any(event_spec(e.kind).bars_restart or e.limit_id in of_starts for e in grave):
        return AFTER_LIMIT
    if any(e.event_class == "engine" for e in grave):
        return TELL_MAINTENANCE
    return AFTER_PROCEDURE if grave else ""


def verdict_of(events: Sequence[Event], not_judged: Sequence[NotJudged]) -> Verdict:
    """Return the first that fits: exceeded, possible, undetermined (a core question is open), within."""
    if any(e.severity == "limit" for e in events):
        return "exceeded"
    if any(e.severity == "possible" for e in events):
        return "possible"
    return "undetermined" if any(point.core for point in not_judged) else "within"


def _told(events: Sequence[Event], beside: int, misfit: str) -> Sentence:
    """Return the messages of the worst few, and how many more there are: so many beside those that are listed.

    After the first message stands what has to be said of the profile.
    """
    more = len(events) + beside - TOLD
    texts = [events[0].message + misfit, *(event.message for event in events[1:TOLD])]
    return joined(" ", [*texts, f"And {more} more."] if more > 0 else texts)


def _worst_first(events: Sequence[Event]) -> list[Event]:
    """Return engine before procedure, hot before the rest, then by time."""
    return sorted(events, key=lambda e: (event_spec(e.kind).rank, e.start_s))


def _weight(point: NotJudged) -> int:
    if point.what == PROFILE_FITS:
        return -2
    if point.core and point.limit_id is None and point.start_s is None:
        return -1  # of the whole recording
    return 3 if point.limit_id is None else 0 if event_spec(point.what).rank == 0 else 2


def _named(point: NotJudged) -> str:
    """Return in the middle of a sentence what was not judged."""
    is_kind = point.limit_id is not None or point.what in EVENTS
    what = event_in_list(point.what) if is_kind else within_sentence(point.what)
    return what + " in part" if point.start_s is not None and point.limit_id is not None else what


def _listed(names: Sequence[str]) -> str:
    """Return the first few of a list, and how many more there are."""
    more = len(names) - MOST_OPEN
    return ", ".join(names[:MOST_OPEN]) + (f" and {more} more" if more > 0 else "")


def _left_open(names: Sequence[str]) -> str:
    """Return behind a reason what it leaves open."""
    listed = " and ".join(names) if len(names) == TOLD else _listed(names)
    return f", so there is no verdict on {listed}"


def core_words(not_judged: Sequence[NotJudged]) -> Sentence:
    """Return why core questions are open, each reason with what it leaves open: the limits first, of these the temperatures."""
    by_reason: dict[str, list[str]] = {}
    for point in sorted(not_judged, key=_weight):
        if point.core:
            names = by_reason.setdefault(point.why, [])
            if _named(point) not in names:
                names.append(_named(point))
    if not by_reason:
        return words("")
    told = [joined("", [why, _left_open(names)]) for why, names in by_reason.items()]
    more = len(told) - TOLD
    rest = [f"{more} more"] if more > 0 else []
    return led(f"{VERDICTS['undetermined'].title}:", joined("; ", [*told[:TOLD], *rest]) + ".")


def footnotes(not_judged: Sequence[NotJudged], several: bool = False) -> Sentence:
    """Return what was not checked besides: it stands below the verdict and changes neither its word nor its colour.

    Of `several` engines each is named.
    """
    if not not_judged:
        return words("Everything in the profile was judged.")
    engines: dict[str, list[int]] = {}
    for point in sorted(not_judged, key=_weight):
        if not point.core and point.engine not in engines.setdefault(_named(point), []):
            engines[_named(point)].append(point.engine)
    names = [f"{name} of {engines_named(own)}" if several else name for name, own in engines.items()]
    return words(f"Not checked: {_listed(names)}." if names else "")


def any_judged(limits: Sequence[LimitResult]) -> bool:
    """Return whether at least one limit was judged over all of the recording where it applied."""
    return any(r.result != "not_judged" and r.nearest_level is not None for r in limits)


def sentence_of(
    verdict: Verdict,
    events: Sequence[Event],
    starts: Sequence[Start],
    not_judged: Sequence[NotJudged],
    judged: bool = True,
    profile: EngineProfile | None = None,
    left_out: Sequence[LeftOut] = (),
    several: bool = False,
) -> Sentence:
    """Return the verdict in words: what was exceeded and by how much, cautions counted, core questions open.

    `judged` is the answer of `any_judged`; of `several` engines each is named. Of the profile it is said when its name means another one. What is
    `left_out` of the events is counted with them.
    """
    parts: list[str] = []
    # The second sentence, also where the first part has more: whoever stops reading there has read it.
    misfit = [f" The profile may not fit: {p.why}." for p in not_judged if p.what == PROFILE_FITS]
    namesake = _namesake(profile)
    beside_first = "".join(misfit) + namesake
    found: dict[str, list[Event]] = {}
    for event in events:
        found.setdefault(finding_key(event), []).append(event)
    beside: Counter[str] = Counter()
    for one in left_out:
        beside[finding_key(one)] += one.count
    cautions = found.get("caution", [])
    for key, spec in FINDINGS.items():
        if key in found and spec not in (FINDINGS["caution"], FINDINGS["note"]):
            opening = (spec.later or spec.title) if parts else spec.title
            told = _told(_worst_first(found[key]), beside[key], "" if parts else beside_first)
            parts.append(led(f"{opening}:", told))
    if parts:
        parts += filter(None, [core_words([p for p in not_judged if p.what != PROFILE_FITS])])
    else:
        unsure = core_words(not_judged)
        outcomes = _outcomes(starts, several)
        nothing = "Nothing exceeded in what was recorded"
        if unsure and not judged:
            nothing = "No limit could be judged to the end"
        lead = led(f"{nothing};", f"{outcomes}.") if outcomes else led(f"{nothing}.")
        parts += [unsure + namesake, lead] if unsure else [lead + namesake]
    if cautions:
        names = dict.fromkeys(event_title(e.kind).lower() for e in cautions)
        many = len(cautions) + beside["caution"]
        count = f"{many} caution" + ("s" if many > 1 else "")
        parts.append(f"{count}: {', '.join(names)}.")
    if left_out:
        parts.append(
            f"Of each kind in each start the first {MOST_OF_A_KIND} findings are listed; {beside.total()} more are counted."
        )
    return joined(" ", parts)


def _outcomes(starts: Sequence[Start], several: bool) -> str:
    """Return how those starts came out that failed or of which it is not known, neighbours alike in one."""
    bad = [s for s in starts if s.outcome in ("aborted", "no_light_off", "flamed_out", "hung", "unknown")]
    if len(starts) == 1 and starts[0].outcome == "unknown":
        return ""  # it is the first of what cannot be told
    runs: list[list[Start]] = []
    for start in bad:
        last = runs[-1][-1] if runs else None
        alike = last is not None and (start.engine, start.outcome) == (last.engine, last.outcome)
        if last is not None and alike and start.number == last.number + 1:
            runs[-1].append(start)
        else:
            runs.append([start])
    told = []
    for run in runs[:MOST_STARTS]:
        first, last = run[0], run[-1]
        name = f"starts {first.number} to {last.number}"
        if first is last:
            name = start_named(first.number, sum(s.engine == first.engine for s in starts))
        engine = f" of {engine_named(first.engine)}" if several else ""
        told.append(f"{name}{engine}: {OUTCOME_WORDS[first.outcome].lower()}")
    more = sum(map(len, runs[MOST_STARTS:]))
    return ", ".join(told) + (f", and {more} more" if more else "")


def _namesake(profile: EngineProfile | None) -> str:
    """Return what has to be said beside a result where the profile's name means another one; else nothing."""
    if profile is None or not profile.namesake:
        return ""
    return f' Judged by {profile.file_name}, which is not the shipped profile "{profile.namesake}".'
