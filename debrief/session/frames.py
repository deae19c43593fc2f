"""An assessment as tables (pandas): for those who script, and for the exports.

Every column of numbers names its unit (``peak_itt_c``, ``ng_at_fuel_pct``, ``light_off_s``), or a column ``unit``
stands beside it where rows differ. Unknown is NaN or NA, never 0. The numbers are those of the JSON document.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from debrief.analysis.model import Assessment
from debrief.analysis.signal.traces import gap_mask
from debrief.recording.model import Channel, FloatArray, Recording
from debrief.session.document import assessment_document, serial_in
from debrief.words.channels import CANONICAL, base_name

if TYPE_CHECKING:
    import pandas as pd

_SUFFIX: Mapping[str, str] = {
    "degC": "c", "%": "pct", "rpm": "rpm", "s": "s", "V": "v", "A": "a", "kg/h": "kg_h", "psi": "psi",
    "kt": "kt", "ft": "ft", "ft/min": "ft_min", "deg": "deg", "hPa": "hpa", "mohm": "mohm",
    "degC/s": "c_per_s", "%/s": "pct_per_s", "kt/s": "kt_per_s", "N m": "nm", "lbf ft": "lbf_ft",
    "0/1": "", "0/1/2": "", "": "",
}  # fmt: skip
_TELLS_ITS_UNIT = ("volts", "amps")
_CIRCLES = frozenset({"heading", "track", "wind_from", "lon"})
"""Angles: between 359 and 1 degree lies 0, not 180."""

MOST_ROWS = 50_000_000
"""Of an even grid: ten hours at 1 kHz are 36 million."""

_WHO = ("file", "sha256", "aircraft", "engine_serial", "engine")
_TEXT = frozenset(
    ["file", "sha256", "aircraft", "engine_serial", "kind", "outcome", "class", "severity", "channel", "unit", "limit_id",
     "band", "reference", "reason", "message", "name", "why", "event", "result", "id", "inferred_fields", "factors",
     "engine_key", "power", "excluded", "profile", "verdict", "sentence", "engines", "untrended", "row", "phase"]
)  # fmt: skip
_WHOLE = frozenset(["engine", "start_number", "starts", "events", "engine_1", "engine_2", "samples"])
_TRUTH = frozenset(
    [
        "certain",
        "sensor_suspect",
        "inferred",
        "ng_stable_at_fuel",
        "recovered",
        "during_abort",
        "approved_data",
        "bleed",
        "separator",
        "generator",
    ]
)

_START = (
    "start_number", "kind", "outcome", "begin_s", "end_s", "window_end_s", "starter_on_s", "starter_off_s",
    "fuel_on_s", "fuel_off_s", "light_off_s", "idle_s", "peak_itt_c", "peak_itt_s", "ng_at_fuel_pct",
    "ng_stable_at_fuel", "max_motoring_ng_pct", "min_bus_volts", "rest_bus_volts", "residual_itt_c",
)  # fmt: skip
_MEASURE = ("start_number", "name", "value", "low", "high", "unit", "inferred", "why")
_EVENT = (
    "start_number", "kind", "class", "severity", "certain", "sensor_suspect", "start_s", "end_s", "channel",
    "peak", "peak_s", "peak_low", "peak_high", "level", "unit", "duration_s", "duration_low_s",
    "duration_high_s", "allowed_s", "limit_id", "band", "reference", "reason", "recovered", "during_abort",
    "message",
)  # fmt: skip
_LIMIT = (
    "id",
    "event",
    "channel",
    "result",
    "nearest_level",
    "margin_value",
    "margin_seconds",
    "unit",
    "why",
)
_PHASE = ("name", "start_s", "end_s")
_STEADY = (
    "start_s",
    "end_s",
    "phase",
    "pressure_altitude_ft",
    "oat_c",
    "isa_deviation_c",
    "density_altitude_ft",
    "ias_kt",
    "torque",
    "ng",
    "np",
    "itt",
    "fuel_flow",
    "referred_ng",
    "referred_itt",
    "referred_torque",
    "referred_fuel_flow",
    "itt_margin_c",
    "bleed",
    "separator",
    "generator",
    "generator_load",
    "samples",
)
_LOADS = ("kind", "time_s", "on", "channel", "value", "low", "high", "unit", "why")
_MARGINS = ("density_altitude_ft", "itt_margin_c", "time_s")
_TWINS = ("start_s", "end_s", "engine_1", "engine_2", "referred_itt", "referred_ng")
_POWER = (
    "name", "channel", "start_s", "end_s", "torque", "pressure_altitude_ft", "oat_c", "measured", "allowed", "margin", "unit",
    "why",
)  # fmt: skip
_CYCLES = ("channel", "range_from", "range_to", "unit", "cycles")


def column_name(name: str, unit: str) -> str:
    """Return the name of a column with its unit: ``peak_itt`` in degC gives ``peak_itt_c``.

    Notes
    -----
    A second engine's number stays last (``itt_c_2``). A unit that has no short form is added as it is written.
    """
    base, _, engine = name.partition(".")
    suffix = _SUFFIX.get(unit, unit.replace("/", "_per_").replace(" ", "_"))
    if suffix and not base.endswith((f"_{suffix}", *_TELLS_ITS_UNIT)):
        base = f"{base}_{suffix}"
    return f"{base}_{engine}" if engine else base


def starts(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each start: what it was, its times, and every measure in a column of its own."""
    document = assessment_document(assessment.canonical)
    rows = []
    columns: dict[str, None] = dict.fromkeys((*_WHO, *_START))
    for start in document["starts"]:
        row = {**start, "start_number": start["number"]}
        row["factors"] = ", ".join(factor["kind"] for factor in start["factors"])
        row["inferred_fields"] = ", ".join(start["inferred"])
        for name, measure in start["measures"].items():
            named = column_name(name, measure["unit"])
            if named not in start:
                row[named] = measure["value"]
                columns[named] = None
        rows.append(row)
    return table(_with_whose(document, rows), (*columns, "factors", "inferred_fields"))


def measures(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each measure of each start and of the flight (its `start_number` is NA), with bounds."""
    document = assessment_document(assessment.canonical)
    rows: list[dict[str, Any]] = []
    for start in document["starts"]:
        for name, measure in start["measures"].items():
            rows.append({"engine": start["engine"], "start_number": start["number"], "name": name, **measure})
    for name, measure in document["flight"]["measures"].items():
        base, _, engine = name.partition(".")
        rows.append({"engine": int(engine) if engine.isdigit() else 1, "name": base, **measure})
    return table(_with_whose(document, rows), (*_WHO, *_MEASURE))


def events(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each finding: the level that decides, times with their bounds, and the message."""
    document = assessment_document(assessment.canonical)
    return table(_with_whose(document, document["events"]), (*_WHO, *_EVENT))


def limits(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each limit of the profile: its result and how far the nearest level was."""
    document = assessment_document(assessment.canonical)
    return table(_with_whose(document, document["limits"]), (*_WHO, *_LIMIT))


def phases(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each phase of the flight, in order of time."""
    document = assessment_document(assessment.canonical)
    return table(_with_whose(document, document["phases"]), (*_WHO[:-1], *_PHASE))


def cycles(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each class of counted cycles of Ng and ITT, from the smallest range."""
    document = assessment_document(assessment.canonical)
    rows = [{**one, "unit": CANONICAL[one["channel"]]} for one in document["flight"]["cycles"]]
    return table(_with_whose(document, rows), (*_WHO, *_CYCLES))


def steady(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each steady window: torque, Ng and referred torque and Ng in %, ITT in degC, Np in rpm, fuel flow in kg/h."""
    document = assessment_document(assessment.canonical)
    return table(_with_whose(document, document["flight"]["steady"]), (*_WHO, *_STEADY))


def load_steps(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each channel that a step of load changed, and one without a channel for a step with none."""
    document = assessment_document(assessment.canonical)
    rows = [
        {**step, "on": float(step["on"]), "channel": name, "unit": name and CANONICAL[name], **change}
        for step in document["flight"]["load_steps"]
        for name, change in (step["changes"].items() or ((None, {}),))
    ]
    return table(_with_whose(document, rows), (*_WHO, *_LOADS))


def margins(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each class of density altitude with the least ITT margin at climb or cruise power."""
    document = assessment_document(assessment.canonical)
    return table(_with_whose(document, document["flight"]["margin_curve"]), (*_WHO, *_MARGINS))


def power_checks(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each steady window against each power check chart of the profile; `unit` is of the last numbers."""
    document = assessment_document(assessment.canonical)
    rows = [{**one, "unit": CANONICAL[one["channel"]]} for one in document["flight"]["power_checks"]]
    return table(_with_whose(document, rows), (*_WHO, *_POWER))


def twins(assessment: Assessment) -> pd.DataFrame:
    """Return a row for each stretch that is steady for two engines: the second less the first."""
    document = assessment_document(assessment.canonical)
    rows = [
        {**one, "engine_1": one["engines"][0], "engine_2": one["engines"][1]}
        for one in document["flight"]["twins"]
    ]
    return table(_with_whose(document, rows), (*_WHO[:-1], *_TWINS))


def channels(
    source: Assessment | Recording,
    rate_hz: float = 1.0,
    names: Sequence[str] | None = None,
    *,
    unmapped: bool = False,
) -> pd.DataFrame:
    """Return channels on one even grid of times, in the index ``time_s``.

    Parameters
    ----------
    source : Assessment or Recording
        Of an assessment, its recording as the profile scales it (% instead of rpm).
    rate_hz : float
        Rows a second, [Hz].
    names : sequence of str, optional
        Which channels, as ``itt`` or ``ng.2``; all of them if not given.
    unmapped : bool
        Also the columns that no channel matched, under their own names.

    Returns
    -------
    DataFrame
        (n, channels), from 0 s to the recording's end. NaN outside a channel's samples and inside its gaps.

    Raises
    ------
    ValueError
        The rate is not positive and finite, or gives more than `MOST_ROWS` rows.
    KeyError
        There is no such channel.

    Notes
    -----
    A straight line between two samples, on the shorter way round for angles; a switch holds its last value. A
    gap is what the analysis calls one (`debrief.analysis.signal.traces.gap_mask`). Nothing is smoothed: a grid coarser
    than the samples passes over peaks, which `measures` and `events` have.
    """
    import pandas as pd

    if not (np.isfinite(rate_hz) and rate_hz > 0):
        raise ValueError(f"rate_hz is {rate_hz}: give rows a second, more than 0")
    recording = source.canonical.recording if isinstance(source, Assessment) else source
    there = dict(recording.channels) | (dict(recording.unmapped) if unmapped else {})
    if recording.duration_s * rate_hz > MOST_ROWS:
        raise ValueError(
            f"{rate_hz:g} rows a second over {recording.duration_s:.0f} s are more than {MOST_ROWS}"
        )
    chosen = [there[name] for name in (names if names is not None else there)]
    grid = np.arange(int(np.floor(recording.duration_s * rate_hz + 1e-9)) + 1) / rate_hz
    taken = {column_name(one.name, one.unit): _on_grid(one, grid) for one in chosen}
    return pd.DataFrame(taken, index=pd.Index(grid, name="time_s"))


def _on_grid(channel: Channel, grid: FloatArray) -> FloatArray:
    """Return the channel's values at the times of the grid; NaN where nothing is known."""
    t, v = channel.time_s, channel.values
    out = np.full(grid.size, np.nan)
    if not t.size:
        return out
    inside = (grid >= t[0]) & (grid <= t[-1])
    at = grid[inside]
    before = np.searchsorted(t, at, side="right") - 1
    if channel.is_discrete:
        values = v[before]
    elif base_name(channel.name) in _CIRCLES and channel.unit == "deg":
        turned = np.interp(at, t, np.unwrap(v, period=360.0))
        low = -180.0 if base_name(channel.name) == "lon" else 0.0
        values = (turned - low) % 360.0 + low
    else:
        values = np.interp(at, t, v)
    if t.size > 1:
        gap = np.append(gap_mask(t), False)
        values = np.where(gap[before] & (at > t[before]), np.nan, values)
    out[inside] = values
    return out


def _with_whose(document: Mapping[str, Any], rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    recording = document["recording"]
    whose = {
        "file": recording["file_name"],
        "sha256": recording["sha256"],
        "aircraft": recording["identity"]["aircraft"],
    }
    return [{**whose, "engine_serial": serial_in(document, row.get("engine")), **row} for row in rows]


def table(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> pd.DataFrame:
    """Return rows as a table of these columns, each with the type that its kind of value has, also when empty."""
    import pandas as pd

    # Kept as Python has them: a file's name may hold what is no Unicode.
    text = pd.StringDtype("python")
    made = {}
    for column in columns:
        values = [row.get(column) for row in rows]
        if column in _TEXT:
            made[column] = pd.Series(values, dtype=text)
        elif column in _WHOLE:
            made[column] = pd.Series(values, dtype="Int64")
        elif column in _TRUTH:
            made[column] = pd.Series(values, dtype="boolean")
        else:
            made[column] = pd.Series(values, dtype="float64")
    return pd.DataFrame(made, columns=list(columns))


def plain(column: pd.Series) -> list[Any]:
    """Return a column as Python's own values, with None for what is unknown."""
    return [None if missing else value for value, missing in zip(column.tolist(), column.isna(), strict=True)]
