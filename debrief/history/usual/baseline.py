"""What is usual for one engine: a robust band of its own completed starts, and how a start compares.

Usual is not a limit: nothing here changes an event or a verdict, and a start inside its normal range may have
exceeded a limit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from debrief.history.model import Maintenance, PastStart
from debrief.session.texts.definitions import measure_title
from debrief.words.channels import USUAL_NAMES, ChannelNames
from debrief.words.numbers import decimals_for, number, unit_words, value_text

MIN_STARTS = 15
"""With fewer completed starts nothing is called usual."""
FROZEN_AT = 30
"""Completed starts after which the band no longer learns: else a slow drift would become usual."""
OUTSIDE_SPREADS = 3.0
MAD_TO_SIGMA = 1.4826
"""Of a normal distribution: standard deviation over median absolute deviation."""
USUAL_IS_NOT_A_LIMIT = "The normal range is not a limit."
OF_FLIGHTS = "flight"
"""The kind of a band that counts flights in place of starts."""


def robust_centre(values: ArrayLike) -> tuple[float, float]:
    """Return (median, 1.4826 x median absolute deviation) of finite values.

    Parameters
    ----------
    values : (n,) array
        At least one.

    Notes
    -----
    Up to half of the values may be wild without carrying the result away. For a normal distribution the
    second number estimates the standard deviation. It is 0 where more than half of the values are equal.

    Raises
    ------
    ValueError
        Empty, or not finite.
    """
    x = np.asarray(values, dtype=np.float64)
    if x.size == 0 or not np.all(np.isfinite(x)):
        raise ValueError("a centre needs finite values")
    centre = float(np.median(x))
    return centre, MAD_TO_SIGMA * float(np.median(np.abs(x - centre)))


@dataclass(frozen=True)
class Excluded:
    """A start that a person left out of the band, and why."""

    file_name: str
    start_number: int
    reason: str


@dataclass(frozen=True)
class Band:
    """What is usual of one measure for one engine.

    Attributes
    ----------
    count : int
        Completed starts in it.
    centre, spread, low, high : float or None
        Median, robust standard deviation, and centre -/+ 3 spreads, [unit]; None when not enough.
    power, kind
        Only starts of this power source and kind are in it: others are not comparable.
    frozen : bool
        It has all the starts that it learns from.
    since : str or None
        The maintenance action from which it learns, in words; None when from the first start.
    excluded : tuple of Excluded
        What people left out.
    left_out : tuple of (str, int)
        Every other reason for which starts are not in it, with how many.
    members : tuple of (sha256, engine, number)
    allowing_for : tuple of str
        Conditions of the judged start that were allowed for; empty for the plain band.
    names : ChannelNames
        What the recording that is compared calls its channels.
    """

    engine: str
    measure: str
    unit: str
    power: str
    kind: str
    count: int
    centre: float | None = None
    spread: float | None = None
    low: float | None = None
    high: float | None = None
    frozen: bool = False
    since: str | None = None
    excluded: tuple[Excluded, ...] = ()
    left_out: tuple[tuple[str, int], ...] = ()
    members: tuple[tuple[str, int, int], ...] = ()
    allowing_for: tuple[str, ...] = ()
    names: ChannelNames = USUAL_NAMES

    @property
    def enough(self) -> bool:
        """Whether anything may be called usual."""
        return self.centre is not None

    def counted(self, many: int, *, completed: bool = False) -> str:
        """Return what it counts, such as "battery starts" or "flight", for so many of them."""
        kind = (
            "" if self.kind == OF_FLIGHTS else f"{'completed ' if completed else ''}{power_words(self.power)}"
        )
        return f"{kind}{self.noun(many)}"

    def noun(self, many: int) -> str:
        """Return the noun of what it counts, "flight" or "starts", for so many of them."""
        return f"{'flight' if self.kind == OF_FLIGHTS else 'start'}{'' if many == 1 else 's'}"

    @property
    def words(self) -> str:
        """The band in one sentence, or that there is not enough; with what it is not."""
        return f"{self.said} {USUAL_IS_NOT_A_LIMIT}" if self.enough else self.said

    @property
    def said(self) -> str:
        """The same where several stand together and what they are not is said once."""
        starts = self.counted(2, completed=True)
        if self.centre is None or self.low is None or self.high is None:
            return f"Not enough history: {self.count} of the {MIN_STARTS} {starts} that a normal range needs."
        decimals = decimals_for(self.unit)
        low, high = number(self.low, decimals), number(self.high, decimals)
        word, allowing = "Normal", ""
        if self.allowing_for:
            word, allowing = "Expected", f" allowing for {listed(self.allowing_for, self.names)},"
        return (
            f"{word} {value_text(self.centre, self.unit)}, range {low} to {high} {unit_words(self.unit)},"
            f"{allowing} from {self.count} {starts}."
        )


def listed(names: Sequence[str], called: ChannelNames = USUAL_NAMES) -> str:
    """Return the names of measures as words: "ITT at fuel on, Ng at fuel and OAT"."""
    words = [measure_title(name, called) for name in names]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def power_words(power: str) -> str:
    """Return the power source as an adjective with a space after it; nothing where it is unknown."""
    return {"battery": "battery ", "external": "external-power ", "mixed": "mixed-power "}.get(power, "")


def usual_band(
    starts: Sequence[PastStart],
    measure: str,
    *,
    engine: str,
    power: str,
    kind: str = "ground",
    unit: str | None = None,
    judged: tuple[str, int, int] | None = None,
    judged_at: float | None = None,
    maintenance: Sequence[Maintenance] = (),
) -> Band:
    """Return the normal range of a measure.

    Parameters
    ----------
    starts : sequence of PastStart
        Of this engine.
    measure : str
        Such as ``peak_itt``.
    engine, power, kind : str
        Whose band, and of which starts.
    unit : str, optional
        Values in another unit are left out; that of most values when not given.
    judged : (sha256, engine, number), optional
        The start that is compared: it never enters its own band, nor does the same start from another file.
    judged_at : float, optional
        Its instant, [s since 1970]: the band is that of the stretch between maintenance actions in which it
        lies; the latest stretch when not given.
    maintenance : sequence of Maintenance
        In order of time.

    Notes
    -----
    Every completed start enters unless a person excluded it. It learns from the first 30 of its stretch and
    is frozen then. The spread is at least half a printed step of the unit: coarse values that repeat must not
    make every other value unusual.
    """
    begin, end, since = _stretch(maintenance, judged_at)
    reasons: Counter[str] = Counter()
    excluded: list[Excluded] = []
    entering: list[PastStart] = []
    for start in starts:
        why = _why_not(start, measure, power, kind, judged, judged_at, begin, end)
        if start.excluded is not None and why is None:
            excluded.append(Excluded(start.file_name, start.number, start.excluded))
        elif why is None:
            entering.append(start)
        else:
            reasons[why] += 1
    units = Counter(start.values[measure].unit for start in entering)
    chosen = unit if unit is not None else (units.most_common(1)[0][0] if units else "")
    alike = [start for start in entering if start.values[measure].unit == chosen]
    if len(alike) < len(entering):
        reasons["in another unit"] += len(entering) - len(alike)
    alike.sort(key=lambda start: (start.at_epoch_s or 0.0, start.sha256, start.number))
    members = alike[:FROZEN_AT]
    if len(alike) > len(members):
        reasons[f"after the first {FROZEN_AT}"] += len(alike) - len(members)
    centre = spread = low = high = None
    if len(members) >= MIN_STARTS:
        centre, spread = robust_centre([start.values[measure].value for start in members])
        spread = max(spread, 0.5 * 10.0 ** -decimals_for(chosen))
        low, high = centre - OUTSIDE_SPREADS * spread, centre + OUTSIDE_SPREADS * spread
    return Band(
        engine=engine,
        measure=measure,
        unit=chosen,
        power=power,
        kind=kind,
        count=len(members),
        centre=centre,
        spread=spread,
        low=low,
        high=high,
        frozen=len(members) >= FROZEN_AT,
        since=since,
        excluded=tuple(excluded),
        left_out=tuple(sorted(reasons.items())),
        members=tuple((start.sha256, start.engine, start.number) for start in members),
    )


def _stretch(maintenance: Sequence[Maintenance], at: float | None) -> tuple[float, float, str | None]:
    """Return (from, to, words of the action it begins with) of the stretch in which an instant lies."""
    begin, end, since = -np.inf, np.inf, None
    for action in maintenance:
        if at is not None and action.at_epoch_s > at:
            end = action.at_epoch_s
            break
        begin, since = action.at_epoch_s, action.what
    return float(begin), float(end), since


def _why_not(
    start: PastStart,
    measure: str,
    power: str,
    kind: str,
    judged: tuple[str, int, int] | None,
    judged_at: float | None,
    begin: float,
    end: float,
) -> str | None:
    """Return why a start cannot be in the band, apart from a person's exclusion; None where it can."""
    if judged is not None and (start.sha256, start.engine, start.number) == judged:
        return "the start itself"
    if start.at_epoch_s is None:
        return "undated"
    if judged_at is not None and abs(start.at_epoch_s - judged_at) < 1.0:
        return "the start itself, from another file"
    if not begin <= start.at_epoch_s < end:
        return "on the other side of a maintenance action"
    if start.outcome != "completed":
        return "not completed"
    if start.kind != kind:
        return "of another kind"
    if start.power != power:
        return "with another power source"
    if measure not in start.values:
        return "not measured"
    return None
