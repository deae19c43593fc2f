"""Several columns that may be one channel: which is taken, and what must be asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from debrief.recording.csv.table import NO_CHANNEL_HOLDS
from debrief.recording.lexicon import own_sign
from debrief.recording.matching.column_readings import Evidence, Reading
from debrief.recording.model import FloatArray
from debrief.words.asked import Asked
from debrief.words.channels import CANONICAL, CHANNELS, base_name, channel_in_text
from debrief.words.engines import engine_named, engine_of


def meant(channel: str, column: str) -> str:
    """Return what a column is taken for: in plain words where it has another sign of the trade than the channel."""
    if not own_sign(channel, [column]):
        return channel_in_text(channel)
    whose = engine_named(engine_of(channel)) if "." in channel else "the engine"
    return f"the {CHANNELS[base_name(channel)].lane.lower()} of {whose}"


def choose(
    key: str,
    group: Sequence[tuple[int, Reading]],
    evidence: Mapping[int, Evidence],
    names: Sequence[str],
    decisions: list[str],
    questions: list[str],
    asked: Callable[..., Asked],
) -> int | None:
    """Return the column for a channel out of those that are sure enough; None where none stands out."""
    if len(group) == 1:
        return group[0][0]
    ranked = sorted(group, key=lambda pair: (-pair[1].confidence, pair[0]))
    top = ranked[0][1].confidence
    level = [pair for pair in ranked if top - pair[1].confidence < 0.04]
    if len(level) > 1:
        canonical = CANONICAL[key.partition(".")[0]]
        first = evidence[level[0][0]].numbers(key).values
        if all(
            np.array_equal(first, evidence[column].numbers(key).values, equal_nan=True)
            for column, _ in level[1:]
        ):
            decisions.append(
                ", ".join(f'"{names[c]}"' for c, _ in level)
                + f" hold the same values; the first was taken for {meant(key, names[level[0][0]])}"
            )
            return level[0][0]
        in_canonical = [pair for pair in level if pair[1].unit is not None and pair[1].unit.name == canonical]
        units = {pair[1].unit.name if pair[1].unit else "" for pair in level}
        agree = len(in_canonical) == 1 and all(
            _proportional(
                evidence[in_canonical[0][0]].numbers(key).values, evidence[column].numbers(key).values
            )
            for column, _ in level
        )
        if agree and len(units) == len(level):
            level = in_canonical
        else:
            parts = (f"{len(level)} columns may be ", None, " and hold different values, so none was taken")
            ways = [(column, r.unit.name if r.unit and len(units) > 1 else "") for column, r in level]
            questions.append(asked("none_taken", parts, key, ways))
            return None
    chosen = level[0][0]
    taken = evidence[chosen].numbers(key).values
    others: list[int] = []
    copies: list[int] = []
    for column, _ in ranked:
        if column != chosen:
            same = np.array_equal(taken, evidence[column].numbers(key).values, equal_nan=True)
            (copies if same else others).append(column)
    if copies:
        decisions.append(
            f'"{names[chosen]}" was taken for {meant(key, names[chosen])}; '
            + ", ".join(f'"{names[c]}"' for c in copies)
            + " holds the same values"
        )
    if not others:
        return chosen
    parts = (
        f'"{names[chosen]}" was taken for ',
        None,
        f"; {quoted([names[c] for c in others])} may be it too",
    )
    questions.append(asked("may_be_too", parts, key, [(c, "") for c in others]))
    return chosen


def quoted(names: Sequence[str]) -> str:
    """Return names of columns as a list in quotes."""
    return ", ".join(f'"{name}"' for name in names)


def _proportional(one: FloatArray, other: FloatArray) -> bool:
    """Whether one column may be the other in another unit: a straight line fits both within 2 % of the range.

    A percentage of something else, such as of the range above idle, does not rise with the speed all along.
    """
    both = (np.abs(one) < NO_CHANNEL_HOLDS) & (np.abs(other) < NO_CHANNEL_HOLDS)
    if np.count_nonzero(both) < 2:
        return False
    x, y = one[both], other[both]
    if np.ptp(x) == 0 or np.ptp(y) == 0:
        return bool(np.ptp(x) == np.ptp(y))
    x, y = (x - x.min()) / np.ptp(x), (y - y.min()) / np.ptp(y)  # both from 0 to 1, however small they were
    away = x - x.mean()
    slope = float(np.dot(away, y) / np.dot(away, away))
    return bool(np.max(np.abs(slope * away + y.mean() - y)) <= 0.02)
