"""Starts and events as one table: for a spreadsheet (CSV), and typed (Parquet)."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.output import Kind
from debrief.output.parquet import parquet_bytes
from debrief.report.content.options import Selection
from debrief.session.document import assessment_document, serial_in
from debrief.session.frames import plain, table

if TYPE_CHECKING:
    import pandas as pd

_COMMON = (
    "row",
    "file",
    "sha256",
    "aircraft",
    "engine_serial",
    "profile",
    "approved_data",
    "engine",
    "start_number",
)
_EVENT = (
    "kind", "class", "severity", "certain", "sensor_suspect", "start_s", "end_s", "channel", "peak", "peak_s",
    "peak_high", "unit", "level", "duration_s", "duration_low_s", "duration_high_s", "allowed_s", "limit_id",
    "band", "reference", "reason", "message",
)  # fmt: skip
_START = (
    "outcome", "starter_on_s", "starter_off_s", "fuel_on_s", "fuel_off_s", "light_off_s", "idle_s",
    "peak_itt_c", "peak_itt_s", "ng_at_fuel_pct", "ng_stable_at_fuel", "max_motoring_ng_pct",
    "min_bus_volts", "rest_bus_volts", "residual_itt_c",
)  # fmt: skip
COLUMNS = (*_COMMON, *_EVENT, *_START, "inferred", "verdict")
_TYPED = tuple("inferred_fields" if name == "inferred" else name for name in COLUMNS)
"""As `debrief.session.frames` names them, where ``inferred`` is true or false."""

# A spreadsheet takes a cell that begins like this for a formula; the wide forms count as well.
_FORMULA = tuple("=+-@\t\r\n|＝＋－＠")


def starts_and_events(assessment: Assessment, selection: Selection = Selection()) -> pd.DataFrame:  # noqa: B008 (frozen)
    """Return a row for the recording, one for each start and one for each event, typed; see `debrief.session.frames`.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    selection : Selection
        Which starts and events.

    Returns
    -------
    DataFrame
        Numbers are those of the JSON document, unrounded; texts are as they are; unknown is NaN or NA.

    Raises
    ------
    UserError
        The start that was selected is not there.
    """
    document = assessment_document(assessment)
    recording, profile = document["recording"], document["profile"]
    common = {
        "file": recording["file_name"],
        "sha256": recording["sha256"],
        "aircraft": recording["identity"]["aircraft"],
        "engine_serial": recording["identity"]["engine_serial"],
        "profile": None if profile is None else f"{profile['name']}, revision {profile['revision']}",
        "approved_data": None if profile is None else profile["approved_data"],
    }
    starts, events = document["starts"], document["events"]
    if selection.start is not None:
        starts = [start for start in starts if start["number"] == selection.start]
        events = [event for event in events if event["start_number"] == selection.start]
        if not starts:
            raise UserError(f"There is no start {selection.start} in this recording.")
    elif selection.exceedances_only:
        events = [event for event in events if event["severity"] in ("limit", "possible")]
        named = {(event["start_number"], event["engine"]) for event in events}
        starts = [start for start in starts if (start["number"], start["engine"]) in named]
    rows = [common | {"row": "recording", "verdict": document["verdict"], "message": document["sentence"]}]
    for start in starts:
        own = {"row": "start", "start_number": start["number"], "start_s": start["begin_s"]}
        own["inferred_fields"] = ", ".join(start["inferred"])
        own["engine_serial"] = serial_in(document, start["engine"])
        rows.append(common | _only(start, (*_START, "engine", "kind", "end_s")) | own)
    rows += [
        common
        | _only(event, (*_EVENT, "engine", "start_number"))
        | {"row": "event", "engine_serial": serial_in(document, event["engine"])}
        for event in events
    ]
    return table(rows, _TYPED)


def csv_text(assessment: Assessment, selection: Selection = Selection()) -> str:  # noqa: B008 (frozen)
    """Return `starts_and_events` as CSV for a spreadsheet.

    Returns
    -------
    str
        With a row of titles, comma separated, lines ending as RFC 4180 has them; an unknown value is an empty cell.

    Raises
    ------
    UserError
        The start that was selected is not there.

    Notes
    -----
    Column names and notes come from strangers' files: text that a spreadsheet would take for a formula is
    preceded by an apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    made = starts_and_events(assessment, selection)
    writer.writerows(zip(*([cell(value) for value in plain(made[name])] for name in _TYPED), strict=True))
    return out.getvalue()


def parquet(assessment: Assessment, selection: Selection = Selection()) -> bytes:  # noqa: B008 (frozen)
    """Return `starts_and_events` as a Parquet file.

    Raises
    ------
    UserError
        The start that was selected is not there.
    """
    return parquet_bytes(starts_and_events(assessment, selection), Kind.PARQUET.name)


def _only(row: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: row[name] for name in names}


def cell(value: object) -> str:
    """Return one cell: numbers as Python writes them, text made harmless, None empty."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    text = "".join(character if character.isprintable() else " " for character in str(value))
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text
