"""A limit's level with another number in its place: what would be counted, and which change would turn the result.

Nothing of a trial is kept: it is judged by the analysis on the limit as it would be, and no assessment is made of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

from debrief.analysis.assess import LimitJudge, limit_judge
from debrief.analysis.model import Assessment, LevelResult, LimitResult
from debrief.analysis.signal.engine_view import go_on
from debrief.profile.model import AllowedRow, Limit
from debrief.session.evidence.why_page import allowed_words, profile_limit, result_words
from debrief.words.channels import ChannelNames
from debrief.words.numbers import decimals_for, duration_text, number, plain, unit_words
from debrief.words.units import BY_NAME, scale

SECONDS_STEP = 0.1
"""In which steps of time a change is looked for, [s]: finer than a person would say it."""
_BEYOND = ("exceeded", "possible", "caution")


@dataclass(frozen=True)
class Nearest:
    """The nearest numbers that turn the result, each alone; None where none does.

    Attributes
    ----------
    is_beyond : bool
        Whether the level is beyond now: then these bring it within, else they are the first that do not.
    level : float or None
        In the unit shown.
    seconds : float or None
        Allowed, [s].
    """

    is_beyond: bool
    level: float | None
    seconds: float | None


class LimitTrial:
    """One level of a limit, tried with other numbers.

    Parameters
    ----------
    assessment : Assessment
        As it is shown: levels go in and out in its units.
    result : LimitResult
        Of the limit, from it.
    row : int
        Which of its levels.

    Attributes
    ----------
    limit : Limit
        The profile's, in the units shown.
    symbol : str
        What the recording calls its channel, in short.
    row, level, seconds
        Which level, what the profile says of it, in the unit shown and [s].
    """

    def __init__(self, assessment: Assessment, result: LimitResult, row: int) -> None:
        shown = profile_limit(assessment, result)
        canonical = profile_limit(assessment.canonical, result)
        if shown is None or canonical is None:
            raise ValueError(f"the profile has no limit {result.id}")
        self._assessment = assessment.canonical
        self._canonical: Limit = canonical
        self._units = assessment.units
        self.limit: Limit = shown
        self.symbol = assessment.names(result.engine).symbol(shown.channel)
        self.result = result
        self.row = row
        self.level, self.seconds = shown.allowed[row].level, shown.allowed[row].seconds
        self._judge: LimitJudge | None = None

    @property
    def step(self) -> float:
        """The step in which the level is moved, in the unit shown."""
        return float(10.0 ** -decimals_for(self.limit.unit))

    def look(self, between: Callable[[], None] = go_on) -> None:
        """Look at the recording, which takes about as long as to assess it; each trial after it is quick."""
        if self._judge is None:
            self._judge = limit_judge(self._assessment, self._canonical, self.result.engine, between)

    def judged(self, level: float, seconds: float) -> LevelResult:
        """Return what would be counted and found with these numbers, in the units shown."""
        self.look()
        assert self._judge is not None
        own = self._canonical.allowed[self.row]
        tried = replace(
            self._canonical,
            allowed=(AllowedRow(self._canonical_level(level), seconds, own.severity),),
            band_method=None,
            band_base=None,
            bands=(),
        )
        judged = self._judge(tried)
        found = judged.result.levels
        if not found:
            return LevelResult(level, seconds, own.severity, 0.0, 0.0, 0.0, judged.result.result)
        return replace(found[0], level=level)

    def _canonical_level(self, level: float) -> float:
        if level == self.level:
            return self._canonical.allowed[self.row].level  # no number is converted there and back
        shown, canonical = self.limit.unit, self._canonical.unit
        if shown == canonical:
            return level
        return float(scale([level], BY_NAME[shown], BY_NAME[canonical])[0])

    # --- what would change it ---------------------------------------------------------------------------

    def nearest(self) -> Generator[None, None, Nearest]:
        """Return the nearest change that turns the result, found by judging; it can be given up at every yield."""
        self.look()
        yield
        is_beyond = self.judged(self.level, self.seconds).result in _BEYOND
        level = yield from self._nearest_level(is_beyond)
        seconds = yield from self._nearest_seconds(is_beyond)
        return Nearest(is_beyond, level, seconds)

    def _nearest_level(self, is_beyond: bool) -> Generator[None, None, float | None]:
        channel = self._assessment.recording.channels.get(self.result.channel)
        if channel is None or not channel.values.size:
            return None
        milder = -1 if self.limit.below else 1  # the way in which a level is passed less
        way = milder if is_beyond else -milder
        ends = [
            self._units.value(float(end), channel.unit)
            for end in (channel.values.min(), channel.values.max())
        ]
        # Between two samples a tip may have gone beyond all of them.
        room = max(ends[1] - ends[0], self.step) * 0.1 + self.step
        far = ends[1] + room if way > 0 else ends[0] - room
        turned = yield from self._first(
            lambda n: self.judged(n * self.step, self.seconds).result in _BEYOND,
            self.level / self.step,
            far / self.step,
            is_beyond,
        )
        return None if turned is None else turned * self.step

    def _nearest_seconds(self, is_beyond: bool) -> Generator[None, None, float | None]:
        far = self._assessment.recording.duration_s + 1.0 if is_beyond else 0.0
        if is_beyond:
            high = self.judged(self.level, self.seconds).duration_high_s
            far = far if high is None else max(high, self.seconds) + 10 * SECONDS_STEP
        turned = yield from self._first(
            lambda n: self.judged(self.level, n * SECONDS_STEP).result in _BEYOND,
            self.seconds / SECONDS_STEP,
            far / SECONDS_STEP,
            is_beyond,
        )
        return None if turned is None else turned * SECONDS_STEP

    @staticmethod
    def _first(
        is_beyond_at: Callable[[int], bool], begin: float, end: float, is_beyond: bool
    ) -> Generator[None, None, int | None]:
        """Return the whole number nearest to `begin`, towards `end`, where the answer is another; None without one."""
        way = 1 if end > begin else -1
        near = math.floor(begin + 1e-9) if way > 0 else math.ceil(begin - 1e-9)
        last = math.ceil(end) if way > 0 else math.floor(end)
        yield
        if (last - near) * way <= 0 or is_beyond_at(last) == is_beyond:
            return None
        while abs(last - near) > 1:
            middle = (near + last) // 2
            yield
            if is_beyond_at(middle) == is_beyond:
                near = middle
            else:
                last = middle
        return last


def level_title(limit: Limit, row: int, names: ChannelNames) -> str:
    """Return a level as it is chosen from a list: ``ITT above 830 °C, 20 s``."""
    own = limit.allowed[row]
    side = "below" if limit.below else "above"
    unit = unit_words(limit.unit)
    return (
        f"{names.symbol(limit.channel)} {side} {plain(own.level, limit.unit)} {unit}, allowed: "
        f"{allowed_words(own.seconds)}"
    )


def judged_words(limit: Limit, one: LevelResult) -> str:
    """Return what a level's count came to: ``above 845 °C for 3.1 s (2.9 to 3.4), 5 s allowed: within``."""
    side = "Below" if limit.below else "Above"
    level = f"{plain(round(one.level, 6), limit.unit)} {unit_words(limit.unit)}".rstrip()
    counted = duration_text(one.duration_s, one.duration_low_s, one.duration_high_s)
    allowed = "not allowed at any time" if one.allowed_s == 0 else f"{plain(one.allowed_s)} s allowed"
    return f"{side} {level} for {counted}, {allowed}: {result_words(one.result)}"


def nearest_words(trial: LimitTrial, found: Nearest) -> str:
    """Return which change would turn the result in one sentence."""
    limit = trial.limit
    ways = []
    if found.level is not None:
        milder = "less" if limit.below else "more"
        harder = "more" if limit.below else "less"
        unit = unit_words(limit.unit)
        decimals = decimals_for(limit.unit)
        away = number(abs(found.level - trial.level), decimals)
        ways.append(
            f"the limit were {plain(round(found.level, 6), limit.unit)} {unit} or "
            + (milder if found.is_beyond else f"{harder} ({away} {unit} away)")
        )
    if found.seconds is not None:
        more = "or more were allowed" if found.is_beyond else "or less were allowed"
        seconds = number(found.seconds, 1)
        ways.append("nothing were allowed" if found.seconds < SECONDS_STEP / 2 else f"{seconds} s {more}")
    if not ways:
        return "No other number of this level would change the result."
    told = " or if ".join(ways)
    return f"Would {'' if found.is_beyond else 'no longer '}be within if {told}."
