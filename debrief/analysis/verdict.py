"""The verdict and the one sentence that a pilot reads first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from debrief.analysis.listed import MOST_OF_A_KIND
from debrief.analysis.model import Event, LeftOut, LimitResult, NotJudged, Start, Verdict
from debrief.profile.gaps import OUTCOME
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
    return f"the {what}" if what == OUTCOME else what


def _part(point: NotJudged) -> str:
    """Return behind a limit's name that only a stretch of where it applied is open."""
    return " in part" if point.start_s is not None and point.limit_id is not None else ""


def _listed(names: Sequence[str]) -> str:
    """Return the first few of a list, and how many more there are."""
    more = len(names) - MOST_OPEN
    return ", ".join(names[:MOST_OPEN]) + (f" and {more} more" if more > 0 else "")


def _left_open(points: Sequence[NotJudged]) -> str:
    """Return behind a reason what it leaves open; where all of it is in part, that is said once."""
    parts = {_part(point) for point in points}
    partly = parts.pop() if len(parts) == 1 else ""
    names = list(dict.fromkeys(_named(point) + ("" if partly else _part(point)) for point in points))
    listed = " and ".join(names) if len(names) == TOLD else _listed(names)
    return f"there is no verdict on {listed}{partly}"


def _suspected(point: NotJudged, told: Sequence[Event]) -> bool:
    """Return whether a finding that was told has said why the sensor of this open question cannot be believed."""
    return point.start_s is not None and any(
        e.sensor_suspect
        and (e.limit_id, e.engine) == (point.limit_id, point.engine)
        and point.start_s <= e.end_s
        and (point.end_s is None or e.start_s <= point.end_s)
        for e in told
    )


def core_words(not_judged: Sequence[NotJudged], told: Sequence[Event] = ()) -> Sentence:
    """Return why core questions are open, each reason with what it leaves open: the limits first, of these the temperatures.

    A reason that a suspect finding among those that were `told` has given is not given again.
    """
    named = [p for p in not_judged if p.core and _suspected(p, told)]
    if named:
        open_now = f"So {_left_open(sorted(named, key=_weight))}."
        rest = core_words([p for p in not_judged if p.core and p not in named])
        return joined(" ", filter(None, [open_now, rest]))
    by_reason: dict[str, list[NotJudged]] = {}
    for point in sorted(not_judged, key=_weight):
        if point.core:
            by_reason.setdefault(point.why, []).append(point)
    if not by_reason:
        return words("")
    whys = [joined(", so ", [why, _left_open(points)]) for why, points in by_reason.items()]
    more = len(whys) - TOLD
    others = [f"{more} more"] if more > 0 else []
    return led(f"{VERDICTS['undetermined'].title}:", joined("; ", [*whys[:TOLD], *others]) + ".")


def footnotes(not_judged: Sequence[NotJudged], several: bool = False) -> Sentence:
    """Return what was not checked besides: it stands below the verdict and changes neither its word nor its colour.

    Of `several` engines each is named.
    """
    if not not_judged:
        return words("Everything in the profile was judged.")
    engines: dict[str, list[int]] = {}
    for point in sorted(not_judged, key=_weight):
        name = _named(point) + _part(point)
        if not point.core and point.engine not in engines.setdefault(name, []):
            engines[name].append(point.engine)
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
    named = [e for key in found if key not in ("caution", "note") for e in _worst_first(found[key])[:TOLD]]
    # Of a milder level of the same suspect reading nothing more is said.
    doubted = {(e.limit_id, e.engine) for e in named if e.sensor_suspect}
    cautions = [
        e for e in found.get("caution", []) if not (e.sensor_suspect and (e.limit_id, e.engine) in doubted)
    ]
    for key, spec in FINDINGS.items():
        if key in found and spec not in (FINDINGS["caution"], FINDINGS["note"]):
            opening = (spec.later or spec.title) if parts else spec.title
            told = _told(_worst_first(found[key]), beside[key], "" if parts else beside_first)
            parts.append(led(f"{opening}:", told))
    if parts:
        parts += filter(None, [core_words([p for p in not_judged if p.what != PROFILE_FITS], named)])
    else:
        unsure = core_words(not_judged)
        outcomes = _outcomes(starts, several)
        nothing = "Nothing exceeded in what was recorded"
        if unsure and not judged:
            nothing = "No limit could be judged to the end"
        lead = led(f"{nothing};", f"{outcomes}.") if outcomes else led(f"{nothing}.")
        parts += [unsure + namesake, lead] if unsure else [lead + namesake]
    if cautions:
        many = len(cautions) + beside["caution"]
        opening = "Caution" if many == 1 else f"{many} cautions"
        parts.append(led(f"{opening}:", _told(cautions, beside["caution"], "")))
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
