"""What is usual and how it moves, said in the units that a person reads; what is kept stays canonical."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.history.service.history_service import paper_values
from debrief.history.service.start_history import starts_page
from debrief.history.storage.store import Store
from debrief.history.usual.comparing import compare
from debrief.session.document import assessment_document
from debrief.session.texts.in_units import in_units
from debrief.words.display_units import parse_units
from tests.history.history_making import FIRST, made_assessment, made_start, series

PEAKS = [
    742.0,
    735.0,
    751.0,
    748.0,
    739.0,
    744.0,
    730.0,
    755.0,
    741.0,
    746.0,
    738.0,
    749.0,
    743.0,
    736.0,
    752.0,
]
DEMOS = Path(__file__).parents[2] / "demo_flights"
FAHRENHEIT = parse_units("degF")


@pytest.fixture
def store(tmp_path: Path):
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        for one in series(PEAKS):
            opened.keep(one)
        yield opened


@pytest.fixture
def judged():
    return made_assessment(
        "judged.csv", at=FIRST + timedelta(days=400), starts=[made_start(peak_itt_c=790.0)]
    )


def test_a_comparison_says_the_same_in_other_units(store, judged):
    (usual,) = [one for one in compare(judged, store) if one.measure == "peak_itt"]
    (shown,) = [one for one in compare(in_units(judged, FAHRENHEIT), store) if one.measure == "peak_itt"]
    assert (shown.unit, shown.outside, shown.band.count) == ("degF", usual.outside, usual.band.count)
    assert shown.deviation == pytest.approx(usual.deviation)
    assert shown.value == pytest.approx(790 * 1.8 + 32)
    # By hand: the median is 743 degC, the spread 1.4826 x 5 degC.
    assert shown.band.centre == pytest.approx(743 * 1.8 + 32)
    assert shown.band.low == pytest.approx((743 - 3 * 7.413) * 1.8 + 32)
    assert "Peak ITT 1454 °F" in shown.message
    assert "°C" not in shown.message


def test_trends_on_paper_and_the_earlier_starts_are_in_the_units_of_the_assessment(store, judged):
    shown = in_units(judged, FAHRENHEIT)
    _, _, trends, _ = paper_values(shown, store)
    (peaks,) = [one for one in trends if one.measure == "peak_itt"]
    assert peaks.unit == "degF"
    assert [point.value for point in peaks.points] == pytest.approx([x * 1.8 + 32 for x in PEAKS])
    assert "°C" not in peaks.words
    earlier = starts_page(shown, store).earlier
    assert earlier[0].peak_unit == "degF"
    assert earlier[0].peak_c == pytest.approx(PEAKS[-1] * 1.8 + 32)


def test_what_is_kept_of_a_shown_copy_is_the_assessment_itself(store, judged):
    assert store.keep(in_units(judged, FAHRENHEIT)) == "new"
    kept = store.document(judged.recording.provenance.sha256)
    assert kept == assessment_document(judged)
    assert store.keep(judged) == "unchanged"


def _run(capsys, *words: str) -> str:
    assert main(["history", *words]) == 0
    return capsys.readouterr().out


def test_the_history_s_text_is_in_the_units_asked_for(tmp_path, capsys):
    place = str(tmp_path / "h.sqlite")
    hot = str(DEMOS / "05_hot_start_aborted_motored.csv")
    assert "above 1886 °F" in _run(capsys, "add", hot, "--db", place, "--units", "degF")
    assert "above 1030 °C" in _run(capsys, "list", "--db", place)  # as it is kept
    with Store.open(place) as opened:
        for one in series(PEAKS):
            opened.keep(one)
    plain = _run(capsys, "trend", "--measure", "peak_itt", "--db", place)
    shown = _run(capsys, "trend", "--measure", "peak_itt", "--db", place, "--units", "degF")
    assert "°F" not in plain
    assert "°C" not in shown
    # By hand: 742 degC are 1367.6 degF.
    assert "742 °C" in plain
    assert "1368 °F" in shown
    assert len(shown.splitlines()) == len(plain.splitlines())
    checked = _run(capsys, "check", hot, "--db", place, "--units", "degF")
    assert "above 1886 °F" in checked
    assert "°C" not in checked


def test_the_history_s_json_stays_canonical_and_says_so(tmp_path, capsys):
    words = ["history", "trend", "--format", "json", "--units", "degF", "--db", str(tmp_path / "h.sqlite")]
    assert main(words) == 2
    assert "always in degC" in capsys.readouterr().err


def test_units_that_cannot_be_chosen_are_refused_before_anything_is_read(tmp_path, capsys):
    assert main(["history", "check", "no.csv", "--units", "furlong", "--db", str(tmp_path / "h.sqlite")]) == 2
    assert "degC or degF" in capsys.readouterr().err
