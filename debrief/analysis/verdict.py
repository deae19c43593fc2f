"""The verdict and the one sentence that a pilot reads first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from debrief.analysis.listed import MOST_OF_A_KIND
from debrief.analysis.model import Event, LeftOut, LimitResult, NotJudged, Start, Verdict
from debrief.profile.model import EngineProfile
from debrief.words.channels import within_sentence
from debrief.words.engines import engine_named, engines_named
from debrief.words.events import EVENTS, OUTCOME_WORDS, VERDICTS, event_in_list, event_spec, event_title
from debrief.words.sentence import Sentence, joined, led, words

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


def is_failed_start(event: Event | LeftOut) -> bool:
    """Return whether a finding is that a start failed: it hung, or never lit. It exceeded no number."""
    fails = event_spec(event.kind).fails_start
    return fails == "always" or (fails == "without a reason" and event.reason is None)


def bars_restart(events: Sequence[Event], profile: EngineProfile | None) -> bool:
    """Return whether no start should be attempted before the manual is consulted.

    So it is after what start limits, hot, failed and burning starts and starter duty found, certain or possible.
    """
    of_starts = set() if profile is None else {one.id for one in profile.limits if one.when == "start"}
    return any(
        e.severity in ("limit", "possible") and (event_spec(e.kind).bars_restart or e.limit_id in of_starts)
        for e in events
    )


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


def _part_of(one: LeftOut) -> str:
    """Return with which events of the sentence it is counted."""
    if one.severity == "limit":
        return "failed" if is_failed_start(one) else one.event_class
    if one.severity == "possible":
        return "doubtful" if is_failed_start(one) else "possible"
    return one.severity


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


def core_words(not_judged: Sequence[NotJudged]) -> Sentence:
    """Return the core questions that are open, each with its reason: the limits first, of these the temperatures."""
    by_reason: dict[str, list[str]] = {}
    for point in sorted(not_judged, key=_weight):
        if point.core:
            names = by_reason.setdefault(point.why, [])
            if _named(point) not in names:
                names.append(_named(point))
    if not by_reason:
        return words("")
    told = [joined("", [_listed(names), " (", why, ")"]) for why, names in by_reason.items()]
    more = len(told) - TOLD
    rest = [f"{more} more"] if more > 0 else []
    return led(f"{VERDICTS['undetermined'].title}:", joined("; ", [*told[:TOLD], *rest]) + ".")


def footnotes(not_judged: Sequence[NotJudged], several: bool = False) -> Sentence:
    """Return what was not checked besides: it stands below the verdict and changes neither its word nor its colour.

    Of `several` engines each is named.
    """
    if not not_judged:
        return words("Everything that the profile asks was judged.")
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
    limits = [e for e in events if e.severity == "limit"]
    failed = [e for e in limits if is_failed_start(e)]
    others = [e for e in limits if not is_failed_start(e)]
    engine = _worst_first([e for e in others if e.event_class == "engine"])
    procedure = [e for e in others if e.event_class == "procedure"]
    possible = _worst_first([e for e in events if e.severity == "possible"])
    doubtful = [e for e in possible if is_failed_start(e)]
    possible = [e for e in possible if not is_failed_start(e)]
    cautions = [e for e in events if e.severity == "caution"]
    beside: Counter[str] = Counter()
    for one in left_out:
        beside[_part_of(one)] += one.count
    for part, found, first, later in (
        ("engine", engine, "Exceeded", ""),
        ("failed", failed, "Start failed", "Start failed"),
        ("procedure", procedure, "Procedure", "Also, procedure"),
        ("possible", possible, "Possibly exceeded", "Possibly also"),
        ("doubtful", doubtful, "Start possibly failed", "Start possibly failed"),
    ):
        if found:
            opening = later if parts else first
            parts.append(led(f"{opening}:", _told(found, beside[part], "" if parts else beside_first)))
    if parts:
        parts += filter(None, [core_words([p for p in not_judged if p.what != PROFILE_FITS])])
    else:
        unsure = core_words(not_judged)
        bad = [s for s in starts if s.outcome in ("aborted", "no_light_off", "flamed_out", "hung", "unknown")]
        named = [
            f"start {s.number}{f' of {engine_named(s.engine)}' if several else ''}: {OUTCOME_WORDS[s.outcome].lower()}"
            for s in bad[:MOST_STARTS]
        ]
        more = len(bad) - len(named)
        outcomes = ", ".join(named) + (f", and {more} more" if more else "")
        nothing = "Nothing exceeded in what was recorded"
        if unsure:
            nothing = (
                "Nothing else exceeded in what was recorded"
                if judged
                else "No limit could be judged to the end"
            )
        lead = led(f"{nothing};", f"{outcomes}.") if bad else led(f"{nothing}.")
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


def _namesake(profile: EngineProfile | None) -> str:
    """Return what has to be said beside a result where the profile's name means another one; else nothing."""
    if profile is None or not profile.namesake:
        return ""
    return f' Judged by {profile.file_name}, which is not the shipped profile "{profile.namesake}".'
