"""How an abort was flown: each level crossing to the cut, motoring kept, ITT at release, the first cue to the cut."""

from __future__ import annotations

from functools import partial

from debrief.analysis.evidence.evidence_samples import Readings, edge
from debrief.analysis.evidence.measured import LINE, Measured
from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.model import Measure
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.interval_sets import intersect
from debrief.analysis.signal.point_readings import missing, samples_beside
from debrief.analysis.starts.fuel_cuts import Cue, Cut, cue_to_cut, motored_after


def aborts(c: StartContext, cut: Cut, cue: Cue | None) -> dict[str, Measured]:
    """Return how the abort with this cut was flown; of fuel that never burned only the first cue and the way to the cut."""
    burned = {} if cut.fuel.light_off_s is None else {**_cuts_after(c, cut), **_motored(c, cut)}
    keys = (cue.key,) if cue is not None else ()
    first, way = (missing("s", "no cue came before the fuel cut-off"),) * 2
    if cue is not None:
        first, way = Measure(cue.at_s, "s", cue.low_s, cue.high_s), cue_to_cut(cut, cue)
    return {
        **burned,
        "first_cue": Measured(
            first, "earliest of the cues that the profile names", keys, partial(_cue_samples, c, cut, cue)
        ),
        "cue_to_cut": Measured(
            way,
            "time of the cut − time of the first cue",
            keys,
            lambda: _cue_samples(c, cut, cue) + c.cut(cut.fuel),
        ),
    }


def _cue_samples(c: StartContext, cut: Cut, cue: Cue | None) -> Readings:
    if cue is None:
        return ()
    if cue.channel == "fuel_on":
        return c.fuel_on(cut.fuel)
    return c.at(cue.channel, cue.at_s, "the first cue")


def _cuts_after(c: StartContext, cut: Cut) -> dict[str, Measured]:
    """Return how long after ITT passed each start level the fuel was cut."""
    itt = c.view.trace("itt")
    out: dict[str, Measured] = {}
    if itt is None:
        return out
    for level, keys in c.view.start_levels.items():
        rows = intersect(stretches_above(itt.clip(cut.begin_s, cut.off_s), level), cut.window)
        if len(rows):
            first = float(rows[0, 0])
            before, after = samples_beside(itt, first)
            out[f"cut_after_{level:g}"] = Measured(
                Measure(cut.off_s - first, "s", max(cut.low_s - after, 0.0), cut.off_s - before),
                "time of the cut − time of the crossing, on the line between its samples",
                keys,
                partial(_crossing_and_cut, c, cut, first),
            )
    return out


def _crossing_and_cut(c: StartContext, cut: Cut, time_s: float) -> Readings:
    return c.at("itt", time_s, "the first crossing") + c.cut(cut.fuel)


def _motored(c: StartContext, cut: Cut) -> dict[str, Measured]:
    """Return how long the starter turned the engine after the cut, and ITT when it let go; nothing without its signal."""
    kept, again = motored_after(c.view, c.attempt, cut), cut.again
    if kept is None:
        return {}
    return {
        "motored_after_cut": Measured(
            kept,
            "sum of the starter's time after the cut, until fuel came again",
            ("abort.motor_for_s",),
            lambda: (
                c.cut(cut.fuel)
                + c.starter_runs()
                + (() if again is None else edge(c.view, again.source, again.on_s, "fuel again"))
            ),
        ),
        "itt_at_starter_release": _at_release(c, cut),
    }


def _at_release(c: StartContext, cut: Cut) -> Measured:
    """Return ITT when the starter let go last after the cut, before fuel came again."""
    of = partial(Measured, formula=LINE, keys=("abort.motor_until_itt_c",))
    itt, again, runs = c.view.trace("itt"), cut.again, c.attempt.runs
    ends = [r.end_s for r in runs if r.end_s is not None and r.end_s > cut.off_s]
    released = max((e for e in ends if again is None or e <= again.on_s), default=None)
    if itt is not None and released is not None:
        value = itt.at(released)
        if value is None:
            return of(missing("degC", f"no {c.view.names.itt} sample there"))
        return of(
            Measure(value, "degC"),
            read=lambda: edge(c.view, "starter", released, "release") + c.at("itt", released, "release"),
        )
    if again is not None and any(r.start_s < again.on_s for r in runs):
        return of(missing("degC", "fuel came again before the starter let go"))
    return of(missing("degC", "the starter was not motoring after the cut"))
