"""The README's two commands: what they install, what they leave alone, what they say."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace

import pytest

from debrief import bootstrap

ROOT = Path(__file__).parents[1]

LISTING = """\
installed|libegl1|libegl1-x11
installed|libglib2.0-0t64|libglib2.0-0 (= 2.80.0), libglib2.0-0:amd64
config-files|libgl1|
not-installed|libdbus-1-3|
"""


class Machine:
    """A made machine: which programs and packages it has, and what was run on it."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, programs: Sequence[str], uid: int) -> None:
        self.ran: list[list[str]] = []
        self.fail: set[str] = set()
        self.listing = LISTING
        monkeypatch.setattr(bootstrap.shutil, "which", lambda name: name if name in programs else None)
        monkeypatch.setattr(bootstrap.os, "geteuid", lambda: uid)
        monkeypatch.setattr(bootstrap, "run", self._run)
        monkeypatch.setattr(bootstrap.subprocess, "run", self._probe)
        monkeypatch.setattr(bootstrap, "has_ensurepip", lambda: True)

    def _run(self, command: Sequence[str], env: object = None) -> int:
        self.ran.append(list(command))
        return 100 if self.fail & set(command) else 0

    def _probe(self, command: Sequence[str], **_: object) -> SimpleNamespace:
        assert command[0] == "dpkg-query"
        return SimpleNamespace(stdout=self.listing, returncode=0)


def everything() -> str:
    return "".join(f"installed|{name}|\n" for name in (*bootstrap.PACKAGES, bootstrap.VENV_PACKAGE))


def test_a_package_counts_as_there_when_it_is_installed_or_provided_and_not_when_only_known() -> None:
    names = bootstrap.installed_packages(LISTING)
    assert {"libegl1", "libglib2.0-0"} <= names
    assert not {"libgl1", "libdbus-1-3"} & names


def test_root_installs_exactly_the_missing_packages(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = Machine(monkeypatch, ["dpkg-query", "apt-get", "sudo"], uid=0)
    bootstrap.ensure_packages()
    update, install = machine.ran
    assert update == ["apt-get", "update"]
    assert install[:4] == ["apt-get", "install", "-y", "--no-install-recommends"]
    assert set(install[4:]) == set(bootstrap.PACKAGES) - {"libegl1", "libglib2.0-0"}


def test_nothing_is_run_when_nothing_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = Machine(monkeypatch, ["dpkg-query", "apt-get"], uid=1000)
    machine.listing = everything()
    bootstrap.ensure_packages()
    assert machine.ran == []


def test_somebody_else_uses_sudo(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = Machine(monkeypatch, ["dpkg-query", "apt-get", "sudo"], uid=1000)
    bootstrap.ensure_packages()
    assert [command[0] for command in machine.ran] == ["sudo", "sudo"]
    assert "apt-get" in machine.ran[1]


def test_without_sudo_the_exact_line_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = Machine(monkeypatch, ["dpkg-query", "apt-get"], uid=1000)
    machine.listing = everything().replace("installed|libgl1|", "config-files|libgl1|")
    with pytest.raises(bootstrap.Stop) as stop:
        bootstrap.ensure_packages()
    assert str(stop.value).splitlines()[-1] == (
        "apt-get update && apt-get install -y --no-install-recommends libgl1"
    )
    assert machine.ran == []


def test_a_failed_install_tells_the_line_and_a_failed_update_alone_does_not_stop(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    machine = Machine(monkeypatch, ["dpkg-query", "apt-get"], uid=0)
    machine.fail = {"update"}
    bootstrap.ensure_packages()
    machine.fail = {"install"}
    with pytest.raises(bootstrap.Stop, match="apt-get install -y --no-install-recommends libgl1"):
        bootstrap.ensure_packages()


def test_the_part_of_python_that_debian_keeps_apart_is_asked_for_only_where_it_lacks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(bootstrap, "has_ensurepip", lambda: False)
    assert bootstrap.VENV_PACKAGE in bootstrap.wanted_packages()
    monkeypatch.setattr(bootstrap, "has_ensurepip", lambda: True)
    assert bootstrap.VENV_PACKAGE not in bootstrap.wanted_packages()


def test_another_system_is_told_what_is_needed_and_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    machine = Machine(monkeypatch, [], uid=1000)
    monkeypatch.setattr(bootstrap.sys, "platform", "linux")
    bootstrap.ensure_packages()
    assert "libegl1" in capsys.readouterr().out
    assert machine.ran == []


@pytest.mark.parametrize("state", ["absent", "empty folder", "a file", "dangling python", "other version"])
def test_a_half_made_environment_does_not_pass_for_one(tmp_path: Path, state: str) -> None:
    venv = tmp_path / ".venv"
    python = bootstrap.venv_python(venv)
    if state == "a file":
        venv.write_text("")
    elif state != "absent":
        python.parent.mkdir(parents=True)
    if state == "dangling python":
        python.symlink_to(tmp_path / "gone")
    if state == "other version":
        python.write_text("#!/bin/sh\necho 3 9 2\n")
        python.chmod(0o755)
    assert not bootstrap.venv_works(venv)


def test_a_broken_environment_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    venv = tmp_path / ".venv"
    (venv / "bin").mkdir(parents=True)
    (venv / "left-over").write_text("")
    made: list[Path] = []

    def make(command: Sequence[str], env: object = None) -> int:
        assert not venv.exists()
        made.append(venv)
        return 0

    monkeypatch.setattr(bootstrap, "run", make)
    monkeypatch.setattr(bootstrap, "venv_works", lambda venv: bool(made))
    bootstrap.ensure_venv(venv)
    assert made == [venv]


def test_the_second_run_installs_nothing_until_the_settings_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    venv = tmp_path / ".venv"
    venv.mkdir()
    installed: list[str] = []

    def install(command: Sequence[str], env: object = None) -> int:
        installed.append(command[-1])
        return 0

    monkeypatch.setattr(bootstrap, "run", install)
    bootstrap.ensure_installed(venv, "")
    bootstrap.ensure_installed(venv, "")
    assert installed == ["."]
    bootstrap.ensure_installed(venv, "test")
    bootstrap.ensure_installed(venv, "test")
    bootstrap.ensure_installed(venv, "")  # the tests' environment is enough for the demo
    assert installed == [".", ".[test]"]
    (tmp_path / "pyproject.toml").write_text("[project]\nname = 'x'\n")
    bootstrap.ensure_installed(venv, "test")
    assert installed == [".", ".[test]", ".[test]"]


def test_a_broken_off_install_is_not_taken_for_done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    venv = tmp_path / ".venv"
    venv.mkdir()
    monkeypatch.setattr(bootstrap, "run", lambda command, env=None: 1)
    for _ in range(2):
        with pytest.raises(bootstrap.Stop, match="could not be installed"):
            bootstrap.ensure_installed(venv, "test")


def test_every_check_runs_after_one_has_failed_and_the_exit_code_is_that_of_the_failed_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    ran: list[str] = []

    def check(command: Sequence[str], env: dict[str, str] | None = None) -> int:
        assert env is not None
        assert env["QT_QPA_PLATFORM"] == "offscreen"
        ran.append(command[2])
        return 3 if command[2] == "mypy" else 0

    monkeypatch.setattr(bootstrap, "run", check)
    assert bootstrap.test(Path("python")) == 3
    assert ran == ["ruff", "ruff", "mypy", "pytest"]
    assert "FAILED: mypy" in capsys.readouterr().out


def test_only_the_standard_library_is_used() -> None:
    for file in (ROOT / "debrief" / "bootstrap.py", ROOT / "debrief" / "__init__.py"):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        # What only a type checker reads is never imported.
        tree.body = [
            n for n in tree.body if not (isinstance(n, ast.If) and ast.unparse(n.test) == "TYPE_CHECKING")
        ]
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            else:
                continue
            assert all(name.split(".")[0] in sys.stdlib_module_names for name in names)


@pytest.mark.parametrize(("arguments", "code"), [((), 2), (("run",), 2), (("--help",), 0)])
def test_runs_from_a_checkout_without_any_library(arguments: tuple[str, ...], code: int) -> None:
    result = subprocess.run(
        [sys.executable, "-S", "-m", "debrief.bootstrap", *arguments],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == code
    assert "python3 -m debrief.bootstrap demo|test" in result.stdout + result.stderr


def test_continuous_integration_runs_the_same_command_as_a_person() -> None:
    script = ROOT / ".ci" / "run"
    commands = [
        line for line in script.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")
    ]
    assert commands[0] == "set -euo pipefail"
    assert commands[-1] == "python3 -m debrief.bootstrap test"
    assert os.access(script, os.X_OK)
