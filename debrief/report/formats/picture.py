"""The lanes as a picture to send along: PNG or SVG, with whose they are and the caution on it."""

from __future__ import annotations

import os
from dataclasses import replace

from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.output import Kind, write_output
from debrief.report import shapes as s
from debrief.report.charts.lane_charts import lane_chart
from debrief.report.content import phrases
from debrief.report.content.options import Selection
from debrief.report.content.overview import overview_chart
from debrief.report.content.start_pages import start_chart, start_heading
from debrief.report.formats.write import sources_of
from debrief.report.pdf.pieces import Maker
from debrief.session.lanes.hand_strips import SWITCHES, hand_strips
from debrief.words.cautions import CAUTION, NOT_APPROVED
from debrief.words.channels import base_name

WIDTH_MM = 260.0
HEIGHT_MM = 150.0
_MARGIN = 6.0
_MOST_LANES = 6
_USUAL_LANES = {"itt": 1.4, "ng": 1.0, "torque": 0.8, "bus_volts": 0.8}


def write_picture(
    assessment: Assessment,
    path: str | os.PathLike[str],
    *,
    selection: Selection = Selection(),  # noqa: B008 (frozen)
    as_svg: bool = False,
) -> None:
    """Write the lanes of one start, or of the whole recording, as a picture.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    path : path
        The file, ``-`` for standard output; see `debrief.output.write_outputs`.
    selection : Selection
        The start; the whole recording without one.
    as_svg : bool
        SVG instead of PNG at 150 dpi.

    Raises
    ------
    UserError
        The start is not there, or the file cannot be written, or is something else.
    """
    from debrief.report.pdf.paint import png_bytes, screen_measurer, svg_bytes

    shapes = picture(assessment, selection, screen_measurer())
    make = svg_bytes if as_svg else png_bytes
    data = make(shapes, (WIDTH_MM, HEIGHT_MM))
    write_output(path, data, Kind.SVG if as_svg else Kind.PNG, sources=sources_of(assessment))


def picture(assessment: Assessment, selection: Selection, measurer: s.Measurer) -> tuple[s.Shape, ...]:
    """Return the picture's shapes, [mm]."""
    inner = WIDTH_MM - 2 * _MARGIN
    maker = Maker(inner, measurer)
    if selection.start is None:
        chart = overview_chart(assessment, _channels(assessment))
        engines = assessment.recording.engines
        if len(engines) == 1:
            strips = hand_strips(assessment, engines[0], chart.begin_s, chart.end_s)
            chart = replace(chart, strips=strips)
        title = "Whole recording"
    else:
        start = next((x for x in assessment.starts if x.number == selection.start), None)
        if start is None:
            raise UserError(f"There is no start {selection.start} in this recording.")
        chart = start_chart(assessment, start, assessment.events_of(start))
        title = start_heading(assessment, start)
    provenance = assessment.recording.provenance
    whose = f"{phrases.who(assessment)}, {provenance.file_name}, SHA-256 {provenance.sha256[:16]}…"
    out: list[s.Shape] = [
        s.Box(0.0, 0.0, WIDTH_MM, HEIGHT_MM, fill=s.PAPER),
        s.Text(_MARGIN, _MARGIN + 3.6, maker.shortened(title, s.HEAD_1, inner), s.HEAD_1),
        s.Text(_MARGIN, _MARGIN + 8.6, maker.shortened(whose, s.SMALL, inner), s.SMALL, s.MUTED),
    ]
    top, bottom = _MARGIN + 12.0, HEIGHT_MM - _MARGIN - 5.0
    tall = maker.clean_lanes(replace(chart, height_mm=bottom - top))
    out += s.moved(lane_chart(tall, inner, measurer), _MARGIN, top)
    profile = assessment.profile
    warned = f"{NOT_APPROVED}. " if profile is not None and not profile.approved_data else ""
    caution = maker.shortened(warned + CAUTION, s.AXIS, inner)
    out.append(s.Text(_MARGIN, HEIGHT_MM - _MARGIN + 1.0, caution, s.AXIS, s.MUTED))
    return tuple(out)


def _channels(assessment: Assessment) -> tuple[tuple[str, float], ...]:
    """Return the lanes of the whole recording: the usual ones, and each channel that something was found in."""
    found = (base_name(event.channel) for event in assessment.events if event.channel is not None)
    # What is on or off has a bar below the lanes.
    names = dict.fromkeys((*_USUAL_LANES, *(name for name in found if name not in SWITCHES)))
    engines = assessment.recording.engines
    shown = [name for name in names if any(assessment.recording.get(name, e) is not None for e in engines)]
    return tuple((name, _USUAL_LANES.get(name, 0.8)) for name in shown[:_MOST_LANES])
