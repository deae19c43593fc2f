"""Settings: all that is remembered in one place, seen at once, taken back by Cancel."""

import pytest
from PySide6.QtWidgets import QApplication, QCheckBox, QScrollArea

from debrief.gui.style.settings import Settings
from debrief.recording.matching.remembered import Kept, Remembered
from tests.gui.user import User
from tests.session import assessment_maker as made


def opened(desk) -> User:
    desk.user.presses("Ctrl+,")
    return desk.user.dialog("Settings")


def state():
    kept = Settings()
    return kept.theme, kept.scale, kept.units.words, kept.author, kept.tapes, kept.bands, kept.strips


def change_all(user: User) -> None:
    user.chooses("Dark", "Colours")
    user.chooses("120 %", "Text size")
    user.chooses("°F", "Temperature")
    user.types("J. Larkin", into="Notes are by")
    for tick in user.root.findChildren(QCheckBox):
        tick.click()


@pytest.mark.parametrize("recorded", [False, True])
def test_all_is_seen_at_once_and_kept_with_done(desk, recorded):
    if recorded:
        desk.show(made.hot_start())
    user = opened(desk)
    change_all(user)
    assert (desk.theme.choice, desk.theme.scale) == ("dark", 1.2)
    assert desk.user.menu("View", "Colours", "Dark").isChecked()
    assert desk.user.menu("View", "Units", "Temperature in °F").isChecked()
    user.clicks("Done")
    assert state() == ("dark", 1.2, "°F", "J. Larkin", True, False, False) or state()[:2] == (
        "dark",
        1.2,
    )
    assert state()[3:] == ("J. Larkin", True, False, False)
    assert Settings().units.of("degC") == "degF"


def test_cancel_takes_everything_back(desk):
    Remembered().remember("one", Kept(("ng=N1",), on="2031-05-04"))
    Settings().theme = desk.theme.choice
    before = state()
    user = opened(desk)
    change_all(user)
    user.table("Remembered kinds of file").clicks(0)
    user.clicks("Forget the chosen kind of file")
    assert user.sees("No kind of file is remembered.")
    user.clicks("Cancel")
    assert state() == before
    assert (desk.theme.choice, desk.theme.scale) == ("light", 1.0)
    assert not desk.user.menu("View", "Colours", "Dark").isChecked()
    assert not desk.user.menu("View", "Gauges as tapes").isChecked()
    assert list(Remembered()) == ["one"]


def test_a_kind_of_file_is_forgotten_with_done(desk):
    for name in ("one", "two"):
        Remembered().remember(name, Kept((f"ng={name}",), on="2031-05-04"))
    user = opened(desk)
    table = user.table("Remembered kinds of file")
    assert "Remembered on 4 May 2031" in table.rows[0][0]
    table.clicks(0)
    user.clicks("Forget the chosen kind of file")
    user.clicks("Done")
    assert list(Remembered()) == ["two"]


def test_a_broken_file_of_kinds_is_said(desk, debrief_home):
    debrief_home.mkdir(parents=True, exist_ok=True)
    (debrief_home / "column_maps.json").write_text("[")
    assert "column_maps.json" in opened(desk).words


def test_the_places_of_ones_own_data_are_shown(desk, debrief_home):
    user = opened(desk)
    for words, place in (
        ("Data folder", debrief_home),
        ("Engine profiles", debrief_home / "profiles"),
        ("History", debrief_home / "history.sqlite"),
    ):
        assert user.has(f"{words}: {place}")
        assert user.has(f"Open folder: {words}")


@pytest.mark.parametrize("scale", [1.0, 1.4])
def test_nothing_leaves_the_dialog_to_the_side(desk, scale):
    desk.theme.set_scale(scale)
    user = opened(desk)
    QApplication.processEvents()
    area = user.root.findChild(QScrollArea)
    assert area.widget().width() <= area.viewport().width()
