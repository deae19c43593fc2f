"""The study's table."""

from __future__ import annotations

import numpy as np

from tests.study.judging import Answer, Tally


def share(part: int, whole: int) -> float | None:
    """Return part of whole; None of nothing."""
    return part / whole if whole else None


def _text(value: float | None) -> str:
    return "  -  " if value is None else f"{value:.3f}"


def by_kind(tally: Tally) -> dict[str, list[Answer]]:
    """Return the answers by kind and reason."""
    out: dict[str, list[Answer]] = {}
    for answer in tally.answers:
        reason = answer.reason
        if answer.kind == "no_light_off":
            reason = "late" if reason else "none"
        out.setdefault(answer.kind + (f" {reason}" if reason else ""), []).append(answer)
    return dict(sorted(out.items()))


def counts(answers: list[Answer]) -> dict[str, int]:
    """Return how often each result came."""
    return {
        name: sum(a.result == name for a in answers) for name in ("TP", "FN", "FP", "TN", "open", "withheld")
    }


def lines(tally: Tally) -> list[str]:
    """Return the table as lines of text."""
    out = [f"{tally.flights} flights of {tally.simulations} simulations", ""]
    out.append(
        f"{'kind':40} {'events':>6} {'near':>5} {'TP':>5} {'FN':>4} {'FP':>4} {'TN':>5} {'open':>5} {'no ch.':>6} {'precision':>9} {'recall':>7}"
    )
    for name, answers in by_kind(tally).items():
        c = counts(answers)
        happened = sum(a.happened and not a.missing for a in answers)
        near = sum(a.near and not a.missing for a in answers)
        precision, recall = share(c["TP"], c["TP"] + c["FP"]), share(c["TP"], c["TP"] + c["FN"])
        out.append(
            f"{name:40} {happened:6} {near:5} {c['TP']:5} {c['FN']:4} {c['FP']:4} {c['TN']:5} {c['open']:5} "
            f"{c['withheld']:6} {_text(precision):>9} {_text(recall):>7}"
        )
    out.append(f"events that belong to no question: {len(tally.spurious)}")
    wrong = [row for row in tally.attempts if row[1] != row[2]]
    out.append(f"flights whose attempts were counted otherwise: {len(wrong)} of {len(tally.attempts)}")
    out += [
        "",
        f"{'error':30} {'n':>5} {'median':>9} {'95 %':>9} {'largest':>9}   in intervals: 95 %, largest",
    ]
    for name, rows in sorted(tally.errors.items()):
        e, k = (np.array([row[i] for row in rows]) for i in (1, 2))
        out.append(
            f"{name:30} {e.size:5} {np.median(e):9.3f} {np.quantile(abs(e), 0.95):9.3f} {abs(e).max():9.3f}"
            f"   {np.quantile(abs(k), 0.95):9.2f} {abs(k).max():9.2f}"
        )
    out += ["", f"{'bounds':60} {'n':>5} {'hold':>7}   {'noiseless':>9} {'hold':>7}"]
    for name in sorted({b.name for b in tally.bounds}):
        mine = [b for b in tally.bounds if b.name == name]
        quiet = [b for b in mine if not b.noisy]
        out.append(
            f"{name:60} {len(mine):5} {_text(share(sum(b.holds for b in mine), len(mine))):>7}"
            f"   {len(quiet):9} {_text(share(sum(b.holds for b in quiet), len(quiet))):>7}"
        )
    every = share(sum(b.holds for b in tally.bounds), len(tally.bounds))
    out.append(f"{'all bounds':60} {len(tally.bounds):5} {_text(every):>7}")
    return out


def faults(tally: Tally, limit: int = 400) -> list[str]:
    """Return every wrong answer and every bound that does not hold, for looking into."""
    out = [str(a) for a in tally.answers if a.result in ("FN", "FP")]
    out += [str(a) for a in tally.spurious]
    out += [str(row) for row in tally.attempts if row[1] != row[2]]
    out += [str(b) for b in tally.bounds if not b.holds]
    return out[:limit]
