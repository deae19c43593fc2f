"""The arithmetic of every measure repeated by hand from nothing but its evidence. No test module."""

from __future__ import annotations

from math import cos, radians, sin
from statistics import median

from debrief.analysis.measures import atmosphere
from debrief.analysis.model import MeasureEvidence, Reading
from debrief.profile.model import EngineProfile
from debrief.recording.model import Recording

Proof = MeasureEvidence


def edge(reading: Reading) -> float:
    """The instant of a change: the first sample that shows it."""
    return reading.times_s[-1]


def line(reading: Reading, time_s: float) -> float:
    """The value at an instant on the straight line between two samples."""
    (ta, *_), (a, *_) = reading.times_s, reading.values
    if len(reading.index) == 1:
        assert ta == time_s
        return a
    tb, b = reading.times_s[1], reading.values[1]
    assert ta < time_s < tb
    return a + (b - a) * (time_s - ta) / (tb - ta)


def crossing(ta: float, a: float, tb: float, b: float, level: float) -> float:
    return ta + (level - a) * (tb - ta) / (b - a)


def whole(recording: Recording, reading: Reading) -> tuple[list[float], list[float]]:
    """All samples that were looked at, from the recording by their places."""
    channel = recording.channels[reading.channel]
    first, last = reading.span or (reading.index[0], reading.index[-1])
    return channel.time_s[first : last + 1].tolist(), channel.values[first : last + 1].tolist()


def inside(reading: Reading) -> list[float]:
    """The values of those samples that lie in the stretch that was looked at."""
    assert reading.span is not None
    first, last = reading.span
    return [v for k, v in zip(reading.index, reading.values, strict=True) if first <= k <= last]


def slope(times: list[float], values: list[float]) -> float:
    mean_t, mean_v = sum(times) / len(times), sum(values) / len(values)
    over = sum((t - mean_t) * (v - mean_v) for t, v in zip(times, values, strict=True))
    return over / sum((t - mean_t) ** 2 for t in times)


def above(reading: Reading, level: float) -> float:
    """Seconds above a level: each crossing lies between two of the samples."""
    pairs = zip(reading.times_s, reading.values, strict=True)
    rows = [(t, v) for t, v in pairs]
    at = [
        crossing(*rows[n], *rows[n + 1], level)
        for n in range(len(rows) - 1)
        if (rows[n][1] > level) != (rows[n + 1][1] > level) and reading.index[n + 1] == reading.index[n] + 1
    ]
    assert len(at) % 2 == 0
    return sum(b - a for a, b in zip(at[::2], at[1::2], strict=True))


def repeated(name: str, proof: Proof, recording: Recording) -> float | None:
    """Return a measure from its evidence alone; None for one that needs every sample of two channels."""
    r = proof.readings
    if name in ("residual_itt_starter_on", "residual_itt_fuel_on", "ng_at_starter_on", "ng_at_fuel",
                "starter_cutout_ng", "itt_at_starter_release"):  # fmt: skip
        return line(r[1], edge(r[0]))
    if name in ("peak_itt", "max_motoring_ng"):
        return max(inside(r[0]))
    if name == "min_bus_volts":
        return min(inside(r[0]))
    if name in ("itt_rise_rate", "ng_acceleration"):
        assert r[0].times_s[1] - r[0].times_s[0] >= 1.0 - 1e-9
        return (r[0].values[1] - r[0].values[0]) / (r[0].times_s[1] - r[0].times_s[0])
    if name.startswith("time_above_"):
        level = float(name.removeprefix("time_above_"))
        return above(r[0], level) if max(r[0].values) > level else 0.0
    if name in ("oat", "pressure_altitude"):
        return r[0].values[0] if len(set(r[0].values)) == 1 else None
    if name in ("headwind", "crosswind"):
        speed, source, heading = (x.values[0] for x in r)
        return speed * (cos if name == "headwind" else sin)(radians(source - heading))
    if name in ("rest_bus_volts", "bus_volts_recovery"):
        assert sum(r[1].values) / len(r[1].values) == median(whole(recording, r[1])[1])
        return sum(r[1].values) / len(r[1].values)
    if name == "inrush_current":
        assert max(abs(v) for v in whole(recording, r[0])[1]) == abs(r[0].values[0])
        return abs(r[0].values[0])
    if name == "ng_rate_at_fuel":
        return slope(*whole(recording, r[1]))
    if name == "fuel_on":
        return edge(r[0])
    if name == "fuel_to_light_off":
        return max(r[1].times_s[0] - edge(r[0]), 0.0)
    if name == "starter_total":
        edges = [edge(x) for x in r]
        return sum(b - a for a, b in zip(edges[::2], edges[1::2], strict=True))
    if name == "motored_after_cut":
        again = [edge(x) for x in r if x.what.endswith("fuel again")] or [float("inf")]
        cut, edges = edge(r[0]), [edge(x) for x in r[1:] if "fuel again" not in x.what]
        pairs = zip(edges[::2], edges[1::2], strict=True)
        return sum(max(min(b, again[0]) - max(a, cut), 0.0) for a, b in pairs)
    if name.startswith("cut_after_"):
        level = float(name.removeprefix("cut_after_"))
        assert len(r[0].index) == 2
        (ta, tb), (a, b) = r[0].times_s, r[0].values
        return edge(r[1]) - crossing(ta, a, tb, b, level)
    return None


def met(reading: Reading, level: float) -> float:
    """The instant at which a level is crossed between two samples; that of the sample where there is one alone."""
    if len(reading.index) == 1:
        return reading.times_s[0]
    (ta, tb), (a, b) = reading.times_s, reading.values
    assert min(a, b) < level < max(a, b)
    return crossing(ta, a, tb, b, level)


def repeated_of_flight(
    name: str,
    proof: Proof,
    recording: Recording,
    profile: EngineProfile,
    idle_pct: float = 57.0,
    ias_kt: float = 68.0,
) -> float:
    """Return a measure of a flight from its evidence alone; the stretches of running begin at idle."""
    r = proof.readings
    if name == "idle_acceleration":
        return slope(*whole(recording, r[0]))
    if name.startswith("highest_") or name in ("taxi_highest_speed", "soak_peak_itt"):
        assert inside(r[0])
        assert max(whole(recording, r[0])[1]) == max(inside(r[0]))
        return max(inside(r[0]))
    if name == "itt_margin_smallest_at":
        inner = [n for n, k in enumerate(r[0].index) if r[0].span[0] <= k <= r[0].span[1]]
        return r[0].times_s[max(inner, key=lambda n: r[0].values[n])]
    if name == "itt_margin_smallest":
        ((key, _),) = proof.profile
        levels = {
            f"limits.{x.id}.allowed[{n}]": row.level
            for x in profile.limits
            for n, row in enumerate(x.allowed, 1)
        }
        return levels[key] - max(inside(r[0]))
    if name.startswith("itt_margin_smallest_"):
        palt, oat = (line(x, r[0].times_s[0]) for x in r[1:3])
        of = {"density_altitude": atmosphere.density_altitude_ft, "isa_deviation": atmosphere.isa_deviation_c}
        return float(of[name.removeprefix("itt_margin_smallest_")](palt, oat))
    if name in (
        "starts_completed",
        "flights",
        "touch_and_goes",
        "go_arounds",
    ):  # of flights by their lift-offs
        return len(r)
    if name == "cut_to_residual_itt":
        return met(r[1], 190.0) - edge(r[0])
    if name == "run_down":
        return met(r[-1], 10.0) - met(r[-2], 40.0)
    total = 0.0
    for begin, end in zip(r[::2], r[1::2], strict=True):
        if name == "running_time":
            total += edge(end) - met(begin, idle_pct)
        elif begin.channel == "ias":
            total += met(end, ias_kt) - met(begin, ias_kt)
        else:
            total += edge(end) - edge(begin)
    return total
