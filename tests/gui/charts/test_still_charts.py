"""The still charts: the window and the paper show one description; zoom, reading out and copying in the window."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QGuiApplication, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.gui.charts.chart_view import ChartView
from debrief.gui.charts.two_starts_view import TwoStartsView
from debrief.gui.style.theme import Theme
from debrief.history.storage.store import Store
from debrief.history.trends.series import trend
from debrief.report import shapes as s
from debrief.report.charts.still_charts import inside, still_chart
from debrief.report.pdf.paint import screen_measurer
from debrief.session.charts.start_charts import plane_chart, time_chart
from debrief.session.charts.start_overlay import overlay, overlay_chart, start_levels
from debrief.session.charts.still_chart import Area, Axis, Curve, Mark, Pane, StillChart
from debrief.session.charts.trend_chart import trend_chart
from debrief.session.comparing.start_curves import start_curves
from debrief.words.colours import ON_PAPER, PALETTES
from tests.demo_assessing import DEMOS, assessed
from tests.history.history_making import series

WIDTH, HEIGHT = 120.0, 90.0


def _demo(number: str):
    return assessed(next(path for path in DEMOS if path.stem.startswith(number)))


@pytest.fixture
def made_trend(debrief_home):
    steady = [742.0 + (index * 7 % 11) - 5 for index in range(40)]
    with Store.open() as store:
        for flight in series([*steady, *(value + 30 for value in steady[:15])]):
            store.keep(flight)
        return trend(store, "TG7-0042", "peak_itt")


def _charts(made_trend) -> dict[str, StillChart]:
    out = {"trend": trend_chart(made_trend, made_trend.points[-1].sha256)}
    first = _demo("01")
    for number in ("01", "06", "12", "19"):
        assessment = _demo(number)
        for start in assessment.starts:
            name = f"{number} {start.number}"
            out[f"plane {name}"] = plane_chart(assessment, start)
            out[f"time {name}"] = time_chart(assessment, start)
            both = (start_curves(assessment, start, "this"), start_curves(first, first.starts[0], "other"))
            out[f"two {name}"] = overlay_chart(overlay(*both, "fuel_on"))
    return {name: chart for name, chart in out.items() if not chart.problem}


@pytest.fixture
def view(qtbot):
    made = ChartView(Theme("light"), "A chart")
    qtbot.addWidget(made)
    made.resize(900, 640)
    made.show()
    return made


def _paper(chart: StillChart) -> list[s.Shape]:
    return still_chart(
        chart,
        WIDTH,
        HEIGHT,
        screen_measurer(),
        lambda text, style, width: text,
        lambda text, style, width: [text],
    )


def _shown(view: ChartView) -> dict[str, float]:
    """Return the words inside the panes."""
    view.grab()
    return {words for words, _ in view.words}


def test_screen_and_paper_have_the_same_ranges_ticks_and_labels(view, made_trend):
    charts = _charts(made_trend)
    assert {name.split()[0] for name in charts} == {"trend", "plane", "time", "two"}
    for name, chart in charts.items():
        view.show_chart(chart)
        texts = [shape for shape in _paper(chart) if isinstance(shape, s.Text)]
        lines = [shape for shape in _paper(chart) if isinstance(shape, s.Line) and shape.colour == s.GRID]
        words = [text.text for text in texts]
        for number, pane in enumerate(chart.panes):
            shown = view.shown_ticks(number)
            assert shown == pane.y.ticks()
            # What the paper's lines stand for, read back from where they lie in the pane.
            printed = [t.text for t in texts if t.align == "right" and t.text in {one.text for one in shown}]
            assert set(printed) >= {tick.text for tick in shown}, name
            assert all(
                view.at(chart.x.range[0], tick.value, number).y() <= view.area(number).bottom() + 1
                for tick in shown
            )
            assert _apart(view.at(*_corner(chart, pane, 0), number), view.area(number).bottomLeft()) < 1e-6
            assert _apart(view.at(*_corner(chart, pane, 1), number), view.area(number).topRight()) < 1e-6
        assert view.shown_ticks() == chart.x.ticks()
        printed = [
            t.text for t in texts if t.align == "center" and t.text in {one.text for one in chart.x.ticks()}
        ]
        assert printed == [tick.text for tick in chart.x.ticks()], name
        assert len([line for line in lines if line.x1 == line.x2]) == len(chart.x.ticks()) * len(chart.panes)
        across = len([line for line in lines if line.y1 == line.y2])
        assert across == sum(len(pane.y.ticks()) for pane in chart.panes)
        labels = {
            one.label
            for pane in chart.panes
            for group in (pane.marks, pane.levels, pane.areas)
            for one in group
        }
        assert _shown(view) - {pane.label for pane in chart.panes} <= labels
        assert {words_ for words_ in labels if words_} <= _shown(view) | {""}, name
        assert {words_ for words_ in labels if words_} <= set(words), name
        assert {chart.title, chart.subtitle, chart.x.titled} - {""} <= set(words)


def _corner(chart: StillChart, pane: Pane, end: int) -> tuple[float, float]:
    return chart.x.range[end], pane.y.range[end]


def _apart(one: QPointF, other: QPointF) -> float:
    return (one - other).manhattanLength()


def test_a_mark_of_the_description_is_shown_on_both(view, made_trend):
    for chart in _charts(made_trend).values():
        pane = chart.panes[0]
        x, y = chart.x.value(0.43), pane.y.value(0.61)
        new = Mark(x, y, "torque", "diamond", "a new mark")
        more = replace(chart, panes=(replace(pane, marks=(*pane.marks, new)), *chart.panes[1:]))
        view.show_chart(more)
        assert "a new mark" in _shown(view)
        picture = view.viewport().grab().toImage()
        assert picture.pixelColor(view.at(x, y).toPoint()).name().upper() == PALETTES["light"].torque
        signs = [shape for shape in _paper(more) if isinstance(shape, s.Mark)]
        assert [sign.kind for sign in signs if sign.colour == ON_PAPER.torque] == ["diamond"]
        assert "a new mark" in {shape.text for shape in _paper(more) if isinstance(shape, s.Text)}


@pytest.fixture
def plane(view):
    assessment = _demo("06")
    view.show_chart(plane_chart(assessment, assessment.starts[0]))
    return view


def _wheel(view: ChartView, at: QPointF, steps: int) -> None:
    event = QWheelEvent(
        at, QPointF(view.viewport().mapToGlobal(at.toPoint())), QPoint(), QPoint(0, 120 * steps),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(view.viewport(), event)


def test_the_wheel_zooms_where_the_pointer_is_and_a_double_click_shows_the_whole_chart(plane):
    at = plane.area().center()
    before = plane.x_at(at.x())
    _wheel(plane, at, 5)
    (low, high), _ = plane.view().x, plane.view().y
    assert high - low < 0.8
    assert plane.x_at(at.x()) == pytest.approx(before, abs=0.05)
    # Closer ticks, at round numbers of what is shown.
    ticks = plane.shown_ticks()
    assert all(
        plane.chart.x.value(low) - 1e-9 <= tick.value <= plane.chart.x.value(high) + 1e-9 for tick in ticks
    )
    assert not plane.is_whole
    QTest.mouseDClick(plane.viewport(), Qt.MouseButton.LeftButton, pos=at.toPoint())
    assert plane.is_whole
    assert plane.shown_ticks() == plane.chart.x.ticks()


def test_dragging_moves_what_is_shown_and_never_beyond_the_chart(plane):
    _wheel(plane, plane.area().center(), 5)
    before = plane.view().x
    begin = plane.area().center().toPoint()
    QTest.mousePress(plane.viewport(), Qt.MouseButton.LeftButton, pos=begin)
    for step in range(1, 9):
        QTest.mouseMove(plane.viewport(), begin + QPoint(-20 * step, 0))
        QApplication.processEvents()
    QTest.mouseRelease(plane.viewport(), Qt.MouseButton.LeftButton, pos=begin + QPoint(-160, 0))
    plane._boxes[0].translateBy(x=0.01)
    plane._boxes[0].translateBy(x=9.0)
    assert plane.view().x[0] > before[0]
    assert plane.view().x[1] <= 1.0 + 1e-9


def test_keys_zoom_and_read_out_point_by_point(plane, qtbot):
    plane.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.waitUntil(plane.hasFocus)
    qtbot.keyClick(plane, Qt.Key.Key_End)
    last = plane.current
    qtbot.keyClick(plane, Qt.Key.Key_Left)
    assert plane.current == last - 1
    qtbot.keyClick(plane, Qt.Key.Key_Plus)
    assert not plane.is_whole
    qtbot.keyClick(plane, Qt.Key.Key_0)
    assert plane.is_whole


def test_the_nearest_sample_is_read_out_with_its_values_and_units(plane):
    curve = plane.chart.panes[0].curves[-1]
    row = int(np.nanargmax(curve.y))
    QTest.mouseMove(plane.viewport(), plane.at(curve.x[row], curve.y[row]).toPoint() + QPoint(3, -2))
    plane.point_at(plane.at(curve.x[row], curve.y[row]) + QPointF(3, -2))
    words = plane.accessibleDescription()
    assert words == f"peak 1159: Ng {curve.x[row]:.1f} %, ITT {curve.y[row]:.0f} °C"
    plane.point_at(QPointF(5, 5))
    assert plane.current is None


def test_the_menu_is_our_own_and_copies_the_picture(plane):
    menu = plane.made_menu()
    assert [action.text().split("\t")[0] for action in menu.actions()] == ["&Whole chart", "&Copy picture"]
    plane.read_out(3)
    QGuiApplication.clipboard().clear()
    menu.actions()[1].trigger()
    copied = QGuiApplication.clipboard().image()
    plane.read_out(None)
    plane.clearFocus()
    assert copied.size() == plane.size()
    assert copied == plane.grab().toImage().convertToFormat(copied.format())


@pytest.mark.parametrize(("scale", "size"), [(1.0, (420, 230)), (1.0, (1200, 800)), (2.0, (620, 400))])
def test_words_stand_on_no_other_word_and_inside_the_chart(qtbot, made_trend, scale, size):
    view = ChartView(Theme("light", scale), "A chart")
    qtbot.addWidget(view)
    view.resize(*size)
    for name, chart in _charts(made_trend).items():
        view.show_chart(chart)
        view.grab()
        places = [box for _, box in view.words]
        for index, box in enumerate(places):
            assert view.rect().toRectF().adjusted(-3, -3, 3, 3).contains(box), (name, view.words[index])
            assert not any(box.adjusted(1, 1, -1, -1).intersects(other) for other in places[index + 1 :]), (
                name
            )


def test_names_over_the_chart_keep_the_order_of_what_they_name(view):
    """Without room on the right the last one stood left of the first: it named the wrong stretch."""

    def area(begin, end, label):
        corners = np.array([(begin, 0.0), (end, 0.0), (end, 1.0), (begin, 1.0)])
        return Area(corners, "tint_caution", label, "caution", above=True)

    areas = (area(60, 95, "shifted 30 up"), area(95, 97, "shifted 52 down"), area(97, 100, "shifted 58 up"))
    chart = StillChart("t", "", Axis("x", "", (0.0, 100.0)), (Pane(Axis("y", "", (0.0, 1.0)), areas=areas),))
    view.resize(520, 300)
    view.show_chart(chart)
    view.grab()
    lefts = {words: box.left() for words, box in view.words}
    assert list(lefts) == sorted(lefts, key=lefts.get, reverse=True)
    assert sorted(lefts, key=lefts.get) == [one.label for one in areas]


def test_a_line_is_cut_where_it_leaves_the_chart():
    points = np.array([(-0.5, 0.5), (0.5, 0.5), (0.5, 1.5), (np.nan, 0.2), (0.2, 0.2), (0.3, 0.3)])
    first, second = inside(points)
    assert first.tolist() == [[0.0, 0.5], [0.5, 0.5], [0.5, 1.0]]
    assert second.tolist() == [[0.2, 0.2], [0.3, 0.3]]


def test_a_sample_alone_between_two_gaps_is_seen(view):
    """Of 2 samples with a gap between, a line shows none: each is drawn as a line just long enough."""
    from debrief.session.charts.still_chart import joined
    from debrief.session.drawing.envelope import Envelope

    times = np.array([0.0, 10.0])
    drawn = Envelope(times, np.array([5.0, 7.0]), np.array([True])).view(0.0, 10.0, 100)
    x, y = joined(drawn, drawn.time_s, 10.0)
    chart = StillChart(
        "t",
        "",
        Axis("Time", "s", (-1.0, 11.0)),
        (Pane(Axis("V", "V", (0.0, 10.0)), (Curve(x, y, "voltage"),)),),
    )
    view.show_chart(chart)
    picture = view.viewport().grab().toImage()
    ground = Theme("light").color("panel")
    for time_s, value in ((0.0, 5.0), (10.0, 7.0)):
        at = view.at(time_s, value).toPoint()
        assert any(
            picture.pixelColor(at + QPoint(dx, dy)) != ground for dx in range(-1, 3) for dy in range(-1, 2)
        )
    assert len([shape for shape in _paper(chart) if isinstance(shape, s.Curve)]) == 2


@pytest.mark.parametrize("height", [230, 330, 420, 900])
def test_what_is_read_out_of_two_starts_stands_on_nothing_else(qtbot, monkeypatch, height):
    """With large text in a low window the two values and their difference stood on each other."""
    view = TwoStartsView(Theme("light", 2.0))
    qtbot.addWidget(view)
    view.resize(900, height)
    sides = [start_curves(_demo(number), _demo(number).starts[0], number) for number in ("01", "12")]
    view.show_overlay(overlay(*sides, "fuel_on"))
    boxes = []
    write = ChartView.write

    def written(self, painter, box, *rest, **others):
        boxes.append(QRectF(box))
        write(self, painter, box, *rest, **others)

    monkeypatch.setattr(ChartView, "write", written)
    view.grab()
    beside = sorted((box for box in boxes if box.left() > view.area().right()), key=lambda box: box.top())
    assert len(beside) >= 3 or height < 400  # panes lower than a line have no room for words
    for above, below in pairwise(beside):
        assert below.top() >= above.bottom() - 1 or below.top() == above.top()


@pytest.mark.parametrize("height", [230, 250, 280, 310, 340, 420, 900])
def test_no_level_runs_through_a_word_however_low_the_panes_are(qtbot, height):
    """In a low window the lines of two limits ran through the name of the third and through the pane's."""
    theme = Theme("light")
    view = TwoStartsView(theme)
    qtbot.addWidget(view)
    view.resize(660, height)
    sides = [start_curves(_demo(number), _demo(number).starts[0], number) for number in ("01", "11")]
    levels = start_levels(_demo("01"), _demo("01").starts[0])
    view.show_overlay(overlay(*sides, "fuel_on", levels))
    picture = view.grab().toImage()
    inks = {theme.color(level.role).rgb() for pane in view.chart.panes for level in pane.levels}
    words = [(text, box.toRect()) for text, box in view.words if box.right() < view.area().right()]
    assert {text for text, _ in words} >= {"ITT °C", "1030: never", "920: 6 s", "830: 20 s"}
    for text, box in words:
        # Beside the letters, on both sides: a level that runs through comes in and goes out.
        beside = (*range(box.left() - 1, box.left() + 1), *range(box.right() - 1, box.right() + 1))
        struck = [
            (x, y)
            for x in beside
            for y in range(box.top() + 3, box.bottom() - 2)
            if picture.pixel(x, y) in inks
        ]
        assert not struck, text
