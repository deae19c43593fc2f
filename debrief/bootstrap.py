"""The README's two commands, from a bare machine: ``python3 -m debrief.bootstrap demo`` or ``test``.

Only the standard library is used, since nothing is installed yet when this runs. It installs the system
packages that are missing (and no others), makes ``.venv``, installs the program into it and runs. A second
run finds all that and needs neither root nor network.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LEAST_PYTHON = (3, 11)

VENV_PACKAGE = "python3-venv"
PACKAGES = (
    # what Qt loads even without a display
    "libglib2.0-0", "libegl1", "libgl1", "libxkbcommon0", "libfontconfig1", "libdbus-1-3",
    # what Qt loads for a real X window
    "libxkbcommon-x11-0", "libxcb-cursor0", "libxcb-icccm4", "libxcb-image0", "libxcb-keysyms1",
    "libxcb-randr0", "libxcb-render-util0", "libxcb-shape0", "libxcb-xkb1",
)  # fmt: skip
"""Debian packages that a bare machine lacks for Qt."""

CHECKS = (
    ("ruff check", ("-m", "ruff", "check", ".")),
    ("ruff format", ("-m", "ruff", "format", "--check", ".")),
    ("mypy", ("-m", "mypy")),
    ("pytest", ("-m", "pytest", "-n", "2")),
)
"""Name and Python arguments of each check, in their order; the tests come last, so their count closes."""

USAGE = """usage: python3 -m debrief.bootstrap demo|test

  demo   install what is missing and open a demo flight
  test   install what is missing and run every check
"""


class Stop(Exception):
    """What keeps the command from going on, worded for the person at the terminal."""


def say(text: str) -> None:
    """Print one progress line at once, also into a pipe."""
    print(f"==> {text}", flush=True)


def run(command: Sequence[str], env: Mapping[str, str] | None = None) -> int:
    """Run a command in the checkout with its output shown, and return its exit code."""
    return subprocess.run(
        list(command), cwd=ROOT, env=None if env is None else dict(env), check=False
    ).returncode


# --- system packages -------------------------------------------------------------------------------------


def installed_packages(listing: str) -> set[str]:
    """Return the names that a listing of ``dpkg-query`` has as installed, with those that they provide.

    Parameters
    ----------
    listing : str
        Lines of status, name and provided names, separated by ``|``. A later Debian renames libraries and
        lets the new package provide the old name.
    """
    names: set[str] = set()
    for row in listing.splitlines():
        status, _, rest = row.partition("|")
        if status.strip() != "installed":
            continue
        name, _, provided = rest.partition("|")
        names.add(name.strip())
        names.update(part.split()[0].split(":")[0] for part in provided.split(",") if part.strip())
    return names


def wanted_packages() -> tuple[str, ...]:
    """Return the packages that this Python and Qt need here."""
    # Debian keeps the part of the standard library that makes environments in a package of its own.
    return PACKAGES if has_ensurepip() else (*PACKAGES, VENV_PACKAGE)


def has_ensurepip() -> bool:
    """Whether this Python can make an environment with pip in it; asked anew, since an install changes it."""
    probe = [sys.executable, "-c", "import ensurepip, venv"]
    return subprocess.run(probe, capture_output=True, check=False).returncode == 0


def install_commands(packages: Sequence[str]) -> list[list[str]]:
    """Return the commands, without sudo, that install these packages."""
    return [
        ["apt-get", "update"],
        ["apt-get", "install", "-y", "--no-install-recommends", *packages],
    ]


def install_line(packages: Sequence[str]) -> str:
    """Return the line for a person to type as root (a machine without sudo has root all the same)."""
    return " && ".join(" ".join(command) for command in install_commands(packages))


def ensure_packages() -> None:
    """Install the system packages that are missing; raise `Stop` with the exact line when that cannot be."""
    if shutil.which("dpkg-query") is None or shutil.which("apt-get") is None:
        if sys.platform.startswith("linux"):
            say("Not a Debian system: its packages are not touched. Qt needs what these hold on Debian 12:")
            print("    " + " ".join(PACKAGES), flush=True)
        return
    listing = subprocess.run(
        ["dpkg-query", "-W", "-f", "${db:Status-Status}|${Package}|${Provides}\n"],
        capture_output=True,
        text=True,
        check=False,
    ).stdout
    present = installed_packages(listing)
    missing = [name for name in wanted_packages() if name not in present]
    if not missing:
        say("System packages: all there.")
        return
    say(f"System packages: {len(missing)} missing: {' '.join(missing)}")
    prefix: list[str] = []
    if os.geteuid() != 0:
        if shutil.which("sudo") is None:
            raise Stop(
                "Some system packages are missing and this user cannot install them. As root:\n"
                + install_line(missing)
            )
        # Without a terminal sudo could only wait for a password that nobody can type.
        prefix = ["sudo"] if sys.stdin is not None and sys.stdin.isatty() else ["sudo", "-n"]
    settings = {"DEBIAN_FRONTEND": "noninteractive"}
    if prefix:
        prefix += ["env", *(f"{key}={value}" for key, value in settings.items())]
    update, install = install_commands(missing)
    # One source that does not answer need not matter: the install tells whether it does.
    run([*prefix, *update], env={**os.environ, **settings})
    if run([*prefix, *install], env={**os.environ, **settings}) != 0:
        raise Stop(f"The system packages could not be installed. As root, by hand:\n{install_line(missing)}")


# --- the environment -------------------------------------------------------------------------------------


def venv_python(venv: Path) -> Path:
    """Return the environment's interpreter."""
    return venv / "Scripts" / "python.exe" if os.name == "nt" else venv / "bin" / "python"


def venv_works(venv: Path) -> bool:
    """Whether the environment runs, has pip, and is of this Python's version."""
    python = venv_python(venv)
    if not python.exists():
        return False
    probe = [str(python), "-c", "import sys, pip; print(*sys.version_info[:3])"]
    try:
        result = subprocess.run(probe, capture_output=True, text=True, check=False)
    except OSError:
        return False
    return result.returncode == 0 and result.stdout.split() == [str(part) for part in sys.version_info[:3]]


def ensure_venv(venv: Path) -> None:
    """Make the environment, or make it anew where it is broken or of another Python."""
    if venv_works(venv):
        return
    if not has_ensurepip():
        raise Stop(
            "This Python cannot make an environment: its modules venv and ensurepip are missing.\n"
            f"On Debian, as root:\n{install_line([VENV_PACKAGE])}"
        )
    if venv.exists() or venv.is_symlink():
        say(f"{venv.name} is broken, half made or of another Python: making it anew.")
        if venv.is_dir() and not venv.is_symlink():
            shutil.rmtree(venv)
        else:
            venv.unlink()
    say(f"Making {venv.name}.")
    if run([sys.executable, "-m", "venv", str(venv)]) != 0 or not venv_works(venv):
        raise Stop(f"The environment {venv} could not be made; what Python says about it stands above.")


def stamp_text(pyproject: bytes, extra: str) -> str:
    """Return what is installed, as one comparable text: settings, Python, place and extra."""
    return json.dumps(
        {
            "pyproject": hashlib.sha256(pyproject).hexdigest(),
            "python": sys.version,
            "root": str(ROOT),
            "extra": extra,
        }
    )


def ensure_installed(venv: Path, extra: str) -> None:
    """Install the checkout into the environment unless its stamp says that this is done."""
    pyproject = (ROOT / "pyproject.toml").read_bytes()
    stamp = venv / "turbine-debrief.stamp"
    wanted = stamp_text(pyproject, extra)
    # what the tests need holds all that the program needs
    enough = {wanted, stamp_text(pyproject, "test")}
    if stamp.is_file() and stamp.read_text(encoding="utf-8") in enough:
        say("Program and libraries: installed.")
        return
    say("Installing the program and its libraries (some 300 MB on the first run).")
    stamp.unlink(missing_ok=True)
    target = f".[{extra}]" if extra else "."
    pip = [str(venv_python(venv)), "-m", "pip", "install", "--disable-pip-version-check"]
    if not sys.stdout.isatty():
        pip += ["--progress-bar", "off"]
    if run([*pip, "-e", target]) != 0:
        raise Stop("The libraries could not be installed; what pip says about it stands above.")
    stamp.write_text(wanted, encoding="utf-8")


# --- the two commands ------------------------------------------------------------------------------------


def demo(python: Path) -> int:
    """Open the demo flight and return the exit code."""
    say("Starting the demo.")
    return run([str(python), "-m", "debrief", "demo"])


def test(python: Path) -> int:
    """Run every check, also after one has failed, and return the first exit code that is not 0."""
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    failed: list[str] = []
    code = 0
    for name, arguments in CHECKS:
        say(f"Check: {name}")
        result = run([str(python), *arguments], env=env)
        if result != 0:
            failed.append(name)
            code = code or result
    if failed:
        say(f"FAILED: {', '.join(failed)}")
    else:
        say("All checks passed.")
    return code


def main(argv: Sequence[str] | None = None) -> int:
    """Run one of the two commands and return its exit code."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    if arguments in (["-h"], ["--help"]):
        print(USAGE, end="")
        return 0
    if arguments not in (["demo"], ["test"]):
        print(USAGE, end="", file=sys.stderr)
        return 2
    venv = ROOT / ".venv"
    try:
        if sys.version_info < LEAST_PYTHON:
            raise Stop(
                f"Python {'.'.join(map(str, LEAST_PYTHON))} or later is needed; this is {sys.version}."
            )
        if not (ROOT / "pyproject.toml").is_file():
            raise Stop("Run this from a checkout of the project: an installed program needs no bootstrap.")
        ensure_packages()
        ensure_venv(venv)
        ensure_installed(venv, "test" if arguments == ["test"] else "")
        python = venv_python(venv)
        return test(python) if arguments == ["test"] else demo(python)
    except Stop as stop:
        print(f"\n{stop}", file=sys.stderr, flush=True)
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
