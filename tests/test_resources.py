"""The files that ship with the program are where it looks, and an installed program has all of them."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from debrief import resources
from debrief.resources import resource

ROOT = Path(__file__).parents[1]
WHEEL = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"][
    "targets"
]["wheel"]["force-include"]


@pytest.mark.parametrize(
    "name",
    [
        "profiles/tarn-tg7.toml",
        "profiles/quill-b2.toml",
        "fonts/B612-Regular.otf",
        "fonts/OFL.txt",
        "profiles",
    ],
)
def test_a_shipped_file_is_found_in_the_checkout(name: str) -> None:
    assert resource(name) == ROOT / "resources" / name


def test_the_demo_flights_are_found_beside_the_package() -> None:
    assert resource("demo_flights") == ROOT / "demo_flights"


def test_a_missing_file_is_an_incomplete_installation() -> None:
    with pytest.raises(FileNotFoundError, match=r"absent\.toml is missing: install"):
        resource("profiles/absent.toml")


def test_an_installed_program_uses_the_files_inside_its_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "site" / "debrief"
    inside = package / "_resources" / "demo_flights"
    inside.mkdir(parents=True)
    (inside / "one.csv").write_text("")
    monkeypatch.setattr(resources, "_PACKAGE", package)
    assert resource("demo_flights/one.csv") == inside / "one.csv"
    with pytest.raises(FileNotFoundError):
        resource("profiles/tarn-tg7.toml")


def test_all_resources_but_the_pictures_go_into_the_wheel() -> None:
    shipped = {path.name for path in (ROOT / "resources").iterdir()} - {"pictures"}
    assert shipped == {Path(source).name for source in WHEEL if source.startswith("resources/")}
    for source, target in WHEEL.items():
        assert (ROOT / source).exists(), source
        assert target == "debrief/_resources/" + source.removeprefix("resources/")


def test_the_bundled_fonts_come_with_their_licence() -> None:
    assert "SIL OPEN FONT LICENSE" in resource("fonts/OFL.txt").read_text(encoding="utf-8").upper()
