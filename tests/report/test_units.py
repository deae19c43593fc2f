"""A paper in chosen units: no other unit on it but the file's own and the profile's words, the numbers of the data."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass

import pypdf
import pytest

from debrief.cli import main
from debrief.report.content.options import ReportOptions
from debrief.report.content.whole_report import build
from debrief.report.formats.write import write_pdf
from debrief.session.texts.in_units import in_units
from debrief.words.display_units import parse_units
from debrief.words.numbers import number
from tests.demo_assessing import DEMOS, assessed

FAHRENHEIT = parse_units("degF,bar,lb/h,m,km/h")


def strings(value: object) -> list[str]:
    """Every text in the content of a report."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, tuple | list):
        return [text for one in value for text in strings(one)]
    if is_dataclass(value):
        return [text for field in fields(value) for text in strings(getattr(value, field.name))]
    return []


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
@pytest.mark.parametrize("reader", ["pilot", "student", "technician"])
def test_no_text_of_the_paper_is_in_degc_but_what_quotes_the_file_or_the_profile(path, reader):
    canonical = assessed(path)
    content = build(in_units(canonical, FAHRENHEIT), ReportOptions(reader=reader))
    quoted = [canonical.profile.source]
    quoted += [band.action for limit in canonical.profile.limits for band in limit.bands]
    quoted += [limit.reference or "" for limit in canonical.profile.limits]
    for text in strings(content):
        for words in filter(None, quoted):
            text = text.replace(words, "")
        # A column's own unit stands before an arrow: "°C -> °F".
        text = re.sub(r"\S+ → ", "", text)
        if "data, exact limits and verdict are in" in text:
            continue
        assert not re.search(r"°C|(?<=\d) (?:psi|kg/h|kt|ft)\b", text), text


def test_the_numbers_of_the_paper_are_those_of_the_data_converted(tmp_path):
    canonical = assessed(next(path for path in DEMOS if path.stem.startswith("05_")))
    write_pdf(in_units(canonical, FAHRENHEIT), tmp_path / "f.pdf", reader="technician")
    text = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "f.pdf").pages)
    text = " ".join(text.split())
    start = canonical.starts[0]
    seen = 0
    for measure in start.measures.values():
        if measure.unit == "degC" and measure.value is not None:
            assert f"{number(measure.value * 1.8 + 32, 0)} °F" in text
            seen += 1
    assert seen >= 4
    for event in canonical.events:
        if event.unit == "degC" and event.level is not None:
            assert f"{event.level * 1.8 + 32:g} °F" in text
    assert "exact limits and verdict are in °C" in text


def test_the_command_line_takes_units_for_what_is_read_by_people_only(tmp_path, capsys):
    demo = str(next(path for path in DEMOS if path.stem.startswith("05_")))
    assert main(["assess", demo, "--units", "°F"]) == 0
    out = capsys.readouterr().out
    assert "1886 °F" in out
    assert "°C" not in out
    assert main(["report", demo, "-o", str(tmp_path / "a.svg"), "--units", "degF"]) == 0
    assert main(["assess", demo, "--format", "json", "--units", "degF"]) == 2
    assert "--units goes with text" in capsys.readouterr().err
    assert main(["report", demo, "-o", str(tmp_path / "a.json"), "--units", "degF"]) == 2
    assert "does not go with json" in capsys.readouterr().err
    assert main(["assess", demo, "--units", "cubits"]) == 2
    assert capsys.readouterr().err.startswith('debrief: --units: "cubits" cannot be chosen.')
