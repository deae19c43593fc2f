"""The strips of switches and levers below the lanes, as a person sees them."""

from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QApplication

from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import painted_anew, pixels, tip_at

NAMES = ["starter", "fuel", "ignition", "generator"]


def words_of(desk):
    return painted_anew(desk.window.lanes)


def rows_of(desk):
    """Return what each strip says at the playhead, by its name."""
    words = words_of(desk)
    names = {one.text: one.rect.center().y() for one in words if one.text in NAMES}
    return {
        name: one.text
        for name, y in names.items()
        for one in words
        if one.text in ("on", "off", "not known") and abs(one.rect.center().y() - y) < 4
    }


def show(desk, number):
    desk.show(assessed(next(path for path in DEMOS if path.stem.startswith(number))))
    QApplication.processEvents()


def test_what_the_hand_did_is_read_at_the_playhead(desk):
    show(desk, "02")
    desk.window.replay.seek(20.0)
    assert rows_of(desk) == {"starter": "on", "fuel": "on", "ignition": "on", "generator": "off"}
    desk.window.replay.seek(16.5)
    assert rows_of(desk) == {"starter": "on", "fuel": "off", "ignition": "on", "generator": "off"}


def test_the_strips_stand_below_the_lanes_and_are_whole_in_the_margin(desk):
    show(desk, "18")
    desk.window.resize(2560, 1440)
    for scale in (1.0, 1.2, 1.6):
        desk.theme.set_scale(scale)
        QApplication.processEvents()
        words = words_of(desk)
        named = [one for one in words if one.text in (*NAMES, "power\nlever")]
        assert [one.text for one in named][:2] == NAMES[:2]
        last_title = max(one.rect.bottom() for one in words if one.text == "Voltage")
        for one in named:
            assert one.rect.top() > last_title
            assert one.rect.left() >= 0
            assert one.rect.right() < desk.window.lanes.x_of(desk.window.replay.session.framing.begin_s)


def test_they_are_hidden_by_a_key_and_it_is_remembered(desk, qtbot):
    show(desk, "02")
    assert {one.text for one in words_of(desk)} >= set(NAMES)
    desk.window.activateWindow()
    desk.user.presses("V")
    assert not {one.text for one in words_of(desk)} & set(NAMES)
    assert not desk.user.menu("View", "Show switches and levers").isChecked()
    again = Window(desk.theme, Settings())
    qtbot.addWidget(again)
    assert not again.lanes.shows_strips
    desk.user.takes("View", "Show switches and levers")
    assert {one.text for one in words_of(desk)} >= set(NAMES)
    again.close()


def test_between_the_cursors_highest_lowest_and_mean_are_written_and_the_stretch_is_shaded(desk):
    show(desk, "02")
    lanes = desk.window.lanes
    desk.window.resize(1440, 900)
    desk.window.replay.seek(40.0)
    QApplication.processEvents()
    plain = pixels(lanes)
    desk.window.replay.seek(20.0)
    desk.user.presses("M")
    desk.window.replay.seek(40.0)
    QApplication.processEvents()
    words = [one.text for one in painted_anew(lanes)]
    itt = next(one for one in words if one.startswith("highest 1179"))
    assert "highest 1179 at 0:22.0" in itt
    assert "mean" in itt
    assert sum("mean" in one for one in words) == 4
    assert not any("not known" in one for one in words)
    shaded = pixels(lanes)
    y = lanes.height() // 2
    inside, outside = (round(lanes.x_of(time_s)) for time_s in (30.0, 45.0))
    assert shaded[y, inside] != plain[y, inside]
    assert shaded[y, outside] == plain[y, outside]
    desk.user.presses("M")
    assert not any("mean" in one.text for one in painted_anew(lanes))


def test_the_first_second_of_the_starter_is_hatched_and_said(desk):
    show(desk, "02")
    lanes = desk.window.lanes
    desk.window.replay.frame(10.0, 30.0)
    desk.window.replay.seek(28.0)
    QApplication.processEvents()
    words = {one.text: one.rect for one in painted_anew(lanes)}
    assert "min 18 after 1 s" in words
    voltage = round(words["Voltage"].bottom()) + 6
    picture = pixels(lanes)

    def inks(begin_s, end_s):
        first, last = round(lanes.x_of(begin_s)) + 2, round(lanes.x_of(end_s)) - 2
        return {int(pixel) for pixel in picture[voltage : voltage + 8, first:last].ravel()}

    muted = desk.theme.color("muted").rgb() & 0xFFFFFF
    assert muted in inks(15.0, 16.0)
    assert muted not in inks(16.2, 18.0)
    assert muted not in inks(12.0, 14.8)
    at = QPoint(round(lanes.x_of(15.5)), voltage)
    assert tip_at(lanes, at) == "The first second of the starter is not judged"
    assert tip_at(lanes, at + QPoint(60, 0)) == ""


def test_what_has_no_room_is_said_under_the_mouse(desk):
    show(desk, "02")
    lanes = desk.window.lanes
    desk.window.replay.frame_all()
    QApplication.processEvents()
    words = {one.text: one.rect for one in painted_anew(lanes)}
    assert tip_at(lanes, words["Temperature"].center().toPoint()) == "Interturbine temperature, °C"
    middle = words["Temperature"].bottom() + 30
    assert "Hot start" in tip_at(lanes, QPoint(round(lanes.x_of(22.5)), round(middle)))
    ignition = words["ignition"].center().y()
    assert tip_at(lanes, QPoint(round(lanes.x_of(30.0)), round(ignition))) == "ignition: on"
    assert tip_at(lanes, QPoint(round(lanes.x_of(15.3)), 20)) == "Motoring"


def others_of(desk):
    return next((one.text for one in words_of(desk) if one.text.startswith("Ext. power")), None)


def test_each_switch_is_told_in_one_place(desk, qtbot):
    """Those without a strip stand in a line below the strips; where there is none, the list beside the dials has all."""
    show(desk, "06")
    desk.window.resize(1280, 720)
    for _ in range(4):
        QApplication.processEvents()
    assert others_of(desk) == "Ext. power off, generator off, on wheels on"
    assert not desk.user.has("Switches")
    dial = desk.window.gauges.gauge("itt").height()
    desk.user.presses("V")
    QApplication.processEvents()
    assert others_of(desk) is None
    assert desk.user.has("Switches")
    assert desk.window.gauges.gauge("itt").height() < dial
    desk.user.presses("V")
    QApplication.processEvents()
    assert not desk.user.has("Switches")


def test_where_the_strips_have_no_room_the_list_is_there(desk):
    show(desk, "06")
    desk.theme.set_scale(1.6)
    desk.window.resize(1280, 720)
    for _ in range(4):
        QApplication.processEvents()
    assert others_of(desk) is None
    assert desk.user.has("Switches")


def test_the_line_follows_the_playhead(desk):
    show(desk, "02")
    session = desk.window.replay.session
    wheels = session.recording.get("weight_on_wheels")
    for time_s in (5.0, 20.0, wheels.time_s[-1]):
        desk.window.replay.seek(float(time_s))
        said = others_of(desk)
        state = "on" if wheels.values[wheels.time_s <= time_s + 1e-6][-1] else "off"
        assert said.endswith(f"on wheels {state}")
        assert f"On wheels {state}" in desk.window.lanes.accessibleDescription().replace(
            "Weight on wheels", "On wheels"
        )
