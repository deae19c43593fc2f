"""The distribution runs from an empty environment, in another folder, with all its files."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import jsonschema
import pytest

ROOT = Path(__file__).parents[1]

pytestmark = pytest.mark.wheel


class Installed:
    """An environment that holds the wheel, and the libraries of the running one beside it."""

    def __init__(self, wheel: Path, folder: Path) -> None:
        self.wheel = wheel
        self.venv = folder / "venv"
        self.elsewhere = folder / "elsewhere"
        self.elsewhere.mkdir()
        run([sys.executable, "-m", "venv", "--without-pip", str(self.venv)], ROOT)
        scripts = "Scripts" if os.name == "nt" else "bin"
        self.python = self.venv / scripts / "python"
        self.command = self.venv / scripts / "debrief"
        pip = [sys.executable, "-m", "pip", "--python", str(self.python), "--disable-pip-version-check"]
        run([*pip, "install", "--no-deps", "--no-index", str(wheel)], ROOT)
        # Downloading the libraries again would prove nothing new. A .pth file adds the folder but not what
        # the .pth files in it add: an editable install of this checkout stays unseen.
        inside = run(
            [str(self.python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], ROOT
        ).strip()
        libraries = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
        (Path(inside) / "libraries.pth").write_text("\n".join(sorted(libraries)), encoding="utf-8")

    def say(self, *arguments: str) -> str:
        return run([str(self.command), *arguments], self.elsewhere)

    def resource(self, name: str) -> Path:
        code = f"from debrief.resources import resource; print(resource({name!r}))"
        return Path(run([str(self.python), "-c", code], self.elsewhere).strip())


def run(command: list[str], folder: Path) -> str:
    env = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "VIRTUAL_ENV"))}
    result = subprocess.run(
        command,
        cwd=folder,
        env=env,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=180,
    )
    assert result.returncode == 0, f"{command}\n{result.stdout}\n{result.stderr}"
    return result.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    folder = tmp_path_factory.mktemp("wheel")
    run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)], ROOT
    )
    (wheel,) = folder.glob("*.whl")
    return Installed(wheel, folder)


def test_it_is_the_wheel_that_runs_and_not_the_checkout(installed: Installed) -> None:
    where = run([str(installed.python), "-c", "import debrief; print(debrief.__file__)"], installed.elsewhere)
    assert Path(where.strip()).is_relative_to(installed.venv)


def test_every_shipped_file_is_inside_the_package(installed: Installed) -> None:
    for name in ("profiles/tarn-tg7.toml", "fonts/B612-Regular.otf", "lexicon.toml", "demo_flights"):
        assert installed.resource(name).is_relative_to(installed.venv), name
    names = set(zipfile.ZipFile(installed.wheel).namelist())
    for path in (ROOT / "debrief").rglob("*.py"):
        assert path.relative_to(ROOT).as_posix() in names
    assert not [name for name in names if name.endswith((".pyc", ".png")) or name.startswith("tests/")]


def test_assess_finds_the_demo_flights_profile_from_another_folder(installed: Installed) -> None:
    flight = sorted(installed.resource("demo_flights").glob("*.csv"))[0]
    text = installed.say("assess", str(flight))
    assert "Tarn TG-7" in text
    document = json.loads(installed.say("assess", str(flight), "--format", "json"))
    schema = json.loads(installed.resource("assessment.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(document, schema)
    assert document["profile"]["name"] == "Tarn TG-7 (training example)"
    assert document["starts"]


def test_the_paper_is_written_with_the_bundled_fonts(installed: Installed) -> None:
    flight = sorted(installed.resource("demo_flights").glob("*.csv"))[0]
    installed.say("report", str(flight), "-o", "out.pdf")
    data = (installed.elsewhere / "out.pdf").read_bytes()
    assert data.startswith(b"%PDF-")
    assert b"B612" in data


def test_both_commands_are_installed(installed: Installed) -> None:
    assert installed.say("--version").startswith("debrief ")
    assert (installed.command.parent / "turbine-debrief").exists()
