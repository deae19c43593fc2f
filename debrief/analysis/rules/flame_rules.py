"""The rules of the flame: the hung start, and burning after the cut."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np

from debrief.analysis.model import (
    Event,
    Start,
)
from debrief.analysis.rules.rule_event import Deviation, Rule, by_fuel, rule_event
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import steepest
from debrief.analysis.signal.traces import lowest_before
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.hang_detection import Hang
from debrief.words import numbers
from debrief.words.sentence import Quantity, sentence, words

BURN_RATE_C_PER_S = 5.0


def hung(view: EngineView, start: Start, hang: Hang | None) -> list[Event]:
    """Return the hung start."""
    if hang is None:
        return []
    rules, ng = view.profile.start, view.trace("ng")
    lit = max((p.light_off_s for p in start.fuel_periods if p.light_off_s is not None), default=hang.start_s)
    top = None
    if ng is not None:
        part = ng.between(hang.start_s, hang.end_s)
        if part.stop > part.start:
            top = float(ng.values[part].max())
    length = hang.end_s - hang.start_s
    where = view.in_start(start)
    reached = "" if top is None or hang.recovered else f" at {numbers.value_text(top, '%')}"
    if hang.reason == "stagnated":
        key = "hung_ng_rate_pct_per_s"
        least, span = rules.hung_ng_rate_pct_per_s or 0.0, rules.hung_for_s or 0.0
        text = (
            f"Ng {'may have hung' if hang.possible else 'hung'} below idle{where}{reached}: it gained less than "
            f"{numbers.plain(round(least * span, 6))} % in {numbers.plain(span)} s, from {numbers.number(hang.start_s - lit, 1)} s after light-off"
        )
        tail = ", then recovered to idle." if hang.recovered else "."
        rule = (
            f"Lit, below idle, Ng gains at least {numbers.plain(least * span)} % in {numbers.plain(span)} s."
        )
        formula = (
            f"slope of the least-squares line through {numbers.plain(span)} s of Ng, while lit for 3 s and below idle, less "
            "than the rule by more than noise, rounding and the number of stretches looked at can make "
            "(possible: below it, and 1.05 times the rule ruled out)"
        )
    else:
        key = "idle_within_s"
        within = numbers.plain(rules.idle_within_s or 0.0)
        text = (
            f"Idle {'may have come' if hang.possible else 'came'} too late{where}, more than {within} s after light-off."
            if hang.recovered
            else f"Idle {'may not have been' if hang.possible else 'was not'} reached{where} within {within} s of light-off"
        )
        tail = (
            "" if hang.recovered else "." if top is None else f"; Ng reached {numbers.value_text(top, '%')}."
        )
        rule = f"Idle within {numbers.plain(rules.idle_within_s or 0.0)} s of light-off."
        formula = "time from light-off to idle, or to the end of the attempt"
    return [
        rule_event(
            view,
            "hung_start",
            "caution" if hang.recovered else "possible" if hang.possible else "limit",
            start,
            (hang.start_s, hang.end_s),
            words(text + tail),
            Rule(
                words(rule),
                key,
                formula,
            ),
            Deviation(
                channel="ng",
                peak=top,
                level=rules.idle_ng_pct,
                unit="%",
                duration=(length, length, length),
            ),
            certain=hang.certain,
            reason=hang.reason,
            recovered=hang.recovered,
        )
    ]


def burning_after_cut(view: EngineView, found: Found, starts: tuple[Start, ...]) -> list[Event]:
    """Return every rise of ITT after a fuel cut that is too fast for heat soak."""
    rise, itt = view.profile.start.after_cut_rise_c, view.trace("itt")
    out: list[Event] = []
    if rise is None or itt is None:
        return out
    owners = by_fuel(starts)
    by_time = sorted(found.fuels, key=lambda f: f.on_s)
    ons = [f.on_s for f in by_time]
    for fuel in found.fuels:
        if fuel.off_s is None or fuel.off_inferred:
            continue
        n = bisect_right(ons, fuel.off_s)
        stop = view.end_s
        if n < len(ons):
            # The last sample without fuel: the next flame may come before the first sample with it.
            low_s = by_time[n].on_low_s
            stop = ons[n] if low_s is None else max(low_s, fuel.off_s)
        part = itt.between(fuel.off_s, stop)
        t, v = itt.time_s[part], itt.values[part]
        # A rise this large and faster than this is complete within their quotient; a slow soak before it
        # must not dilute it.
        window_s = rise / BURN_RATE_C_PER_S
        hit = np.flatnonzero(v - lowest_before(t, v, window_s - 1e-9) >= rise)
        hit = hit[t[hit] - t[hit - 1] < window_s]
        if not hit.size:
            continue
        k = int(hit[0])
        low = int(np.searchsorted(t, t[k] - window_s, side="right"))
        foot = low + int(np.flatnonzero(v[low:k] == v[low:k].min())[-1])
        top = k + int(np.argmax(v[k:]))
        fastest = steepest(itt, float(t[foot]), float(t[top]))
        rate = (
            float((v[k] - v[foot]) / (t[k] - t[foot]))
            if fastest is None or fastest.value is None
            else fastest.value
        )
        start = owners.get(fuel.on_s)
        out.append(
            rule_event(
                view,
                "burning_after_cut",
                "limit",
                start,
                (float(t[foot]), float(t[top])),
                sentence(
                    "{itt} rose by {rise} after the fuel cut-off{where}, to {top}, at up to {rate}: something was still burning.",
                    itt=view.names.itt,
                    rise=Quantity(float(v[top] - v[foot]), "degC", is_difference=True),
                    where=view.in_start(start),
                    top=Quantity(float(v[top]), "degC"),
                    rate=Quantity(rate, "degC/s"),
                ),
                Rule(
                    sentence(
                        "With fuel off {itt} does not rise by {rise} faster than {rate}.",
                        itt=view.names.itt,
                        rise=Quantity(rise, "degC", is_difference=True, is_given=True),
                        rate=Quantity(BURN_RATE_C_PER_S, "degC/s", is_given=True),
                    ),
                    "after_cut_rise_c",
                    f"rise above the lowest {view.names.itt} of the time that such a rise takes at that rate, since the cut",
                ),
                Deviation(
                    channel="itt",
                    peak=float(v[top]),
                    peak_s=float(t[top]),
                    rise=float(v[top] - v[foot]),
                    level=rise,
                    unit="degC",
                ),
            )
        )
    return out
