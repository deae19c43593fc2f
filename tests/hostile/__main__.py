"""``python -m tests.hostile``: all long hostile trials, their figures, exit 1 on a finding.

Whole-program inputs, the special fuzzers beside the tests, kills, modelled power cuts, watched sockets, and openings
of the window. A number of 0 leaves a part out. Every finding names the seed that repeats it: ``--again SEED/NUMBER``
for an input, the same ``--seed`` for the rest.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.hostile.hunt import Found, again, hunt
from tests.hostile.kills import kill
from tests.hostile.large import measure
from tests.hostile.network import listen
from tests.hostile.operations import Rooms
from tests.hostile.powercuts import cut
from tests.hostile.recordings import ROOT
from tests.hostile.tracing import available
from tests.hostile.trials import prepare

SPECIAL = {
    "tests.recording.fuzz_reader": 40,
    "tests.profile.fuzz_profile": 10,
    "tests.history.fuzz_merge": 3,
    "tests.history.fuzz_damage": 2,
    "tests.analysis.fuzz_assess": 2,
}
"""Fuzzers beside the tests of what they try, with their share of the inputs in a hundred."""


class Table:
    """The figures, and whether anything was found."""

    def __init__(self) -> None:
        self.rows: list[tuple[str, str]] = []
        self.findings: list[str] = []
        self._began = time.monotonic()

    def row(self, what: str, figure: object) -> None:
        """Add and print a row."""
        self.rows.append((what, str(figure)))
        print(f"{what:<44} {figure}", flush=True)

    def found(self, findings: list[str]) -> None:
        """Add and print findings."""
        self.findings += findings
        for one in findings[:30]:
            print(f"  FOUND {one}", flush=True)
        if len(findings) > 30:
            print(f"  and {len(findings) - 30} more", flush=True)

    def lap(self) -> str:
        """Return the time since the last lap."""
        now = time.monotonic()
        took, self._began = now - self._began, now
        return f"{took:.0f} s"


def main() -> int:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.hostile",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--inputs", type=int, default=60_000)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--power-cuts", type=int, default=900)
    parser.add_argument("--openings", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first input")
    parser.add_argument("--whole-program", action="store_true", help="all inputs for the whole program")
    parser.add_argument(
        "--sockets", type=float, default=6.0, metavar="S", help="seconds that a window is watched for sockets"
    )
    parser.add_argument("--large", action=argparse.BooleanOptionalAction, default=True, help="large inputs")
    parser.add_argument(
        "--again", metavar="SEED/NUMBER", help="run one input again and show all that it gave"
    )
    options = parser.parse_args()
    if options.again:
        return _again(options.again)
    table = Table()
    with tempfile.TemporaryDirectory(prefix="hostile-") as name:
        folder = Path(name)
        materials = prepare(folder)
        if options.inputs:
            _inputs(options, table)
        _warm()
        rooms = Rooms(folder, materials)
        if options.kills:
            _kills(options, rooms, table)
        if options.power_cuts:
            _power_cuts(options, rooms, table)
        if options.sockets:
            _network(options, rooms, table)
        if options.large:
            _large(folder, table)
    if options.openings:
        _openings(options, table)
    table.row("findings", len(table.findings))
    return 1 if table.findings else 0


def _inputs(options: argparse.Namespace, table: Table) -> None:
    special = (
        {}
        if options.whole_program
        else {name: options.inputs * share // 100 for name, share in SPECIAL.items()}
    )
    special = {name: count for name, count in special.items() if count}
    found: Found = hunt(
        options.inputs - sum(special.values()),
        options.seed,
        options.first,
        lambda text: print(text, flush=True),
    )
    table.row("inputs for the whole program", found.trials)
    for kind, count in sorted(found.kinds.items()):
        table.row(f"  {kind}", count)
    table.row("  commands, of these refused in words", f"{found.commands}, {found.refusals}")
    table.row("  slowest, processor time", f"{found.slowest_s:.2f} s (input {found.slowest})")
    table.row("  most memory above the start", f"{found.most_mb:.0f} MB (input {found.most})")
    table.row("  kinds of findings, in", f"{len(found.findings)}, {table.lap()}")
    table.found([f"{len(those)} x {those[0][:700]}" for those in found.findings.values()])
    for module, count in special.items():
        said = _run([module, "--count", str(count), "--seed", str(options.seed)])
        last = (said.stdout.strip().splitlines() or [""])[-1]
        table.row(f"inputs for {module.removeprefix('tests.')}", f"{last or count}, {table.lap()}")
        if said.returncode:
            table.found([f"{module}: {(said.stderr.strip().splitlines() or ['ended'])[-1][:700]}"])


def _kills(options: argparse.Namespace, rooms: Rooms, table: Table) -> None:
    killed = kill(options.kills, options.seed, rooms, lambda text: None)
    table.row("kills at a writing call", killed.at_calls if available() else "not possible here")
    table.row("kills at any moment", killed.at_moments)
    table.row("  confirmed before, and found after", f"{killed.confirmed} flights and notes")
    table.row("  findings, in", f"{len(killed.findings)}, {table.lap()}")
    table.found(killed.findings)


def _power_cuts(options: argparse.Namespace, rooms: Rooms, table: Table) -> None:
    cuts = cut(options.power_cuts, options.seed, rooms)
    table.row("modelled power cuts", cuts.states if available() else "not possible here")
    table.row("  confirmed before, and found after", f"{cuts.confirmed} flights and notes")
    table.row("  findings, in", f"{len(cuts.findings)}, {table.lap()}")
    table.found(cuts.findings)


def _network(options: argparse.Namespace, rooms: Rooms, table: Table) -> None:
    heard = listen(rooms, options.sockets)
    table.row("runs watched for sockets", heard.runs if available() else "not possible here")
    table.row("  findings, in", f"{len(heard.findings)}, {table.lap()}")
    table.found(heard.findings)


def _large(folder: Path, table: Table) -> None:
    measured = measure(folder)
    for what, figures in measured.rows:
        table.row(what, figures)
    table.row("  findings of large inputs, in", f"{len(measured.findings)}, {table.lap()}")
    table.found(measured.findings)


MOST_GROWTH = {"objects": 100.0, "widgets": 0.0, "rss_mb": 5.0}
"""What may be there more after a hundred openings of the window."""


def _openings(options: argparse.Namespace, table: Table) -> None:
    said = _run(["tests.gui.soak", str(options.openings)])
    lines = said.stdout.strip().splitlines()
    table.row("openings of the window", f"{options.openings}, {table.lap()}")
    if said.returncode or not lines:
        table.found([f"openings: {(said.stderr.strip().splitlines() or ['ended'])[-1][:700]}"])
        return
    growth = json.loads(lines[-1])["growth for each hundred openings"]
    for name, more in growth.items():
        table.row(f"  {name} more, each hundred", more)
    table.found(
        [f"grows: {name} by {growth[name]}" for name, most in MOST_GROWTH.items() if growth[name] > most]
    )


def _again(name: str) -> int:
    seed, number = map(int, name.split("/"))
    answer = again(seed, number)
    for key, value in answer.items():
        print(key, "" if isinstance(value, list) else value)
        if isinstance(value, list):
            print(*(f"   {one}" for one in value), sep="\n")
    return 1 if answer["findings"] else 0


def _run(module: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", *module],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        errors="replace",
    )


def _warm() -> None:
    """Load what the operations need, since each runs in a fork of this process; start no thread of Qt."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    import numpy
    import pyarrow.csv
    import sqlalchemy

    import debrief.analysis
    import debrief.history.command.commands
    import debrief.history.exchange.transfer
    import debrief.history.service.notes
    import debrief.report.formats.write
    import debrief.report.pdf.paint
    import debrief.session.assessing.file_assessment
    import debrief.session.profiles.profile_form

    assert all((numpy, pyarrow.csv, sqlalchemy, debrief))


if __name__ == "__main__":
    sys.exit(main())
