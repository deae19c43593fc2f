"""Every promise of the README that can be run is run."""

from __future__ import annotations

import glob
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from debrief import __version__
from debrief.bootstrap import PACKAGES
from debrief.profile import find

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = {
    name: (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")
}

# a terminal as wide as the README's block, so that lines break where they break there
WIDTH = "100"


def commands(text: str) -> list[str]:
    """Return the command lines of the shell blocks, without their comments."""
    lines = []
    for block in re.findall(r"```sh\n(.*?)```", text, re.DOTALL):
        lines += [line.split("   #")[0].split("  # ")[0].strip() for line in block.splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def run(arguments: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "debrief", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": WIDTH, "PYTHONUTF8": "1"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=120,
    )


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    title, first, *_ = README.split("\n\n")
    assert title == "# Turbine Debrief"
    assert "recording" in first
    assert not first.startswith(("!", "#", "-", "|", "`"))


def test_the_example_is_what_the_program_prints(tmp_path: Path) -> None:
    command, output = re.search(
        r"```sh\n(debrief assess demo_flights/\S+)\n```\n\n```text\n(.*?)```", README, re.DOTALL
    ).groups()
    result = run(shlex.split(command)[1:], ROOT)
    assert result.returncode == 0, result.stderr
    printed = squeezed(result.stdout)
    parts = [squeezed(part) for part in output.split("...")]
    assert len(squeezed(output)) > 200
    for part in parts:
        assert part in printed, part


# "debrief open" needs a display: tests/gui opens the window
@pytest.mark.parametrize(
    "command", [c for c in commands(README) if c.startswith("debrief ") and not c.startswith("debrief open")]
)
def test_a_command_line_of_the_readme_is_understood(command: str, tmp_path: Path) -> None:
    arguments = shlex.split(command)[1:]
    flight = next(iter(sorted((ROOT / "demo_flights").glob("*.csv"))))
    shutil.copy(flight, tmp_path / "flight.csv")
    shutil.copytree(ROOT / "demo_flights", tmp_path / "demo_flights")
    rows = ["RPM;EGT;EGT 1;EGT 2"]
    rows += [";".join([f"{min(108000, 200 * i)}", *[f"{20 + i / 10:.1f}"] * 3]) for i in range(600)]
    (tmp_path / "bench.csv").write_text("\n".join(rows), encoding="utf-8")
    if {"other.jsonl", "damaged.sqlite"} & set(arguments):  # what another desk, or a bad disk, has left
        for made in (["add", "flight.csv"], ["export", str(tmp_path / "other.jsonl")]):
            assert run(["history", *made, "--db", "damaged.sqlite"], tmp_path).returncode == 0
    arguments = [
        name
        for word in arguments
        for name in (sorted(glob.glob(word, root_dir=tmp_path)) if "*" in word else [word])
    ]
    result = run(arguments, tmp_path)
    assert result.returncode == 0, result.stderr
    if "-o" in arguments:
        assert (tmp_path / arguments[arguments.index("-o") + 1]).stat().st_size > 1000


@pytest.mark.parametrize("name", ["tarn-tg7", "quill-b2"])
def test_the_profiles_that_the_readme_names_are_there(name: str) -> None:
    assert f"`{name}`" in README
    assert "nvented" in find(name).source


@pytest.mark.parametrize("page", PAGES)
def test_links_lead_somewhere(page: str) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", PAGES[page]):
        assert (ROOT / target).exists(), target


def test_anchors_are_headings() -> None:
    for target, anchor in re.findall(r"\]\(([^)#]*)#([^)]*)\)", README):
        headings = re.findall(r"^#+ (.*)$", PAGES[target or "README.md"], re.MULTILINE)
        assert anchor in {
            re.sub(r"[^a-z0-9 -]", "", heading.lower()).replace(" ", "-") for heading in headings
        }


def test_the_files_that_the_pages_name_are_there() -> None:
    for text in PAGES.values():
        for name in re.findall(
            r"`((?:debrief|tests|resources|demo_flights|recording|profile|analysis|session|gui)/[\w./-]+)`",
            text,
        ):
            assert (ROOT / name).exists() or (ROOT / "debrief" / name).exists(), name


def test_every_key_of_the_profile_stands_in_the_contributors_table() -> None:
    from dataclasses import fields

    from debrief.profile import limits, loader, model, power_check

    table = PAGES["DEVELOPERS.md"].split("## The engine profile")[1].split("## To add")[0]
    rules = (model.StartRules, model.StarterRules, model.AbortRules, model.FactorRules, model.FlightRules,
             model.ShutdownRules, model.LifeRules, model.PowerPoint)  # fmt: skip
    keys = {field.name for rule in rules for field in fields(rule)} - {"highest"}
    for key in (
        keys
        | set(limits.LIMIT_KEYS)
        | set(limits.GAUGE_KEYS)
        | set(loader._TOP_KEYS)
        | set(power_check.POWER_CHECK_KEYS)
    ):
        assert re.search(rf"\b{key}\b", table), key


def test_the_cautions_are_there_and_nothing_is_called_in_order() -> None:
    assert "informs and never approves" in README
    for words in ("approved flight manual", "maintenance manual", "local regulations", "licensed persons"):
        assert words in squeezed(README), words
    assert not re.search(r"\bno fault\b|\bairworthy\b|\bsafe to\b", README)


def test_the_changelog_knows_this_version() -> None:
    assert f"## {__version__}" in PAGES["CHANGELOG.md"]


def test_the_program_and_its_settings_have_one_version() -> None:
    assert f'version = "{__version__}"' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")


def test_the_packages_for_qt_are_named_once() -> None:
    assert len(set(PACKAGES)) == len(PACKAGES)
